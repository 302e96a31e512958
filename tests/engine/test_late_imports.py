"""What is needed on few days is not part of an engine that starts, and is there when somebody asks for it."""

from __future__ import annotations

import asyncio
import subprocess
import sys
from pathlib import Path

import pytest

from onecrew.engine import grey_cards, late_imports, questions, stills
from onecrew.engine.desk import Desk
from onecrew.errors import Trouble
from tests.engine.test_undo import PROFILES, SHOW

LATE = [
    "onecrew.engine.calibrating",
    "onecrew.engine.kinds",
    "onecrew.fixtures.calibration_walk",
    "onecrew.fixtures.probe",
    "onecrew.network.arbiter",
    "onecrew.network.artnet_poll",
    "onecrew.network.receiver",
]


def test_an_engine_starts_without_it() -> None:
    script = f"import sys, onecrew.engine.main\nprint([name for name in {LATE} if name in sys.modules])"
    done = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, timeout=60, check=True
    )
    assert done.stdout == "[]\n"


def test_the_first_answer_comes_when_it_is_loaded_and_the_next_at_once(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    name = "onecrew.engine.matches"
    known = sys.modules[name]
    monkeypatch.setattr(known, "asked", lambda what: {"of": what}, raising=False)
    monkeypatch.setattr(known, "slow", lambda what: asyncio.sleep(0, {"of": what}), raising=False)
    monkeypatch.setattr(questions, "imported", lambda module: asyncio.sleep(0, {name: known}[module]))
    with monkeypatch.context() as unloaded:
        unloaded.delitem(sys.modules, name)
        first, slow = (questions.by("matches", name, "hood") for name in ("asked", "slow"))
    assert not isinstance(first, dict) and asyncio.run(first) == {"of": "hood"}
    assert not isinstance(slow, dict) and asyncio.run(slow) == {"of": "hood"}
    assert questions.by("matches", "asked", "oven") == {"of": "oven"}


def test_what_is_not_there_any_more_is_said() -> None:
    with pytest.raises(Trouble, match="onecrew was changed while this engine runs"):
        asyncio.run(late_imports.imported("onecrew.engine.no_such_part"))


@pytest.mark.parametrize("module", ["run_plan", "guided", "shotlist", "arrivals"])
def test_what_stills_need_and_is_not_there_any_more_is_said(
    module: str, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    show = tmp_path / "bakery.json"
    desk = Desk(SHOW, PROFILES, 0.0)
    monkeypatch.setitem(sys.modules, f"onecrew.stills.{module}", None)
    if module == "shotlist":
        slow = stills.keep_list(desk, show, {"stills": [{"file": "a.jpg", "lamp": None}]})
    elif module == "arrivals":
        slow = grey_cards.pictures(show, {"folder": "cards"})
    else:
        slow = stills.plan(desk, {})
    with pytest.raises(Trouble, match="onecrew was changed while this engine runs"):
        asyncio.run(slow)
    assert list(tmp_path.iterdir()) == []
