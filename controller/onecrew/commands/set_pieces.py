"""Set pieces: what else stands in the room and shapes light without a cable."""

from __future__ import annotations

from typing import Literal

from onecrew.commands.command import Command, Log, Row, ShowCommand, changed, joined, never
from onecrew.commands.context import Context
from onecrew.commands.rig import with_rig
from onecrew.errors import Misuse, Refused
from onecrew.language import places, writing
from onecrew.language.modifiers import SIZE
from onecrew.language.names import nearest
from onecrew.language.phrases import Pair, build, plain, split, unknown
from onecrew.show.base import Name
from onecrew.show.show import SetPiece, Show


class PutSetPiece(ShowCommand):
    """Add a set piece, or replace the one with this id."""

    kind: Literal["put-set-piece"] = "put-set-piece"
    set_piece: SetPiece


def _read_piece(words: list[str], context: Context) -> Command:
    head, pairs = split(words, texts=frozenset({"note"}))
    if not head:
        raise Misuse("'piece' needs an id and what it is, as 'piece cloth negative fill at=1.2,3.4'")
    name = head[0].lower()
    sizes = [word for word in head[1:] if SIZE.fullmatch(word)]
    kind = " ".join(word for word in head[1:] if word not in sizes)
    pairs = [*(Pair("size", "=", size) for size in sizes), *pairs]
    present = next((one for one in context.need_show().rig.set_pieces if one.id == name), None)
    fields: dict[str, object] = present.model_dump() if present else {"id": name}
    if kind:
        fields["kind"] = kind
    elif present is None:
        raise Misuse(f"say what {name} is, as '{name} negative fill'")
    for pair in pairs:
        _piece_field(pair, fields)
    return PutSetPiece(set_piece=build(SetPiece, **fields))


def _piece_field(pair: Pair, fields: dict[str, object]) -> None:
    key, value = pair.key, plain(pair, "piece")
    if key == "note":
        fields["note"] = value
    elif key == "at":
        fields["place"] = places.read_place(value)
    elif key == "size":
        size = () if value == "none" else places.read_sides(value, "size", (2, 3))
        fields.update(dict.fromkeys(_SIZE), **dict(zip(_SIZE, size, strict=False)))
    elif key == "reflects":
        fields["reflectance"] = None if value == "none" else places.reflectance(value, "reflects")
    else:
        raise unknown("a set piece", key, ("at", "size", "reflects", "note"))


_SIZE = ("width_m", "height_m", "depth_m")


def _write_piece(command: PutSetPiece, show: Show | None) -> str:
    piece = command.set_piece
    old = next((one for one in show.rig.set_pieces if one.id == piece.id), None) if show else None
    had = piece_texts(SetPiece(id=piece.id, kind="") if old is None else old)
    return joined(["piece", piece.id, piece.kind, *changed(piece_texts(piece), had)])


def piece_texts(piece: SetPiece) -> dict[str, str]:
    """A set piece as it is typed, by the words of ``piece``."""
    sides = (piece.width_m, piece.height_m, *([] if piece.depth_m is None else [piece.depth_m]))
    size = "x".join("-" if side is None else writing.number(side) for side in sides)
    share = piece.reflectance
    return {
        "at": places.write_place(piece.place),
        "size": "none" if size == "-x-" else size,
        "reflects": "none" if share is None else share if isinstance(share, str) else writing.level(share),
        "note": piece.note,
    }


def _with_piece(show: Show, command: PutSetPiece) -> Show:
    pieces, piece = show.rig.set_pieces, command.set_piece
    if not any(other.id == piece.id for other in pieces):
        return with_rig(show, set_pieces=(*pieces, piece))
    return with_rig(show, set_pieces=tuple(piece if one.id == piece.id else one for one in pieces))


PUT_SET_PIECE = Row(
    model=PutSetPiece,
    forms={
        "piece cloth negative fill at=1.2,3.4,2 size=1.2x1.8": "add a set piece, or change one; size is "
        "width, height, depth; reflects=dark, mid, white or a share",
    },
    reads={"piece": _read_piece},
    writes=_write_piece,
    says=lambda command, _: f"place {command.set_piece.id}",
    log=Log.SHOW,
    lock_refuses=never,
    edit=_with_piece,
)


class RemoveSetPiece(ShowCommand):
    """Remove a set piece."""

    kind: Literal["remove-set-piece"] = "remove-set-piece"
    id: Name


def _read_remove_piece(words: list[str], context: Context) -> Command:
    known = [piece.id for piece in context.need_show().rig.set_pieces]
    name = " ".join(words).lower()
    if name not in known:
        raise Misuse(f"there is no set piece '{name}'{nearest(name, known)}")
    return build(RemoveSetPiece, id=name)


def _without_piece(show: Show, command: RemoveSetPiece) -> Show:
    left = tuple(piece for piece in show.rig.set_pieces if piece.id != command.id)
    if len(left) == len(show.rig.set_pieces):
        raise Refused(f"There is no set piece {command.id}.")
    return with_rig(show, set_pieces=left)


REMOVE_SET_PIECE = Row(
    model=RemoveSetPiece,
    forms={"remove piece cloth": "remove a set piece"},
    reads={"remove piece": _read_remove_piece},
    writes=lambda command, _: f"remove piece {command.id}",
    says=lambda command, _: f"remove {command.id}",
    log=Log.SHOW,
    lock_refuses=never,
    edit=_without_piece,
)

ROWS = (PUT_SET_PIECE, REMOVE_SET_PIECE)
