"""What only a real process shows: pipes that close, signals, a walk from an empty show to a recalled look."""

from __future__ import annotations

import json
import signal
import subprocess
import sys

import psutil
import pytest

from tests.process.sandbox import WAIT_S, Sandbox

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="POSIX signals and pipes")


def test_a_reader_that_goes_away_is_no_fault(sandbox: Sandbox) -> None:
    process = sandbox.start("schema")
    assert process.stdout is not None and process.stderr is not None
    process.stdout.read(10)
    process.stdout.close()
    assert process.wait(WAIT_S) in (0, 1)
    assert process.stderr.read() == ""
    process.stdout = None


def test_what_cannot_be_written_is_said_and_a_closed_stream_is_no_fault(sandbox: Sandbox) -> None:
    words = sandbox.command("profiles")
    full = sandbox.popen(["/bin/sh", "-c", 'exec "$@" >/dev/full', "sh", *words])
    _, err = full.communicate(timeout=WAIT_S)
    assert full.returncode == 1 and err.startswith("onecrew: not all could be written (no space left")
    assert err.count("\n") == 1
    closed = sandbox.popen(["/bin/sh", "-c", 'exec "$@" >&-', "sh", *words])
    _, err = closed.communicate(timeout=WAIT_S)
    assert (closed.returncode, err) == (0, "")
    sandbox.engine()
    nothing = sandbox.popen(["/bin/sh", "-c", 'exec "$@" <&-', "sh", *sandbox.command("send", "-")])
    _, err = nothing.communicate(timeout=WAIT_S)
    assert "should not have happened" not in err


@pytest.mark.parametrize("how", [signal.SIGINT, signal.SIGTERM])
def test_watch_ends_quietly_with_its_last_view(how: signal.Signals, sandbox: Sandbox) -> None:
    process = sandbox.start("watch", "--port", str(free_port()))
    assert process.stdout is not None
    assert process.stdout.readline().startswith("listening")
    process.send_signal(how)
    out, err = process.communicate(timeout=WAIT_S)
    assert (process.returncode, err) == (0, "")
    assert out.startswith("0 packets")


def test_sigterm_ends_what_a_shell_started_with_ctrl_c_ignored(sandbox: Sandbox) -> None:
    # POSIX shell command language 2.11: without job control, SIGINT is ignored in asynchronous lists.
    words = sandbox.command("watch", "--port", str(free_port()))
    process = sandbox.popen(["/bin/sh", "-c", "trap '' INT; exec \"$@\"", "sh", *words])
    assert process.stdout is not None
    assert process.stdout.readline().startswith("listening")
    process.send_signal(signal.SIGTERM)
    out, err = process.communicate(timeout=WAIT_S)
    assert (process.returncode, err) == (0, "")
    assert "0 packets" in out


def free_port() -> int:
    import socket

    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as sock:
        sock.bind(("0.0.0.0", 0))
        return int(sock.getsockname()[1])


@pytest.mark.parametrize("when", ["early", "in a fade"])
def test_demo_ended_by_a_signal_leaves_no_engine_and_no_folder(when: str, sandbox: Sandbox) -> None:
    folder = sandbox.folder / "temporary"
    folder.mkdir()
    sandbox.env["TMPDIR"] = str(folder)
    process = sandbox.start("demo", "--headless")
    if when == "early":  # the engine is not up yet
        assert process.stdout is not None
        assert process.stdout.readline().startswith("The Night Baker")
    else:
        sandbox.wait_status(lambda status: status["cue"] == "1")
    process.send_signal(signal.SIGTERM)
    _, err = process.communicate(timeout=WAIT_S)
    assert (process.returncode, err) == (1, "")
    assert sandbox.endpoint() is None
    assert list(folder.iterdir()) == []
    commands = [" ".join(other.info["cmdline"] or ()) for other in psutil.process_iter(["cmdline"])]
    assert not [command for command in commands if str(folder) in command]


WALK = """
# from an empty show to a look on a key
output 1 to=127.0.0.1:PORT
patch window panel-cct-tint/16-bit 1.1 role=key
patch rim spot-daylight/8-bit role=edge
set window level=50% cct=4300
set edge level=2%
store 1 Late supper
cue 1 shortcut=1 fade=0.1s
set all level=off
store 2 Dark
cue 2 fade=0s
recall 2
recall "late supper"
"""


def test_a_walk_from_an_empty_show_to_a_recalled_look(sandbox: Sandbox) -> None:
    path = sandbox.folder / "kitchen.json"
    sandbox.show = path
    made = sandbox.run("new", str(path), "--name", "Kitchen, night")
    assert made.returncode == 0, made.stderr
    sandbox.engine()
    words = WALK.replace("PORT", str(sandbox.receiver.port))
    sent = subprocess.run(
        sandbox.command("send", "-"),
        input=words,
        env=sandbox.env,
        capture_output=True,
        text=True,
        timeout=WAIT_S,
    )
    assert (sent.returncode, sent.stderr) == (0, "")
    assert len(sent.stdout.splitlines()) == 12
    sandbox.wait_status(lambda status: status["cue"] == "1" and status["fade"] is None)
    last = sandbox.receiver.wait(lambda packet: True, mark=len(sandbox.receiver.packets))
    # 50 % of 16 bits, half up: 32768; 2 % of 255: 5. The edge lamp took the first free address, 7.
    assert (tuple(last.slots[:2]), last.slots[6]) == ((128, 0), 5)
    status = sandbox.run("status", "--json")
    facts = json.loads(status.stdout)
    keys = "show cue next fade held locked blackout master lights outputs"
    assert set(keys.split()) <= facts.keys()
    assert {"level", "white", "xy", "output", "slots"} <= facts["lights"]["window"].keys()
    assert {"state", "sent", "errors"} <= facts["outputs"][0].keys()
    assert "Late supper" in sandbox.run("status").stdout
    checked = sandbox.run("check", str(path))
    assert checked.returncode == 0, checked.stdout
    stopped = sandbox.run("stop", "--fade", "0s")
    assert (stopped.returncode, stopped.stderr) == (0, "")
    assert sandbox.status() is None


@pytest.mark.parametrize("words", ["set window level=50% effect=flame", "identify window"])
def test_stop_ends_an_engine_whatever_moves(words: str, sandbox: Sandbox) -> None:
    engine = sandbox.engine()
    sandbox.send(*words.split())
    stopped = sandbox.run("stop", "--fade", "0.2s")
    assert (stopped.returncode, stopped.stderr) == (0, "")
    assert engine.wait(WAIT_S) == 0
    assert sandbox.receiver.since(0)[-1].terminated
    assert sandbox.receiver.since(0)[-1].slots[:2] == sandbox.receiver.since(0)[-4].slots[:2] == b"\0\0"
