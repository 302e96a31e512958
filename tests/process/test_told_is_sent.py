"""What is told is what leaves: every surface says of a lamp what its packets say, not what was asked.

Two lamps cannot do what they are asked: an 8-bit lamp has few steps in the dark, and a green lies outside
what the other's emitters reach. What left is read from the packets that were heard.
"""

from __future__ import annotations

import contextlib
import json
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from onecrew.fixtures.decoder import Decoder, Seen
from onecrew.fixtures.describe import describe_lights
from onecrew.phone.view import state_view
from onecrew.playback.laws import law_of, level_of
from onecrew.show.profiles import load_profiles
from onecrew.show.show import Show
from onecrew.show.snapshot import Snapshot
from onecrew.tui import words
from onecrew.tui.light.lamp_table import lamp_lines
from tests.process.sandbox import Sandbox
from tests.process.test_osc import Controller, free_port, with_osc

TUBE, PAR = "tube", "par"
ASKED = {TUBE: 0.008, PAR: 0.3}
CCT_K, GREEN = 3000, (0.10, 0.80)
SHOW: dict[str, Any] = {
    "name": "Two that cannot",
    "rig": {
        "fixtures": [
            {
                "id": TUBE,
                "profile": "tube-rgbww-8",
                "mode": "8-segment",
                "universe": 1,
                "address": 1,
                "role": "key",
            },
            {"id": PAR, "profile": "par-rgb", "mode": "8-bit", "universe": 1, "address": 61, "role": "fill"},
        ]
    },
    "cues": [
        {
            "number": "1",
            "look": {
                TUBE: {"level": ASKED[TUBE], "white": {"cct_k": CCT_K}},
                PAR: {"level": ASKED[PAR], "xy": GREEN},
            },
        }
    ],
}
RIG = Show.model_validate(SHOW)
LEVEL, XY = 2e-3, 2e-4
"""A share of a level and a distance in x or y that nobody sees: so near, what was asked may be told."""


@pytest.fixture
def sandbox(tmp_path: Path) -> Iterator[Sandbox]:
    sandbox = Sandbox(tmp_path, SHOW)
    yield sandbox
    sandbox.close()


def sent(sandbox: Sandbox) -> dict[str, Seen]:
    """What the lamps give by the newest packet, level and output against the full light of what is asked."""
    profiles = load_profiles()
    sandbox.wait_status(lambda status: status["lights"][PAR]["level"] > 0.0)
    slots = bytes(sandbox.receiver.packets[-1][1].slots)
    found = {}
    for seen in Decoder(RIG.rig.fixtures, profiles).decode({1: slots}):
        fixture, light = RIG.fixture(seen.id), RIG.cues[0].look[seen.id]
        assert fixture is not None
        [full] = describe_lights(fixture, profiles, [light.model_copy(update={"level": 1.0})])
        output = seen.light / full.unrounded.light
        level = float(level_of(output, law_of(profiles[fixture.profile])))
        found[seen.id] = replace(seen, output=output, level=level)
    return found


def as_sent(told: dict[str, Any], seen: Seen) -> None:
    assert told["level"] == pytest.approx(seen.level, rel=LEVEL)
    assert told["output"] == pytest.approx(seen.output, rel=2 * LEVEL)
    assert told.get("xy") is None or told["xy"] == pytest.approx(seen.xy, abs=XY)


def said(sandbox: Sandbox, *words: str) -> dict[str, Any]:
    done = sandbox.run(*words)
    assert done.returncode == 0, done.stderr
    return dict(json.loads(done.stdout))


def test_every_surface_says_what_leaves(sandbox: Sandbox) -> None:
    osc = Controller(free_port())
    with contextlib.closing(osc.socket):
        surfaces_say(sandbox, osc)


