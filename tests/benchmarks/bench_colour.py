"""Whites and mixes against colour-science and scipy, in the same run."""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
import warnings
from collections.abc import Callable, Iterator
from typing import TypeVar

import numpy as np

from onecrew.colour import locus_table
from onecrew.colour.locus import white_to_uv60
from onecrew.colour.locus_table import uv76_to_white_fast, white_to_uv76_fast
from onecrew.colour.mixing import Mixer
from onecrew.colour.spaces import uv60_to_uv76, uv76_to_xyz, xyy_to_xyz
from tests.benchmarks.report import Row, best_of
from tests.colour.kits import EIGHT, SIX, kit

T = TypeVar("T")
MANY = 20_000
TIMED = 2_000
"""Points that each side is given at once when they are timed."""


def whites(count: int) -> tuple[np.ndarray, np.ndarray]:
    rng = np.random.default_rng(11)
    return rng.uniform(40.0, 1000.0, count), rng.uniform(-0.05, 0.05, count)


def rows() -> Iterator[Row]:
    yield from whites_rows()
    yield from mixing_rows()
    yield start_row()


def whites_rows() -> Iterator[Row]:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        from colour import MSDS_CMFS
        from colour.temperature import CCT_to_uv_Ohno2013, uv_to_CCT_Ohno2013
    cmfs = MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
    mired, duv = whites(MANY)
    exact = uv60_to_uv76(white_to_uv60(1e6 / mired, duv))

    error = float(np.hypot(*(white_to_uv76_fast(mired, duv) - exact).T).max())
    some, some_duv = mired[:TIMED], duv[:TIMED]
    ours = best_of(lambda: white_to_uv76_fast(some, some_duv)) / TIMED
    asked = np.column_stack((1e6 / some, some_duv))
    theirs = best_of(lambda: CCT_to_uv_Ohno2013(asked, cmfs), rounds=5) / TIMED
    yield Row(
        "white → chromaticity, table, a point",
        f"{ours * 1e9:.0f} ns; colour-science Ohno 2013 {theirs * 1e6:.1f} µs",
        f"{theirs / ours:.0f} ×",
        "≥ 100 ×",
        theirs / ours >= 100.0,
    )
    yield Row("… against direct integration", f"{error:.1e} in u′v′", "", "≤ 5e-6", error <= 5e-6)

    back, _ = uv76_to_white_fast(exact)
    error = float(np.abs(1e6 / back - 1e6 / mired).max())
    points = exact[:TIMED]
    ours = best_of(lambda: uv76_to_white_fast(points)) / TIMED
    uv60 = points / (1.0, 1.5)
    theirs = best_of(lambda: uv_to_CCT_Ohno2013(uv60, cmfs), rounds=5) / TIMED
    yield Row(
        "chromaticity → white, table, a point",
        f"{ours * 1e9:.0f} ns; colour-science Ohno 2013 {theirs * 1e6:.0f} µs",
        f"{theirs / ours:.0f} ×",
        "≥ 50 ×",
        theirs / ours >= 50.0,
    )
    yield Row("… over 1000–25000 K, |Duv| ≤ 0.05", f"{error:.1e} K", "", "≤ 0.05 K", error <= 0.05)

    def build() -> None:
        locus_table._table.cache_clear()
        locus_table.warm_up()

    took = best_of(build)
    held = locus_table._table().cubics.nbytes + locus_table._table().lines.nbytes
    yield Row(
        "building the table", f"{took * 1e3:.1f} ms, {held / 1024:.0f} KiB", "", "≤ 20 ms", took <= 0.020
    )


