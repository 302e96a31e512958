"""A run of stills against a real engine: each light alone on the wire, and given back whatever happens."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import time
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from onecrew.commands.stills import KEEP_EVERY_S
from tests.process.sandbox import WAIT_S, Sandbox
from tests.process.single_lamp import (
    PENDANT,
    at_rest,
    dark,
    is_back,
    kill_and_wait,
    pendant_alone,
    steady,
    window_alone,
)


@pytest.fixture(autouse=True)
def engine(sandbox: Sandbox) -> None:
    """One with a cue at rest."""
    at_rest(sandbox)


def stills(sandbox: Sandbox, *words: str) -> subprocess.Popen[str]:
    """Starts ``onecrew stills`` with a pipe to type into."""
    return sandbox.start("stills", str(sandbox.show), *words, typed=True)


def typed(process: subprocess.Popen[str], text: str) -> None:
    assert process.stdin is not None
    process.stdin.write(text)
    process.stdin.flush()


def ended(process: subprocess.Popen[str], status: int = 0) -> str:
    """What it said on standard error until it ended, with this status."""
    _, err = process.communicate(timeout=WAIT_S)
    assert process.returncode == status, err
    return err


def lists_every_still(sandbox: Sandbox) -> None:
    document = json.loads((sandbox.folder / "list.json").read_text())
    assert document["curve"] == "S-Log3"
    assert [(s["lamp"], s.get("cct_k")) for s in document["stills"]] == [
        (None, None),
        ("window", 2700),
        ("window", 6500),
        ("pendant", None),
    ]


def test_each_lamp_shines_alone_and_the_light_is_given_back(sandbox: Sandbox) -> None:
    before = steady(sandbox)
    mark = len(sandbox.receiver.packets)
    process = stills(sandbox, "--to", "list.json", "--curve", "S-Log3")
    sandbox.receiver.wait(dark, mark)
    typed(process, "\n")
    warm = sandbox.receiver.wait(window_alone, mark)
    typed(process, "\n")
    sandbox.receiver.wait(lambda p: window_alone(p) and p.slots[2:4] != warm.slots[2:4], mark)
    typed(process, "\n")
    sandbox.receiver.wait(pendant_alone, mark)
    mark = len(sandbox.receiver.packets)
    typed(process, "\n")
    ended(process)
    is_back(sandbox, before, mark)
    lists_every_still(sandbox)


def test_less_light_again_and_skip(sandbox: Sandbox) -> None:
    mark = len(sandbox.receiver.packets)
    process = stills(sandbox, "--lamps", "window", "--to", "list.json")
    sandbox.receiver.wait(dark, mark)
    typed(process, "skip\n")
    sandbox.receiver.wait(window_alone, mark)
    typed(process, "less\n")
    sandbox.receiver.wait(lambda p: 126 <= p.slots[0] <= 128 and p.slots[PENDANT] == 0, mark)
    typed(process, "what\n\ndone\n")
    assert "again, less" in ended(process)
    [still] = json.loads((sandbox.folder / "list.json").read_text())["stills"]
    assert (still["lamp"], still["output"], still["cct_k"]) == ("window", 0.5, 2700)


def test_a_run_that_was_stopped_is_taken_up_with_what_is_left(sandbox: Sandbox) -> None:
    mark = len(sandbox.receiver.packets)
    process = stills(sandbox, "--to", "list.json", "--curve", "S-Log3")
    sandbox.receiver.wait(dark, mark)
    typed(process, "\n")
    sandbox.receiver.wait(window_alone, mark)
    typed(process, "done\n")
    assert "3 of 4 stills were not taken; the same with --rest" in ended(process)
    mark = len(sandbox.receiver.packets)
    process = stills(sandbox, "--to", "list.json", "--rest")
    for light in (window_alone, window_alone, pendant_alone):
        sandbox.receiver.wait(light, mark)
        mark = len(sandbox.receiver.packets)
        time.sleep(0.7)  # until the light stands: Enter is not heard before
        typed(process, "\n")
    ended(process)
    lists_every_still(sandbox)
    again = sandbox.run("stills", str(sandbox.show), "--to", "list.json", "--rest")
    assert again.returncode == 1 and "nothing is left to take" in again.stderr


@pytest.mark.parametrize("sign", [signal.SIGKILL, signal.SIGTERM, signal.SIGHUP, signal.SIGINT])
def test_killed_at_any_moment_the_light_comes_back(sandbox: Sandbox, sign: signal.Signals) -> None:
    before = steady(sandbox)
    mark = len(sandbox.receiver.packets)
    process = stills(sandbox)
    sandbox.receiver.wait(dark, mark)
    typed(process, "\n")
    sandbox.receiver.wait(window_alone, mark)
    kill_and_wait(process, sign, sandbox, before)
    [still] = json.loads((sandbox.folder / "stills.json").read_text())["stills"]
    assert still["lamp"] is None, "what was taken is not lost"


def test_an_engine_that_dies_goes_on_with_the_still(sandbox: Sandbox) -> None:
    before = steady(sandbox)
    mark = len(sandbox.receiver.packets)
    process = stills(sandbox, "--lamps", "window", "--to", "list.json")
    sandbox.receiver.wait(dark, mark)
    typed(process, "\n")
    sandbox.receiver.wait(window_alone, mark)
    died = sandbox.wait_status()["engine_pid"]
    os.kill(died, signal.SIGKILL)
    sandbox.wait_status(lambda status: status["engine_pid"] != died)
    assert window_alone(sandbox.receiver.packets[-1][1])
    mark = len(sandbox.receiver.packets)
    typed(process, "done\n")
    ended(process)
    sandbox.receiver.wait(lambda p: tuple(p.slots) == before, mark)


def test_a_locked_desk_is_left_alone(sandbox: Sandbox) -> None:
    sandbox.send("lock", "on")
    before = steady(sandbox)
    ended = sandbox.run("stills", str(sandbox.show))
    assert ended.returncode == 1 and "the light is locked" in ended.stderr
    assert ended.stderr.count("\n") == 1
    assert steady(sandbox) == before


def test_locked_meanwhile_the_light_comes_back_when_it_is_unlocked(sandbox: Sandbox) -> None:
    before = steady(sandbox)
    mark = len(sandbox.receiver.packets)
    process = stills(sandbox)
    sandbox.receiver.wait(dark, mark)
    typed(process, "\n")
    sandbox.receiver.wait(window_alone, mark)
    sandbox.send("lock", "on")
    typed(process, "\n")
    assert "locked" in ended(process, 1)
    assert window_alone(sandbox.receiver.packets[-1][1])
    mark = len(sandbox.receiver.packets)
    sandbox.send("lock", "off")
    sandbox.receiver.wait(lambda p: tuple(p.slots) == before, mark)


def test_a_cue_that_runs_takes_the_light_and_the_still_is_taken_again(sandbox: Sandbox) -> None:
    mark = len(sandbox.receiver.packets)
    process = stills(sandbox, "--lamps", "pendant", "--to", "list.json")
    sandbox.receiver.wait(dark, mark)
    typed(process, "\n")
    sandbox.receiver.wait(pendant_alone, mark)
    mark = len(sandbox.receiver.packets)
    sandbox.send("recall", "1", "in", "0s")
    sandbox.receiver.wait(lambda p: not pendant_alone(p) and not dark(p), mark)
    sandbox.wait_status(lambda status: status["still"] is None)
    time.sleep(2.0 * KEEP_EVERY_S)  # until the run has heard of it
    mark = len(sandbox.receiver.packets)
    typed(process, "\n")
    sandbox.receiver.wait(pendant_alone, mark)
    typed(process, "\n")
    assert "is taken again" in ended(process)
    assert len(json.loads((sandbox.folder / "list.json").read_text())["stills"]) == 2


def test_pictures_that_come_take_the_stills_and_one_that_clips_is_asked_for_again(sandbox: Sandbox) -> None:
    folder = sandbox.folder / "card"
    folder.mkdir()
    rng = np.random.default_rng(3)

    def picture(name: str, brightest: int) -> None:
        codes = rng.integers(2, 60, (80, 120, 3), dtype=np.uint8)
        codes[20:40, 30:60] = brightest
        Image.fromarray(codes).save(folder / f".{name}")
        (folder / f".{name}").rename(folder / name)

    picture("before.png", 255)
    mark = len(sandbox.receiver.packets)
    words = ("--lamps", "pendant", "--folder", "card", "--region", "face=30,20,30,20")
    process = stills(sandbox, *words)
    sandbox.receiver.wait(dark, mark)
    picture("a.png", 10)
    picture("aa.png", 10)  # a second one of the same light is not taken for the next
    sandbox.receiver.wait(pendant_alone, mark)
    mark = len(sandbox.receiver.packets)
    picture("b.png", 255)
    sandbox.receiver.wait(lambda p: 0 < p.slots[PENDANT] < 250 and tuple(p.slots[:2]) == (0, 0), mark)
    picture("c.png", 200)
    assert "face is clipped in b.png: once more at 50 %" in ended(process)
    document = json.loads((folder / "stills.json").read_text())["stills"]
    assert [(s["file"], s["lamp"], s.get("output")) for s in document] == [
        ("a.png", None, None),
        ("c.png", "pendant", 0.5),
    ]


def test_without_an_engine_one_runs_as_long_as_the_stills(tmp_path: Path) -> None:
    folder = tmp_path / "alone"
    folder.mkdir()
    sandbox = Sandbox(folder)
    try:
        process = stills(sandbox, "--countdown", "0s", "--lamps", "pendant", "--to", "list.json")
        sandbox.receiver.wait(pendant_alone)
        ended(process)
        assert sandbox.status() is None
        assert len(json.loads((folder / "list.json").read_text())["stills"]) == 2
    finally:
        sandbox.close()
