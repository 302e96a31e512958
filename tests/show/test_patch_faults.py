"""The patch: overlaps name both fixtures and the slots, and every fault offers an address that is free.

512 slots a universe: ANSI E1.11 (DMX512-A).
"""

from __future__ import annotations

import re

from hypothesis import given, settings
from hypothesis import strategies as st

from onecrew.errors import Fault
from onecrew.show.check import check_show
from onecrew.show.patching import footprint
from onecrew.show.show import Fixture, Rig, Show
from tests.show.shows import PROFILES


def fixture(name: str, address: int, universe: int = 1, kind: str = "spot-six/8-bit") -> Fixture:
    profile, mode = kind.split("/")
    return Fixture(id=name, profile=profile, mode=mode, universe=universe, address=address, role="key")


def faults(*fixtures: Fixture) -> list[Fault]:
    return check_show(Show(name="Rig", rig=Rig(fixtures=fixtures)), PROFILES)


def test_neighbours_that_touch_do_not_overlap() -> None:
    assert faults(fixture("a", 1), fixture("b", 8), fixture("c", 15)) == []


def test_the_same_addresses_in_two_universes_do_not_overlap() -> None:
    assert faults(fixture("a", 1), fixture("b", 1, universe=2)) == []


def test_an_overlap_names_both_fixtures_the_slots_and_a_free_address() -> None:
    found = faults(fixture("left", 10), fixture("right", 14))
    assert [str(fault) for fault in found] == [
        "rig.fixtures[1].address: right overlaps left on slots 14–16 of universe 1; address 1 is free"
    ]


def test_an_overlap_of_one_slot() -> None:
    assert "on slot 16 of" in faults(fixture("left", 10), fixture("right", 16))[0].what


def test_an_overlap_with_several_names_each() -> None:
    found = faults(fixture("a", 1), fixture("b", 8), fixture("tube", 5, kind="tube-rgbww-8/8-segment"))
    assert len(found) == 1
    assert "tube overlaps a on slots 5–7 and b on slots 8–14 of universe 1" in found[0].what


def test_a_fixture_inside_another_is_found() -> None:
    assert (
        "slots 20–26" in faults(fixture("tube", 10, kind="tube-rgbww-8/8-segment"), fixture("b", 20))[0].what
    )


def test_two_that_clash_are_not_offered_the_same_address() -> None:
    found = faults(*(fixture(name, 1) for name in "abc"))
    assert [fault.fix for fault in found] == ["address 8 is free", "address 15 is free"]


def test_the_last_slot_of_a_universe_is_512() -> None:
    assert faults(fixture("a", 506)) == []
    (fault,) = faults(fixture("a", 507))
    assert str(fault) == (
        "rig.fixtures[0].address: a takes 7 slots from 507 on and ends at 513; "
        "a universe has 512 slots, 506 is the last address that fits"
    )


def test_a_full_universe_offers_no_address() -> None:
    tubes = [fixture(f"t{n}", 1 + 40 * n, kind="tube-rgbww-8/8-segment") for n in range(12)]
    found = faults(*tubes, fixture("late", 1, kind="tube-rgbww-8/8-segment"))
    assert [fault.fix for fault in found] == ["move it to another universe"]


def test_a_fixture_of_unknown_profile_still_clashes_by_its_first_slot() -> None:
    found = faults(fixture("a", 1), fixture("b", 3, kind="unknown/8-bit"))
    assert [fault.where for fault in found] == ["rig.fixtures[1].profile", "rig.fixtures[1].address"]


fixtures = st.lists(
    st.tuples(st.integers(1, 512), st.integers(1, 2), st.sampled_from(["spot-six/8-bit", "bulb-rgbw/8-bit"])),
    max_size=30,
)


@settings(max_examples=60, deadline=None, derandomize=True)
@given(fixtures)
def test_every_doubly_taken_slot_is_told_and_every_offer_is_free(patch: list[tuple[int, int, str]]) -> None:
    rig = [fixture(f"f{n}", address, universe, kind) for n, (address, universe, kind) in enumerate(patch)]
    found = [fault for fault in faults(*rig) if " overlaps " in fault.what]
    cells: dict[int, list[list[str]]] = {u: [[] for _ in range(512)] for u in (1, 2)}
    for one in rig:
        for address in footprint(one, PROFILES):
            if address <= 512:
                cells[one.universe][address - 1].append(one.id)
    clashing = {name for u in (1, 2) for cell in cells[u] if len(cell) > 1 for name in cell[1:]}
    assert {fault.what.split()[0] for fault in found} == clashing
    for fault in found:
        mine = rig[int(re.findall(r"\d+", fault.where)[0])]
        offer = re.findall(r"address (\d+) is free", fault.fix)
        width = 7 if mine.profile == "spot-six" else 4
        start = int(offer[0]) - 1 if offer else 0
        assert not offer or not any(cells[mine.universe][start : start + width])
