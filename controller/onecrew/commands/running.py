"""How the show runs: from cue to cue, held, dark, dimmed, locked."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Literal

from onecrew.commands.command import (
    Command,
    Log,
    OnOff,
    PlaybackCommand,
    Reader,
    Row,
    never,
    plainly,
    switched,
)
from onecrew.commands.context import Context
from onecrew.errors import Misuse
from onecrew.language import reading, writing
from onecrew.language.names import cue_number
from onecrew.language.phrases import build, nothing_more, timed
from onecrew.show.base import CueNumber, Level, Seconds
from onecrew.show.show import Show


def bare(model: type[Command], verb: str) -> Reader:
    """Reads a command that is its verb alone."""

    def read(words: list[str], _: Context) -> Command:
        nothing_more(words, verb)
        return build(model)

    return read


def rest(model: type[Command], verb: str, needs: str, field: str = "name", **others: Any) -> Reader:
    """Reads a command whose ``field`` is all the words that follow; ``needs`` says what is missing."""

    def read(words: list[str], _: Context) -> Command:
        if not words:
            raise Misuse(f"'{verb}' needs {needs}")
        return build(model, **{field: " ".join(words)}, **others)

    return read


def switch(model: type[Command], verb: str) -> Reader:
    """Reads a command that is put on, off, or over."""
    return lambda words, _: build(model, on=reading.on_off(words, verb))


def write_switch(verb: str) -> Callable[[Any, Show | None], str]:
    return lambda command, _: verb + {None: "", True: " on", False: " off"}[command.on]


def in_time(fade_s: float | None) -> str:
    """' in 5s', or nothing."""
    return "" if fade_s is None else f" in {writing.seconds(fade_s)}"


class Go(PlaybackCommand):
    """Run the next cue."""

    kind: Literal["go"] = "go"


GO = Row(
    model=Go,
    forms={"go": "run the next cue"},
    reads={"go": bare(Go, "go")},
    writes=plainly("go"),
    log=Log.CUE,
    countdown=True,
    phone=True,
)


class Back(PlaybackCommand):
    """Run the cue before the current one."""

    kind: Literal["back"] = "back"


BACK = Row(
    model=Back,
    forms={"back": "run the previous cue"},
    reads={"back": bare(Back, "back")},
    writes=plainly("back"),
    log=Log.CUE,
    countdown=True,
    phone=True,
)


class Recall(PlaybackCommand):
    """Run any cue, at its own times or at ``fade_s``."""

    kind: Literal["recall"] = "recall"
    cue: CueNumber
    fade_s: Seconds | None = None


def _read_recall(words: list[str], context: Context) -> Command:
    named, fade_s = timed(words)
    return build(Recall, cue=cue_number(" ".join(named), context.show, "recall"), fade_s=fade_s)


RECALL = Row(
    model=Recall,
    forms={"recall 2 [in 5s]": "run any cue, by number or whole name, at its own time or at this one"},
    reads={"recall": _read_recall},
    writes=lambda command, _: f"recall {command.cue}{in_time(command.fade_s)}",
    says=lambda command, _: f"recall {command.cue}",
    log=Log.CUE,
    countdown=True,
    phone=True,
)


class Hold(PlaybackCommand):
    """Freeze every fade and effect, or release them."""

    kind: Literal["hold"] = "hold"
    on: OnOff = None


HOLD = Row(
    model=Hold,
    forms={"hold [on|off]": "freeze every fade and effect, or release them"},
    reads={"hold": switch(Hold, "hold")},
    writes=write_switch("hold"),
    says=switched("hold", "release the hold", "hold or release"),
    log=Log.STATE,
    countdown=True,
    phone=True,
)


class Blackout(PlaybackCommand):
    """All lamps to black by a short fade, or back again."""

    kind: Literal["blackout"] = "blackout"
    on: OnOff = None


BLACKOUT = Row(
    model=Blackout,
    forms={"blackout [on|off]": "all lamps to black, or back again"},
    reads={"blackout": switch(Blackout, "blackout")},
    writes=write_switch("blackout"),
    says=switched("blackout", "end the blackout", "blackout or back"),
    log=Log.STATE,
    lock_refuses=never,
    countdown=True,
    phone=True,
)


class Master(PlaybackCommand):
    """Scale every level."""

    kind: Literal["master"] = "master"
    level: Level


def _read_master(words: list[str], _: Context) -> Command:
    if len(words) != 1:
        raise Misuse("'master' takes one level, as 'master 80%'")
    return build(Master, level=reading.level(words[0], "master"))


MASTER = Row(
    model=Master,
    forms={"master 80%": "scale every level"},
    reads={"master": _read_master},
    writes=lambda command, _: f"master {writing.level(command.level)}",
    log=Log.STATE,
)


class Lock(PlaybackCommand):
    """Refuse every change of light but unlock and blackout."""

    kind: Literal["lock"] = "lock"
    on: OnOff = None


LOCK = Row(
    model=Lock,
    forms={"lock [on|off]": "refuse every change of light except blackout"},
    reads={"lock": switch(Lock, "lock")},
    writes=write_switch("lock"),
    says=switched("lock", "unlock", "lock or unlock"),
    log=Log.STATE,
    lock_refuses=never,
    countdown=True,
    phone=True,
)

ROWS = (GO, BACK, RECALL, HOLD, BLACKOUT, MASTER, LOCK)
