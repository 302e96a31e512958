"""Undo: what a person did last, light or show, in words, and what it was before. Pure."""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass, replace

from onecrew.commands.command import PlaybackCommand
from onecrew.commands.light import Edits, Revert, SetLight
from onecrew.commands.running import Back, Go, Master, Recall
from onecrew.commands.table import in_words
from onecrew.language import saying
from onecrew.playback.edits import Earlier
from onecrew.playback.fields import EditsByCue
from onecrew.playback.state import Playback
from onecrew.show.light import Light
from onecrew.show.show import Show

DEPTH = 200
TOGETHER_S = 1.0
"""Changes of the same lamps by hand that follow one another faster are one step, as of a key held down."""
NAMED = 3
"""Lamps named in the words of one step."""


@dataclass(frozen=True, slots=True)
class Step:
    """One thing that was done: in words, and what the show and the light were before it (or after it)."""

    words: str
    show: Show | None = None
    """None: the show stayed as it was."""
    light: Earlier | None = None
    """None: no light was changed by hand."""
    at: float = 0.0
    """When it was done last, in monotonic seconds."""


class History:
    """The steps that can be taken back, and those that were and can be done again."""

    def __init__(self) -> None:
        self.undo: deque[Step] = deque(maxlen=DEPTH)
        self.redo: deque[Step] = deque(maxlen=DEPTH)

    def add(self, step: Step, present: Playback | None = None) -> None:
        """Notes what was done; together with the step before, it may have come to nothing in ``present``."""
        at = None if self.redo else self._goes_on_with(step)
        if at is not None:
            earlier = self.undo[at]
            step = replace(earlier, words=_words_of_both(earlier, step, present), at=step.at)
        self.redo.clear()
        nothing = present is not None and _is_nothing(step, present)
        if at is not None:
            del self.undo[at]
        if not nothing:
            self.undo.append(step)

    @property
    def place(self) -> tuple[Step | None, int]:
        """The newest step and how many there are; another after any change of them."""
        return self.undo[-1] if self.undo else None, len(self.undo)

    def _goes_on_with(self, step: Step) -> int | None:
        """Index of the step that this one is part of.

        It is the last one, or one before those of other lamps that were moved at once, as several faders are.
        """
        for at in reversed(range(len(self.undo))):
            if _together(self.undo[at], step):
                return at
            if not _beside(self.undo[at], step):
                break
        return None

    def clear(self) -> None:
        self.undo.clear()
        self.redo.clear()


_ARROW = " → "


def light_step(command: PlaybackCommand, before: Playback, after: Playback, now: float) -> Step | None:
    """Return the step that a light command was, None for one that changes no look."""
    if isinstance(command, Go | Back | Recall) and after.cue is not None:
        words = f"{command.kind} to cue {after.cue}" if isinstance(command, Go | Back) else in_words(command)
        return Step(words, light=replace(whole_light(before), part=(before.solo, before.without)), at=now)
    if isinstance(command, Master):
        old, new = float(before.master.goal), float(after.master.goal)
        words = f"master {saying.per_cent(old)}{_ARROW}{saying.per_cent(new)}"
        return Step(words, light=Earlier(master=old), at=now) if old != new else None
    if not isinstance(command, SetLight | Revert | Edits):
        return None
    was, became = before.edited_look(), after.edited_look()
    # Most lamps have the very light that they had: that is seen without comparing field by field.
    changed = {
        name: (old, became[name])
        for name, old in was.items()
        if became[name] is not old and became[name] != old
    }
    kept: EditsByCue = ()
    if isinstance(command, Edits):
        kept = _kept(before, before.cue)
        if command.drop or not changed:
            return Step(_dropped(kept), light=Earlier(cue=before.cue, kept=kept), at=now)
    if not changed:
        return None
    lights = {name: old for name, (old, _) in changed.items()}
    by_hand = frozenset(name for name, by in zip(before.ids, before.by_hand, strict=True) if by)
    cue = before.cue if before.waiting is None else None  # in a delay it was another look that was changed
    return Step(_changes(changed), light=Earlier(lights, by_hand, cue, kept=kept), at=now)


