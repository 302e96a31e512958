"""Sixty-four universes from one engine: each in order, none left behind, all exact at the end."""

from __future__ import annotations

import json
from itertools import pairwise
from pathlib import Path
from typing import Any

from tests.fakes.documents import document
from tests.process.sandbox import SHOW, Sandbox

UNIVERSES, LAMPS = 64, 256
WIDTH = 6


def show(port: int) -> dict[str, Any]:
    rig = [
        {
            "id": f"lamp{index}",
            "profile": "panel-cct-tint",
            "mode": "16-bit",
            "universe": 1 + index % UNIVERSES,
            "address": 1 + WIDTH * (index // UNIVERSES),
            "role": "fill",
        }
        for index in range(LAMPS)
    ]
    look = {lamp["id"]: {"level": 1.0, "white": {"cct_k": 3000 + 5 * n}} for n, lamp in enumerate(rig)}
    to = {str(number + 1): {"to": [f"127.0.0.1:{port}"]} for number in range(UNIVERSES)}
    cue = {"number": "1", "fade": {"in_s": 1.5, "out_s": 1.5}, "look": look}
    return {**SHOW, "rig": {"fixtures": rig}, "output": {"sacn": {"universes": to}}, "cues": [cue]}


def test_sixty_four_universes_fade_together_and_arrive_exactly(tmp_path: Path) -> None:
    sandbox = Sandbox(tmp_path)
    try:
        sandbox.show.write_text(json.dumps(document(show(sandbox.receiver.port))))
        sandbox.engine()
        sandbox.tell(kind="recall", cue="1")
        sandbox.wait_status(lambda status: status["cue"] == "1" and status["fade"] is None)
        by_universe: dict[int, list[Any]] = {}
        for packet in sandbox.receiver.since(0):
            by_universe.setdefault(packet.universe, []).append(packet)
        assert sorted(by_universe) == list(range(1, UNIVERSES + 1))
        for packets in by_universe.values():
            assert all((b.sequence - a.sequence) % 256 == 1 for a, b in pairwise(packets))
            levels = [packet.slots[0] * 256 + packet.slots[1] for packet in packets]
            assert levels == sorted(levels)
            assert levels[-1] == 65535
            lamps = LAMPS // UNIVERSES
            assert [packets[-1].slots[WIDTH * lamp] for lamp in range(lamps)] == [255] * lamps
        counts = {len(packets) for packets in by_universe.values()}
        assert max(counts) - min(counts) <= 1  # no universe is favoured
    finally:
        sandbox.close()
