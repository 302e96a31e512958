"""Where an engine keeps its address: in a folder that is the user's alone, or nowhere."""

from __future__ import annotations

import asyncio
import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from onecrew.engine import endpoint
from onecrew.engine.endpoint import files_of, is_alive
from onecrew.errors import Trouble


@pytest.fixture(autouse=True)
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    for kind in ("RUNTIME_DIR", "STATE_HOME", "CACHE_HOME"):
        folder = tmp_path / kind.lower()
        folder.mkdir(mode=0o700)
        monkeypatch.setenv(f"XDG_{kind}", str(folder))
    return tmp_path


def test_folders_are_made_for_the_user_alone(home: Path) -> None:
    files = files_of(home / "show.json")
    for path in (files.endpoint, files.live):
        assert path.parent.stat().st_mode & 0o077 == 0


def test_a_file_in_the_place_of_the_folder_is_a_sentence(home: Path) -> None:
    (home / "runtime_dir" / "onecrew").write_text("planted")
    with pytest.raises(Trouble, match="cannot be made"):
        files_of(home / "show.json")


@pytest.mark.parametrize("error", [PermissionError("it belongs to another user"), RuntimeError("mode 0777")])
def test_whatever_the_library_says_of_it_is_a_sentence(
    error: Exception, home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*_: object, **__: object) -> Path:
        raise error

    monkeypatch.setattr(endpoint, "user_runtime_path", refuse)
    with pytest.raises(Trouble, match=f"{error}.*folder of your own"):
        files_of(home / "show.json")


SOUND = {"show": "/s.json", "port": 4711, "token": "t", "pid": 4711, "supervisor_pid": 4710, "version": "1"}


def test_an_endpoint_is_read_as_it_was_written(home: Path) -> None:
    path = home / "key.json"
    path.write_text(json.dumps(SOUND))
    assert endpoint.read_endpoint(path) == endpoint.Endpoint("/s.json", 4711, "t", 4711, 4710, "1")


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("pid", "1"), ("pid", True), ("pid", 1.0), ("pid", None), ("pid", 0), ("pid", -1), ("pid", 10**30),
        ("supervisor_pid", -1), ("supervisor_pid", "1"), ("port", "1"), ("port", 0), ("port", 65536),
        ("token", 5), ("show", 5), ("show", "a\0b"), ("version", None), ("more", 1),
    ],
)  # fmt: skip
def test_an_endpoint_that_makes_no_sense_is_none(field: str, value: object, home: Path) -> None:
    path = home / "key.json"
    path.write_text(json.dumps({**SOUND, field: value}))
    assert endpoint.read_endpoint(path) is None


@pytest.mark.parametrize("content", [b"", b"[" * 100_000, b"\xff", b"5", b'"pid"'])
def test_a_file_that_is_no_endpoint_is_none(content: bytes, home: Path) -> None:
    (home / "key.json").write_bytes(content)
    assert endpoint.read_endpoint(home / "key.json") is None


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="there are no pipes with a name here")
def test_a_pipe_in_the_place_of_an_endpoint_keeps_nobody_waiting(home: Path) -> None:
    os.mkfifo(home / "key.json")
    assert endpoint.read_endpoint(home / "key.json") is None


def test_an_engine_that_ends_while_its_folder_is_gone_takes_away_the_endpoint_that_stands_in_for_it(
    home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    own, other = home / "runtime_dir" / "onecrew" / "key.json", home / "another" / "onecrew" / "key.json"
    endpoint.announce(other, endpoint.Endpoint("show.json", 4711, "token", os.getpid(), None))
    monkeypatch.setattr(endpoint, "user_runtime_path", lambda *_, **__: other.parent)
    endpoint.remove_endpoint(own, os.getpid() + 1)
    assert other.exists(), "it is that of another engine"
    endpoint.remove_endpoint(own, os.getpid())
    assert not other.exists()


def test_an_endpoint_is_put_where_clients_look_as_long_as_its_folder_is_gone_and_back_when_it_is_back(
    home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    own, other = home / "runtime_dir" / "onecrew", home / "another" / "onecrew"
    told = endpoint.Endpoint(str(home / "show.json"), 4711, "token", os.getpid(), None)
    looks: list[list[bool]] = []

    async def look(_: float) -> None:
        """Instead of waiting a second: what is there, and then what becomes of the folder."""
        looks.append([(folder / "key.json").exists() for folder in (own, other)])
        if len(looks) == 1:
            shutil.rmtree(own.parent)
            monkeypatch.setattr(endpoint, "user_runtime_path", lambda *_, **__: other)
        elif len(looks) == 2:
            own.parent.mkdir(mode=0o700)
            monkeypatch.setattr(endpoint, "user_runtime_path", lambda *_, **__: own)
        elif len(looks) == 4:
            raise asyncio.CancelledError

    monkeypatch.setattr(asyncio, "sleep", look)
    endpoint.announce(own / "key.json", told)
    with pytest.raises(asyncio.CancelledError):
        asyncio.run(endpoint.stay_announced(own / "key.json", told))
    assert looks == [[True, False], [False, True], [True, True], [True, True]]
    assert endpoint.read_endpoint(own / "key.json") == endpoint.read_endpoint(other / "key.json") == told


def test_a_process_that_has_ended_is_not_alive_though_its_parent_has_not_looked() -> None:
    reading, writing = os.pipe()  # held by the child alone: at its end it has ended
    child = subprocess.Popen([sys.executable, "-c", "input()"], stdin=subprocess.PIPE, pass_fds=(writing,))
    os.close(writing)
    try:
        assert is_alive(child.pid)
        child.kill()
        assert os.read(reading, 1) == b""
        os.waitid(os.P_PID, child.pid, os.WEXITED | os.WNOWAIT)  # ended, and not looked after
        assert not is_alive(child.pid)
    finally:
        os.close(reading)
        child.communicate()
    assert not is_alive(child.pid)
