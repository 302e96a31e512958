"""Names of lamps, roles, cues and addresses, as people write them."""

from __future__ import annotations

from unicodedata import normalize

import pytest

from onecrew.errors import Misuse
from onecrew.language import names
from onecrew.show.show import Cue, Show
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
    assert names.cue_number(f" {normalize('NFD', named.name)} ", show, "recall") == named.number


def test_patch_addresses() -> None:
    assert names.patch_address("1.33") == (1, 33)
    for wrong in ("33", "1.513", "0.1", "1.", "a.b"):
        with pytest.raises(Misuse):
            names.patch_address(wrong)


def test_a_name_that_several_cues_have_runs_none_of_them() -> None:
    cues = [
        Cue(number=str(at), name=name)
        for at, name in enumerate(("Dark", "Late", "dark", "Café", "Cafe\u0301"), 1)
    ]
    show = Show(name="Names", cues=tuple(cues))
    assert names.cue_number("Dark", show, "recall") == "1"
    assert names.cue_number("dark", show, "recall") == "3"
    assert names.cue_number("Cafe\u0301", show, "recall") == "5"
    with pytest.raises(Misuse, match="cues 1, 3 are all called 'Dark': say the number"):
        names.cue_number("DARK", show, "recall")
    with pytest.raises(Misuse, match="cues 2, 6 are all called 'Late'"):
        twice = show.model_copy(update={"cues": (*show.cues, Cue(number="6", name="Late"))})
        names.cue_number("Late", twice, "recall")
