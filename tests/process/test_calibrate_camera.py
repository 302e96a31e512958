"""A grey card's guided run against a real engine: a room that sees nothing but packets takes the stills."""

from __future__ import annotations

import json
import signal
import subprocess
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.process.card_room import CardRoom, show
from tests.process.sandbox import WAIT_S, Sandbox
from tests.process.single_lamp import end_and_wait, kill_and_wait, steady
from tests.tui.test_session import ENTER, F4, Window


@pytest.fixture
def sandbox(tmp_path: Path) -> Iterator[Sandbox]:
    sandbox = Sandbox(tmp_path, show())
    (tmp_path / "cards").mkdir()
    sandbox.engine()
    sandbox.send("recall", "1", "in", "0s")
    sandbox.wait_status(lambda status: status["cue"] == "1" and status["fade"] is None)
    yield sandbox
    sandbox.close()


@pytest.fixture
def room(sandbox: Sandbox) -> CardRoom:
    return CardRoom(sandbox, sandbox.folder / "cards")


def calibrate(sandbox: Sandbox, *words: str) -> subprocess.Popen[str]:
    return sandbox.start(
        "calibrate", str(sandbox.show), "sky", "--like", "hood", "--folder", "cards", *words, typed=True
    )


def seen_apart(
    sandbox: Sandbox, room: CardRoom, kelvins: tuple[int, ...] = (2950, 3700, 4900, 6000)
) -> float:
    """Mean difference of the two on the camera when both are asked for the same whites, Δu′v′."""
    found = []
    for kelvin in kelvins:
        mark = len(sandbox.receiver.packets)
        sandbox.send("set", "all", "50%", f"cct={kelvin}")
        sandbox.receiver.wait(lambda _: True, mark)
        room.wait_steady()
        slots = bytes(sandbox.receiver.packets[-1][1].slots)
        found.append(room.apart({"sky": slots, "hood": slots}))
    return sum(found) / len(found)


def test_the_lamp_looks_like_the_other_one_afterwards(sandbox: Sandbox, room: CardRoom) -> None:
    """The card is twice as bright under the lamp, which is therefore lowered from its first still on."""
    before, rest = seen_apart(sandbox, room), steady(sandbox)
    room.scale["sky"] *= 2.0
    process = calibrate(sandbox, "--json")
    room.shoot(lambda: process.poll() is None)
    out, err = process.communicate(timeout=WAIT_S)
    assert process.returncode == 0, err
    said = json.loads(out)
    assert said["stored"] and not said["check"]["worse"]
    assert steady(sandbox) != rest, "the lamp is corrected in the look that came back"
    assert room.pictured[0] == f"1 of {1 + 2 * (len(said['whites']) - 3)}: every lamp out"
    assert [words.split()[3] for words in room.pictured[1:6]] == ["hood", "sky", "sky", "hood", "sky"]
    lowered = [float(words.split()[-5]) for words in room.pictured if words.endswith("% of its light")]
    assert len(lowered) > 5 and lowered[0] == pytest.approx(50.0, abs=20.0)
    after = seen_apart(sandbox, room)
    assert before > 0.004 and after < 0.5 * before
    listed = json.loads((sandbox.folder / "cards" / "grey-card.json").read_text())["stills"]
    assert [still["file"] for still in listed] == [f"{n:02}.png" for n in range(len(listed))]


def test_stills_taken_by_enter_are_copied_afterwards_and_found_by_their_times(
    sandbox: Sandbox, room: CardRoom
) -> None:
    """The card of the camera is copied in at the end; a picture from before the run lies there too."""
    card = sandbox.folder / "in the camera"
    card.mkdir()
    room.picture("former.png")
    room.folder = card
    rest = steady(sandbox)
    process = calibrate(sandbox, "--json", "--no-check")
    assert process.stdin is not None
    while "of 17: sky alone at 4300 K tint +0.01" not in (room.pictured or [""])[-1]:
        room.shoot(lambda: process.poll() is None, len(room.pictured) + 1)
        time.sleep(0.7)  # until the light stands: Enter is not heard before
        process.stdin.write("\n")
        process.stdin.flush()
    mark = len(sandbox.receiver.packets)
    sandbox.receiver.wait(lambda packet: tuple(packet.slots) == rest, mark)
    for picture in sorted(card.iterdir()):
        picture.rename(sandbox.folder / "cards" / picture.name)
    process.stdin.write("\n")
    out, err = process.communicate(timeout=2.0 * WAIT_S)
    assert process.returncode == 0, err
    said = json.loads(out)
    assert said["stored"] and said["check"] is None
    assert said["after"]["mean"] < said["before"]["mean"]
    listed = json.loads((sandbox.folder / "cards" / "grey-card.json").read_text())["stills"]
    assert [still["file"] for still in listed] == [f"{n:02}.png" for n in range(17)]


@pytest.mark.parametrize(
    ("stills", "sign"), [(1, signal.SIGKILL), (3, signal.SIGKILL), (3, signal.SIGINT), (18, signal.SIGKILL)]
)
def test_ended_at_any_moment_nothing_is_changed(
    sandbox: Sandbox, room: CardRoom, sign: signal.Signals, stills: int
) -> None:
    """In the dark, under a lamp, and in the closing check."""
    before, document = steady(sandbox), sandbox.show.read_text()
    process = calibrate(sandbox)
    room.shoot(lambda: process.poll() is None, stills)
    kill_and_wait(process, sign, sandbox, before)
    assert sandbox.show.read_text() == document
    assert not sandbox.wait_status()["locked"]


def test_a_lamp_without_a_tint_is_refused_before_any_light_changes(sandbox: Sandbox) -> None:
    fixture = show()["rig"]["fixtures"][0]
    sandbox.tell(kind="put-fixture", fixture={**fixture, "profile": "panel-bicolour"})
    before = steady(sandbox)
    ended = sandbox.run("calibrate", str(sandbox.show), "sky", "--like", "hood", "--folder", "cards")
    assert ended.returncode == 1 and "sky has no tint of its own" in ended.stderr
    assert steady(sandbox) == before


# ── From the screens ────────────────────────────────────────────────────────────────────────────────


def calibrate_on_rig(sandbox: Sandbox) -> Window:
    """The screens, with the run for the first lamp begun on Rig."""
    window = Window(sandbox, sandbox.show)
    window.child.expect("NOW")
    window.type(F4, "=", "c", ENTER)
    return window


def test_on_rig_the_lamp_looks_like_the_other_one_afterwards(sandbox: Sandbox, room: CardRoom) -> None:
    before = seen_apart(sandbox, room)
    rest = steady(sandbox)
    window = calibrate_on_rig(sandbox)
    room.shoot(lambda: True, 17)
    window.child.expect("what was found")
    window.type(ENTER)
    room.shoot(lambda: True, 26)
    window.child.expect("the closing check")
    window.type(ENTER)
    window.wait(lambda: window.document()["rig"]["fixtures"][0].get("calibration"))
    assert steady(sandbox) != rest
    assert before > 0.004 and seen_apart(sandbox, room) < 0.5 * before
    window.child.close(force=True)


@pytest.mark.parametrize("end", ["escape and drop", "kill"])
def test_ended_on_rig_nothing_is_changed(sandbox: Sandbox, room: CardRoom, end: str) -> None:
    """Under a lamp; ``tests/tui/test_rig_grey_card.py`` has every other moment."""
    before, document = steady(sandbox), sandbox.show.read_text()
    window = calibrate_on_rig(sandbox)
    room.shoot(lambda: True, 3)
    end_and_wait(window, end, sandbox, before)
    assert sandbox.show.read_text() == document
    window.child.close(force=True)
