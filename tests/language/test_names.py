"""Names of lamps, roles, cues and addresses, as people write them."""

from __future__ import annotations

import pytest

from onecrew.errors import Misuse
from onecrew.language import names
from tests.fakes import bakery


@pytest.mark.parametrize(
    ("text", "role"),
    [("key", "key"), ("Ambience", "ambience"), ("ambient", "ambience"), ("amb", "ambience"), ("rim", "edge"),
     ("hair", "edge"), ("kicker", "edge"), ("pr", "practical")],
)  # fmt: skip
def test_roles(text: str, role: str) -> None:
    assert names.role(text) == role


@pytest.mark.parametrize("text", ["", "e", "star"])
def test_no_role(text: str) -> None:
    with pytest.raises(Misuse, match="roles are"):
        names.role(text)


def test_lamps_by_id_role_or_all_each_once() -> None:
    show = bakery.show()
    ids = tuple(fixture.id for fixture in show.rig.fixtures)
    assert names.lamps("all", show, "set") == ids
    assert names.lamps(f"{ids[1]},all", show, "set") == (ids[1], *(one for one in ids if one != ids[1]))
    role = show.rig.fixtures[0].role
    assert ids[0] in names.lamps(role, show, "set")


def test_a_cue_by_number_or_whole_name() -> None:
    show = bakery.show()
    named = next(cue for cue in show.cues if cue.name)
    assert names.cue_number("2.5", show, "recall") == "2.5"
    assert names.cue_number(named.name.upper(), show, "recall") == named.number


def test_patch_addresses() -> None:
    assert names.patch_address("1.33") == (1, 33)
    for wrong in ("33", "1.513", "0.1", "1.", "a.b"):
        with pytest.raises(Misuse):
            names.patch_address(wrong)
