"""The look sheet printed by a real browser: it fits on two sheets of A4, and holds its pictures."""

from __future__ import annotations

import base64
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from onecrew.engine.sheets import read_at_subjects, recorded_state_of_cue, with_gamuts
from onecrew.sheet.page import page
from onecrew.shipped import shipped
from onecrew.show.load import load_show
from onecrew.show.profiles import load_profiles
from onecrew.show.show import Place, Show
from tests.browser.chromium import Chromium

pytestmark = pytest.mark.browser

A4_PT = (595, 842)
"""ISO 216: 210 × 297 mm, in points of 1/72 inch."""


@pytest.fixture(scope="module")
def chromium(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Chromium]:
    browser = Chromium(tmp_path_factory.mktemp("chromium"))
    yield browser
    browser.close()


def bakery(lamps: int) -> Show:
    """The demo show, with more lamps like its fridge where more are asked for."""
    show = load_show(shipped("examples") / "night-baker.json", load_profiles())
    like = next(one for one in show.rig.fixtures if one.id == "fridge")
    more = tuple(
        like.model_copy(
            update={
                "id": f"wall{n}",
                "universe": 3,
                "address": 1 + 40 * n,
                "place": Place(x_m=0.5 + n, y_m=3.5, height_m=1.2),
            }
        )
        for n in range(lamps - len(show.rig.fixtures))
    )
    cues = tuple(
        cue.model_copy(
            update={
                "look": {**cue.look, **{one.id: cue.look["fridge"] for one in more if "fridge" in cue.look}}
            }
        )
        for cue in show.cues
    )
    rig = show.rig.model_copy(update={"fixtures": (*show.rig.fixtures, *more)})
    return show.model_copy(update={"rig": rig, "cues": cues})


@pytest.mark.parametrize("lamps", [6, 9])
def test_it_fits_two_pages_with_its_pictures(lamps: int, tmp_path: Path, chromium: Chromium) -> None:
    show, profiles = bakery(lamps), load_profiles()
    for cue in show.cues:
        moment = with_gamuts(recorded_state_of_cue(show, profiles, cue.number), profiles)
        assert len(moment.lamps) == lamps
        file = tmp_path / f"{cue.number}.html"
        file.write_text(page(moment, read_at_subjects(moment, profiles)), encoding="utf-8")
        sheet = chromium.page()
        sheet.goto(file.as_uri())
        drawn = sheet.js(
            """[...document.querySelectorAll('svg.plan, svg.chroma')].map((one) =>
                [one.getAttribute('class'), one.getBoundingClientRect().height > 100,
                 one.querySelectorAll('circle, path').length > 3])"""
        )
        assert drawn == [["plan", True, True], ["chroma", True, True], ["chroma", True, True]]
        printed = base64.b64decode(sheet.call("Page.printToPDF", preferCSSPageSize=True)["data"])
        assert len(re.findall(rb"/Type\s*/Page\b", printed)) == 2, cue.number
        width, height = map(float, re.search(rb"/MediaBox\s*\[0 0 ([0-9.]+) ([0-9.]+)\]", printed).groups())  # type: ignore[union-attr]
        assert (round(width), round(height)) == A4_PT
