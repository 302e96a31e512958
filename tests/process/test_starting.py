"""Starting: two at the same moment share one engine; an engine that will not come up says why."""

from __future__ import annotations

import subprocess
import sys

import pytest

from tests.process.sandbox import WAIT_S, Sandbox, kill

TWO = """
import asyncio, sys
from onecrew.engine.client import Client
from onecrew.errors import OnecrewError

async def attach():
    try:
        client = await Client.attach(sys.argv[1])
    except OnecrewError as error:
        print(error)
        return
    print("attached to", client.snapshot.engine_pid)
    await client.close()

async def both():
    await asyncio.gather(attach(), attach())

asyncio.run(both())
"""


def two_at_once(sandbox: Sandbox) -> list[str]:
    """What two say who attach at the same moment, each starting an engine since none runs yet."""
    process = sandbox.popen([sys.executable, "-c", TWO, str(sandbox.show)])
    out, err = process.communicate(timeout=WAIT_S)
    assert (process.returncode, err) == (0, "")
    return out.splitlines()


def test_two_who_open_a_show_at_the_same_moment_share_one_engine(sandbox: Sandbox) -> None:
    first, second = two_at_once(sandbox)
    assert first == second == f"attached to {sandbox.wait_status()['engine_pid']}"


def test_two_who_open_a_faulty_show_are_both_told_its_fault(sandbox: Sandbox) -> None:
    sandbox.show.write_text("{")
    said = two_at_once(sandbox)
    assert said
    assert all(str(sandbox.show) in line and "already runs" not in line for line in said)


def opened(sandbox: Sandbox) -> subprocess.CompletedProcess[str]:
    """``onecrew open`` in a terminal of its own where the screens say only what they are attached to."""
    script = (
        "import asyncio, sys\n"
        "from onecrew.cli import main, shows\n"
        "from onecrew.engine.client import Client\n"
        "def run(path, **_):\n"
        "    client = asyncio.run(Client.attach(path))\n"
        "    print('attached to', client.snapshot.engine_pid, client.snapshot.cue)\n"
        "shows.run = run\n"
        "shows.has_terminal = lambda: True\n"
        "sys.exit(main(['open', sys.argv[1]]))\n"
    )
    return subprocess.run(
        [sys.executable, "-c", script, str(sandbox.show)],
        env=sandbox.env,
        cwd=sandbox.folder,
        capture_output=True,
        text=True,
        timeout=WAIT_S,
        stdin=subprocess.DEVNULL,
    )


@pytest.mark.parametrize("spoil", ["damaged", "gone"])
@pytest.mark.parametrize("engine", ["runs", "died"])
def test_open_reaches_a_show_in_memory_whatever_became_of_its_file(
    sandbox: Sandbox, spoil: str, engine: str
) -> None:
    process = sandbox.engine()
    sandbox.send("recall", "1", "in", "0s")
    status = sandbox.wait_status(lambda status: status["cue"] == "1")
    if engine == "died":
        kill(process.pid)
        kill(status["engine_pid"])
        process.wait(WAIT_S)
    if spoil == "damaged":
        sandbox.show.write_text(sandbox.show.read_text()[:-40])
    else:
        sandbox.show.unlink()
    done = opened(sandbox)
    assert (done.returncode, done.stderr) == (0, "")
    now = sandbox.wait_status()
    assert done.stdout == f"attached to {now['engine_pid']} 1\n"
    assert (now["engine_pid"] == status["engine_pid"]) is (engine == "runs")


@pytest.mark.parametrize("spoil", ["damaged", "a folder, then gone"])
def test_open_reaches_what_an_engine_that_was_stopped_could_not_save(sandbox: Sandbox, spoil: str) -> None:
    process = sandbox.engine()
    sandbox.show.unlink()
    if spoil == "damaged":
        sandbox.show.write_text("{")
    else:
        sandbox.show.mkdir()
    sandbox.tell(kind="rename", name="Not in its file")
    assert sandbox.run("stop", "--show", str(sandbox.show), "--yes", "--fade", "0s").returncode == 0
    assert process.wait(WAIT_S) == 0
    if spoil != "damaged":
        sandbox.show.rmdir()
    done = opened(sandbox)
    assert (done.returncode, done.stderr) == (0, "")
    assert sandbox.wait_status()["show"] == "Not in its file"


@pytest.mark.parametrize("spoil", ["damaged", "gone"])
def test_open_refuses_a_show_that_nobody_has_in_memory(sandbox: Sandbox, spoil: str) -> None:
    if spoil == "damaged":
        sandbox.show.write_text("{")
    else:
        sandbox.show.unlink()
    done = opened(sandbox)
    assert (done.returncode, done.stdout) == (1, "")
    assert str(sandbox.show) in done.stderr
    assert sandbox.endpoint() is None
