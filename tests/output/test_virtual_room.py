"""The virtual room shows what a receiver hears, at the time it asks."""

from __future__ import annotations

import pytest

from controller.output.encoder import Encoder
from controller.output.virtual_room import VirtualRoom
from tests.fakes.profiles import all_profiles, rig, whites


class Heard:
    """A receiver that has heard some universes and loses them after 2.5 s (E1.31-2018 §6.7.1)."""

    def __init__(self) -> None:
        self.at: dict[int, tuple[float, bytes]] = {}

    def levels(self, universe: int, now: float) -> bytes | None:
        when, slots = self.at.get(universe, (float("-inf"), b""))
        return slots if now - when <= 2.5 else None

    def sources(self, now: float) -> list[str]:
        return [f"universe {universe}" for universe, (when, _) in self.at.items() if now - when <= 2.5]


def test_lamps_follow_the_wire_and_go_black_when_it_goes_silent() -> None:
    lamps = rig(("spot-six", "16-bit"), ("panel-cct-tint", "16-bit"))
    rows = Encoder(lamps, all_profiles()).encode(whites([0.15, 0.8], [2800, 5600]))
    heard, now = Heard(), [100.0]
    room = VirtualRoom(lamps, all_profiles(), heard, white_balance_k=4300.0, clock=lambda: now[0])
    assert [one.level for one in room.lamps()] == [0.0, 0.0]
    assert room.sources() == []

    heard.at[1] = (100.0, rows[0].tobytes())
    spot, panel = room.lamps()
    assert (spot.id, spot.level) == ("lamp-0", pytest.approx(0.15, abs=1e-4))
    assert spot.cct_k == pytest.approx(2800, abs=2)
    assert (panel.level, panel.cct_k) == (pytest.approx(0.8, abs=1e-4), pytest.approx(5600, abs=0.1))
    assert room.sources() == ["universe 1"]
    assert spot.swatch != panel.swatch

    now[0] = 102.6
    assert [one.level for one in room.lamps()] == [0.0, 0.0]
    assert room.sources() == []
