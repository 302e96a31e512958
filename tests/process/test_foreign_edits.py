"""The show's file is changed from outside while the engine runs: told at once, offered, never overwritten."""

from __future__ import annotations

import json
import os
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from tests.process.sandbox import SHOW, WAIT_S, Sandbox


@pytest.fixture
def running(sandbox: Sandbox) -> Iterator[Sandbox]:
    sandbox.engine()
    sandbox.tell(kind="rename", name="Ours")
    sandbox.wait_status(lambda status: status["saved"]["ok"])
    until_file_has(sandbox, "Ours")
    yield sandbox


def until_file_has(sandbox: Sandbox, name: str) -> None:
    deadline = time.monotonic() + WAIT_S
    while name not in sandbox.show.read_text():
        assert time.monotonic() < deadline
        time.sleep(0.02)


def edit_outside(sandbox: Sandbox, **fields: object) -> str:
    """Another program changes the show; the engine says so without being asked."""
    document = json.loads(sandbox.show.read_text()) | fields
    sandbox.show.write_text(json.dumps(document))
    status = sandbox.wait_status(lambda status: not status["saved"]["ok"])
    return str(status["saved"]["error"])


def test_a_valid_edit_is_offered_and_taken_in_and_can_be_undone(running: Sandbox) -> None:
    assert "changed by another program and is not overwritten" in edit_outside(running, name="Theirs")
    running.send("file", "take")
    assert running.wait_status(lambda status: status["saved"]["ok"])["show"] == "Theirs"
    running.send("undo")
    assert running.wait_status(lambda status: status["saved"]["ok"])["show"] == "Ours"


def test_edits_of_both_sides_are_both_there_and_ours_goes_into_the_file_when_asked(running: Sandbox) -> None:
    edit_outside(running, name="Theirs")
    running.tell(kind="rename", name="Ours, later")
    assert "Theirs" in running.show.read_text()
    running.send("file", "keep")
    running.wait_status(lambda status: status["saved"]["ok"])
    until_file_has(running, "Ours, later")
    versions = sorted((running.folder / ".show.json.versions").iterdir())
    assert "Theirs" in [json.loads(version.read_text())["name"] for version in versions]


def test_a_damaged_file_is_told_at_once_and_well_again_when_it_is_mended(running: Sandbox) -> None:
    whole = running.show.read_text()
    running.show.write_text(whole[: len(whole) // 2])
    status = running.wait_status(lambda status: not status["saved"]["ok"])
    assert "no longer reads as a show" in status["saved"]["error"]
    refused = running.run("send", "file", "take")
    assert refused.returncode == 1 and "no longer reads" in refused.stderr
    running.show.write_text(whole)
    running.wait_status(lambda status: status["saved"]["ok"])


def test_a_file_that_goes_is_written_again(running: Sandbox) -> None:
    running.show.unlink()
    deadline = time.monotonic() + WAIT_S
    while not running.show.exists():
        assert time.monotonic() < deadline
        time.sleep(0.02)
    assert running.wait_status()["show"] == "Ours"


def test_where_nobody_changed_anything_there_is_nothing_to_settle(running: Sandbox) -> None:
    for words in ("take", "keep"):
        refused = running.run("send", "file", words)
        assert refused.returncode == 1 and "there is nothing to load" in refused.stderr
    document = json.loads(running.show.read_text())
    running.show.write_text(json.dumps(document, indent=7))  # the same show, written another way
    time.sleep(0.0)
    running.tell(kind="rename", name="Ours, later")
    running.wait_status(lambda status: status["show"] == "Ours, later")
    assert SHOW["name"] not in running.show.read_text()


def test_a_kept_version_is_brought_back_and_that_is_undone(running: Sandbox) -> None:
    running.tell(kind="rename", name="Later")
    until_file_has(running, "Later")
    versions = (running.folder / ".show.json.versions").glob("v[0-9]*.json")
    names = {json.loads(version.read_text())["name"]: int(version.stem[1:]) for version in versions}
    running.send("version", str(names["Ours"]))
    assert running.wait_status(lambda status: status["saved"]["ok"])["show"] == "Ours"
    until_file_has(running, "Ours")
    running.send("undo")
    assert running.wait_status(lambda status: status["show"] == "Later")
    refused = running.run("send", "version", "999999")
    assert refused.returncode == 1 and "there is no version 999999" in refused.stderr


@pytest.mark.parametrize("put", [os.mkdir, os.mkfifo], ids=["folder", "pipe"])
def test_what_is_no_file_in_its_place_is_told_at_once_and_the_show_written_when_it_is_gone(
    running: Sandbox, put: Callable[[Path], None]
) -> None:
    running.show.unlink()
    put(running.show)
    error = running.wait_status(lambda status: not status["saved"]["ok"])["saved"]["error"]
    assert "a folder stands in its place" in error or "it is not a plain file" in error
    running.tell(kind="rename", name="Ours, later")
    refused = running.run("stop", "--show", str(running.show))
    assert refused.returncode == 1 and "is not saved" in refused.stderr
    running.show.rmdir() if running.show.is_dir() else running.show.unlink()
    running.wait_status(lambda status: status["saved"]["ok"])
    until_file_has(running, "Ours, later")


@pytest.mark.parametrize(
    "spoil", [lambda show: show.write_text("{ no show"), Path.unlink], ids=["damaged", "gone"]
)
def test_a_file_spoilt_just_before_the_end_costs_nothing(
    running: Sandbox, spoil: Callable[[Path], object]
) -> None:
    [engine] = running.processes()
    spoil(running.show)
    assert running.run("stop", "--yes", "--fade", "0s").returncode == 0
    assert engine.wait(WAIT_S) == 0
    running.engine()
    status = running.wait_status()
    assert status["show"] == "Ours" and status["cue"] is None
    if running.show.read_text() == "{ no show":
        assert "the show in memory goes on" in status["message"]
