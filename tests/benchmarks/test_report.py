"""The reporter of the benchmarks: what it prints, and that every benchmark can be found and loaded."""

from __future__ import annotations

import importlib

import pytest

from tests.benchmarks import __main__ as runner
from tests.benchmarks import report
from tests.benchmarks.report import Row, best_of, print_rows


def test_rows_line_up_and_an_unmet_goal_shows(capsys: pytest.CaptureFixture[str]) -> None:
    good = Row("short", "1 µs", "120 ×", "≥ 100 ×", True)
    bad = Row("a longer name", "900 µs", "", "≤ 1 µs", False)
    assert print_rows("colour: whites", [good]) is True
    assert print_rows("colour: whites", [good, bad]) is False
    lines = capsys.readouterr().out.splitlines()[-3:]
    assert lines[1].endswith("  met")
    assert lines[2].endswith("  NOT MET")
    assert lines[0].index("goal") == lines[1].index("≥ 100") == lines[2].index("≤ 1 µs")


def test_the_shortest_run_counts_and_the_rounds_are_bounded(monkeypatch: pytest.MonkeyPatch) -> None:
    # A clock of our own: runs of 3, 1 and 2 seconds in turn, ten seconds apart.
    lasting = (3.0, 1.0, 2.0)
    moments = iter([0.0, *(t for k in range(9) for t in (10.0 * k, 10.0 * k + lasting[k % 3]))])
    monkeypatch.setattr(report.time, "perf_counter", lambda: next(moments))
    calls: list[None] = []
    assert best_of(lambda: calls.append(None), rounds=30, most_s=25.0) == 1.0
    assert len(calls) == 1 + 4  # one to warm up, then until 25 s have passed


def test_every_benchmark_has_rows() -> None:
    assert "colour" in runner.names()
    for name in runner.names():
        module = importlib.import_module(f"tests.benchmarks.bench_{name}")
        assert callable(module.rows), name
        assert module.__doc__, name


def test_an_unknown_name_is_a_misuse(capsys: pytest.CaptureFixture[str]) -> None:
    assert runner.main(["nothing-like-it"]) == 2
    assert "there are: " in capsys.readouterr().err


def test_the_exit_status_tells_whether_goals_are_met(monkeypatch: pytest.MonkeyPatch) -> None:
    from tests.benchmarks import bench_colour

    for met, status in ((True, 0), (False, 1)):
        row = Row("x", "1", "", "", met)
        monkeypatch.setattr(bench_colour, "rows", lambda row=row: iter([row]))
        assert runner.main(["colour"]) == status
