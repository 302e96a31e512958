"""The session: the show as a document, undo, and the engine that runs it."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from onecrew.commands.command import (
    Command,
    EngineCommand,
    Log,
    OnOff,
    Row,
    ShowCommand,
    never,
    plainly,
)
from onecrew.commands.context import Context
from onecrew.commands.running import bare, in_time, rest
from onecrew.errors import Misuse
from onecrew.language import reading
from onecrew.language.phrases import build, nothing_more, timed


class Rename(ShowCommand):
    """Give the show another name."""

    kind: Literal["rename"] = "rename"
    name: Annotated[str, Field(min_length=1, max_length=80)]


RENAME = Row(
    model=Rename,
    forms={"rename The Night Baker": "rename the show"},
    reads={"rename": rest(Rename, "rename", "the show's new name")},
    writes=lambda command, _: f"rename {command.name}",
    says=lambda command, _: f"rename the show to {command.name}",
    log=Log.SHOW,
    lock_refuses=never,
    edit=lambda show, command: show.model_copy(update={"name": command.name}),
)


class Undo(ShowCommand):
    """Take back what was done last, light or show."""

    kind: Literal["undo"] = "undo"


UNDO = Row(
    model=Undo,
    forms={"undo": "take back what was done last, light or show"},
    reads={"undo": bare(Undo, "undo")},
    writes=plainly("undo"),
    log=Log.SHOW,
    lock_refuses=never,
)


class Redo(ShowCommand):
    """Do again what was taken back."""

    kind: Literal["redo"] = "redo"


REDO = Row(
    model=Redo,
    forms={"redo": "do again what was undone"},
    reads={"redo": bare(Redo, "redo")},
    writes=plainly("redo"),
    log=Log.SHOW,
    lock_refuses=never,
)


class SettleFile(EngineCommand):
    """Take in what another program made of the show's file, or write this desk's version over it."""

    kind: Literal["file"] = "file"
    take: bool


def _read_file(words: list[str], _: Context) -> Command:
    if words not in (["take"], ["keep"]):
        raise Misuse("'file' needs take (the version in the file) or keep (the one at this desk)")
    return SettleFile(take=words == ["take"])


SETTLE_FILE = Row(
    model=SettleFile,
    forms={
        "file take": "load what another program wrote to the show's file",
        "file keep": "write this desk's version over it",
    },
    reads={"file": _read_file},
    writes=lambda command, _: "file take" if command.take else "file keep",
    says=lambda command, _: "load the file's version" if command.take else "keep this desk's version",
    log=Log.SHOW,
    lock_refuses=never,
)


class BringBack(EngineCommand):
    """Bring back a version of the show that is kept beside its file; undo takes it back."""

    kind: Literal["version"] = "version"
    number: Annotated[int, Field(ge=1)]


def _read_version(words: list[str], _: Context) -> Command:
    if len(words) != 1:
        raise Misuse("'version' needs the number of a kept version, as 'version 12'")
    return build(BringBack, number=reading.whole(words[0], "version", 1, 10**12))


BRING_BACK = Row(
    model=BringBack,
    forms={"version 12": "bring back a version of the show that is kept beside its file"},
    reads={"version": _read_version},
    writes=lambda command, _: f"version {command.number}",
    says=lambda command, _: f"bring back version {command.number}",
    log=Log.SHOW,
    lock_refuses=never,
)


class TakeOver(EngineCommand):
    """Put a standby engine in control, so that it takes commands and receivers show its light; or not."""

    kind: Literal["takeover"] = "takeover"
    on: OnOff = True


def _read_takeover(words: list[str], _: Context) -> Command:
    return TakeOver(on=reading.on_off(words, "takeover") is not False)


TAKE_OVER = Row(
    model=TakeOver,
    forms={"takeover [off]": "put a standby engine in control, or let it follow again"},
    reads={"takeover": _read_takeover},
    writes=lambda command, _: "takeover off" if command.on is False else "takeover",
    log=Log.ENGINE,
    lock_refuses=never,
)


class Stop(EngineCommand):
    """Fade to black and end the engine. Refused while the desk is locked, a take rolls or the show is not
    saved, unless confirmed."""

    kind: Literal["stop"] = "stop"
    fade_s: Annotated[float, Field(ge=0.0, le=60.0)] = 1.0
    confirmed: bool = False


def _read_stop(words: list[str], _: Context) -> Command:
    rest, fade_s = timed(words, high=60.0)
    confirmed = rest == ["confirmed"]
    nothing_more([] if confirmed else rest, "stop")
    given = {} if fade_s is None else {"fade_s": fade_s}
    return build(Stop, confirmed=confirmed, **given)


STOP = Row(
    model=Stop,
    forms={"stop [in 3s]": "fade to black and end the engine"},
    reads={"stop": _read_stop},
    writes=lambda command, _: f"stop{' confirmed' if command.confirmed else ''}{in_time(command.fade_s)}",
    log=Log.ENGINE,
    lock_refuses=lambda command: not command.confirmed,
)

ROWS = (RENAME, UNDO, REDO, SETTLE_FILE, BRING_BACK, TAKE_OVER, STOP)
