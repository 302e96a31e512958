"""The rendition of a lamp in a helper process: its figures, its reasons, and its ends."""

from __future__ import annotations

import asyncio
import subprocess
import sys
from dataclasses import asdict
from typing import Any

import pytest

from onecrew.engine import helper, rendition_process
from onecrew.errors import Trouble
from onecrew.fixtures.describe import describe_colour, of_kind
from onecrew.fixtures.spectral import rendition_of
from onecrew.show.light import Light, White
from onecrew.show.show import Fixture, Reading
from tests.fakes.profiles import all_profiles

PROFILES = all_profiles()
AT_4300 = Light(level=0.2, white=White(cct_k=4300))


def question(fixture: Fixture, light: Light = AT_4300) -> dict[str, Any]:
    """As the engine hands it over: through JSON."""
    profile = PROFILES[fixture.profile].model_dump(mode="json", exclude_none=True)
    return {"fixture": fixture.model_dump(mode="json"), "profile": profile, "light": light.model_dump()}


def lamp(profile: str, mode: str, mixing: Any = "most-light") -> Fixture:
    return of_kind(PROFILES[profile], mode, mixing=mixing)


def test_both_ways_of_mixing_are_told_and_which_is_used() -> None:
    found = rendition_process.worked_out(question(lamp("spot-six", "16-bit", "best-rendition")))
    bright, true = found["mixes"]
    assert [(mix["mixing"], mix["used"]) for mix in (bright, true)] == [
        ("most-light", False),
        ("best-rendition", True),
    ]
    spot = PROFILES["spot-six"]
    for mix, mixing in ((bright, "most-light"), (true, "best-rendition")):
        told = describe_colour(spot, "16-bit", AT_4300, mixing=mixing)  # type: ignore[arg-type]
        rendition, note = rendition_of(spot, spot.modes[1], told.drives)
        assert rendition is not None
        assert mix["rendition"] == pytest.approx(asdict(rendition))
        assert found["note"] == note
    assert bright["stops"] == 0.0
    assert true["stops"] > 0.0
    assert true["rendition"]["ra"] > bright["rendition"]["ra"]
    assert "typical and not measured" in found["note"]


def test_a_lamp_with_nothing_to_choose_has_one_mix() -> None:
    [only] = rendition_process.worked_out(question(lamp("spot-daylight", "8-bit")))["mixes"]
    assert (only["mixing"], only["used"], only["stops"]) == ("most-light", True, 0.0)
    assert only["rendition"]["cct_k"] == pytest.approx(5602, abs=5)


def test_a_lamp_whose_spectrum_is_not_known_says_why() -> None:
    found = rendition_process.worked_out(question(lamp("panel-cct-tint", "8-bit")))
    assert [mix["rendition"] for mix in found["mixes"]] == [None]
    assert "mixes its whites inside" in found["note"]


def test_a_calibrated_lamp_is_judged_by_what_it_is_driven_with() -> None:
    reading = Reading(asked_cct_k=5000, measured_cct_k=4300, measured_duv=0.0, light=1.0)
    calibrated = lamp("spot-six", "16-bit").model_copy(update={"calibration": (reading,)})
    as_asked = Light(level=1.0, white=White(cct_k=5000))
    mix, plain = (
        rendition_process.worked_out(question(*asked))["mixes"][0]["rendition"]
        for asked in ((calibrated,), (lamp("spot-six", "16-bit"), as_asked))
    )
    assert mix == pytest.approx(plain, abs=1e-3)


def test_the_helper_answers_as_a_process_of_its_own() -> None:
    asked = lamp("spot-six", "8-bit")
    found = asyncio.run(rendition_process.rendition(asked, PROFILES["spot-six"], AT_4300))
    here = rendition_process.worked_out(question(asked))
    assert found["note"] == here["note"]
    for there, mine in zip(found["mixes"], here["mixes"], strict=True):
        assert there["rendition"] == pytest.approx(mine["rendition"], abs=1e-6)


def test_a_helper_that_fails_or_hangs_is_trouble_in_a_sentence(monkeypatch: pytest.MonkeyPatch) -> None:
    def stand_in(code: str) -> None:
        real = subprocess.Popen
        monkeypatch.setattr(
            "onecrew.engine.helper.subprocess.Popen",
            lambda _words, **how: real([sys.executable, "-c", code], **how),
        )

    asked = (lamp("spot-six", "8-bit"), PROFILES["spot-six"], AT_4300)
    stand_in("import sys; sys.exit('no memory left')")
    with pytest.raises(Trouble, match=r"could not be worked out \(no memory left\)"):
        asyncio.run(rendition_process.rendition(*asked))
    monkeypatch.undo()
    stand_in("import time; time.sleep(60)")
    with pytest.raises(Trouble, match=r"the rendition took longer than 0\.2 s"):
        asyncio.run(helper.asked("any", {}, "the rendition", within_s=0.2))


def test_giving_up_ends_the_helper(monkeypatch: pytest.MonkeyPatch) -> None:
    started: list[subprocess.Popen[bytes]] = []
    real = subprocess.Popen

    def start(_words: list[str], **how: Any) -> subprocess.Popen[bytes]:
        started.append(real([sys.executable, "-c", "import time; time.sleep(60)"], **how))
        return started[-1]

    monkeypatch.setattr("onecrew.engine.helper.subprocess.Popen", start)

    async def scene() -> None:
        task = asyncio.create_task(
            rendition_process.rendition(lamp("spot-six", "8-bit"), PROFILES["spot-six"], AT_4300)
        )
        while not started:
            await asyncio.sleep(0.01)
        task.cancel()
        with pytest.raises(asyncio.CancelledError):
            await task

    asyncio.run(scene())  # joins the thread, which ends because the process does
    assert started[0].returncode not in (None, 0)
