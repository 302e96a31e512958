"""Calibrating a lamp that is off by a known rule: read through the engine, past its readings, and given back.

The lamp is made up here and reads its slots by hand, so nothing but the wire is shared with the program.
"""

from __future__ import annotations

import json
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pexpect
import pytest

from tests.cli.conftest import Ended
from tests.fakes.documents import document
from tests.process.sandbox import WAIT_S, Sandbox
from tests.wire.e131_layout import Packet

Run = Callable[..., Ended]
pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="POSIX signals and terminals")

ASKS = [(2700, 0), (3200, 0), (4300, 0), (5600, 0), (6500, 0), (4300, -0.01), (4300, 0.01)]
FULL = 65535


class Panel:
    """A panel of 16-bit dimmer, CCT 2700–6500 K and tint ±0.02 at address 1, too warm and too green."""

    def __init__(self, packet: Packet) -> None:
        dimmer, cct, tint = (256 * packet.slots[at] + packet.slots[at + 1] for at in (0, 2, 4))
        self.full = dimmer == FULL
        self.told_k = 2700 + 3800 * cct / FULL
        self.told_duv = -0.02 + 0.04 * tint / FULL
        self.cct_k = 1e6 / (1.03 * 1e6 / self.told_k + 5.0)
        self.duv = 0.9 * self.told_duv + 0.002
        self.light = 700 + self.told_k / 20

    def is_told(self, cct_k: float, duv: float) -> bool:
        return abs(self.told_k - cct_k) < 0.1 and abs(self.told_duv - duv) < 1e-6

    def meter(self) -> str:
        return f"{self.cct_k:.1f}K {self.duv:+.5f} {self.light:.1f}lx\n"


def calibrate(sandbox: Sandbox, *words: str) -> subprocess.Popen[str]:
    """Starts ``onecrew calibrate`` on the panel with a pipe to type into."""
    return sandbox.start("calibrate", str(sandbox.show), "window", *words, typed=True)


def typed(process: subprocess.Popen[str], text: str) -> None:
    assert process.stdin is not None
    process.stdin.write(text)
    process.stdin.flush()


def ended(process: subprocess.Popen[str]) -> tuple[int, str, str]:
    """Status, output and complaints of a process that has heard everything."""
    assert process.stdin is not None
    process.stdin.close()
    process.stdin = None
    out, err = process.communicate(timeout=WAIT_S)
    return process.returncode, out, err


@contextmanager
def terminal_of(sandbox: Sandbox, *words: str) -> Iterator[pexpect.spawn]:
    """``onecrew calibrate`` on the panel in a terminal of its own."""
    command = sandbox.command("calibrate", str(sandbox.show), "window", *words)
    terminal = pexpect.spawn(
        command[0], command[1:], env=sandbox.env, timeout=WAIT_S, encoding="utf-8", dimensions=(30, 160)
    )
    try:
        yield terminal
    finally:
        terminal.close(force=True)


def told(sandbox: Sandbox, cct_k: float, duv: float, mark: int) -> Panel:
    """The panel once it stands at full at a white, as its slots say."""

    def fits(packet: Packet) -> bool:
        panel = Panel(packet)
        return panel.full and panel.is_told(cct_k, duv)

    return Panel(sandbox.receiver.wait(fits, mark))


def steady(sandbox: Sandbox) -> Packet:
    """What goes out when all is still: packets of the wire come at the latest after a second."""
    mark = len(sandbox.receiver.packets)
    sandbox.receiver.wait(lambda _: len(sandbox.receiver.packets) > mark + 1, mark)
    return sandbox.receiver.packets[-1][1]


def read_all(sandbox: Sandbox, process: subprocess.Popen[str], mark: int) -> None:
    for ask in ASKS:
        typed(process, told(sandbox, *ask, mark).meter())


def stored(sandbox: Sandbox) -> list[dict[str, float]]:
    """The readings in the file, once the engine has saved it."""
    sandbox.wait_status(lambda status: bool(status["saved"]["ok"]))
    [window, _] = json.loads(sandbox.show.read_text())["rig"]["fixtures"]
    return list(window.get("calibration", []))


