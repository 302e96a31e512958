"""The patch: which slots each fixture takes, and where the next one fits."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from onecrew.show.destination import SLOTS
from onecrew.show.profile import Profile
from onecrew.show.show import Fixture, Rig


def width_of(profiles: Mapping[str, Profile], profile: str | None, mode: str | None) -> int | None:
    """Slots that a mode of a profile takes; None if either is unknown."""
    known = profiles.get(profile) if profile is not None else None
    layout = known.mode(mode) if known is not None and mode is not None else None
    return layout.width if layout is not None else None


def footprint(fixture: Fixture, profiles: Mapping[str, Profile]) -> range:
    """Addresses (1-based) that a fixture takes; a fixture of unknown profile or mode takes its first slot."""
    width = width_of(profiles, fixture.profile, fixture.mode) or 1
    return range(fixture.address, fixture.address + width)


def universes(rig: Rig) -> tuple[int, ...]:
    """The universes that fixtures are patched in, rising."""
    return tuple(sorted({fixture.universe for fixture in rig.fixtures}))


def next_free(rig: Rig, profiles: Mapping[str, Profile], universe: int, width: int) -> int | None:
    """The lowest address with ``width`` free slots in a universe; None if there is none."""
    spans = [footprint(fixture, profiles) for fixture in rig.fixtures if fixture.universe == universe]
    return first_gap(spans, width)


def next_free_anywhere(rig: Rig, profiles: Mapping[str, Profile], width: int) -> tuple[int, int] | None:
    """(universe, address) for the next fixture: in a universe already used if it fits, else in a new one."""
    used = universes(rig) or (1,)
    fresh = next((number for number in range(1, 64000) if number not in used), None)
    for universe in (*used, *([fresh] if fresh is not None else [])):
        address = next_free(rig, profiles, universe, width)
        if address is not None:
            return universe, address
    return None


def first_gap(spans: Iterable[range], width: int) -> int | None:
    """The lowest address with ``width`` slots that no span touches, within a universe; None if none has."""
    cells = bytearray(SLOTS)
    for span in spans:
        occupy(cells, span)
    return gap(cells, width)


def occupy(cells: bytearray, span: range) -> None:
    """Marks the slots of a span in the 512 cells of a universe; what lies outside is left out."""
    first, stop = max(span.start, 1), min(span.stop, SLOTS + 1)
    cells[first - 1 : max(stop, first) - 1] = b"\1" * max(stop - first, 0)


def gap(cells: bytearray, width: int) -> int | None:
    """The lowest address with ``width`` unmarked cells; None if there is none, as for a width not 1–512."""
    found = cells.find(bytes(width)) if 1 <= width <= SLOTS else -1
    return found + 1 if found >= 0 else None
