"""``ready``, the one line of ``onecrew engine``: who reads it finds the light up and everything open."""

from __future__ import annotations

import asyncio
import errno
import json
import os
import select
import socket
import subprocess
import threading
from itertools import islice
from pathlib import Path

import pytest

from onecrew.network.listen_faults import why_not
from tests.process.sandbox import WAIT_S, Sandbox, kill
from tests.process.test_faults_disk import INJECTED
from tests.process.test_osc import level
from tests.process.test_page import get, page_pid, wait, with_page


def says(process: subprocess.Popen[str], words: str) -> str:
    """The first line on standard error with these words."""
    return said(process, words, 1)[0]


def said(process: subprocess.Popen[str], words: str, count: int) -> list[str]:
    """The next lines on standard error with these words, so many of them."""
    assert process.stderr is not None
    lines = (line for line in process.stderr if words in line)
    found: list[str] = []
    reader = threading.Thread(target=lambda: found.extend(islice(lines, count)), daemon=True)
    reader.start()
    reader.join(WAIT_S)
    assert len(found) == count, f"{words!r} was not said so often"
    return found


def silent(process: subprocess.Popen[str]) -> bool:
    """Whether standard output has brought nothing so far."""
    assert process.stdout is not None
    return not select.select([process.stdout], [], [], 0)[0]


def next_line(process: subprocess.Popen[str]) -> str:
    assert process.stdout is not None
    assert select.select([process.stdout], [], [], WAIT_S)[0]
    return process.stdout.readline()


def test_the_first_packet_has_left(sandbox: Sandbox) -> None:
    sandbox.engine()
    sandbox.receiver.catch_up()
    assert sandbox.receiver.packets


def test_the_phone_page_answers(sandbox: Sandbox) -> None:
    port = with_page(sandbox)
    sandbox.engine()
    assert get(port)[0] == 403


def test_a_page_that_was_killed_is_no_open_door(sandbox: Sandbox) -> None:
    """It left word of where it listened, which the next engine must not take for a page."""
    port = with_page(sandbox)
    first = sandbox.engine()
    pids = [sandbox.wait_status()["engine_pid"], page_pid(sandbox)]
    first.kill()
    for pid in pids:
        assert pid is not None
        kill(pid)
    sandbox.engine()
    assert get(port)[0] == 403


def test_a_page_whose_port_is_taken_is_said_and_ready_comes_when_it_opens(sandbox: Sandbox) -> None:
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        port = with_page(sandbox, other.getsockname()[1])
        engine = sandbox.start("engine", str(sandbox.show))
        said = says(engine, "tried again until it opens, the light is up, and ready comes then")
        assert said.startswith(f"onecrew: the phone page cannot be served at 127.0.0.1:{port}: ")
        sandbox.send("recall", "1", "in", "0s")
        sandbox.receiver.wait(level(0.5))
        assert silent(engine)
    assert next_line(engine) == "ready\n"
    assert get(port)[0] == 403


def test_a_page_that_is_not_wanted_any_more_is_not_waited_for(sandbox: Sandbox) -> None:
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        with_page(sandbox, other.getsockname()[1])
        engine = sandbox.start("engine", str(sandbox.show))
        says(engine, "phone page")
        assert silent(engine)
        sandbox.send("remote", "page=off")
        assert next_line(engine) == "ready\n"


def test_a_feed_whose_port_is_taken_is_said_and_waited_for(sandbox: Sandbox, tmp_path: Path) -> None:
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        port = other.getsockname()[1]
        words = ("--feed", f"127.0.0.1:{port}", "--secret", str(tmp_path / "secret"))
        engine = sandbox.start("engine", str(sandbox.show), *words)
        assert f"onecrew: no standby can connect at 127.0.0.1:{port}" in says(engine, "ready comes then")
        assert silent(engine)
    assert next_line(engine) == "ready\n"
    with socket.create_connection(("127.0.0.1", port), timeout=WAIT_S) as caller:
        assert "feed" in json.loads(caller.makefile().readline())


def test_an_engine_that_follows_one_that_died_says_nothing_more(sandbox: Sandbox) -> None:
    engine = sandbox.engine()
    pid = sandbox.wait_status()["engine_pid"]
    kill(pid)
    wait(lambda: (sandbox.status() or {}).get("engine_pid") not in (None, pid))
    assert silent(engine)


def test_an_engine_that_follows_one_that_died_before_it_was_ready_is_the_one_that_says_it(
    sandbox: Sandbox,
) -> None:
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        with_page(sandbox, other.getsockname()[1])
        engine = sandbox.start("engine", str(sandbox.show))
        says(engine, "ready comes then")
        kill(sandbox.wait_status()["engine_pid"])
        says(engine, "ready comes then")
        assert silent(engine)
    assert next_line(engine) == "ready\n"


def test_where_every_engine_dies_before_it_is_ready_nobody_waits_for_ever(
    sandbox: Sandbox, tmp_path: Path
) -> None:
    faults = tmp_path / "faults"
    faults.mkdir()
    (faults / "dies").touch()
    sandbox.env |= {"PYTHONPATH": str(INJECTED), "ONECREW_TEST_FAULTS": str(faults)}
    done = sandbox.run("engine", str(sandbox.show))
    assert (done.returncode, done.stdout) == (1, "")
    assert "times in a row and was given up" in done.stderr.splitlines()[-1]


def test_a_port_that_is_taken_is_said_once_in_plain_words() -> None:
    """asyncio puts address and reason into words of its own, which would repeat what the sentence says."""
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()

        async def listen() -> None:
            loop = asyncio.get_running_loop()
            await loop.create_server(asyncio.Protocol, *other.getsockname())

        with pytest.raises(OSError) as caught:
            asyncio.run(listen())
    assert why_not(caught.value) == f"{os.strerror(errno.EADDRINUSE)}; free the port or choose another"