def whole_light(playback: Playback) -> Earlier:
    """Return all that a cue that runs replaces: the look, what of it was edited, and the cue."""
    by_hand = frozenset(name for name, by in zip(playback.ids, playback.by_hand, strict=True) if by)
    return Earlier(playback.edited_look(), by_hand, playback.cue, whole=True)


def counterpart(light: Earlier, playback: Playback) -> Earlier:
    """Return what ``light`` replaces when it is put back: what takes that back again."""
    present = whole_light(playback)
    if light.whole:
        part = None if light.part is None else (playback.solo, playback.without)
        return replace(present, part=part)
    look = playback.edited_look()
    lights = {name: look[name] for name in light.lights if name in look}
    master = None if light.master is None else float(playback.master.goal)
    kept = tuple(pair for cue, _ in light.kept for pair in _kept(playback, cue))
    return Earlier(lights, present.by_hand, playback.cue, master=master, kept=kept)


def _kept(playback: Playback, cue: str | None) -> EditsByCue:
    """The edits that are kept with this cue, also where there are none."""
    return ((cue, dict(playback.kept).get(cue, ())),) if cue is not None else ()


def _dropped(kept: EditsByCue) -> str:
    names = ", ".join(name for _, edits in kept for name, _ in edits)
    return f"edits of {names} dropped from cue {kept[0][0]}"


def _together(last: Step, step: Step) -> bool:
    """Whether both changed the same by hand, one soon after the other."""
    one, other = _by_hand(last, step), _by_hand(step, step)
    return one is not None and other is not None and _moved(one) == _moved(other)


def _beside(last: Step, step: Step) -> bool:
    """Whether they changed other things by hand at the same time."""
    one, other = _by_hand(last, step), _by_hand(step, step)
    return one is not None and other is not None and not _moved(one) & _moved(other)


def _by_hand(last: Step, step: Step) -> Earlier | None:
    """The light that ``last`` changed by hand not long before ``step``; None for anything else."""
    light = last.light
    if last.show is not None or light is None or light.whole or light.kept:
        return None
    return light if step.at - last.at <= TOGETHER_S else None


def _moved(light: Earlier) -> set[str | None]:
    """The lamps, and None for the master."""
    return {*light.lights, *(() if light.master is None else (None,))}


def _is_nothing(step: Step, present: Playback) -> bool:
    """Whether taking this change by hand back would change nothing: it went there and back."""
    light = step.light
    if step.show is not None or light is None or light.whole or light.kept:
        return False
    back = counterpart(light, present)
    return (light.master, dict(light.lights)) == (back.master, back.lights)


def _words_of_both(earlier: Step, step: Step, present: Playback | None) -> str:
    """What two steps that count as one came to."""
    if earlier.light is None or not earlier.light.lights or present is None:
        return earlier.words.split(_ARROW)[0] + _ARROW + step.words.split(_ARROW)[-1]
    look = present.edited_look()
    both = {name: (old, look[name]) for name, old in earlier.light.lights.items() if name in look}
    return _changes({name: lights for name, lights in both.items() if lights[0] != lights[1]})


def _changes(changed: dict[str, tuple[Light, Light]]) -> str:
    """'window 48 % → 12 %, edge off → 30 % 3400 K and 2 more lamps'."""
    told = [f"{name} {_change(*lights)}" for name, lights in list(changed.items())[:NAMED]]
    more = len(changed) - NAMED
    return ", ".join(told) + (f" and {more} more lamp{'s' if more > 1 else ''}" if more > 0 else "")


def _change(old: Light, new: Light) -> str:
    if (old.white, old.xy, old.effect) == (new.white, new.xy, new.effect):
        return f"{saying.per_cent(old.level)}{_ARROW}{saying.per_cent(new.level)}"
    return f"{saying.said(old)}{_ARROW}{saying.said(new)}"
