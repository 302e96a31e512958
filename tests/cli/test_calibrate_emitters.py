"""Calibrating a lamp emitter by emitter, through the engine: its slots are read from the wire by hand.

The lamp is made up: three emitters in 8 bits whose colours and shares are not the profile's.
"""

from __future__ import annotations

import json
import subprocess
from collections.abc import Callable, Iterator
from itertools import pairwise
from pathlib import Path

import numpy as np
import pexpect
import pytest

from onecrew.colour.locus import uv60_to_white
from onecrew.colour.spaces import xy_to_uv60, xyy_to_xyz, xyz_to_xy
from tests.cli.conftest import Ended
from tests.fakes.documents import document
from tests.process.sandbox import WAIT_S, Sandbox
from tests.wire.e131_layout import Packet

Run = Callable[..., Ended]
SHOW = {
    "name": "A par and a practical",
    "rig": {
        "fixtures": [
            {"id": "par", "profile": "par-rgb", "mode": "8-bit", "universe": 1, "address": 1, "role": "key"},
            {"id": "pendant", "profile": "practical-dimmer", "mode": "8-bit", "universe": 1, "address": 21,
             "role": "practical"},
        ]
    },
    "cues": [
        {"number": "1", "look": {"par": {"level": 0.5, "white": {"cct_k": 4300}}, "pendant": {"level": 0.2}}}
    ],
}  # fmt: skip
XYZ = xyy_to_xyz(np.array([(0.690, 0.305), (0.20, 0.71), (0.145, 0.05)]), np.array([30.0, 60.0, 9.0]))


@pytest.fixture
def sandbox(tmp_path: Path) -> Iterator[Sandbox]:
    folder = tmp_path / "sandbox"
    folder.mkdir()
    sandbox = Sandbox(folder, SHOW)
    yield sandbox
    sandbox.close()


def seen(slots: tuple[int, ...]) -> tuple[float, float, float]:
    """x, y and light of the par's three slots; its emitters dim in a straight line."""
    x_y_z = (np.array(slots[:3]) / 255.0) @ XYZ
    x, y = xyz_to_xy(x_y_z)
    return float(x), float(y), float(x_y_z[1])


def spot(slots: tuple[int, ...]) -> str:
    x, y, light = seen(slots)
    return f"{x:.4f} {y:.4f} {light:.3f}lx\n"


def white(slots: tuple[int, ...]) -> str:
    x, y, light = seen(slots)
    cct_k, duv = uv60_to_white(xy_to_uv60([x, y]))
    return f"{float(cct_k):.1f}K {float(duv):+.5f} {light:.3f}lx\n"


def stands(sandbox: Sandbox, fits: Callable[[tuple[int, ...]], bool], mark: int) -> tuple[int, ...]:
    """The slots of the par when they fit and have been the same for half a second."""

    def still(packet: Packet) -> bool:
        here = tuple(packet.slots[:3])
        others = [at for at, p in sandbox.receiver.packets if tuple(p.slots[:3]) != here]
        return fits(here) and sandbox.receiver.packets[-1][0] - max(others, default=0.0) > 0.5

    return tuple(sandbox.receiver.wait(still, mark).slots[:3])


def typed(process: subprocess.Popen[str], text: str) -> None:
    assert process.stdin is not None
    process.stdin.write(text)
    process.stdin.flush()


ALONE = [(255, 0, 0), (51, 0, 0), (0, 255, 0), (0, 51, 0), (0, 0, 255), (0, 0, 51)]


