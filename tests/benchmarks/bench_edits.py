"""Acknowledged edits that are lost when supervisor and engine are killed during bursts of edits.

Run ``python -m tests.benchmarks edits``; it takes some minutes.
"""

from __future__ import annotations

import tempfile
from collections.abc import Iterable
from pathlib import Path

from tests.benchmarks.report import Row
from tests.process.bursts import lost_edits

KILLS = 200


def rows() -> Iterable[Row]:
    with tempfile.TemporaryDirectory() as folder:
        lost = list(lost_edits(Path(folder), KILLS, seed=1919))
    for sentence in lost:
        yield Row(sentence, "", "", "", False)
    yield Row(f"edits lost in {KILLS} kills of everything", str(len(lost)), "", "0", not lost)
