"""One tick of the 44 Hz loop: render the frame of a running fade and encode it, for rigs of three sizes.

Run ``python -m tests.benchmarks tick``.
"""

from __future__ import annotations

import time
from collections.abc import Callable

import numpy as np

from onecrew.colour.locus import white_to_uv60
from onecrew.colour.spaces import xy_to_uv76
from onecrew.commands.running import Recall
from onecrew.fixtures.decoder import Decoder
from onecrew.fixtures.encoder import Encoder
from onecrew.playback.compiled_show import compile_show
from onecrew.playback.events import apply
from onecrew.playback.lights import Frame
from onecrew.playback.render import render
from onecrew.playback.state import begin
from onecrew.shipped import shipped
from onecrew.show.light import Light, White
from onecrew.show.profiles import load_profiles
from onecrew.show.show import Cue, Fade, Fixture, Rig, Show
from tests.benchmarks.report import Row

SIZES = (8, 64, 512)
FRAMES = 132
"""Three seconds at 44 Hz."""
ROUNDS = 3
GOAL_S = 1e-3
LOCUS_GOAL = 5e-4
SIXTEEN_BIT = (
    ("spot-six", "most-light"),
    ("spot-six", "best-rendition"),
    ("panel-rgbww", "most-light"),
    ("panel-rgbww", "best-rendition"),
    ("tube-rgbww-8", "most-light"),
    ("panel-cct-tint", "most-light"),
)
"""Shipped profiles whose mode "16-bit" reaches all whites from 2800 to 5600 K, and how they mix."""


def bench(size: int, mixing: str = "most-light") -> dict[str, float]:
    """Median and 99th percentile, in seconds, of rendering, encoding and both, of ``size`` six-emitter spots.

    All fade from 2800 K at 20 % to 5600 K at full in three seconds.
    """
    profiles = load_profiles([shipped("profiles")])
    show = _show(size, mixing)
    compiled = compile_show(show, profiles)
    encoder = Encoder(show.rig.fixtures, profiles)
    playback = apply(begin(compiled, 0.0), Recall(cue="1", fade_s=0.0), 0.0, compiled)
    playback = apply(playback, Recall(cue="2"), 10.0, compiled)

    moments = 10.0 + np.arange(FRAMES) / 44.0
    frames = [render(playback, float(now), compiled) for now in moments]
    encoder.encode(frames[0])
    figures = {}
    for what, work in (
        ("render", lambda i: render(playback, float(moments[i]), compiled)),
        ("encode", lambda i: encoder.encode(frames[i])),
        ("tick", lambda i: encoder.encode(render(playback, float(moments[i]), compiled))),
    ):
        times = _timed(work)
        figures[what], figures[f"{what} p99"] = float(np.median(times)), float(np.quantile(times, 0.99))
    return figures


def rows() -> list[Row]:
    """One row for each size, and how the cost grows."""
    figures = {size: bench(size) for size in SIZES}
    table = [
        Row(
            f"one tick, {size} six-emitter fixtures all fading",
            f"median {_us(f['tick'])} (render {_us(f['render'])}, encode {_us(f['encode'])}), "
            f"p99 {_us(f['tick p99'])}",
            "",
            f"≤ {_us(GOAL_S)}" if size == 64 else "",
            size != 64 or f["tick"] <= GOAL_S,
        )
        for size, f in figures.items()
    ]
    best_rendition = bench(64, "best-rendition")
    table.append(
        Row(
            "the same, 64 fixtures, best-rendition mixing",
            f"median {_us(best_rendition['tick'])}, p99 {_us(best_rendition['tick p99'])}",
            "",
            "",
            True,
        )
    )
    slope = (figures[512]["tick"] - figures[64]["tick"]) / (512 - 64)
    ratio = figures[512]["tick"] / figures[64]["tick"]
    table.append(
        Row(
            "growth from 64 to 512 fixtures (8 × as many)",
            f"{slope * 1e6:.2f} µs a fixture",
            f"{ratio:.1f} ×",
            "≤ 8 ×",
            ratio <= 8.0,
        )
    )
    off = max(farthest_from_locus(*kind) for kind in SIXTEEN_BIT)
    table.append(
        Row(
            f"2800 → 5600 K at 10 % in slots of 16 bit, {len(SIXTEEN_BIT)} kinds",
            f"at most {off:.1e} from the locus in u′v′",
            "",
            f"≤ {LOCUS_GOAL:.0e}",
            off <= LOCUS_GOAL,
        )
    )
    return table


def farthest_from_locus(profile: str, mixing: str) -> float:
    """Farthest that a crossfade at 10 % level strays from the locus path after rounding to slots, in u′v′."""
    profiles = load_profiles([shipped("profiles")])
    show = _show(1, mixing, profile)
    encoder, decoder = Encoder(show.rig.fixtures, profiles), Decoder(show.rig.fixtures, profiles)
    one, worst = np.ones(1), 0.0
    for mired in np.linspace(1e6 / 2800, 1e6 / 5600, FRAMES):
        frame = Frame(0.1 * one, one > 0.0, mired * one, 0.0 * one, 0.2 * one, 0.48 * one)
        [seen] = decoder.decode({1: encoder.encode(frame)[0].tobytes()})
        path = white_to_uv60(1e6 / mired) * (1.0, 1.5)
        worst = max(worst, float(np.hypot(*(xy_to_uv76(seen.xy) - path))))
    return worst


def _timed(work: Callable[[int], object]) -> list[float]:
    times = []
    for _ in range(ROUNDS):
        for i in range(FRAMES):
            start = time.perf_counter()
            work(i)
            times.append(time.perf_counter() - start)
    return times


def _show(size: int, mixing: str, profile: str = "spot-six") -> Show:
    width, per_universe = 14, 36
    fixtures = tuple(
        Fixture(
            id=f"spot-{i}",
            profile=profile,
            mode="16-bit",
            universe=1 + i // per_universe,
            address=1 + width * (i % per_universe),
            role="key",
            mixing="best-rendition" if mixing == "best-rendition" else "most-light",
        )
        for i in range(size)
    )
    warm, cool = Light(level=0.2, white=White(cct_k=2800)), Light(level=1.0, white=White(cct_k=5600))
    return Show(
        name="fade",
        rig=Rig(fixtures=fixtures),
        cues=(
            Cue(number="1", look={fixture.id: warm for fixture in fixtures}),
            Cue(number="2", look={fixture.id: cool for fixture in fixtures}, fade=Fade(in_s=3.0, out_s=3.0)),
        ),
    )


def _us(seconds: float) -> str:
    return f"{seconds * 1e6:.0f} µs"