def mixing_rows() -> Iterator[Row]:
    from scipy.optimize import linprog

    xy, flux, spectra = kit(*SIX)
    mixer = Mixer(xy, flux, spectra)
    vectors = xyy_to_xyz(xy, flux / flux.sum())
    colours = white_to_uv76_fast(np.random.default_rng(5).uniform(150.0, 370.0, 4096), 0.0)

    def by_linprog(ray: np.ndarray) -> float:
        found = linprog(
            [0.0] * 6 + [-1.0],
            A_eq=np.column_stack((vectors.T, -ray)),
            b_eq=np.zeros(3),
            bounds=[(0.0, 1.0)] * 6 + [(0.0, None)],
        )
        return float(found.x[-1])

    rays = uv76_to_xyz(colours[:64])
    light = mixer.most_light(colours[:64]).light
    apart = max(abs(by_linprog(ray) - ours) for ray, ours in zip(rays, light, strict=True))
    ours = best_of(lambda: mixer.most_light(colours[:64]), rounds=200) / 64
    theirs = best_of(lambda: by_linprog(rays[0]), rounds=50)
    yield Row(
        "brightest mix of six emitters, a colour",
        f"{ours * 1e6:.2f} µs; scipy linprog {theirs * 1e3:.2f} ms",
        f"{theirs / ours:.0f} ×",
        "≥ 100 ×",
        theirs / ours >= 100.0,
    )
    yield Row("… light against linprog", f"{apart:.1e}", "", "≤ 1e-9", apart <= 1e-9)

    took = best_in_turn({k: lambda k=k: mixer.most_light(colours[:k]) for k in (8, 64, 512, 4096)})  # type: ignore[misc]
    # From 8 to 64 nearly all is the cost of calling numpy: too little grows there to be compared.
    growth = (took[4096] - took[512]) / 3584 / ((took[512] - took[64]) / 448)
    for k, seconds in took.items():
        goal, met = ("< 0.3 ms", seconds < 0.3e-3) if k == 64 else ("", True)
        yield Row(f"brightest, {k} fixtures × 6 emitters", f"{seconds * 1e6:.0f} µs", "", goal, met)
    yield Row(
        "… growth from 512 to 4096 against 64 to 512",
        "a fixture more",
        f"{growth:.2f} ×",
        "≤ 1.5 ×",
        growth <= 1.5,
    )
    mixer.best_rendition(colours[:1])
    both = best_in_turn(
        {
            k: lambda k=k: getattr(mixer, k.replace("-", "_"))(colours[:64])  # type: ignore[misc]
            for k in ("most-light", "best-rendition")
        }
    )
    ratio = both["best-rendition"] / both["most-light"]
    yield Row(
        "best rendition, 64 × 6, against most light",
        f"{both['best'] * 1e6:.0f} µs",
        f"{ratio:.1f} ×",
        "≤ 10 ×",
        ratio <= 10.0,
    )
    eight = Mixer(*kit(*EIGHT))
    eight.best_rendition(colours[:1])
    seconds = best_of(lambda: eight.best_rendition(colours[:64]), rounds=100)
    yield Row("best rendition, 64 × 8", f"{seconds * 1e6:.0f} µs", "", "< 1 ms", seconds < 1e-3)
    seconds = best_of(lambda: Mixer(xy, flux, spectra).most_light(colours[:1]))
    yield Row("making a mixer ready, six emitters", f"{seconds * 1e3:.1f} ms", "", "≤ 5 ms", seconds <= 5e-3)
    seconds = best_of(lambda: Mixer(xy, flux, spectra).best_rendition(colours[:1]))
    yield Row("… for best rendition", f"{seconds * 1e3:.1f} ms", "", "≤ 20 ms", seconds <= 20e-3)


def best_in_turn(calls: dict[T, Callable[[], object]], rounds: int = 400) -> dict[T, float]:
    """Shortest time of each call in seconds. They take turns, so that a busy moment hits all of them."""
    best = dict.fromkeys(calls, float("inf"))
    for _ in range(rounds):
        for name, call in calls.items():
            start = time.perf_counter()
            call()
            best[name] = min(best[name], time.perf_counter() - start)
    return best


def start_row() -> Row:
    script = (
        "import numpy, time; start = time.perf_counter(); "
        "from onecrew.colour import mixing, adaptation, locus_table; locus_table.warm_up(); "
        "print(time.perf_counter() - start)"
    )
    took = []
    with tempfile.TemporaryDirectory() as cache:
        # Compiled once, as an installed program is, even where the shell forbids it.
        environment = {**os.environ, "PYTHONPYCACHEPREFIX": cache}
        environment.pop("PYTHONDONTWRITEBYTECODE", None)
        for _ in range(6):
            done = subprocess.run(
                [sys.executable, "-c", script],
                capture_output=True,
                text=True,
                timeout=60,
                check=True,
                env=environment,
            )
            took.append(float(done.stdout))
    best = min(took)
    return Row(
        "importing colour and warming it up", f"{best * 1e3:.0f} ms after numpy", "", "≤ 50 ms", best <= 0.05
    )
