"""The page: valid HTML (html5lib, strict), self-contained, escaped, printing on A4."""

from __future__ import annotations

import re
from typing import Any
from xml.etree.ElementTree import Element

import html5lib
import pytest

from onecrew.colour.tolerance import SEEN_SIDE_BY_SIDE
from onecrew.engine.sheets import recorded_state_of_cue
from onecrew.log.recorded_state import RecordedState
from onecrew.sheet.page import page
from onecrew.sheet.style import STYLE
from onecrew.show.light import Light
from tests.sheet.sheets import HOSTILE, bakery, hostile, ovens_on, profiles

FOREIGN = ("script", "link", "img", "image", "iframe", "object", "embed", "base", "form", "a")
"""Elements that fetch, run or lead away."""


def parse(text: str) -> Element:
    """The document; raises at the first fault against the HTML standard's grammar."""
    found: Any = html5lib.HTMLParser(strict=True, namespaceHTMLElements=False).parse(text)
    assert isinstance(found, Element)
    return found


def words(element: Element) -> str:
    return " ".join(" ".join(element.itertext()).split())


def rows(document: Element, name: str) -> list[list[str]]:
    for table in document.iter("table"):
        if table.get("class") == name:
            return [[words(cell) for cell in row] for row in table.iter("tr")]
    raise AssertionError(f"no table {name}")


@pytest.mark.parametrize("number", [cue.number for cue in bakery().cues])
def test_every_cue_makes_a_valid_page(number: str) -> None:
    parse(page(recorded_state_of_cue(bakery(), profiles(), number)))


def test_an_empty_rig_makes_a_valid_page() -> None:
    document = parse(page(RecordedState(show="Nothing yet")))
    assert "no plan" in words(document)


def test_every_lamp_stands_there_with_its_numbers() -> None:
    table = rows(parse(page(ovens_on())), "light")
    assert [row[1].split()[0] for row in table[1:]] == ["window", "edge", "tone", "van", "pendant", "oven"]
    # 12 % of a linear law is log2(0.12) = −3.06 stops; 5600 K is 178.6 mired, 4300 K is 232.6 mired.
    assert table[1][3:] == ["12 %", "12 %", "−3.1", "5600 K", "+0.0040", "54 mired cooler"]
    assert table[4][3] == "off"
    # 45 % of a square law is 20.25 % of the light.
    assert table[5][3:6] == ["45 %", "20.3 %", "−2.3"]
    assert table[6][6] == "x 0.5703 y 0.3897"


def test_slots_and_addresses_stand_there_as_sent() -> None:
    table = {row[0]: row[1:] for row in rows(parse(page(ovens_on())), "slots")}
    sent = {lamp.fixture.id: lamp.sent.slots for lamp in ovens_on().lamps}
    address, channels = table["window"]
    assert address == "1.1–6"
    assert [int(n) for n in re.findall(r"\b\d+\b", channels)] == list(sent["window"])
    assert "× 8 segments" in table["oven"][1]
    assert [int(n) for n in re.findall(r"(?<![×\d] )\b\d+\b", table["oven"][1])][:5] == list(sent["oven"][:5])


def test_distances_and_angles() -> None:
    table = {row[0]: row for row in rows(parse(page(ovens_on())), "rig")}
    # window (0.6, 3.4, 2.1) to the subject (2.0, 1.4, 1.6): √(1.4² + 2² + 0.5²) = 2.49 m, and
    # atan(0.5 / 2.441) = 12° (geometry)
    assert table["window"][3:6] == ["2.10 m", "2.49 m, +12°", "3.47 m"]


def test_set_pieces_camera_and_cautions_are_there() -> None:
    text = words(parse(page(ovens_on())))
    for said in (
        "counter table",
        "blind Slats half closed",
        "baker subject",
        "1/50 s (180° at 25 fps)",
        "ISO 800",
        "safety bond",
        "photosensitive epilepsy",
        "Follow local codes",
        "licensed",
    ):
        assert said in text


def test_nothing_is_fetched_and_nothing_runs() -> None:
    for recorded in (ovens_on(), hostile()):
        document = parse(page(recorded))
        for element in document.iter():
            assert element.tag not in FOREIGN
            for name, value in element.attrib.items():
                assert not str(name).lower().startswith("on")
                assert str(name).split("}")[-1] not in ("src", "href", "style", "action")
                if "url(" in value:
                    assert re.fullmatch(r"url\(#[a-z-]+\)", value)
        policy = [m.get("content") for m in document.iter("meta") if m.get("http-equiv")]
        assert policy == ["default-src 'none'; style-src 'unsafe-inline'"]
    assert "url(" not in STYLE and "@import" not in STYLE and "</" not in STYLE


def test_hostile_text_is_shown_and_does_nothing() -> None:
    text = page(hostile())
    document = parse(text)
    assert "<script" not in text and "<img" not in text
    assert "\x1b" not in text and "\u202e" not in text
    shown = HOSTILE.replace("\u202e", "�").replace("\x1b", "�")
    assert shown in words(document)
    ids = [element.get("id") for element in document.iter() if element.get("id")]
    assert len(set(ids)) == len(ids)


def test_it_is_one_page_for_paper() -> None:
    assert re.search(r"@page \{ size: A4;", STYLE)
    assert "color-scheme: light" in STYLE


def test_a_take_says_when_how_long_and_what_happened() -> None:
    recorded = RecordedState.model_validate(
        {
            **ovens_on().model_dump(mode="json"),
            "at": "2026-01-05T14:02:11.123Z",
            "local": "+01:00",
            "take": {
                "setup": "12A",
                "number": 3,
                "clip": "A003C012",
                "good": True,
                "notes": ["use this"],
                "length_s": 75.0,
            },
            "events": [{"after_s": 4.25, "kind": "cue", "text": "go: cue 4 Delivery"}],
            "master": 0.8,
            "edited": ["van"],
        }
    )
    document = parse(page(recorded))
    text = words(document)
    for said in (
        "Take 3 of setup 12A, cue 3 Ovens on",
        "2026-01-05 15:02:11 (UTC+01:00) · ran 1 min 15 s · clip A003C012 · good",
        "use this",
        "The master stood at 80 %",
        "Changed by hand since the cue ran: van.",
        "+4.25 s go: cue 4 Delivery",
    ):
        assert said in text


def test_a_colour_out_of_reach_is_said_once() -> None:
    show = bakery()
    far = Light(level=0.5, xy=(0.2, 0.1))
    look = {fixture.id: far for fixture in show.rig.fixtures}
    cue = show.cues[0].model_copy(update={"look": look})
    recorded = recorded_state_of_cue(show.model_copy(update={"cues": (cue,)}), profiles(), cue.number)
    missed = [lamp for lamp in recorded.lamps if lamp.sent.off_by >= SEEN_SIDE_BY_SIDE and lamp.sent.notes]
    said = words(parse(page(recorded)))
    assert missed and "from the one asked for" not in said
    for lamp in missed:
        assert all(said.count(f"{lamp.fixture.id} {note}") == 1 for note in lamp.sent.notes)
