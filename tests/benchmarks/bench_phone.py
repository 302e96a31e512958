"""How soon a phone can black out again after the engine was killed, in a real browser.

Needs Chromium. Run ``python -m tests.benchmarks phone``.
"""

from __future__ import annotations

import statistics
import tempfile
import time
from collections.abc import Iterable
from pathlib import Path

from tests.benchmarks.bench_engine import row_max
from tests.benchmarks.bench_recovery import QUICK_DEATH_S, load
from tests.benchmarks.report import Row
from tests.browser.chromium import Chromium
from tests.process.sandbox import Sandbox, kill
from tests.process.test_page import pair, wait_page, with_page

KILLS = 8
WATCH = """
    window.back = 0; window.gone = false; clearInterval(window.watching);
    window.watching = setInterval(() => {
        const off = document.querySelector("#blackout").disabled;
        if (off) gone = true; else if (gone && !back) back = Date.now();
    }, 4); 1"""
"""Notes when blackout can be pressed again, in milliseconds since 1970, to 4 ms."""


def rows() -> Iterable[Row]:
    yield load("before")
    after_return, after_kill = [], []
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        sandbox, chromium = Sandbox(folder), None
        try:
            with_page(sandbox)
            sandbox.engine()
            wait_page(sandbox)
            (folder / "browser").mkdir()
            chromium = Chromium(folder / "browser")
            phone = chromium.page()
            phone.goto(pair(sandbox)["url"])
            phone.wait_text("#link", "Connected")
            sandbox.send("recall", "1", "in", "0s")
            for _ in range(KILLS):
                time.sleep(QUICK_DEATH_S + 0.2)
                pid = sandbox.wait_status()["engine_pid"]
                phone.js(WATCH)
                sandbox.receiver.catch_up()
                mark = len(sandbox.receiver.packets)
                killed_at, to_wall = time.monotonic(), time.time() - time.monotonic()
                kill(pid)
                phone.wait("back")
                back = phone.js("back") / 1000.0 - to_wall
                sandbox.receiver.catch_up()
                returned = next(at for at, _ in sandbox.receiver.packets[mark:] if at > killed_at + 0.05)
                after_return.append(back - returned)
                after_kill.append(back - killed_at)
        finally:
            if chromium is not None:
                chromium.close()
            sandbox.close()
    what = "engine's first packet after a kill → blackout can be pressed on the phone"
    yield row_max(f"{what}, median of {KILLS}", statistics.median(after_return), 1.0, "s")
    yield row_max("the same, the longest", max(after_return), 1.0, "s")
    yield Row("kill → blackout, the longest", f"{max(after_kill):.2f} s", "", "–", True)
    yield load("after")
