"""What the camera does, and remarks for the record."""

from __future__ import annotations

import re
from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from onecrew.commands.command import Command, EngineCommand, Log, PlaybackCommand, Row, joined, never
from onecrew.commands.context import Context
from onecrew.commands.running import rest
from onecrew.errors import Misuse
from onecrew.language.names import cue_number
from onecrew.language.phrases import build
from onecrew.show.base import CueNumber
from onecrew.show.show import LongText, ShortText, Show


class TakeStart(PlaybackCommand):
    """The camera rolls. With ``chain_from``, that cue and its auto-follows run, from what shows or black."""

    kind: Literal["take-start"] = "take-start"
    setup: ShortText | None = None
    """None: stay in the present setup. A new setup numbers its takes from 1."""
    chain_from: CueNumber | None = None
    from_black: bool = False
    """Begin the chain in black, so that it is the same whatever shows before."""

    @model_validator(mode="after")
    def _has_a_chain(self) -> Self:
        if self.from_black and self.chain_from is None:
            raise ValueError("black is where a chain begins; say from which cue")
        return self


def _read_start(words: list[str], context: Context) -> Command:
    at = next((index for index, word in enumerate(words) if word.lower() == "from"), len(words))
    first = words[at + 1 :]
    black = len(first) > 1 and first[0].lower() == "black"
    name = " ".join(first[1:] if black else first)
    chain = cue_number(name, context.show, "take start from") if at < len(words) else None
    return build(TakeStart, setup=" ".join(words[:at]) or None, chain_from=chain, from_black=black)


def _write_start(command: TakeStart, _: Show | None) -> str:
    black = "black" if command.from_black else None
    chain = ["from", black, command.chain_from] if command.chain_from is not None else []
    return joined(["take start", command.setup, *chain])


def _say_start(command: TakeStart, _: Show | None) -> str:
    black = "black into " if command.from_black else ""
    return "start a take" + (f" from {black}cue {command.chain_from}" if command.chain_from else "")


TAKE_START = Row(
    model=TakeStart,
    forms={
        "take start [setup] [from 2]": "start a take; with 'from', run that cue and its auto-follows",
        "take start [setup] from black 2": "the same from black, whatever shows",
    },
    reads={"take start": _read_start},
    writes=_write_start,
    says=_say_start,
    log=Log.TAKE,
    lock_refuses=lambda command: command.chain_from is not None,
    countdown=True,
    phone=True,
)


class TakeEnd(PlaybackCommand):
    """The camera stops."""

    kind: Literal["take-end"] = "take-end"
    good: bool | None = None
    note: LongText = ""


def _read_end(words: list[str], _: Context) -> Command:
    good = {"good": True, "bad": False}.get(words[0].lower()) if words else None
    rest = words if good is None else words[1:]
    if rest and rest[0].lower() != "note":
        raise Misuse(f"after 'take end' come good or bad and note …, not '{rest[0]}'")
    return build(TakeEnd, good=good, note=" ".join(rest[1:]))


def _write_end(command: TakeEnd, _: Show | None) -> str:
    verdict = {None: "", True: "good", False: "bad"}[command.good]
    return joined(["take end", verdict, f"note {command.note}" if command.note else ""])


TAKE_END = Row(
    model=TakeEnd,
    forms={"take end [good|bad] [note …]": "end the take"},
    reads={"take end": _read_end},
    writes=_write_end,
    says=lambda _command, _show: "end the take",
    log=Log.TAKE,
    lock_refuses=never,
    countdown=True,
    phone=True,
)


class Note(EngineCommand):
    """Add a note to the log; with ``take``, onto the last take."""

    kind: Literal["note"] = "note"
    text: LongText
    take: bool = False


NOTE = Row(
    model=Note,
    forms={"take note …": "add a note to the last take", "note …": "add a note to the log"},
    reads={
        "take note": rest(Note, "take note", "some words", "text", take=True),
        "note": rest(Note, "note", "some words", "text"),
    },
    writes=lambda command, _: f"{'take ' if command.take else ''}note {command.text}",
    says=lambda _command, _show: "note",
    log=Log.NOTE,
    lock_refuses=never,
)


class TakeClip(EngineCommand):
    """Put the name of the camera's clip on record with the last take."""

    kind: Literal["take-clip"] = "take-clip"
    name: ShortText


_A_CLIP = "the name that the camera gave its file, as 'take clip A003C012'"

TAKE_CLIP = Row(
    model=TakeClip,
    forms={"take clip A003C012": "the name of the camera's clip of the last take, for the edit"},
    reads={"take clip": rest(TakeClip, "take clip", _A_CLIP)},
    writes=lambda command, _: f"take clip {command.name}",
    says=lambda command, _: f"take clip {command.name}",
    log=Log.NOTE,
    lock_refuses=never,
    phone=True,
)


class TakeRecord(EngineCommand):
    """Say anew what is on record of a take: its verdict, its clip, its note; what is left out stays."""

    kind: Literal["take-record"] = "take-record"
    setup: ShortText
    number: Annotated[int, Field(ge=1, le=10**6)]
    verdict: Literal["good", "bad", "open"] | None = None
    clip: ShortText | None = None
    """Empty: none."""
    note: LongText | None = None
    """In place of all notes that it has; empty: none."""


_TAKE = re.compile(r"(.+)/(\d{1,6})", re.ASCII)
"""How a take is written: setup/number."""


def _read_record(words: list[str], _context: Context) -> Command:
    at = next((index for index, word in enumerate(words) if _TAKE.fullmatch(word)), None)
    if at is None:
        raise Misuse("'take record' needs the take as setup/number, as 'take record A/3 good'")
    setup, _, number = " ".join(words[: at + 1]).rpartition("/")
    rest = words[at + 1 :]
    fields: dict[str, object] = {"setup": setup, "number": int(number)}
    if rest and rest[0].lower() in ("good", "bad", "open"):
        fields["verdict"] = rest.pop(0).lower()
    if rest and rest[0].lower() == "clip":
        end = next((index for index, word in enumerate(rest) if word.lower() == "note"), len(rest))
        fields["clip"], rest = " ".join(rest[1:end]), rest[end:]
    if rest and rest[0].lower() == "note":
        fields["note"], rest = " ".join(rest[1:]), []
    if rest or len(fields) == 2:
        raise Misuse("after the take come good, bad or open, clip NAME and note …, as far as they change")
    return build(TakeRecord, **fields)


def _write_record(command: TakeRecord, _: Show | None) -> str:
    clip = None if command.clip is None else f"clip {command.clip}".rstrip()
    note = None if command.note is None else f"note {command.note}".rstrip()
    return joined([f"take record {command.setup}/{command.number}", command.verdict, clip, note])


TAKE_RECORD = Row(
    model=TakeRecord,
    forms={"take record A/3 [good|bad|open] [clip NAME] [note …]": "say anew what is on record of a take"},
    reads={"take record": _read_record},
    writes=_write_record,
    says=lambda command, _: f"change the record of take {command.setup}/{command.number}",
    log=Log.NOTE,
    lock_refuses=never,
)

ROWS = (TAKE_START, TAKE_END, TAKE_CLIP, TAKE_RECORD, NOTE)
