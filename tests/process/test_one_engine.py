"""Two engines never have one show, whatever folders each keeps its own files in; and no lock is left over."""

from __future__ import annotations

import shutil
import signal
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.process.sandbox import WAIT_S, Sandbox, kill


@pytest.fixture
def sandbox(tmp_path: Path) -> Iterator[Sandbox]:
    sandbox = Sandbox(tmp_path)
    yield sandbox
    sandbox.close()


def elsewhere(sandbox: Sandbox, *kinds: str) -> dict[str, str]:
    """The sandbox's environment with other folders of these kinds."""
    moved = dict(sandbox.env)
    for kind in kinds:
        folder = sandbox.folder / "elsewhere" / kind.lower()
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        moved[f"XDG_{kind}"] = str(folder)
    return moved


def second(sandbox: Sandbox, show: Path, *kinds: str) -> subprocess.CompletedProcess[str]:
    """Another engine on the show, to its end: it has to refuse."""
    return subprocess.run(
        sandbox.command("engine", str(show)),
        env=elsewhere(sandbox, *kinds),
        cwd=sandbox.folder,
        capture_output=True,
        text=True,
        timeout=WAIT_S,
        stdin=subprocess.DEVNULL,
    )


@pytest.mark.parametrize("kinds", [("RUNTIME_DIR",), ("RUNTIME_DIR", "STATE_HOME")], ids=str)
@pytest.mark.parametrize("link", [False, True], ids=["same name", "hard link"])
def test_a_second_engine_with_other_folders_is_refused_in_a_sentence(
    sandbox: Sandbox, kinds: tuple[str, ...], link: bool
) -> None:
    show = sandbox.show
    if link:
        show = sandbox.folder / "link.json"
        show.hardlink_to(sandbox.show)
    sandbox.engine()
    status = sandbox.wait_status()
    told = second(sandbox, show, *kinds)
    assert told.returncode == 1
    [sentence] = told.stderr.splitlines()
    assert "is held by an engine" in sentence and f"(process {status['engine_pid']})" in sentence
    assert "Traceback" not in told.stderr
    sandbox.send("recall", "1", "in", "0s")
    assert sandbox.wait_status(lambda status: status["cue"] == "1")["engine_pid"] == status["engine_pid"]


def test_it_is_refused_also_after_the_show_was_saved(sandbox: Sandbox) -> None:
    sandbox.engine()
    before = sandbox.show.stat().st_ino
    sandbox.send("store", "77", "Saved")
    sandbox.wait_status(lambda status: bool(status["saved"]["ok"]) and sandbox.show.stat().st_ino != before)
    assert "is held by an engine" in second(sandbox, sandbox.show, "RUNTIME_DIR", "STATE_HOME").stderr


def test_runs_that_would_start_an_engine_in_other_folders_say_so(sandbox: Sandbox) -> None:
    sandbox.engine()
    told = subprocess.run(
        sandbox.command("probe", str(sandbox.show), "1.101", "--slots", "2"),
        env=elsewhere(sandbox, "RUNTIME_DIR"),
        cwd=sandbox.folder,
        capture_output=True,
        text=True,
        timeout=WAIT_S,
        stdin=subprocess.DEVNULL,
    )
    assert told.returncode != 0 and "Traceback" not in told.stderr
    assert "is held by an engine" in told.stderr


def test_no_lock_is_left_when_everything_is_killed(sandbox: Sandbox) -> None:
    first = sandbox.engine()
    status = sandbox.wait_status()
    kill(status["supervisor_pid"] or first.pid)
    kill(status["engine_pid"])
    first.wait(WAIT_S)
    shutil.rmtree(sandbox.folder / "runtime_dir")
    (sandbox.folder / "runtime_dir").mkdir(mode=0o700)
    sandbox.engine()
    assert sandbox.wait_status()["engine_pid"] != status["engine_pid"]


