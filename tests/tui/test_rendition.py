"""Light: how surfaces look under a lamp, asked for by a key and told until the colour changes."""

from __future__ import annotations

from typing import Any

from onecrew.tui.light.rendition import lines_of
from tests.fakes import bakery
from tests.fakes.answers import ANSWERS
from tests.fakes.engine_client import FakeClient
from tests.tui.driving import desk, drive

INDEX = {"ra": 95.2, "rf": 92.6, "rg": 101.4, "ssi": 84.0, "cct_k": 5600.0, "duv": 0.0}
ANSWER = {
    "mixes": [
        {"mixing": "most-light", "used": True, "stops": 0.0, "rendition": INDEX},
        {"mixing": "best-rendition", "used": False, "stops": 0.42, "rendition": {**INDEX, "ra": 97.0}},
    ],
    "note": "Typical figures: trust the difference more than the numbers.",
}


@drive
async def test_it_is_asked_once_for_the_chosen_lamp_and_told() -> None:
    fake = FakeClient(bakery.show(), bakery.snapshot(), {**ANSWERS, "rendition": ANSWER})
    async with desk(fake, mode="light") as d:
        assert not [topic for topic, _ in fake.asked if topic == "rendition"]
        await d.press("I")
        assert [asked for topic, asked in fake.asked if topic == "rendition"] == [
            {"fixture": "hood", "cct_k": 3400.0, "duv": 0.0}
        ]
        assert "most light (in use): Ra 95, Rf 93, Rg 101, SSI 84" in d.text()
        assert "best rendition: Ra 97" in d.text() and "costs 0.4 st" in d.text()
        lights: dict[str, Any] = dict(bakery.snapshot().lights)
        white = lights["hood"].white.model_copy(update={"cct_k": 3200.0})
        await d.change(lights={**lights, "hood": lights["hood"].model_copy(update={"white": white})})
        assert "Ra 95" not in d.text(), "another colour, another rendition"


def test_a_lamp_without_spectra_says_why() -> None:
    answer = {
        "mixes": [{"mixing": "most-light", "used": True, "stops": 0.0, "rendition": None}],
        "note": "no spectra",
    }
    assert lines_of(answer) == ("no spectra",)
