"""How soon the page of a match shows a change of a slider, at 960 × 540, in a real browser.

Needs Chromium. Run ``python -m tests.benchmarks match_page``.
"""

from __future__ import annotations

import statistics
import tempfile
from collections.abc import Iterable
from pathlib import Path

from PIL import Image

from tests.benchmarks.bench_recovery import load
from tests.benchmarks.report import Row
from tests.browser.chromium import Chromium
from tests.process.sandbox import Sandbox
from tests.stills.conftest import ROOM, room_show

SIZE = (960, 540)
CHANGES = 24
SLIDE = """
    new Promise((done) => {{
        const one = document.querySelector({selector!r});
        one.value = {value};
        const began = performance.now();
        one.dispatchEvent(new Event("input"));
        requestAnimationFrame(() => setTimeout(() => done(performance.now() - began), 0));
    }})"""
"""Moves a slider; the answer is how many milliseconds later the frame with the new picture was made."""


def rows() -> Iterable[Row]:
    yield load("before")
    took: dict[str, list[float]] = {"level": [], "white": []}
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        stills = folder / "stills"
        stills.mkdir()
        for path in ROOM.glob("*.jpg"):
            Image.open(path).resize(SIZE, Image.Resampling.BICUBIC).save(stills / path.name, quality=95)
        (stills / "list.json").write_bytes((ROOM / "truth.json").read_bytes())
        sandbox = Sandbox(folder, room_show().model_dump(mode="json", exclude_defaults=True))
        chromium = None
        try:
            command = ("match", str(sandbox.show), "--stills", str(stills), "--reference")
            process = sandbox.start(*command, str(stills / "target-2.jpg"), "--page")
            assert process.stdout is not None
            address = process.stdout.readline().removeprefix("open ").strip()
            (folder / "browser").mkdir()
            chromium = Chromium(folder / "browser")
            page = chromium.page()
            page.size(1600, 1000)
            page.goto(address)
            page.wait("document.body.dataset.ready === 'yes'")
            assert page.js("document.getElementById('predicted').width") == SIZE[0]
            for n in range(CHANGES):
                lamp = n % 7
                took["level"].append(float(page.js(_slide(f"#level-{lamp}", -1.0 - 0.1 * n))))
                if page.js(f"Boolean(document.getElementById('white-{lamp}'))"):
                    took["white"].append(float(page.js(_slide(f"#white-{lamp}", 200 + 5 * n))))
        finally:
            if chromium is not None:
                chromium.close()
            sandbox.close()
    for what, each in took.items():
        middle, most = statistics.median(each), sorted(each)[int(0.95 * len(each))]
        yield Row(
            f"match page, a {what} changed → predicted frame, 960 × 540, seven lamps",
            f"median {middle:.0f} ms, p95 {most:.0f} ms",
            "",
            "≤ 50 ms",
            middle <= 50.0,
        )
    yield load("after")


def _slide(selector: str, value: float) -> str:
    return SLIDE.format(selector=selector, value=value)
