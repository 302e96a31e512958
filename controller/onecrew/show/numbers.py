"""Numbers: free cue numbers, where new cues disturb none of those there are."""

from __future__ import annotations

from collections.abc import Set

from onecrew.errors import Refused
from onecrew.show.base import cue_order
from onecrew.show.show import Show

HIGHEST = 9999
A_HUNDRED = 100
GAP = 50
"""So many free numbers in a row part one group of cues from the next."""


def next_number(show: Show) -> str:
    """The whole number after the cues that belong together: before a gap of ``GAP``, else after the last.

    Not behind a cue with an auto-follow, which would run the new one, and none that another scene has.
    ``Refused`` where none is left.
    """
    taken = {cue_order(cue.number) for scene in show.other_scenes for cue in scene.cues}
    followed = [*(cue_order(cue.number)[0] for cue in show.cues[1:]), HIGHEST + 1 + GAP]
    for cue, following in zip(show.cues, followed, strict=False):
        number = cue_order(cue.number)[0]
        if following - number > GAP and number < HIGHEST and cue.auto_follow_s is None:
            return _free_from(number + 1, taken)
    if not show.cues:
        return _free_from(1, taken)
    raise Refused("no number after the last cue is free: say which cue it is to be")


def _free_from(number: int, taken: Set[tuple[int, int]]) -> str:
    return str(next(free for free in range(number, HIGHEST + len(taken) + 2) if (free, 0) not in taken))


def free_run(show: Show, count: int, start: int | None = None) -> list[str]:
    """So many whole numbers in a row after every cue there is, from the next hundred (and one) on.

    After the others, because a cue in between would be run by the auto-follow or the go of the one before it.
    With ``start``, from that number on. ``Refused`` where they are not free or not enough.
    """
    last = _last(show)
    first = (last // A_HUNDRED + 1) * A_HUNDRED + 1 if start is None else start
    if start is not None and start <= last and show.cues:
        raise Refused(f"cue {show.cues[-1].number} comes after {start}: begin behind it, the chain runs on")
    if first + count - 1 > HIGHEST:
        raise Refused(f"{count} cues do not fit between {first} and {HIGHEST}, where cue numbers end")
    return [str(number) for number in range(first, first + count)]


def _last(show: Show) -> int:
    scenes = (show.cues, *(scene.cues for scene in show.other_scenes))
    return max((cue_order(cue.number)[0] for cues in scenes for cue in cues), default=0)


def number_between(show: Show, low: str, high: str) -> str:
    """A number no scene has, in order between ``low`` and ``high``; empty: past the first or the last.

    Whole where one is free, else with a point: between 2 and 3 that is 2.5. ``Refused`` where none is left.
    """
    below = cue_order(low) if low else (0, 0)
    above = cue_order(high) if high else (HIGHEST + 1, 0)
    elsewhere = {cue_order(cue.number) for scene in show.other_scenes for cue in scene.cues}
    wholes = range(below[0] + 1, above[0] + (above[1] > 0))
    middle = (below[0] + above[0]) // 2 if high else below[0]
    free = [whole for whole in wholes if (whole, 0) not in elsewhere]
    if free:
        return str(min(free, key=lambda whole: abs(whole - middle)))
    end = above[1] if above[0] == below[0] else 1000
    middle = (below[1] + (min(end, 10) if below[1] < 9 else end)) // 2
    parts = [part for part in range(below[1] + 1, end) if (below[0], part) not in elsewhere]
    if parts:
        return f"{below[0]}.{min(parts, key=lambda part: abs(part - middle))}"
    raise Refused(f"no number is free between {low or 0} and {high}: give one of them another number first")
