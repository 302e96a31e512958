"""A new show is empty and faultless, and it has a name."""

from __future__ import annotations

import pytest

from onecrew.errors import Refused
from onecrew.show.check import check_show
from onecrew.show.new import new_show
from tests.show.shows import PROFILES


def test_a_new_show_is_empty_and_faultless() -> None:
    show = new_show("  Kitchen ")
    assert show.name == "Kitchen"
    assert (show.rig.fixtures, show.cues) == ((), ())
    assert check_show(show, PROFILES) == []


@pytest.mark.parametrize("name", ["", "   ", "x" * 81])
def test_a_show_has_a_name_of_1_to_80_characters(name: str) -> None:
    with pytest.raises(Refused, match="1 to 80 characters"):
        new_show(name)
