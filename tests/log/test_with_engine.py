"""The log of a real engine: it holds what left on the wire, whatever kills the engine or fills the disk."""

from __future__ import annotations

import json
import os
import signal
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
import webvtt

from onecrew.log.logfile import read
from tests.process.sandbox import WAIT_S, Sandbox


@pytest.fixture
def sandbox(tmp_path: Path) -> Iterator[Sandbox]:
    sandbox = Sandbox(tmp_path)
    yield sandbox
    sandbox.close()


def log_of(sandbox: Sandbox) -> Path:
    return sandbox.folder / "show.log.jsonl"


def wait_for(sandbox: Sandbox, fits: Callable[[list[dict[str, Any]]], bool]) -> list[dict[str, Any]]:
    """The lines of the log as soon as they fit."""
    deadline = time.monotonic() + WAIT_S
    while True:
        path = log_of(sandbox)
        text = path.read_text(encoding="utf-8") if path.is_file() else ""
        lines = [json.loads(line) for line in text.split("\n")[:-1] if line.endswith("}")]
        if fits(lines):
            return lines
        assert time.monotonic() < deadline, text
        time.sleep(0.02)


def has(text: str) -> Callable[[list[dict[str, Any]]], bool]:
    return lambda lines: any(line["text"].startswith(text) for line in lines)


def line_of(sandbox: Sandbox, text: str) -> dict[str, Any]:
    """The first line that begins so, wherever it stands: what comes after it may be there already."""
    return next(line for line in wait_for(sandbox, has(text)) if line["text"].startswith(text))


def test_a_take_holds_the_slots_that_left_on_the_wire(sandbox: Sandbox) -> None:
    sandbox.engine()
    sandbox.send("recall", "1", "in", "0s")
    sandbox.send("set", "window", "level=37%", "cct=3456")
    sandbox.wait_status(lambda status: abs(status["lights"]["window"]["level"] - 0.37) < 1e-9)
    sandbox.send("take", "start", "12A")
    state = line_of(sandbox, "take 1 of setup 12A starts")["state"]
    heard = sandbox.receiver.wait(
        lambda packet: packet.slots[0] != 0, len(sandbox.receiver.packets) - 1
    ).slots
    for lamp in state["lamps"]:
        first = lamp["fixture"]["address"] - 1
        slots = lamp["sent"]["slots"]
        assert list(heard[first : first + len(slots)]) == slots


def test_a_killed_engine_loses_nothing_it_wrote_and_the_next_goes_on(sandbox: Sandbox) -> None:
    sandbox.engine()
    sandbox.send("recall", "1")
    sandbox.send("take", "start")
    before = wait_for(sandbox, has("take 1 of setup 1 starts"))
    status = sandbox.wait_status()
    os.kill(status["engine_pid"], signal.SIGKILL)
    lines = wait_for(sandbox, has("the engine is back, cue 1 Half goes on"))
    assert lines[: len(before)] == before
    assert [line["n"] for line in lines] == list(range(1, len(lines) + 1))
    sandbox.send("take", "end", "good")
    wait_for(sandbox, has("take 1 of setup 1 ends, good"))
    done = sandbox.run("log", str(sandbox.show), "--takes", "--json")
    [take] = json.loads(done.stdout)
    assert take["good"] and not take["cut_short"] and take["length_s"] > 0


def test_the_sheet_of_a_take_names_the_clip_of_the_camera(sandbox: Sandbox) -> None:
    sandbox.engine()
    sandbox.send("recall", "1")
    sandbox.send("take", "start")
    sandbox.send("take", "end")
    sandbox.send("take", "clip", "A003C012")
    wait_for(sandbox, has("take 1 of setup 1 is clip A003C012"))
    sheet = sandbox.show.with_suffix(".sheet.json")
    assert sandbox.run("sheet", str(sandbox.show), "--take", "1", "--to", str(sheet)).returncode == 0
    assert json.loads(sheet.read_text())["take"]["clip"] == "A003C012"


def test_a_torn_line_stays_alone(sandbox: Sandbox) -> None:
    log_of(sandbox).write_bytes(b'{"n":7,"at":"2026-01-05T14:02')
    sandbox.engine()
    sandbox.send("go")
    wait_for(sandbox, has("go: cue 1 Half"))
    assert [entry.kind for entry in read(log_of(sandbox))] == ["engine", "cue"]
    assert log_of(sandbox).read_bytes().startswith(b'{"n":7,"at":"2026-01-05T14:02\n{')


def test_a_log_that_cannot_be_written_touches_no_light_and_is_written_later(sandbox: Sandbox) -> None:
    log_of(sandbox).mkdir()  # also for a user who may write everywhere, a folder is no file
    sandbox.engine()
    status = sandbox.wait_status(lambda status: not status["logged"]["ok"])
    assert "the light goes on" in status["logged"]["error"]
    mark = len(sandbox.receiver.packets)
    sandbox.send("recall", "1", "in", "0s")
    sandbox.receiver.wait(lambda packet: packet.slots[0] != 0, mark)
    log_of(sandbox).rmdir()
    lines = wait_for(sandbox, has("recall: cue 1 Half"))
    assert [line["n"] for line in lines[:2]] == [1, 2]
    sandbox.wait_status(lambda status: bool(status["logged"]["ok"]))


