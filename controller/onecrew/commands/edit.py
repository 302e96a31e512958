"""Changes of a show, pure: a show and a command → the show after it, or a sentence why not."""

from __future__ import annotations

from collections.abc import Mapping

from onecrew.commands.models import (
    PutCue,
    PutFixture,
    PutSetPiece,
    Redo,
    RemoveCue,
    RemoveFixture,
    RemoveSetPiece,
    Rename,
    SetCamera,
    SetOutput,
    SetRemote,
    ShowCommand,
    Store,
    Undo,
)
from onecrew.errors import DocumentFaults, Refused
from onecrew.show.base import cue_order
from onecrew.show.check import check_show
from onecrew.show.faults import meant
from onecrew.show.light import Light
from onecrew.show.profile import Profile
from onecrew.show.show import Cue, Show


def apply_edit(show: Show, command: ShowCommand, profiles: Mapping[str, Profile]) -> Show:
    """The show after a command. Refused if it names what is not there, DocumentFaults if it would do harm.

    Faults that the show had before do not stand in the way. Store, Undo and Redo need more than the show:
    the engine carries them out.
    """
    edited = _edited(show, command)
    before = {(fault.what, fault.mend) for fault in check_show(show, profiles)}
    new = [f for f in check_show(edited, profiles) if (f.what, f.mend) not in before]
    if new:
        raise DocumentFaults(describe(command), new)
    return edited


def store_look(show: Show, number: str, name: str | None, look: Mapping[str, Light]) -> Show:
    """The show with ``look`` in cue ``number``, new or existing; ``name`` None keeps the name there is.

    A new cue whose number is one digit gets that digit as its shortcut, where no other cue has it.
    Refused if the look names a fixture that the rig does not have.
    """
    for fixture_id in look:
        if show.fixture(fixture_id) is None:
            raise Refused(_no_fixture(show, fixture_id))
    cue = show.cue(number) or Cue(number=number, shortcut=_free_shortcut(show, number))
    fields = {"look": dict(look)} if name is None else {"look": dict(look), "name": name}
    return _with_cue(show, cue.model_copy(update=fields))


def _free_shortcut(show: Show, number: str) -> str | None:
    """A cue's number as its shortcut, if it is one digit that no cue has yet."""
    free = len(number) == 1 and all(cue.shortcut != number for cue in show.cues)
    return number if free else None


def describe(command: ShowCommand) -> str:
    """What a command does to the show, in words: 'patch window', 'remove cue 3'."""
    match command:
        case Store():
            return f"store cue {command.cue}" if command.cue is not None else "store the current cue"
        case PutCue():
            return f"change cue {command.cue.number}"
        case RemoveCue():
            return f"remove cue {command.number}"
        case PutFixture():
            return f"patch {command.fixture.id}"
        case RemoveFixture():
            return f"remove {command.id}"
        case PutSetPiece():
            return f"place {command.set_piece.id}"
        case RemoveSetPiece():
            return f"remove {command.id}"
        case SetCamera():
            return "change the camera notes"
        case SetOutput():
            return "change the outputs"
        case SetRemote():
            return "change the remotes"
        case Rename():
            return f"rename the show to {command.name}"
        case Undo():
            return "undo"
        case Redo():
            return "redo"


# ── One command ─────────────────────────────────────────────────────────────────────────────────────


def _edited(show: Show, command: ShowCommand) -> Show:
    match command:
        case PutCue():
            return _with_cue(show, command.cue)
        case RemoveCue():
            return _without_cue(show, command.number)
        case PutFixture():
            fixtures = show.rig.fixtures
            known = show.fixture(command.fixture.id) is not None
            put = tuple(command.fixture if f.id == command.fixture.id else f for f in fixtures)
            return _with_rig(show, fixtures=put if known else (*fixtures, command.fixture))
        case RemoveFixture():
            return _without_fixture(show, command.id)
        case PutSetPiece():
            pieces, piece = show.rig.set_pieces, command.set_piece
            known = any(other.id == piece.id for other in pieces)
            moved = tuple(piece if other.id == piece.id else other for other in pieces)
            return _with_rig(show, set_pieces=moved if known else (*pieces, piece))
        case RemoveSetPiece():
            left = tuple(piece for piece in show.rig.set_pieces if piece.id != command.id)
            if len(left) == len(show.rig.set_pieces):
                raise Refused(f"There is no set piece {command.id}.")
            return _with_rig(show, set_pieces=left)
        case SetCamera():
            return show.model_copy(update={"camera": command.camera})
        case SetOutput():
            return show.model_copy(update={"output": command.output})
        case SetRemote():
            return show.model_copy(update={"remote": command.remote})
        case Rename():
            return show.model_copy(update={"name": command.name})
        case Store() | Undo() | Redo():
            raise TypeError(f"{command.kind} is not an edit of the show alone")


def _with_rig(show: Show, **parts: object) -> Show:
    return show.model_copy(update={"rig": show.rig.model_copy(update=parts)})


def _with_cue(show: Show, cue: Cue) -> Show:
    """The cue in its place: instead of the one with its number, else where the order of numbers puts it."""
    others = (other for other in show.cues if other.number != cue.number)
    cues = tuple(sorted((*others, cue), key=lambda one: cue_order(one.number)))
    return show.model_copy(update={"cues": cues})


def _without_cue(show: Show, number: str) -> Show:
    if show.cue(number) is None:
        raise Refused(f"There is no cue {number}.")
    return show.model_copy(update={"cues": tuple(cue for cue in show.cues if cue.number != number)})


def _without_fixture(show: Show, fixture_id: str) -> Show:
    if show.fixture(fixture_id) is None:
        raise Refused(_no_fixture(show, fixture_id))
    cues = tuple(
        cue.model_copy(update={"look": {n: light for n, light in cue.look.items() if n != fixture_id}})
        for cue in show.cues
    )
    fixtures = tuple(fixture for fixture in show.rig.fixtures if fixture.id != fixture_id)
    return _with_rig(show.model_copy(update={"cues": cues}), fixtures=fixtures)


def _no_fixture(show: Show, fixture_id: str) -> str:
    close = meant(fixture_id, [fixture.id for fixture in show.rig.fixtures])
    guess = f"; perhaps {close} was meant" if close else ""
    return f"The rig has no fixture {fixture_id}{guess}."
