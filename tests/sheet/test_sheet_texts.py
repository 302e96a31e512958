"""The sheet as Markdown (read by markdown-it), as CSV (read by ``csv``) and as JSON and back."""

from __future__ import annotations

import csv
import io
import json
import re
from pathlib import Path

import pytest
from markdown_it import MarkdownIt

from onecrew.errors import OnecrewError, Trouble
from onecrew.log.recorded_state import RecordedState, dump_recorded_state, load_recorded_state
from onecrew.sheet.facts import camera_facts
from onecrew.sheet.texts import CSV_HEAD, lamps_csv, markdown
from onecrew.show.light import White
from onecrew.show.show import Camera
from tests.sheet.sheets import hostile, ovens_on


def rendered(recorded: RecordedState) -> str:
    return str(MarkdownIt("commonmark").enable("table").render(markdown(recorded)))


def test_markdown_has_the_tables() -> None:
    html = rendered(ovens_on())
    assert html.count("<table>") == 3
    assert "<td>window</td>\n<td>key</td>\n<td>12 %</td>" in html
    assert "<h1>The Night Baker</h1>" in html


def test_much_light_is_said_in_plain_figures() -> None:
    """250 · 16² · 50 / 100 lx (ISO 2720, C 250), and a footcandle is 10.764 lx; own arithmetic."""
    camera = Camera(iso=100, aperture=16.0, shutter_s=1 / 50)
    said = dict(camera_facts(ovens_on().model_copy(update={"camera": camera})))
    assert said["Nominal light"].startswith("32000 lx (2973 fc)")


def test_hostile_text_in_markdown_is_text() -> None:
    html = rendered(hostile())
    assert "<script" not in html and "<img" not in html and "<a " not in html
    assert "&lt;script&gt;alert(1)&lt;/script&gt;" in html


def test_csv_has_a_row_a_lamp() -> None:
    table = list(csv.DictReader(io.StringIO(lamps_csv(ovens_on()), newline="")))
    assert tuple(table[0]) == CSV_HEAD
    window = table[0]
    assert (window["lamp"], window["address"], window["level"], window["cct_k"]) == (
        "window",
        "1",
        "0.12000",
        "5600.0",
    )
    assert window["slots"].split() == [str(slot) for slot in ovens_on().lamps[0].sent.slots]
    assert [row["lamp"] for row in csv.DictReader(io.StringIO(lamps_csv(hostile()), newline=""))] == [
        row["lamp"] for row in table
    ]


def test_json_is_the_moment_and_comes_back(tmp_path: Path) -> None:
    path = tmp_path / "sheet.json"
    for recorded in (ovens_on(), hostile()):
        path.write_text(dump_recorded_state(recorded), encoding="utf-8")
        assert load_recorded_state(path) == recorded
    assert json.loads(path.read_text())["format"] == "onecrew-sheet"


@pytest.mark.parametrize(
    ("content", "said"),
    [
        ("", "empty"),
        ("{", "not JSON"),
        ("[]", "not a look sheet"),
        ('{"format": "onecrew-show", "version": 2, "name": "x"}', "not a look sheet"),
        ('{"format": "onecrew-sheet", "version": 2, "show": "x"}', "version"),
        ('{"format": "onecrew-sheet", "version": 1, "show": "x", "lamps": [{}]}', "cannot be used"),
        ('{"format": "onecrew-sheet", "version": 1, "show": "x", "master": 7}', "cannot be used"),
        ("[" * 100000, "not JSON"),
    ],
)
def test_what_is_no_sheet_is_told(content: str, said: str, tmp_path: Path) -> None:
    path = tmp_path / "sheet.json"
    path.write_text(content, encoding="utf-8")
    with pytest.raises(OnecrewError, match=said) as told:
        load_recorded_state(path)
    assert "\n" not in str(told.value)


def test_a_sheet_with_a_hostile_swatch_is_refused(tmp_path: Path) -> None:
    content = json.loads(dump_recorded_state(ovens_on()))
    content["lamps"][0]["sent"]["swatch"] = 'red" onload="x'
    path = tmp_path / "sheet.json"
    path.write_text(json.dumps(content))
    with pytest.raises(Trouble, match="swatch"):
        load_recorded_state(path)


def test_the_forecast_at_the_subject_is_on_both_sheets_and_says_that_it_is_one() -> None:
    from onecrew.engine.sheets import read_at_subjects
    from onecrew.sheet.page import page
    from tests.sheet.sheets import profiles

    recorded = ovens_on()
    read = read_at_subjects(recorded, profiles())
    for text in (markdown(recorded, read), page(recorded, read)):
        assert f"At {read[0].subject}, forecast" in text
        assert "not metered" in text
        assert "count on half a stop either way" in text
        assert "lx to camera" in text
        assert f"{read[0].camera_lux:.3g} lx" in text
    assert "forecast" not in markdown(recorded)
    table = {row["lamp"]: row for row in csv.DictReader(io.StringIO(lamps_csv(recorded, read), newline=""))}
    for lamp in read[0].lamps:
        assert float(table[lamp.id]["share"]) == pytest.approx(lamp.share, abs=1e-4)
        assert float(table[lamp.id]["lux_to_lamp"]) == pytest.approx(lamp.lamp_lux, abs=1e-3)


def test_numbers_below_nothing_have_one_sign_in_a_sheet() -> None:
    recorded = ovens_on()
    window = recorded.lamps[0]
    magenta = window.sent.model_copy(update={"white": White(cct_k=5600.0, duv=-0.004)})
    lamps = (window.model_copy(update={"sent": magenta}), *recorded.lamps[1:])
    html = rendered(recorded.model_copy(update={"lamps": lamps}))
    assert "<td>−0.0040</td>" in html
    assert not re.search(r"[ >(]-[0-9]", html)