def test_a_lamp_that_was_read_measures_right_and_can_be_read_again(sandbox: Sandbox) -> None:
    sandbox.engine()
    sandbox.send("recall", "1", "in", "0s")
    sandbox.wait_status(lambda status: status["cue"] == "1" and status["fade"] is None)
    before = steady(sandbox)
    mark = len(sandbox.receiver.packets)
    process = calibrate(sandbox)
    read_all(sandbox, process, mark)
    status, out, err = ended(process)
    assert (status, err) == (0, "")
    assert "stored 7 readings in window" in out
    # The other lamp, dimmer at address 21, was dark while the panel stood at full.
    reading = [
        p for _, p in sandbox.receiver.packets[mark:] if Panel(p).full and Panel(p).is_told(4300, -0.01)
    ]
    assert {packet.slots[20] for packet in reading} == {0}
    assert [(r["asked_cct_k"], r["asked_duv"]) for r in stored(sandbox)] == ASKS
    # Its cue shows again, its other lamp as before, and the panel now as a meter wants it.
    sandbox.wait_status(lambda status: status["fade"] is None and status["still"] is None)
    after = steady(sandbox)
    assert after.slots[20] == before.slots[20]
    panel = Panel(after)
    assert after.slots[:2] == before.slots[:2]
    assert panel.cct_k == pytest.approx(4300, abs=10) != Panel(before).cct_k
    assert panel.duv == pytest.approx(0.0, abs=2e-4)
    for cct_k, duv in ((3600, 0.0), (5000, 0.004), (3000, -0.003)):
        here, mark = after.slots[2:6], len(sandbox.receiver.packets)
        sandbox.send("set", "window", "level=100%", f"cct={cct_k}", f"tint={duv}")
        after = sandbox.receiver.wait(lambda p, here=here: p.slots[2:6] != here, mark)  # type: ignore[misc]
        panel = Panel(after)
        assert panel.cct_k == pytest.approx(cct_k, rel=0.006)
        assert panel.duv == pytest.approx(duv, abs=6e-4)

    # Once more, with readings in the show: the lamp is asked as if it had none, and Ctrl-C changes nothing.
    show, still = sandbox.show.read_bytes(), steady(sandbox)
    mark = len(sandbox.receiver.packets)
    process = calibrate(sandbox)
    first = told(sandbox, 2700, 0.0, mark)
    typed(process, first.meter())
    told(sandbox, 3200, 0.0, mark)
    process.send_signal(signal.SIGINT)
    status, out, err = ended(process)
    assert (status, err) == (1, "")
    assert "nothing was stored" in out
    assert f"2700,0,{first.cct_k:.1f}" in out
    mark = len(sandbox.receiver.packets)
    sandbox.receiver.wait(lambda p: p.slots == still.slots, mark)
    assert steady(sandbox).slots == still.slots
    assert sandbox.show.read_bytes() == show

    # One undo takes all the readings back.
    while (words := sandbox.wait_status()["undo"]) != "calibrate window":
        assert words.startswith("window ")  # what this test set by hand since; the measuring left no step
        sandbox.send("undo")
    sandbox.send("undo")
    deadline = time.monotonic() + WAIT_S
    while stored(sandbox):  # the file follows the show in a moment
        assert time.monotonic() < deadline
        time.sleep(0.02)


def test_without_an_engine_one_runs_as_long_as_the_reading(sandbox: Sandbox) -> None:
    process = calibrate(sandbox, "--json")
    read_all(sandbox, process, 0)
    status, out, err = ended(process)
    assert status == 0, err
    assert "no engine was running" in err
    facts = json.loads(out)
    assert (facts["fixture"], facts["stored"], len(facts["readings"])) == ("window", True, 7)
    assert facts["after"]["mean"] < 0.3 * facts["before"]["mean"]
    assert sandbox.status() is None
    assert len(json.loads(sandbox.show.read_text())["rig"]["fixtures"][0]["calibration"]) == 7


