"""What a receiver hears, told in lines and facts: sources, conflicts, comings and goings."""

from __future__ import annotations

from uuid import UUID

import pytest

from onecrew.cli.wire_view import View, changes, facts, lines
from onecrew.fixtures.decoder import Seen
from onecrew.network.arbiter import Announced, SourceSeen


def source(
    universe: int, name: str, priority: int = 100, *, wins: bool = True, preview: bool = False
) -> SourceSeen:
    return SourceSeen(
        universe=universe,
        name=name,
        cid=UUID(int=sum(name.encode())),
        host="192.0.2.7",
        priority=priority,
        rate=44.0,
        last_seen_s=0.01,
        preview=preview,
        synchronised=False,
        wins=wins,
    )


def view(*sources: SourceSeen, lamps: tuple[Seen, ...] | None = None, levels: bytes = bytes(512)) -> View:
    universes = {one.universe: levels for one in sources}
    return View(sources, universes, (), received=len(sources), bad=0, out_of_order=0, lamps=lamps)


def test_a_source_is_a_row() -> None:
    said = "\n".join(lines(view(source(3, "desk"), levels=bytes([255, 0, 7]) + bytes(509))))
    [row] = [line for line in said.splitlines() if "desk" in line]
    assert row.split() == ["3", "desk", "192.0.2.7", "100", "44.0/s", "in", "control", "2"]


def test_equal_priorities_on_one_universe_are_a_conflict() -> None:
    told = facts(view(source(1, "desk"), source(1, "other"), source(2, "desk")))
    first, second = told["universes"]
    assert "same priority 100" in first["conflict"]
    assert "desk" in first["conflict"] and "other" in first["conflict"]
    assert second["conflict"] is None


def test_a_higher_priority_outranks_and_says_so() -> None:
    told = facts(view(source(1, "desk", 120), source(1, "other", 100, wins=False)))
    assert "desk (192.0.2.7) with priority 120 outranks 1 more" in told["universes"][0]["conflict"]
    assert [one["in_control"] for one in told["universes"][0]["sources"]] == [True, False]


def test_preview_data_fights_nobody() -> None:
    told = facts(view(source(1, "desk"), source(1, "plan", preview=True, wins=False)))
    assert told["universes"][0]["conflict"] is None


def test_changes_are_told_once() -> None:
    one, two = view(source(1, "desk")), view(source(1, "desk", 150), source(1, "other", wins=False))
    assert changes(None, one) == ["universe 1: desk (192.0.2.7) is heard, priority 100, in control"]
    assert changes(one, one) == []
    said = changes(one, two)
    assert "universe 1: other (192.0.2.7) is heard, priority 100, outranked" in said
    assert "universe 1: desk (192.0.2.7) changed: priority 150, in control" in said
    assert any("outranks" in line for line in said)
    assert changes(two, one)[0] == "universe 1: other (192.0.2.7) has gone"


def test_lamps_are_told_with_level_and_colour() -> None:
    lamps = (
        Seen("window", 0.5, 0.5, 0.4, (0.33, 0.34), 5600.0, 0.0012, "#ffffff"),
        Seen("oven", 0.2, 0.2, 0.1, (0.17, 0.02), None, None, "#0000ff"),
        Seen("rim", 0.0, 0.0, 0.0, (0.33, 0.34), 5600.0, 0.0, "#ffffff"),
    )
    said = lines(view(source(1, "desk"), lamps=lamps))
    assert [line.split()[:2] for line in said[-3:]] == [
        ["window", "50.00"],
        ["oven", "20.00"],
        ["rim", "0.00"],
    ]
    assert "5600 K +0.0012" in said[-3] and "x 0.1700 y 0.0200" in said[-2] and "dark" in said[-1]
    assert [lamp["id"] for lamp in facts(view(lamps=lamps))["lamps"]] == ["window", "oven", "rim"]
    assert "lamps" not in facts(view())


@pytest.mark.parametrize(
    ("universes", "said"), [((1,), "1"), ((1, 2, 3, 7), "1-3, 7"), ((5, 7, 8), "5, 7-8"), ((), "none")]
)
def test_announced_universes_are_told_in_ranges(universes: tuple[int, ...], said: str) -> None:
    one = Announced("desk", UUID(int=1), "192.0.2.7", universes)
    told = lines(View((), {}, (one,), received=1, bad=0, out_of_order=0))
    assert told[-1] == f"announced by desk (192.0.2.7): universes {said}"
