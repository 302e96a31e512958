"""Cues as they stand in the show: stored, changed, taken out."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal

from onecrew.commands.command import Command, Log, Reader, Row, ShowCommand, changed, joined
from onecrew.commands.context import Context
from onecrew.errors import Misuse, Refused
from onecrew.language import reading, writing
from onecrew.language.names import CUE, cue_number, cues_elsewhere, no_cue, no_fixture
from onecrew.language.phrases import build, one_of, plain, split, unknown
from onecrew.show.base import CueNumber, cue_order
from onecrew.show.light import Light
from onecrew.show.numbers import next_number
from onecrew.show.show import CURVES, Cue, Fade, ShortText, Show


class Store(ShowCommand):
    """Store what is showing (edits included) as a new cue, or in place of a cue's look."""

    kind: Literal["store"] = "store"
    cue: CueNumber | None = None
    """None: a new cue after the last one, or the current cue where it is replaced."""
    name: ShortText | None = None
    replace: bool = False
    """The cue is there already, and its look goes."""


def _read_store(replace: bool) -> Reader:
    def read(words: list[str], _: Context) -> Command:
        number = words[0] if words and CUE.match(words[0]) else None
        name = " ".join(words if number is None else words[1:])
        return build(Store, cue=number, name=name or None, replace=replace)

    return read


def _say_store(command: Store, _: Show | None) -> str:
    what = "the current cue" if command.cue is None else f"cue {command.cue}"
    if command.replace:
        return f"replace {what}"
    return "store a new cue" if command.cue is None else f"store {what}"


STORE = Row(
    model=Store,
    forms={
        "store [3] [name …]": "store what is showing as a new cue; without a number, after the last one",
        "replace [3] [name …]": "store it in place of a cue's look, the current cue's if none is named",
    },
    reads={"store": _read_store(False), "replace": _read_store(True)},
    writes=lambda command, _: joined(["replace" if command.replace else "store", command.cue, command.name]),
    says=_say_store,
    log=Log.SHOW,
    lock_refuses=lambda command: command.replace,
)


def store_look(show: Show, number: str, name: str | None, look: Mapping[str, Light]) -> Show:
    """The show with ``look`` in cue ``number``, new or existing; ``name`` None keeps the name there is.

    A new cue whose number is one digit gets that digit as its shortcut, where no other cue has it.
    Refused if the look names a fixture that the rig does not have.
    """
    for fixture_id in look:
        if show.fixture(fixture_id) is None:
            raise Refused(no_fixture(show, fixture_id))
    _refuse_in_other_scene(show, number)
    cue = show.cue(number) or Cue(number=number, shortcut=free_shortcut(show, number))
    fields = {"look": dict(look)} if name is None else {"look": dict(look), "name": name}
    return with_cue(show, cue.model_copy(update=fields))


def cue_in(show: Show, number: str) -> Cue:
    """The cue of the open scene with this number. Refused if there is none."""
    found = next((cue for cue in show.cues if cue_order(cue.number) == cue_order(number)), None)
    if found is None:
        raise Refused(no_cue(number, show.cues, cues_elsewhere(show)))
    return found


def number_to_store(show: Show, command: Store, current: str | None) -> str:
    """The number that a look is stored under while cue ``current`` is on.

    Refused where it would replace a look and nobody said so, or there is none to replace.
    """
    number = command.cue or (current if command.replace else next_number(show))
    if number is None:
        raise Refused("no cue is on, so there is none to replace: store this look as a new cue")
    if command.replace:
        return cue_in(show, number).number
    refuse_taken(show, number, ", or replace its look")
    return number


def refuse_taken(show: Show, number: str, or_else: str = "") -> None:
    """Refused if any scene of the show has a cue of this number; ``or_else``: what else one could do."""
    there = next((cue for cue in show.cues if cue_order(cue.number) == cue_order(number)), None)
    if there is not None:
        name = f", {there.name}" if there.name else ""
        raise Refused(f"there is a cue {there.number} already{name}: take another number{or_else}")
    _refuse_in_other_scene(show, number)


def _refuse_in_other_scene(show: Show, number: str) -> None:
    for scene in show.other_scenes:
        if any(cue_order(cue.number) == cue_order(number) for cue in scene.cues):
            what = f"Cue {number} is in the scene {scene.name}"
            raise Refused(f"{what}; take another number, each is there once in a show.")


def free_shortcut(show: Show, number: str) -> str | None:
    """A cue's number as its shortcut, if it is one digit that no cue has yet."""
    free = len(number) == 1 and all(cue.shortcut != number for cue in show.cues)
    return number if free else None


def with_cue(show: Show, cue: Cue) -> Show:
    """The cue in its place: instead of the one with its number, else where the order of numbers puts it."""
    old = show.cue(cue.number)
    if old is not None and cue.predicted == old.predicted and cue.look != old.look:
        cue = cue.model_copy(update={"predicted": None})  # what a match predicted was of the look that goes
    others = (other for other in show.cues if other.number != cue.number)
    cues = tuple(sorted((*others, cue), key=lambda one: cue_order(one.number)))
    return show.model_copy(update={"cues": cues})


class PutCue(ShowCommand):
    """Add a cue, or replace the one with this number."""

    kind: Literal["put-cue"] = "put-cue"
    cue: Cue
    new: bool = False
    """Refused where the number is a cue's by now; it was free when it was chosen."""