def test_in_a_terminal_it_asks_white_by_white_and_at_the_end(sandbox: Sandbox) -> None:
    sandbox.engine()
    with terminal_of(sandbox, "--asks", "3200,2000,5600:+0.005") as terminal:
        terminal.expect("2000 K is out of reach: 2700 K is the nearest")
        terminal.expect(r"1/3  3200 K  > ")
        terminal.sendline("warm")
        terminal.expect("'warm' is not a number")
        terminal.expect(r"1/3  3200 K  > ")
        terminal.sendline("3150 .001 800")
        terminal.expect(r"2/3  2700 K  > ")
        terminal.sendline("back")
        terminal.expect(r"1/3  3200 K  \(was 3150 K \+0.0010, Enter keeps it\)  > ")
        terminal.sendline("")
        terminal.expect(r"2/3  2700 K  > ")
        terminal.sendline("skip")
        terminal.expect(r"3/3  5600 K tint \+0.005  > ")
        terminal.sendline("done")
        terminal.expect("before: mean")
        terminal.expect(r"Store 1 reading in window\? \[Y/n\] ")
        terminal.sendline("n")
        terminal.expect("nothing was stored")
        terminal.expect(pexpect.EOF)
    assert terminal.exitstatus == 1
    assert stored(sandbox) == []


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("lock", "on"), "the light is locked"),
        (("blackout", "on"), "blackout off"),
    ],
)
def test_what_stands_in_the_way_is_told_and_left_alone(
    words: tuple[str, ...], said: str, sandbox: Sandbox
) -> None:
    sandbox.engine()
    sandbox.send(*words)
    still = sandbox.wait_status()["lights"]
    refused = sandbox.run("calibrate", str(sandbox.show), "window")
    assert refused.returncode == 1
    assert said in refused.stderr
    assert sandbox.wait_status()["lights"] == still


def test_a_lamp_that_is_moved_while_it_is_read_is_asked_again(sandbox: Sandbox) -> None:
    sandbox.engine()
    with terminal_of(sandbox, "--asks", "3200,5600") as terminal:
        terminal.expect(r"1/2  3200 K  > ")
        sandbox.send("recall", "1", "in", "0s")
        terminal.sendline("3150 .001 800")
        terminal.expect("something else changed the lamp meanwhile, so that reading is dropped")
        terminal.expect(r"1/2  3200 K  > ")
        assert Panel(steady(sandbox)).is_told(3200, 0)
        terminal.sendline("3150 .001 800")
        terminal.expect(r"2/2  5600 K  > ")
        terminal.sendline("5700 -.001 900")
        terminal.expect("Closing check: 1 light")
        terminal.expect(r"1/2  4100 K, as it was  > ")
        terminal.sendline("done")
        terminal.expect(r"\[Y/n\] ")
        terminal.sendline("")
        terminal.expect("stored 2 readings in window")
        terminal.expect(pexpect.EOF)
    assert [r["asked_cct_k"] for r in stored(sandbox)] == [3200, 5600]


# ── Readings from a file ────────────────────────────────────────────────────────────────────────────

LINES = "asked,cct,duv,lux\n2700,2640,0.002,800\n4300,4350,-0.001,900\n5600,5900,-0.003,950\n"


def test_readings_from_a_file_need_no_engine_and_move_no_lamp(sandbox: Sandbox) -> None:
    (sandbox.folder / "window.csv").write_text(LINES)
    done = sandbox.run("calibrate", str(sandbox.show), "window", "--file", "window.csv")
    assert (done.returncode, done.stderr) == (0, "")
    assert "each reading predicted from the other" in done.stdout
    [window, _] = json.loads(sandbox.show.read_text())["rig"]["fixtures"]
    assert [reading["measured_cct_k"] for reading in window["calibration"]] == [2640, 4350, 5900]
    assert sandbox.receiver.packets == []
    done = sandbox.run("calibrate", str(sandbox.show), "window", "--clear")
    assert done.stdout == "removed 3 readings from window\n"
    assert "calibration" not in sandbox.show.read_text()


def test_readings_from_a_file_go_through_the_engine_that_runs(sandbox: Sandbox) -> None:
    sandbox.engine()
    (sandbox.folder / "window.csv").write_text("3200;0;3150;-0,001;900\n")
    done = sandbox.run("calibrate", str(sandbox.show), "window", "--file", "window.csv", "--json")
    assert (done.returncode, done.stderr) == (0, "")
    facts = json.loads(done.stdout)
    assert facts["after"] is None
    assert facts["readings"][0]["left"] is None
    assert len(stored(sandbox)) == 1
    sandbox.send("undo")
    deadline = time.monotonic() + WAIT_S
    while stored(sandbox):  # the file follows the show in a moment
        assert time.monotonic() < deadline
        time.sleep(0.02)


def show_file(folder: Path) -> Path:
    from tests.process.sandbox import SHOW

    path = folder / "show.json"
    path.write_text(json.dumps(document(SHOW)))
    return path