def test_each_emitter_is_lit_alone_read_checked_and_kept(sandbox: Sandbox) -> None:
    sandbox.engine()
    sandbox.send("recall", "1", "in", "0s")
    sandbox.wait_status(lambda status: status["cue"] == "1" and status["fade"] is None)
    mark = len(sandbox.receiver.packets)
    process = sandbox.start("calibrate", str(sandbox.show), "par", "--emitters", typed=True)
    for slots in ALONE:
        stands(sandbox, lambda here, slots=slots: here == slots, mark)  # type: ignore[misc]
        typed(process, spot(slots))
    last: tuple[int, ...] = ALONE[-1]
    for _ in range(6):  # 3200 K, 5600 K and 5600 K at a quarter, each as it was and as corrected
        before = last
        last = stands(sandbox, lambda here, before=before: min(here) > 0 and here != before, mark)  # type: ignore[misc]
        mark = len(sandbox.receiver.packets)
        typed(process, white(last))
    out, err = process.communicate(timeout=WAIT_S)
    assert (process.returncode, err) == (0, "")
    assert "stored 6 readings in par" in out
    # The practical was dark meanwhile, and no slot of the par jumped up.
    during = [(at, p.slots) for at, p in sandbox.receiver.packets if tuple(p.slots[:3]) in ALONE]
    assert {slots[20] for _, slots in during} == {0}
    course = [(at, p.slots[:3]) for at, p in sandbox.receiver.packets if during[0][0] < at < during[-1][0]]
    for (before_at, a), (at, b) in pairwise(course):
        steepest = 255.0 * (at - before_at) / 1.5 + 20.0
        assert all(new - old <= steepest for old, new in zip(a, b, strict=True))
    # Its cue shows again, and the par is the white that was asked, by a meter.
    sandbox.wait_status(lambda status: status["fade"] is None and status["still"] is None)
    shown = stands(sandbox, lambda here: min(here) > 0, len(sandbox.receiver.packets))
    x, y, _ = seen(shown)
    cct_k, duv = uv60_to_white(xy_to_uv60([x, y]))
    assert float(cct_k) == pytest.approx(4300, rel=0.02)
    assert float(duv) == pytest.approx(0.0, abs=0.002)
    [par, _] = json.loads(sandbox.show.read_text())["rig"]["fixtures"]
    assert [(one["emitter"], one.get("level", 1.0)) for one in par["emitter_readings"]] == [
        (name, level) for name in ("red", "green", "blue") for level in (1.0, 0.2)
    ]
    sandbox.send("undo")
    sandbox.wait_status(lambda status: bool(status["saved"]["ok"]))


def test_what_makes_it_worse_is_kept_only_after_a_yes(sandbox: Sandbox) -> None:
    sandbox.engine()
    command = sandbox.command("calibrate", str(sandbox.show), "par", "--emitters", "--levels", "100%")
    terminal = pexpect.spawn(
        command[0], command[1:], env=sandbox.env, timeout=WAIT_S, encoding="utf-8", dimensions=(30, 160)
    )
    try:
        for name, read in (("red", ".69 .305 300"), ("green", ".2 .71 60"), ("blue", ".145 .05 9")):
            terminal.expect(rf"{name} at 100 %  > ")
            terminal.sendline(read)  # red ten times too bright: mistyped
        terminal.expect("red gives far more light than its profile says: read it again")
        for name, read in (
            ("3200 K, as it was", "3150 .001 99"), ("3200 K, corrected", "2700 -.01 50"),
            ("5600 K, as it was", "5700 .001 99"), ("5600 K, corrected", "4300 -.01 50"),
        ):  # fmt: skip
            terminal.expect(f"{name}  > ")
            terminal.sendline(read)
        terminal.expect("the readings make it worse where they were not taken")
        terminal.expect(r"Store 3 readings in par all the same\? \[y/N\] ")
        terminal.sendline("")
        terminal.expect("nothing was stored; as a file for --file")
        terminal.expect("red,100%,0.69,0.305,300")
        terminal.expect(pexpect.EOF)
    finally:
        terminal.close(force=True)
    assert terminal.exitstatus == 1
    assert "emitter_readings" not in sandbox.show.read_text()


# ── From a file ─────────────────────────────────────────────────────────────────────────────────────

LINES = """emitter,level,x,y,light
red,,.69,.305,30
red,20%,.69,.305,6
green,full,.2,.71,60
blue,100%,.145,.05,9
"""


def show_file(folder: Path) -> Path:
    path = folder / "show.json"
    path.write_text(json.dumps(document(SHOW)))
    return path


