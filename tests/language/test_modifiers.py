"""Modifiers by the words a set uses, and set pieces in the same order: kind, size, the rest."""

from __future__ import annotations

import pytest

from onecrew.commands.context import Context
from onecrew.commands.set_pieces import PutSetPiece
from onecrew.commands.table import read_words
from onecrew.errors import Misuse
from onecrew.language.modifiers import read_modifiers, write_modifiers
from tests.fakes import bakery


@pytest.mark.parametrize(
    ("text", "kind", "stops", "width_m", "note"),
    [
        ("egg crate 0.5", "grid", 0.5, None, "egg crate"),
        ("soft box 1 0.6x0.6", "softbox", 1.0, 0.6, "soft box"),
        ("bounce 1 1.2x0.8 poly board", "reflector", 1.0, 1.2, "bounce poly board"),
        ("silk", "diffusion", 0.0, None, "silk"),
        ("Grid 0.5 half", "grid", 0.5, None, "half"),
    ],
)
def test_other_words_of_the_trade_are_kinds(
    text: str, kind: str, stops: float, width_m: float | None, note: str
) -> None:
    (found,) = read_modifiers(text)
    assert (found.kind, found.stops, found.width_m, found.note) == (kind, stops, width_m, note)
    assert read_modifiers(write_modifiers((found,))) == (found,)


def test_what_is_no_modifier_is_answered_with_all_that_are() -> None:
    with pytest.raises(Misuse, match=r"diffusion, softbox, .*egg crate, .*other"):
        read_modifiers("smoke 1")


def test_a_set_piece_takes_its_size_behind_its_kind_as_a_modifier_does() -> None:
    command = read_words(["piece", "board", "bounce", "1.2x0.8", "at=1,2"], Context(bakery.show()))
    assert isinstance(command, PutSetPiece)
    piece = command.set_piece
    assert (piece.id, piece.kind, piece.width_m, piece.height_m) == ("board", "bounce", 1.2, 0.8)