def surfaces_say(sandbox: Sandbox, osc: Controller) -> None:
    with_osc(sandbox, osc.port)
    sandbox.engine()
    sandbox.send("recall", "1", "in", "0s")
    sandbox.send("take", "start", "A")
    seen = sent(sandbox)
    status = sandbox.wait_status()
    # They cannot: else nothing would be seen of a surface that tells what was asked.
    assert abs(seen[TUBE].level - ASKED[TUBE]) > 10 * LEVEL * ASKED[TUBE]
    assert abs(seen[PAR].xy[1] - GREEN[1]) > 100 * XY

    osc.send("/onecrew/report", None, 20.0, 60)
    for lamp in (TUBE, PAR):
        as_sent(status["lights"][lamp], seen[lamp])
        [level] = osc.wait(f"/onecrew/state/light/{lamp}/level", lambda values: values[0] > 0.0)
        assert level == pytest.approx(seen[lamp].level, rel=LEVEL, abs=1e-4)
        [fader] = osc.wait(f"/onecrew/light/{lamp}/level", lambda values: values[0] > 0.0)
        assert fader == pytest.approx(ASKED[lamp], abs=1e-4)  # where its fader stands

    snapshot = Snapshot.model_validate(status)
    phone = {name: level for name, level, *_ in state_view(snapshot, 0.0)["lights"]}
    printed = sandbox.run("status").stdout.splitlines()
    for fixture in RIG.rig.fixtures:
        level = seen[fixture.id].level
        assert phone[fixture.id] == round(level, 3)
        drawn = "\n".join(line for line, _ in lamp_lines(fixture, snapshot.lights[fixture.id], snapshot))
        assert f"{words.level(level)}, " in drawn
        [line] = [line for line in printed if line.split()[:1] == [fixture.id]]
        assert f" {100 * level:.1f} % " in line


def test_every_record_says_what_left(sandbox: Sandbox) -> None:
    sandbox.engine()
    sandbox.send("recall", "1", "in", "0s")
    sandbox.send("take", "start", "A")
    sandbox.send("take", "end")
    sandbox.wait_status(lambda status: status["take"] is not None and not status["take"]["running"])
    seen = sent(sandbox)
    for what in (("--cue", "1"), ("--take", "last"), ()):
        written = sandbox.folder / f"sheet-{len(what)}-{what[-1] if what else 'now'}.json"
        assert sandbox.run("sheet", str(sandbox.show), *what, "--to", str(written)).returncode == 0
        for lamp in json.loads(written.read_text())["lamps"]:
            as_sent(lamp["sent"], seen[lamp["fixture"]["id"]])

    for lamp, colour in ((TUBE, (str(CCT_K),)), (PAR, ("--xy", "{},{}".format(*GREEN)))):
        fixture = RIG.fixture(lamp)
        assert fixture is not None
        kind = f"{fixture.profile}/{fixture.mode}"
        level = f"{100 * ASKED[lamp]:g}%"
        told = said(
            sandbox, "colour", *colour, "--level", level, "--profile", kind, "--no-rendition", "--json"
        )
        as_sent(told, seen[lamp])
        assert (told["reached"]["x"], told["reached"]["y"]) == pytest.approx(seen[lamp].xy, abs=XY)
        swapped = said(sandbox, "substitute", str(sandbox.show), lamp, kind, "--dry-run", "--json")
        as_sent(swapped["cues"][0]["old"], seen[lamp])


def test_a_lamp_that_is_held_by_hand_is_told_as_it_shines(sandbox: Sandbox) -> None:
    """Whoever reads emitters puts every lamp out and raises the slots of one: nothing of that is the look."""
    sandbox.engine()
    sandbox.send("recall", "1", "in", "0s")
    sandbox.tell(kind="still", words="par is measured: red")
    red = {"universe": 1, "address": 61, "slots": [255, 0, 0], "fixture": PAR}
    sandbox.tell(kind="raise", **red)
    sandbox.receiver.wait(lambda packet: tuple(packet.slots[60:63]) == (255, 0, 0))
    sandbox.tell(kind="raise", **red)
    status = sandbox.wait_status(lambda status: status["lights"][PAR]["slots"] == [255, 0, 0])
    [seen] = Decoder([RIG.rig.fixtures[1]], load_profiles()).decode({1: bytes(60) + bytes((255, 0, 0))})
    told = status["lights"][PAR]
    assert (told["level"], told["output"]) == pytest.approx((seen.level, seen.output))
    assert told["xy"] == pytest.approx(seen.xy) and "held by hand" in told["notes"][0]
    assert status["lights"][TUBE]["level"] == 0.0
    sandbox.tell(kind="raise", **red)
    printed = sandbox.run("status").stdout
    assert "par is measured: red, slots 1.61–63 of par raised by hand" in printed
    sandbox.wait_status(lambda status: status["raised"] is None)