def test_a_halt_of_every_process_is_told_and_the_light_goes_on(sandbox: Sandbox) -> None:
    sandbox.engine()
    sandbox.send("recall", "1", "in", "0s")
    successor, status = sandbox.successor(), sandbox.wait_status()
    pids = (status["supervisor_pid"], status["engine_pid"], successor)
    for pid in pids:
        os.kill(pid, signal.SIGSTOP)
    time.sleep(2.2)
    mark = len(sandbox.receiver.packets)
    for pid in pids:
        os.kill(pid, signal.SIGCONT)
    line = line_of(sandbox, "no frames left for")
    assert line["kind"] == "output" and line["seconds"] >= 2.1
    assert sandbox.receiver.wait(lambda packet: True, mark).slots[0] == 128
    assert sandbox.wait_status()["engine_pid"] == status["engine_pid"]


def test_a_log_that_is_moved_away_in_a_take_begins_anew_with_that_take(sandbox: Sandbox) -> None:
    sandbox.engine()
    sandbox.send("recall", "1", "in", "0s")
    sandbox.send("take", "start", "A")
    before = wait_for(sandbox, has("take 1 of setup A starts"))
    log_of(sandbox).rename(sandbox.folder / "aside")
    sandbox.send("take", "end", "good", "note", "door")
    lines = wait_for(sandbox, has("take 1 of setup A ends"))
    assert lines == [before[0], before[-1], line_of(sandbox, "take 1 of setup A ends")]
    done = sandbox.run("log", str(sandbox.show), "--takes", "--json")
    [take] = json.loads(done.stdout)
    assert take["good"] and take["notes"] == ["door"] and take["length_s"] is not None
    assert sandbox.run("stop", "--show", str(sandbox.show)).returncode == 0
    sandbox.engine()
    sandbox.send("take", "start", "A")
    wait_for(sandbox, has("take 2 of setup A starts"))


def test_stopping_is_the_last_line(sandbox: Sandbox) -> None:
    engine = sandbox.engine()
    sandbox.send("go")
    assert sandbox.run("stop", "--show", str(sandbox.show), "--fade", "0.1").returncode == 0
    engine.wait(WAIT_S)
    lines = wait_for(sandbox, bool)
    assert [line["text"] for line in lines][-2:] == [
        "stop: fade to black in 0.1 s",
        "the engine ends, the lights are out",
    ]


def test_sheets_and_cues_through_a_running_engine(sandbox: Sandbox) -> None:
    sandbox.engine()
    sandbox.send("recall", "2", "in", "0s")
    sandbox.send("take", "start", "7")
    wait_for(sandbox, has("take 1 of setup 7 starts"))
    for words in (
        ["--to", "now.html"],
        ["--take", "last", "--to", "take.json"],
        ["--cue", "1", "--to", "cue.md"],
    ):
        done = sandbox.run("sheet", str(sandbox.show), *words)
        assert done.returncode == 0, done.stderr
    take = json.loads((sandbox.folder / "take.json").read_text())
    assert take["take"]["setup"] == "7" and take["lamps"][0]["sent"]["level"] == 1.0
    assert sandbox.run("restore", "take.json", str(sandbox.show)).returncode == 0
    assert sandbox.wait_status()["undo"] == "add cue 4"
    made = sandbox.run("breakdown", str(sandbox.show), "--cue", "2", "--json")
    assert made.returncode == 0
    chain = json.loads(made.stdout)["build"]
    assert sandbox.wait_status()["undo"] == "add the scene Breakdown 2"
    sandbox.send("undo")
    sandbox.wait_status(lambda status: status["undo"] == "add cue 4")
    # As long as a take, and filmed: the log has the steps that were planned, in their order.
    sandbox.send("take", "end")
    sandbox.send("take", "start", "8", "from", "2")
    time.sleep(1.2 * len(chain))
    sandbox.send("take", "end", "good")
    assert sandbox.run("breakdown", str(sandbox.show), "--take", "last", "--vtt", "plan.vtt").returncode == 0
    first = chain[0]["number"]
    sandbox.send("countdown", "0.2", "take", "start", "breakdown", "from", "black", first)
    sandbox.wait_status(lambda status: status["cue"] == chain[-1]["number"] and status["fade"] is None)
    sandbox.send("take", "end")
    words = ["--take", "last", "--vtt", "film.vtt", "--fps", "25"]
    assert sandbox.run("log", str(sandbox.show), *words).returncode == 0
    planned, filmed = (webvtt.read(str(sandbox.folder / name)).captions for name in ("plan.vtt", "film.vtt"))
    ran = [one.text for one in filmed if "chain: cue" in one.text or "auto-follow: cue" in one.text]
    assert len(planned) == len(ran) == len(chain)
    for text, step in zip(ran, chain, strict=True):
        assert f"cue {step['number']} {step['name']}" in text


def test_following_prints_what_happens(sandbox: Sandbox) -> None:
    sandbox.engine()
    follower = sandbox.start("log", str(sandbox.show), "--follow")
    assert follower.stdout is not None
    assert "the engine starts" in follower.stdout.readline()
    sandbox.send("go")
    assert "go: cue 1 Half" in follower.stdout.readline()
