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
from tests.process.house import WAIT_S, House


@pytest.fixture
def house(tmp_path: Path) -> Iterator[House]:
    house = House(tmp_path)
    yield house
    house.close()


def log_of(house: House) -> Path:
    return house.folder / "show.log.jsonl"


def wait_for(house: House, fits: Callable[[list[dict[str, Any]]], bool]) -> list[dict[str, Any]]:
    """The lines of the log as soon as they fit."""
    deadline = time.monotonic() + WAIT_S
    while True:
        path = log_of(house)
        text = path.read_text(encoding="utf-8") if path.is_file() else ""
        lines = [json.loads(line) for line in text.split("\n")[:-1] if line.endswith("}")]
        if fits(lines):
            return lines
        assert time.monotonic() < deadline, text
        time.sleep(0.02)


def has(text: str) -> Callable[[list[dict[str, Any]]], bool]:
    return lambda lines: any(line["text"].startswith(text) for line in lines)


def test_a_take_holds_the_slots_that_left_on_the_wire(house: House) -> None:
    house.engine()
    house.send("recall", "1", "in", "0s")
    house.send("set", "window", "level=37%", "cct=3456")
    house.wait_status(lambda status: abs(status["lights"]["window"]["level"] - 0.37) < 1e-9)
    house.send("take", "start", "12A")
    lines = wait_for(house, has("take 1 of setup 12A starts"))
    state = lines[-1]["state"]
    heard = house.ear.wait(lambda packet: packet.slots[0] != 0, len(house.ear.packets) - 1).slots
    for lamp in state["lamps"]:
        first = lamp["fixture"]["address"] - 1
        slots = lamp["sent"]["slots"]
        assert list(heard[first : first + len(slots)]) == slots


def test_a_killed_engine_loses_nothing_it_wrote_and_the_next_goes_on(house: House) -> None:
    house.engine()
    house.send("recall", "1")
    house.send("take", "start")
    before = wait_for(house, has("take 1 of setup 1 starts"))
    status = house.wait_status()
    os.kill(status["engine_pid"], signal.SIGKILL)
    lines = wait_for(house, has("the engine is back, cue 1 Half goes on"))
    assert lines[: len(before)] == before
    assert [line["n"] for line in lines] == list(range(1, len(lines) + 1))
    house.send("take", "end", "good")
    wait_for(house, has("take 1 of setup 1 ends, good"))
    done = house.run("log", str(house.show), "--takes", "--json")
    [take] = json.loads(done.stdout)
    assert take["good"] and not take["cut_short"] and take["length_s"] > 0


def test_the_sheet_of_a_take_names_the_clip_of_the_camera(house: House) -> None:
    house.engine()
    house.send("recall", "1")
    house.send("take", "start")
    house.send("take", "end")
    house.send("take", "clip", "A003C012")
    wait_for(house, has("take 1 of setup 1 is clip A003C012"))
    sheet = house.show.with_suffix(".sheet.json")
    assert house.run("sheet", str(house.show), "--take", "1", "--to", str(sheet)).returncode == 0
    assert json.loads(sheet.read_text())["take"]["clip"] == "A003C012"


def test_a_torn_line_stays_alone(house: House) -> None:
    log_of(house).write_bytes(b'{"n":7,"at":"2026-01-05T14:02')
    house.engine()
    house.send("go")
    wait_for(house, has("go: cue 1 Half"))
    assert [entry.kind for entry in read(log_of(house))] == ["engine", "cue"]
    assert log_of(house).read_bytes().startswith(b'{"n":7,"at":"2026-01-05T14:02\n{')


def test_a_log_that_cannot_be_written_touches_no_light_and_is_written_later(house: House) -> None:
    log_of(house).mkdir()  # also for a user who may write everywhere, a folder is no file
    house.engine()
    status = house.wait_status(lambda status: not status["logged"]["ok"])
    assert "the light goes on" in status["logged"]["error"]
    mark = len(house.ear.packets)
    house.send("recall", "1", "in", "0s")
    house.ear.wait(lambda packet: packet.slots[0] != 0, mark)
    log_of(house).rmdir()
    lines = wait_for(house, has("recall: cue 1 Half"))
    assert [line["n"] for line in lines[:2]] == [1, 2]
    house.wait_status(lambda status: bool(status["logged"]["ok"]))


def test_stopping_is_the_last_line(house: House) -> None:
    engine = house.engine()
    house.send("go")
    assert house.run("stop", "--show", str(house.show), "--fade", "0.1").returncode == 0
    engine.wait(WAIT_S)
    lines = wait_for(house, bool)
    assert [line["text"] for line in lines][-2:] == [
        "stop: fade to black in 0.1 s",
        "the engine ends, the lights are out",
    ]


def test_sheets_and_cues_through_a_running_engine(house: House) -> None:
    house.engine()
    house.send("recall", "2", "in", "0s")
    house.send("take", "start", "7")
    wait_for(house, has("take 1 of setup 7 starts"))
    for words in (
        ["--to", "now.html"],
        ["--take", "last", "--to", "take.json"],
        ["--cue", "1", "--to", "cue.md"],
    ):
        done = house.run("sheet", str(house.show), *words)
        assert done.returncode == 0, done.stderr
    take = json.loads((house.folder / "take.json").read_text())
    assert take["take"]["setup"] == "7" and take["lamps"][0]["sent"]["level"] == 1.0
    assert house.run("restore", "take.json", str(house.show)).returncode == 0
    assert house.wait_status()["undo"] == "add cue 4"
    made = house.run("breakdown", str(house.show), "--cue", "2", "--json")
    assert made.returncode == 0
    chain = json.loads(made.stdout)["build"]
    assert house.wait_status()["undo"] == "add the scene Breakdown 2"
    house.send("undo")
    house.wait_status(lambda status: status["undo"] == "add cue 4")
    # As long as a take, and filmed: the log has the steps that were planned, in their order.
    house.send("take", "end")
    house.send("take", "start", "8", "from", "2")
    time.sleep(1.2 * len(chain))
    house.send("take", "end", "good")
    assert house.run("breakdown", str(house.show), "--take", "last", "--vtt", "plan.vtt").returncode == 0
    first = chain[0]["number"]
    house.send("countdown", "0.2", "take", "start", "breakdown", "from", "black", first)
    house.wait_status(lambda status: status["cue"] == chain[-1]["number"] and status["fade"] is None)
    house.send("take", "end")
    words = ("--take", "last", "--vtt", "film.vtt", "--fps", "25")
    assert house.run("log", str(house.show), *words).returncode == 0
    planned, filmed = (webvtt.read(str(house.folder / name)).captions for name in ("plan.vtt", "film.vtt"))
    ran = [one.text for one in filmed if "chain: cue" in one.text or "auto-follow: cue" in one.text]
    assert len(planned) == len(ran) == len(chain)
    for text, step in zip(ran, chain, strict=True):
        assert f"cue {step['number']} {step['name']}" in text


def test_following_prints_what_happens(house: House) -> None:
    house.engine()
    follower = house.start("log", str(house.show), "--follow")
    assert follower.stdout is not None
    assert "the engine starts" in follower.stdout.readline()
    house.send("go")
    assert "go: cue 1 Half" in follower.stdout.readline()
