"""Playback: what one tick and one command cost, and how the tick grows with the rig."""

from __future__ import annotations

import json
from collections.abc import Iterator
from itertools import count

from onecrew.commands.light import SetLight
from onecrew.commands.running import Go, Recall
from onecrew.playback.codec import to_json
from onecrew.playback.events import apply
from onecrew.playback.render import render
from tests.benchmarks.report import Row, best_of, print_rows
from tests.playback.stage import Stage, cue, stage

LAWS = ("linear", "square", "log", "table")
KINDS = ("television", "flame", "headlights", "lightning", "failing-tube")


def fading(lamps: int, *, curve: str = "linear", effects: int = 0) -> Stage:
    """A rig of which every lamp, of every dimming law, is in the middle of a fade of level and colour."""

    def light(place: int, number: int) -> dict[str, object]:
        light: dict[str, object] = {"level": 0.2 + 0.6 * ((7 * place + number) % 11) / 11}
        light |= (
            {"xy": (0.3 + 0.1 * number, 0.3)} if place % 3 == 0 else {"white": {"cct_k": 2800 + 900 * number}}
        )
        if place < effects:
            light["effect"] = {"kind": KINDS[place % len(KINDS)], "seed": place}
        return light

    names = [f"l{place}" for place in range(lamps)]
    cues = [
        cue(
            str(number),
            {name: light(place, number) for place, name in enumerate(names)},
            fade={"in_s": 1000.0, "out_s": 900.0, "curve": curve},
        )
        for number in (1, 2)
    ]
    rig = {name: LAWS[place % len(LAWS)] for place, name in enumerate(names)}
    return stage(rig, cues).do(0.0, Recall(cue="1", fade_s=0.0)).do(1.0, Go())


def tick_s(desk: Stage) -> float:
    """Shortest time of one frame, over frames at different moments."""
    moments = [100.0 + frame / 44 for frame in range(20)]

    def frames() -> None:
        for now in moments:
            render(desk.playback, now, desk.compiled)

    return best_of(frames) / len(moments)


def rows() -> Iterator[Row]:
    """Measure; each time is the shortest of many."""
    small, large = tick_s(fading(64)), tick_s(fading(512))
    yield Row("frame, 64 lamps fading", _us(small), f"{_us(small / 64)} a lamp", "≤ 150 µs", small <= 150e-6)
    growth = large / small
    yield Row(
        "frame, 512 lamps fading", _us(large), f"× {growth:.1f} for 8 × the lamps", "≤ 8 ×", growth <= 8.0
    )
    stops = tick_s(fading(64, curve="stops"))
    yield Row(
        "frame, 64 lamps fading in stops",
        _us(stops),
        f"× {stops / small:.1f} of linear",
        "≤ 150 µs",
        stops <= 150e-6,
    )
    effects = tick_s(fading(64, effects=10))
    yield Row(
        "frame, 64 lamps, 10 with effects of all kinds",
        _us(effects),
        f"× {effects / small:.1f} of none",
        "≤ 1000 µs, a whole tick",
        effects <= 1e-3,
    )
    desk = fading(64)
    moment = count(50.0, 0.01)  # never twice the same: nothing can be remembered from one to the next
    recall = best_of(lambda: apply(desk.playback, Recall(cue="1"), next(moment), desk.compiled), 100)
    yield Row("recall in the middle of a fade, 64 lamps", _us(recall), "", "≤ 1000 µs", recall <= 1e-3)
    change = best_of(
        lambda: apply(desk.playback, SetLight(fixtures=("l3",), level=0.3), next(moment), desk.compiled), 100
    )
    yield Row("one lamp set by hand, 64 lamps", _us(change), "", "≤ 1000 µs", change <= 1e-3)
    data = best_of(lambda: to_json(desk.playback), 100)
    size = len(json.dumps(to_json(desk.playback)))
    yield Row("state for resuming, 64 lamps", _us(data), f"{size / 1024:.0f} KiB", "≤ 300 µs", data <= 300e-6)


def _us(seconds: float) -> str:
    return f"{seconds * 1e6:.0f} µs" if seconds >= 9.5e-6 else f"{seconds * 1e6:.2f} µs"


if __name__ == "__main__":
    print_rows("Playback", rows())
