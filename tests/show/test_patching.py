"""Free addresses. 512 slots a universe: ANSI E1.11 (DMX512-A)."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st

from onecrew.show.patching import (
    first_gap,
    footprint,
    next_free,
    next_free_anywhere,
    universes,
    width_of,
)
from onecrew.show.show import Fixture, Rig
from tests.show.shows import PROFILES


def fixture(name: str, address: int, universe: int = 1, kind: str = "spot-six/8-bit") -> Fixture:
    profile, mode = kind.split("/")
    return Fixture(id=name, profile=profile, mode=mode, universe=universe, address=address, role="key")


def rig(*fixtures: Fixture) -> Rig:
    return Rig(fixtures=fixtures)


def test_the_first_address_of_an_empty_universe_is_1() -> None:
    assert next_free(rig(), PROFILES, 1, 512) == 1
    assert next_free(rig(), PROFILES, 1, 513) is None


def test_no_width_outside_a_universe_costs_memory_or_fits() -> None:
    for width in (-1, 0, 513, 1 << 32, 1 << 70):
        assert next_free(rig(), PROFILES, 1, width) is None


def test_the_lowest_gap_that_is_wide_enough() -> None:
    some = rig(fixture("a", 4), fixture("b", 20))
    assert next_free(some, PROFILES, 1, 3) == 1
    assert next_free(some, PROFILES, 1, 4) == 11
    assert next_free(some, PROFILES, 1, 10) == 27
    assert next_free(some, PROFILES, 2, 10) == 1
    assert next_free(some, PROFILES, 1, 486) == 27
    assert next_free(some, PROFILES, 1, 487) is None


def test_the_next_fixture_stays_in_a_used_universe_while_it_fits() -> None:
    assert next_free_anywhere(rig(), PROFILES, 6) == (1, 1)
    some = rig(fixture("a", 4, universe=7))
    assert next_free_anywhere(some, PROFILES, 3) == (7, 1)
    assert next_free_anywhere(some, PROFILES, 500) == (7, 11)
    assert next_free_anywhere(some, PROFILES, 510) == (1, 1)
    assert next_free_anywhere(some, PROFILES, 513) is None


def test_the_footprint_of_a_fixture() -> None:
    tube = fixture("t", 21, kind="tube-rgbww-8/8-segment")
    assert footprint(tube, PROFILES) == range(21, 61)
    assert footprint(fixture("x", 9, kind="unknown/8-bit"), PROFILES) == range(9, 10)
    assert width_of(PROFILES, "spot-six", "9-bit") is None
    assert universes(rig(fixture("a", 1, 3), fixture("b", 1, 1), fixture("c", 9, 3))) == (1, 3)


spans = st.lists(
    st.tuples(st.integers(1, 512), st.integers(1, 60)).map(lambda pair: range(pair[0], pair[0] + pair[1])),
    max_size=20,
)


@settings(max_examples=150, deadline=None, derandomize=True)
@given(spans, st.integers(1, 512))
def test_a_gap_is_free_inside_the_universe_and_the_lowest_there_is(taken: list[range], width: int) -> None:
    used = {address for span in taken for address in span}
    free = [start for start in range(1, 514 - width) if used.isdisjoint(range(start, start + width))]
    assert first_gap(taken, width) == (free[0] if free else None)
