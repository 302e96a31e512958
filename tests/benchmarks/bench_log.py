"""The newest lines of a long log, as ``onecrew log -n`` and ``--follow`` read them, and the whole of it."""

from __future__ import annotations

import tempfile
from collections.abc import Iterable
from functools import partial
from pathlib import Path

from onecrew.log.entries import Entry, to_line
from onecrew.log.logfile import newest, read
from tests.benchmarks.report import Row, best_of

LINES = 100_000
GOAL_S = 1.0
NEWEST = 10


def rows() -> Iterable[Row]:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "night-baker.log.jsonl"
        look = {lamp: {"level": 0.5, "white": {"cct_k": 4300.0, "duv": 0.001}} for lamp in ("window", "oven")}
        with path.open("wb") as file:
            for n in range(1, LINES + 1):
                kind, text = ("take", "take 1 starts") if n == 1 else ("cue", f"cue {n % 9}, in 2 s")
                file.write(to_line(Entry(n, 1.767e9 + n, 3600, float(n), kind, "go", text, {"look": look})))
        size_mb = path.stat().st_size / 1e6
        whole_s = best_of(lambda: sum(1 for _ in read(path)), rounds=3)
        for name, count, kinds in (
            (f"the newest {NEWEST}", NEWEST, ()),
            ("the one of a kind that is at the very beginning", 1, ("take",)),
        ):
            took_s = best_of(partial(newest, path, count, kinds), rounds=10)
            yield Row(
                f"{name} of {LINES} lines ({size_mb:.0f} MB)",
                f"{took_s * 1e3:.1f} ms",
                f"{took_s / whole_s:.4f} of reading all",
                f"{GOAL_S:g} s",
                took_s <= GOAL_S,
            )
