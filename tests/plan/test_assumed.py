"""What is assumed: sizes that hold everything, tilts at the face."""

from __future__ import annotations

import pytest

from onecrew.plan.assumed import is_subject, size_of, tilt_toward
from onecrew.show.photometry import Room
from onecrew.show.show import Place, SetPiece


def test_a_lamp_is_tilted_at_the_face_where_it_aims_about_that_way() -> None:
    """A face 1 m lower and 1 m away, up the plan: 45° down (trigonometry)."""
    lamp, face = (2.0, 1.0, 2.5), (2.0, 2.0, 1.5)
    assert tilt_toward(lamp, 0.0, face) == pytest.approx(-45.0)
    assert tilt_toward(lamp, None, face) == pytest.approx(-45.0)
    assert tilt_toward(lamp, 305.0, face) == pytest.approx(-45.0)  # 55° past it
    assert tilt_toward(lamp, 65.0, face) == tilt_toward(lamp, 180.0, face) == 0.0
    assert tilt_toward(lamp, 0.0, None) == 0.0


def test_a_room_of_no_size_holds_what_stands_in_it() -> None:
    assert size_of(Room(), ()) == (4.0, 4.0, 2.5)
    assert size_of(Room(width_m=3.0), (Place(x_m=5.1, y_m=4.3, height_m=3.0),)) == (3.0, 4.5, 3.2)


def test_a_subject_says_so_in_kind_or_name() -> None:
    assert is_subject(SetPiece(id="baker", kind="Subject"))
    assert is_subject(SetPiece(id="subject-2", kind="person"))
    assert not is_subject(SetPiece(id="table", kind="furniture"))