def test_lines_of_the_same_white_are_averaged_and_the_odd_one_is_named(onecrew: Run, tmp_path: Path) -> None:
    show = show_file(tmp_path)
    # 2000 K is out of reach and becomes 2700.
    more = "2000,2644,0.002,804\n2700,2900,0.002,800\n"
    (tmp_path / "window.csv").write_text(LINES + more)
    done = onecrew("calibrate", str(show), "window", "--file", str(tmp_path / "window.csv"))
    assert done.status == 0
    assert "2900 K +0.0020 does not fit the other readings of 2700 K and is left out" in done.out
    [window, _] = json.loads(show.read_text())["rig"]["fixtures"]
    assert [round(reading["measured_cct_k"]) for reading in window["calibration"]] == [2642, 4350, 5900]


CHECKED = """2700,0,2640,.002,800
4300,0,4150,.002,900
5600,0,5350,.002,950
3400,0,{warm},{tint},850,check
4900,0,{cool},{tint},930, check
"""


@pytest.mark.parametrize(
    ("read", "stays"), [((3310, 4705, 0.002), True), ((3350, 4750, 0.001), True), ((3398, 4905, 0), False)]
)
def test_check_readings_say_how_good_the_others_are_and_are_not_stored(
    read: tuple[int, int, float], stays: bool, onecrew: Run, tmp_path: Path
) -> None:
    """The lamp is too warm; check readings that find it as it should be have the readings make it worse."""
    show = show_file(tmp_path)
    before = show.read_text()
    (tmp_path / "window.csv").write_text(CHECKED.format(warm=read[0], cool=read[1], tint=read[2]))
    words = "calibrate", str(show), "window", "--file", str(tmp_path / "window.csv")
    done = onecrew(*words)
    assert done.status == (0 if stays else 1)
    assert "closing check, before: mean 0.0" in done.out + done.err
    [window, _] = json.loads(show.read_text())["rig"]["fixtures"]
    kept = [round(one["asked_cct_k"]) for one in window.get("calibration", ())]
    assert kept == ([2700, 4300, 5600] if stays else [])
    if not stays:
        assert show.read_text() == before and "nothing was stored; window is as it was" in done.out
        assert "they were not taken: nothing is stored without a yes" in done.out + done.err
    facts = json.loads(onecrew(*words, "--json").out)
    assert facts["stored"] is stays and facts["check"]["worse"] is not stays
    assert len(facts["check"]["before"]) == 2


def test_readings_that_foretell_one_another_badly_are_not_stored_without_a_yes(
    onecrew: Run, tmp_path: Path
) -> None:
    """A lamp that was right, and readings of which every second is off the other way."""
    show = show_file(tmp_path)
    rows = [f"{k},0,{k},{0.004 * (-1) ** n:+.3f},900" for n, k in enumerate((2700, 3200, 4000, 5000, 6500))]
    (tmp_path / "window.csv").write_text("\n".join(rows))
    done = onecrew("calibrate", str(show), "window", "--file", str(tmp_path / "window.csv"))
    assert done.status == 1 and "calibration" not in show.read_text()


def test_a_file_of_check_readings_alone_is_refused(onecrew: Run, tmp_path: Path) -> None:
    (tmp_path / "window.csv").write_text("2700,0,2640,.002,800,check\n")
    done = onecrew("calibrate", str(show_file(tmp_path)), "window", "--file", str(tmp_path / "window.csv"))
    assert done.status == 2 and "has check readings alone; add readings without 'check'" in done.err


@pytest.mark.parametrize(
    ("words", "status", "said"),
    [
        (("windoww",), 2, "did you mean 'window'"),
        (("pendant",), 1, "nothing to calibrate"),
        (("pendant", "--file", "nothing.csv"), 1, "nothing to calibrate"),
        (("window", "--asks", "2700,hot"), 2, "'hot' is not a number"),
        (("window", "--asks", "2700:0.2"), 2, "out of range"),
        (("window", "--asks", ",".join(["3200"] * 50)), 2, "40 are enough"),
        (("window", "--clear", "--file", "x"), 2, "use one of --asks"),
        (("window", "--file", "nothing.csv"), 1, "nothing.csv"),
    ],
)
def test_what_makes_no_sense_is_refused(
    words: tuple[str, ...], status: int, said: str, onecrew: Run, tmp_path: Path
) -> None:
    done = onecrew("calibrate", str(show_file(tmp_path)), *words)
    assert (done.status, done.out) == (status, "")
    assert said in done.err


def test_nothing_to_clear(onecrew: Run, tmp_path: Path) -> None:
    assert (
        onecrew("calibrate", str(show_file(tmp_path)), "window", "--clear").out == "window has no readings\n"
    )
