"""A grey card's run as clients ask for it: what to take, what has come, and what the pictures say."""

from __future__ import annotations

import asyncio
import os
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import pytest

from onecrew.engine.grey_card_answers import answer
from onecrew.engine.grey_cards import MOST_PICTURES, pictures
from onecrew.engine.protocol import CARDS
from onecrew.errors import Mistake, Trouble
from onecrew.show.show import Reading, Rig, Show
from onecrew.stills import grey_card
from onecrew.stills.camera_meter import differences
from onecrew.stills.guided import as_entry
from onecrew.stills.shotlist import Shot
from tests.stills.cards import WHITES_K, shots
from tests.stills.test_camera_meter import Trial

SHOTS = [(k, 0.0) for k in WHITES_K]


class Run:
    """Two lamps whose card is pictured, and the show that they are in."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.trial = Trial(folder, 7)
        self.trial.falls = {"sky": 0.18, "hood": 0.18}
        fixtures = [
            lamp.fixture.model_copy(update={"address": 1 + 60 * n})
            for n, lamp in enumerate(self.trial.lamps.values())
        ]
        self.show = Show(name="Two", rig=Rig(fixtures=tuple(fixtures)))

    def ask(self, **asked: Any) -> dict[str, Any]:
        card = {"fixture": "sky", "like": "hood", "folder": str(self.folder), **asked}
        show = self.show.model_dump(mode="json", exclude_defaults=True)
        return answer({"path": str(self.folder / "two.json"), "show": show, "asked": card})

    def picture(self, asks: Sequence[tuple[float, float]], **more: Any) -> None:
        """Stills of the dark and of both lamps at these whites: hood0.png and so on."""
        trial = self.trial
        both = dict.fromkeys(("hood", "sky"), asks)
        shots(self.folder, trial.lamps, trial.camera, trial.recorder, both, trial.falls, **more).unlink()


@pytest.fixture
def run(tmp_path: Path) -> Run:
    return Run(tmp_path)


def entries(n: int, *, named: bool) -> list[dict[str, Any]]:
    """The stills of the run, a second apart."""
    order = [Shot("dark0.png", None)]
    for at, (cct_k, duv) in enumerate(SHOTS[:n]):
        order += [Shot(f"{name}{at}.png", name, cct_k=cct_k, duv=duv) for name in ("hood", "sky")]
    found = [as_entry(shot, f"2026-01-05T10:00:{at:02}+00:00") for at, shot in enumerate(order)]
    return found if named else [{**one, "file": ""} for one in found]


def test_from_the_plan_to_the_closing_check(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    beside: list[int] = []

    def spied(*cards: Any, **more: Any) -> Any:
        beside.append(len(more.get("beside", ())))
        return differences(*cards, **more)

    monkeypatch.setattr(grey_card, "differences", spied)
    planned = run.ask()["stills"]
    assert planned[0]["lamp"] is None and {one["lamp"] for one in planned[1:]} == {"sky", "hood"}
    run.picture(SHOTS)
    found = run.ask(stills=entries(5, named=True))
    assert found["lines"][0].startswith("before: mean 0.0") and len(found["readings"]) == 5
    assert (run.folder / "grey-card.json").exists()
    readings = tuple(Reading.model_validate(one) for one in found["readings"])
    closing = [{**one, "file": f"c{n}.png"} for n, one in enumerate(found["stills"])]
    assert {one.get("how", "") for one in closing} == {"", "as it was", "corrected"}
    white = [(one["cct_k"], 0.0) for one in closing[::3]]
    assert len(white) == 3
    run.picture(white)
    for n in range(3):
        (run.folder / f"hood{n}.png").rename(run.folder / f"c{3 * n}.png")
        (run.folder / f"sky{n}.png").rename(run.folder / f"c{3 * n + 1}.png")
    run.picture(white, calibration={"sky": readings})
    for n in range(3):
        (run.folder / f"sky{n}.png").rename(run.folder / f"c{3 * n + 2}.png")
    run.picture(SHOTS)
    checked = run.ask(stills=found["taken"], closing=closing, readings=found["readings"])
    assert not checked["worse"] and "closing check, before" in "\n".join(checked["lines"])
    assert beside[-1] == 3, "the corrected lamp's cards count, too"
    assert checked["lines"][-1].startswith("stored with these stills counted too: mean 0.00")
    refined = tuple(Reading.model_validate(one) for one in checked["readings"])
    kelvins = {round(one.asked_cct_k) for one in refined}
    assert kelvins == {round(k) for k, _ in [*SHOTS, *white]}, "the whites of the check are readings, too"
    apart = run.trial.apart
    assert apart(refined) < 0.25 * apart() and apart(refined) < 1.1 * apart(readings)
    turned = [{**one, "how": {"as it was": "corrected", "corrected": "as it was"}.get(one.get("how", ""), "")}
              for one in closing]  # fmt: skip
    assert run.ask(stills=found["taken"], closing=turned, readings=found["readings"])["worse"]


def test_pictures_that_were_copied_are_named_by_their_times(run: Run) -> None:
    run.picture(SHOTS)
    order = [one["file"] for one in entries(5, named=True)]
    for n, name in enumerate(order):
        os.utime(run.folder / name, (5000.0 + n, 5000.0 + n))
    (run.folder / "former.png").write_bytes((run.folder / "hood0.png").read_bytes())
    found = run.ask(stills=entries(5, named=False), before=["former.png"])
    assert [one["file"] for one in found["taken"]] == order
    with pytest.raises(Mistake, match="there are 10 pictures for 11 stills"):
        run.ask(stills=entries(5, named=False), before=["former.png", "sky3.png"])


def test_a_picture_that_came_is_looked_at(run: Run) -> None:
    run.trial.falls["sky"] = 2.0
    run.picture(SHOTS)
    assert run.ask(look="sky2.png")["clipped"] == "the card"
    assert run.ask(look="hood2.png")["clipped"] == ""
    (run.folder / "half.png").write_bytes((run.folder / "sky2.png").read_bytes()[:200])
    with pytest.raises(Mistake, match="cannot be read as a picture"):
        run.ask(look="half.png")
    with pytest.raises(Mistake, match="lies outside"):
        run.ask(look="../two.json")


def test_a_folder_is_listed_and_one_that_is_not_there_is_said(tmp_path: Path) -> None:
    show = tmp_path / "two.json"
    assert asyncio.run(pictures(show, {"folder": CARDS}))["files"] == {}, "the proposed one is made"
    (tmp_path / "cards" / "a.jpg").write_bytes(b"123")
    (tmp_path / "cards" / "grey-card.json").write_bytes(b"{}")
    told = asyncio.run(pictures(show, {"folder": "cards"}))
    assert told["folder"] == str(tmp_path / "cards")
    assert {name: stat[0] for name, stat in told["files"].items()} == {"a.jpg": 3}
    with pytest.raises(Trouble, match=r"no pictures can come to .*nowhere .*: make that folder first"):
        asyncio.run(pictures(show, {"folder": "nowhere"}))
    for n in range(MOST_PICTURES + 1):
        (tmp_path / "cards" / f"{n}.jpg").touch()
    with pytest.raises(Mistake, match="use a folder that has none yet"):
        asyncio.run(pictures(show, {"folder": "cards"}))