def test_readings_from_a_file_replace_those_of_whites_and_can_be_removed(
    onecrew: Run, tmp_path: Path
) -> None:
    show, file = show_file(tmp_path), tmp_path / "par.csv"
    whites = tmp_path / "whites.csv"
    whites.write_text("3200,0,3150,.001,100\n5600,0,5700,.001,100\n")
    assert onecrew("calibrate", str(show), "par", "--file", str(whites)).status == 0
    file.write_text(LINES)
    done = onecrew("calibrate", str(show), "par", "--emitters", "--file", str(file), "--json")
    assert done.status == 0
    assert done.json["response"] == [{"level": 0.2, "stops": pytest.approx(0.0, abs=1e-9), "kept": False}]
    assert done.json["remarks"] == [
        "its 2 readings of whites were of the lamp before and are dropped with this"
    ]
    [par, _] = json.loads(show.read_text())["rig"]["fixtures"]
    assert "calibration" not in par and len(par["emitter_readings"]) == 4
    # Whites may follow: they are read on the lamp with its own emitters.
    assert onecrew("calibrate", str(show), "par", "--file", str(whites)).status == 0
    [par, _] = json.loads(show.read_text())["rig"]["fixtures"]
    assert len(par["calibration"]) == 2 and len(par["emitter_readings"]) == 4
    assert onecrew("calibrate", str(show), "par", "--clear").out == "removed 6 readings from par\n"


def test_lines_of_one_light_are_averaged(onecrew: Run, tmp_path: Path) -> None:
    show, file = show_file(tmp_path), tmp_path / "par.csv"
    file.write_text(LINES + "red,100%,.6902,.3048,30.2\nred,100%,.64,.34,30\n")
    done = onecrew("calibrate", str(show), "par", "--emitters", "--file", str(file))
    assert done.status == 0
    assert "x 0.6400 y 0.3400 does not fit the other readings of red at 100 % and is left out" in done.out
    [par, _] = json.loads(show.read_text())["rig"]["fixtures"]
    assert par["emitter_readings"][0]["light"] == pytest.approx(30.1, abs=0.01)


@pytest.mark.parametrize(
    ("lines", "said"),
    [
        ("red,20%,.69,.305,6\n", "has red at 20 %, not at full; add its reading at 100 %"),
        ("violet,100%,.2,.05,6\n", "the lamp has no emitter 'violet'; it has red, green, blue"),
        ("red,0,.69,.305,6\n", "level is above 0"),
        ("red,100%,.69,.405,6\n", "is not a chromaticity"),
        ("red,100%,.69,.305,0\n", "light is above 0"),
        ("red,100%,.69,.305\n", "4 columns; there are 5"),
        ("red,x,y\nred,.69,.305\n", "has a column 'red'"),
        ("# none\n", "has no reading"),
    ],
)
def test_what_is_wrong_in_a_file_is_said_and_changes_nothing(
    lines: str, said: str, onecrew: Run, tmp_path: Path
) -> None:
    show, file = show_file(tmp_path), tmp_path / "par.csv"
    file.write_text(lines)
    before = show.read_bytes()
    done = onecrew("calibrate", str(show), "par", "--emitters", "--file", str(file))
    assert (done.status != 0, done.out) == (True, "")
    assert said in done.err
    assert show.read_bytes() == before


@pytest.mark.parametrize(
    ("words", "status", "said"),
    [
        (("pendant", "--emitters"), 1, "mixes its light itself"),
        (("par", "--emitters", "--asks", "3200"), 2, "--emitters goes without --asks"),
        (("par", "--levels", "20%"), 2, "add --emitters"),
        (("par", "--emitters", "--levels", "0%"), 2, "--levels are above 0"),
        (("par", "--emitters", "--levels", "1%,2%,3%,4%,5%,6%,7%"), 2, "6 are enough"),
        (("par", "--repeats", "0"), 2, "--repeats is 1 to 9"),
    ],
)
def test_what_makes_no_sense_is_refused(
    words: tuple[str, ...], status: int, said: str, onecrew: Run, tmp_path: Path
) -> None:
    done = onecrew("calibrate", str(show_file(tmp_path)), *words)
    assert (done.status, done.out) == (status, "")
    assert said in done.err