def _put_cue(show: Show, command: PutCue) -> Show:
    if command.new:
        refuse_taken(show, command.cue.number)
    return with_cue(show, command.cue)


_FIELDS = (
    "name", "shortcut", "fade", "fade-in", "fade-out", "curve", "delay", "auto-follow", "guard", "note",
)  # fmt: skip


def _read_cue(words: list[str], context: Context) -> Command:
    head, pairs = split(words, texts=frozenset({"name", "note"}))
    number = cue_number(" ".join(head), context.need_show(), "cue")
    present = context.need_show().cue(number)
    if present is None:
        elsewhere = cues_elsewhere(context.need_show())
        new = "" if number in elsewhere else f"; to make it of the light that is showing: store {number}"
        raise Misuse(f"{no_cue(number, context.need_show().cues, elsewhere)}{new}")
    if not pairs:
        raise Misuse("'cue' needs what to change, as 'cue 3 name=\"Ovens on\" shortcut=3 fade=4s'")
    return PutCue(cue=read_cue({pair.key: plain(pair, "cue") for pair in pairs}, present))


def read_cue(texts: Mapping[str, str], before: Cue) -> Cue:
    """The cue ``before``, with what is written over it, by the words of ``cue``."""
    changes: dict[str, object] = {}
    fade: dict[str, object] = {}
    for key, value in texts.items():
        _cue_field(key, value, changes, fade)
    fades = build(Fade, **{**before.fade.model_dump(), **fade})
    return build(Cue, **{**before.model_dump(), **changes, "fade": fades})


def _cue_field(key: str, value: str, changes: dict[str, object], fade: dict[str, object]) -> None:
    if key == "fade":
        fade["in_s"] = fade["out_s"] = reading.seconds(value, "fade")
    elif key in ("fade-in", "fade-out"):
        fade[f"{key.removeprefix('fade-')}_s"] = reading.seconds(value, key)
    elif key == "curve":
        fade["curve"] = one_of(value, CURVES, "curve")
    elif key == "shortcut":
        changes["shortcut"] = None if value.lower() in ("", "none") else value
    elif key == "delay":
        changes["delay_s"] = reading.seconds(value, "delay")
    elif key == "auto-follow":
        changes["auto_follow_s"] = None if value.lower() in ("off", "none") else reading.seconds(value, key)
    elif key == "guard":
        changes["flash_guard"] = reading.yes_no(value, "guard")
    elif key in ("name", "note"):
        changes[key] = value
    else:
        raise unknown("a cue", key, _FIELDS)


def _write_cue(command: PutCue, show: Show | None) -> str:
    cue = command.cue
    was = show.cue(cue.number) if show is not None else None
    return joined(["cue", cue.number, *_changes(cue, was)])


def _changes(cue: Cue, was: Cue | None) -> list[str]:
    """What a cue has otherwise than before, as pairs."""
    old = was if was is not None else Cue(number=cue.number)
    fades = changed(_fade(cue.fade), _fade(old.fade))
    if cue.fade.in_s == cue.fade.out_s and (old.fade.in_s, old.fade.out_s) != (cue.fade.in_s, cue.fade.out_s):
        fades = [f"fade={writing.seconds(cue.fade.in_s)}", *(one for one in fades if one[:5] == "curve")]
    return fades + changed(_rest(cue), _rest(old))


def _fade(fade: Fade) -> dict[str, str]:
    return {
        "fade-in": writing.seconds(fade.in_s),
        "fade-out": writing.seconds(fade.out_s),
        "curve": fade.curve,
    }


def _rest(cue: Cue) -> dict[str, str]:
    return {
        "name": cue.name,
        "shortcut": cue.shortcut or "none",
        "delay": writing.seconds(cue.delay_s),
        "auto-follow": "off" if cue.auto_follow_s is None else writing.seconds(cue.auto_follow_s),
        "guard": writing.on(cue.flash_guard),
        "note": cue.note,
    }


PUT_CUE = Row(
    model=PutCue,
    forms={
        'cue 3 name="Ovens on" shortcut=3 fade-in=4s fade-out=2s': (
            "change a cue: name, shortcut, fade, fade-in, fade-out, curve, delay, auto-follow, guard, note"
        )
    },
    reads={"cue": _read_cue},
    writes=_write_cue,
    says=lambda command, show: (
        f"{'change' if show is None or show.cue(command.cue.number) else 'add'} cue {command.cue.number}"
    ),
    log=Log.SHOW,
    edit=_put_cue,
)


class RemoveCue(ShowCommand):
    """Delete a cue."""

    kind: Literal["remove-cue"] = "remove-cue"
    number: CueNumber


def _read_remove(words: list[str], context: Context) -> Command:
    return build(RemoveCue, number=cue_number(" ".join(words), context.show, "remove"))


def _without_cue(show: Show, command: RemoveCue) -> Show:
    if show.cue(command.number) is None:
        raise Refused(no_cue(command.number, show.cues, cues_elsewhere(show)))
    cues = tuple(cue for cue in show.cues if cue.number != command.number)
    return show.model_copy(update={"cues": cues})


REMOVE_CUE = Row(
    model=RemoveCue,
    forms={"remove 3": "delete a cue"},
    reads={"remove": _read_remove, "remove cue": _read_remove},
    writes=lambda command, _: f"remove {command.number}",
    says=lambda command, _: f"remove cue {command.number}",
    log=Log.SHOW,
    edit=_without_cue,
)

ROWS = (STORE, PUT_CUE, REMOVE_CUE)