def test_an_engine_in_the_place_of_a_dead_one_has_the_show(sandbox: Sandbox) -> None:
    sandbox.engine()
    dead = sandbox.wait_status()["engine_pid"]
    kill(dead)
    status = sandbox.wait_status(lambda status: status["engine_pid"] != dead)
    told = second(sandbox, sandbox.show, "RUNTIME_DIR", "STATE_HOME")
    assert f"(process {status['engine_pid']})" in told.stderr


@pytest.mark.parametrize("kinds", [("RUNTIME_DIR",), ("RUNTIME_DIR", "STATE_HOME")], ids=str)
def test_the_show_is_held_where_it_was_put_there_anew_a_moment_ago(
    sandbox: Sandbox, kinds: tuple[str, ...]
) -> None:
    """Nobody has looked at the file that an editor put in the place, but not all is new there: what plays is
    kept in one file, where the folder of the state is one, and the folder of versions is there from the first
    start on, also of a show that was never saved."""
    sandbox.engine()
    fresh = sandbox.folder / "fresh.json"
    fresh.write_bytes(sandbox.show.read_bytes())
    pid = sandbox.wait_status()["engine_pid"]
    kill(pid, signal.SIGSTOP)
    try:
        fresh.replace(sandbox.show)
        told = second(sandbox, sandbox.show, *kinds)
    finally:
        kill(pid, signal.SIGCONT)
    assert f"{sandbox.show} is held by an engine" in told.stderr


def test_a_show_that_is_not_there_gets_no_folder(sandbox: Sandbox) -> None:
    sandbox.show.unlink()
    assert second(sandbox, sandbox.show, "RUNTIME_DIR", "STATE_HOME").returncode == 1
    assert not [path.name for path in sandbox.folder.iterdir() if "show" in path.name]


def test_an_engine_whose_runtime_folder_is_cleared_is_found_again(sandbox: Sandbox) -> None:
    sandbox.engine()
    status = sandbox.wait_status()
    shutil.rmtree(sandbox.folder / "runtime_dir" / "onecrew")
    assert sandbox.wait_status()["engine_pid"] == status["engine_pid"]
    assert (sandbox.folder / "runtime_dir" / "onecrew").stat().st_mode & 0o077 == 0
    assert sandbox.run("send", "--show", str(sandbox.show), "recall", "1").returncode == 0
    told = sandbox.run("engine", str(sandbox.show))  # the lock there is a new one
    words = f"an engine already runs for {sandbox.show} (process {status['engine_pid']}): `onecrew open "
    assert (told.returncode, words in told.stderr) == (1, True), told.stderr
    kill(status["engine_pid"])
    sandbox.wait_status(lambda now: now["engine_pid"] != status["engine_pid"] and now["cue"] == "1")


def test_a_lock_that_cannot_be_taken_is_a_sentence(sandbox: Sandbox) -> None:
    engine = sandbox.engine()
    assert sandbox.run("stop", "--fade", "0s").returncode == 0
    engine.wait(WAIT_S)
    [lock] = sandbox.folder.rglob("*.lock")
    lock.unlink()
    lock.mkdir()
    told = sandbox.run("engine", str(sandbox.show))
    assert told.returncode == 1
    [sentence] = told.stderr.splitlines()
    assert f"the lock {lock} cannot be taken" in sentence


def test_an_engine_whose_show_went_elsewhere_and_left_a_link_is_still_reached(sandbox: Sandbox) -> None:
    engine = sandbox.engine()
    pid = sandbox.wait_status()["engine_pid"]
    moved = sandbox.folder / "moved.json"
    sandbox.show.rename(moved)
    sandbox.show.symlink_to(moved)
    for words in ([], ["--show", str(sandbox.show)]):
        status = sandbox.run("status", *words)
        assert status.returncode == 0 and f"engine {pid}" in status.stdout, status.stderr
    assert sandbox.run("stop", "--fade", "0s").returncode == 0
    assert engine.wait(WAIT_S) == 0
