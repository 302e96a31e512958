"""Cues as a list: copied, renumbered, timed alike, and lamps changed in cues that need not be showing."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from onecrew.commands.command import Command, Log, Reader, Row, ShowCommand, never, plainly
from onecrew.commands.context import Context
from onecrew.commands.cues import cue_in, free_shortcut, refuse_taken, with_cue
from onecrew.commands.light import SET, SetLight
from onecrew.commands.running import bare
from onecrew.errors import Misuse, Refused
from onecrew.language.names import cue_number, new_number, numbers
from onecrew.language.phrases import build
from onecrew.show.base import CueNumber
from onecrew.show.show import Cue, Show

CueNumbers = Annotated[tuple[CueNumber, ...], Field(min_length=1)]


def _from_to(verb: str, words: list[str], context: Context) -> tuple[str, str]:
    """The cue before 'to', by number or name, and what stands behind it."""
    at = max((index for index, word in enumerate(words) if word.lower() == "to"), default=-1)
    if at < 1 or at != len(words) - 2:
        raise Misuse(f"'{verb}' takes a cue, 'to' and a number, as '{verb} 2 to 7'")
    return cue_number(" ".join(words[:at]), context.show, verb), words[-1]


def _to_another(model: type[Command], verb: str) -> Reader:
    def read(words: list[str], context: Context) -> Command:
        cue, to = _from_to(verb, words, context)
        return build(model, cue=cue, to=new_number(to))

    return read


def _new(show: Show, cue: Cue, number: str) -> Cue:
    """The cue under a number that is free, with a shortcut that is. Refused for one that is taken."""
    refuse_taken(show, number)
    return cue.model_copy(update={"number": number, "shortcut": free_shortcut(show, number)})


# ── Copied and renumbered ───────────────────────────────────────────────────────────────────────────


class CopyCue(ShowCommand):
    """Copy a cue, look and times, to a number that is free."""

    kind: Literal["copy-cue"] = "copy-cue"
    cue: CueNumber
    to: CueNumber


COPY_CUE = Row(
    model=CopyCue,
    forms={"copy 2 to 7": "copy a cue, look and times, to a free number"},
    reads={"copy": _to_another(CopyCue, "copy")},
    writes=lambda command, _: f"copy {command.cue} to {command.to}",
    says=lambda command, _: f"copy cue {command.cue} to {command.to}",
    log=Log.SHOW,
    lock_refuses=never,
    edit=lambda show, command: with_cue(show, _new(show, cue_in(show, command.cue), command.to)),
)


class RenumberCue(ShowCommand):
    """Give a cue another number, and so another place in the order."""

    kind: Literal["renumber-cue"] = "renumber-cue"
    cue: CueNumber
    to: CueNumber


def _renumbered(show: Show, command: RenumberCue) -> Show:
    cue = cue_in(show, command.cue)
    rest = show.model_copy(update={"cues": tuple(one for one in show.cues if one is not cue)})
    refuse_taken(rest, command.to)
    own = cue.shortcut is not None and cue.shortcut == cue.number
    shortcut = free_shortcut(rest, command.to) if own else cue.shortcut
    return with_cue(rest, cue.model_copy(update={"number": command.to, "shortcut": shortcut}))


RENUMBER_CUE = Row(
    model=RenumberCue,
    forms={"renumber 2 to 7": "give a cue another number, and so another place in the order"},
    reads={"renumber": _to_another(RenumberCue, "renumber")},
    writes=lambda command, _: f"renumber {command.cue} to {command.to}",
    says=lambda command, _: f"renumber cue {command.cue} to {command.to}",
    log=Log.SHOW,
    edit=_renumbered,
)


# ── Times ───────────────────────────────────────────────────────────────────────────────────────────


class CopyTimes(ShowCommand):
    """Give other cues the fade, delay and auto-follow times of this one."""

    kind: Literal["copy-times"] = "copy-times"
    cue: CueNumber
    to: CueNumbers


def _read_times(words: list[str], context: Context) -> Command:
    cue, to = _from_to("times", words, context)
    return build(CopyTimes, cue=cue, to=numbers(to))


def _timed(show: Show, command: CopyTimes) -> Show:
    cue = cue_in(show, command.cue)
    times = {"fade": cue.fade, "delay_s": cue.delay_s, "auto_follow_s": cue.auto_follow_s}
    for number in command.to:
        show = with_cue(show, cue_in(show, number).model_copy(update=times))
    return show


COPY_TIMES = Row(
    model=CopyTimes,
    forms={"times 2 to 5,6": "give cues 5 and 6 the fade, delay and auto-follow times of cue 2"},
    reads={"times": _read_times},
    writes=lambda command, _: f"times {command.cue} to {','.join(command.to)}",
    says=lambda command, _: f"copy the times of cue {command.cue} to {', '.join(command.to)}",
    log=Log.SHOW,
    edit=_timed,
)


class Learn(ShowCommand):
    """Make the times at which the cues of the last take ran the auto-follow times of those cues."""

    kind: Literal["learn"] = "learn"


LEARN = Row(
    model=Learn,
    forms={"learn": "make the go times of the last take the auto-follow times of its cues"},
    reads={"learn": bare(Learn, "learn")},
    writes=plainly("learn"),
    says=plainly("learn the times of the last take"),
    log=Log.SHOW,
)


def learnt(show: Show, ran: tuple[tuple[str, float], ...]) -> Show:
    """The show whose cues follow one another as they ``ran``: numbers, and seconds on one clock.

    The last one follows nothing up. Refused where a cue ran that does not come after the one before it.
    """
    if len(ran) < 2:
        raise Refused("no take ran two cues, so there are no times to learn: rehearse one first")
    order = [cue.number for cue in show.cues]
    for (one, at), (next_, next_at) in zip(ran, (*ran[1:], ("", 0.0)), strict=True):
        cue = cue_in(show, one)
        place = order.index(cue.number) + 1
        if next_ and order[place : place + 1] != [next_]:
            raise Refused(f"the take went from cue {one} to cue {next_}, which does not come after it")
        waits = round(next_at - at, 2) if next_ else None
        show = with_cue(show, cue.model_copy(update={"auto_follow_s": waits}))
    return show


# ── Lamps in cues that need not be showing ──────────────────────────────────────────────────────────


class SetInCues(ShowCommand):
    """Change lamps in cues of this scene, whether they are showing or not."""

    kind: Literal["set-in-cues"] = "set-in-cues"
    cues: CueNumbers
    change: SetLight


def _read_in(words: list[str], context: Context) -> Command:
    if len(words) < 3 or words[1].lower() != "set":
        raise Misuse("'in' takes cues and a change, as 'in 2,3 set window level=22%'")
    return build(SetInCues, cues=numbers(words[0]), change=SET.reads["set"](words[2:], context))


SET_IN_CUES = Row(
    model=SetInCues,
    forms={"in 2,3 set window level=22%": "change lamps in these cues, showing or not"},
    reads={"in": _read_in},
    writes=lambda command, show: f"in {','.join(command.cues)} {SET.writes(command.change, show)}",
    says=lambda command, _: f"set {', '.join(command.change.fixtures)} in cue {', '.join(command.cues)}",
    log=Log.SHOW,
)

ROWS = (COPY_CUE, RENUMBER_CUE, COPY_TIMES, LEARN, SET_IN_CUES)
