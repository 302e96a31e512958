"""A sandbox for process tests: folders, a show, a receiver on loopback, and real processes.

The receiver is a bare socket and the parser written from the standard's table (``tests/wire``), so what is
heard shares no code with what was sent.
"""

from __future__ import annotations

import contextlib
import json
import os
import signal
import socket
import struct
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import psutil

from onecrew.commands.context import Context
from onecrew.commands.table import read_words
from onecrew.show.show import Show
from tests.fakes.documents import document
from tests.wire import e131_layout
from tests.wire.e131_layout import Packet

WAIT_S = 20.0
"""How long anything is waited for before a test fails; never a measure of speed."""

ORDINARY = ["setpriv", "--bounding-set", "-sys_nice"] if getattr(os, "geteuid", lambda: 1)() == 0 else []
"""What goes before a command so that root, too, has no right to real time."""

SHOW: dict[str, Any] = {
    "name": "Two lamps",
    "rig": {
        "fixtures": [
            {
                "id": "window",
                "profile": "panel-cct-tint",
                "mode": "16-bit",
                "universe": 1,
                "address": 1,
                "role": "key",
            },
            {
                "id": "pendant",
                "profile": "practical-dimmer",
                "mode": "8-bit",
                "universe": 1,
                "address": 21,
                "role": "practical",
            },
        ]
    },
    "cues": [
        {
            "number": "1",
            "name": "Half",
            "shortcut": "1",
            "fade": {"in_s": 0.2, "out_s": 0.2},
            "look": {"window": {"level": 0.5, "white": {"cct_k": 4300}}, "pendant": {"level": 0.2}},
        },
        {
            "number": "2",
            "name": "Slow",
            "fade": {"in_s": 4.0, "out_s": 4.0},
            "look": {"window": {"level": 1.0, "white": {"cct_k": 3200}}, "pendant": {"level": 0.8}},
        },
        {"number": "3", "name": "Dark", "fade": {"in_s": 0.1, "out_s": 0.1}, "look": {}},
    ],
}


LINUX_SO_TIMESTAMPNS = 35
"""socket(7); Python has no name for it."""
TIMESPEC = struct.Struct("@qq")
CLOSE_S = 2e-5
"""Two clocks that are read within this are read at one moment."""
MARK = b"everything before this has been heard"


@dataclass
class PacketReceiver:
    """A UDP socket on loopback that keeps every packet with the time it came.

    On Linux that is the kernel's own time of arrival, whenever this thread gets to read it. With ``path`` it
    is a Unix socket, to which the ``relay`` of another network namespace brings what arrives there.
    """

    path: Path | None = None

    packets: list[tuple[float, Packet]] = field(default_factory=list, init=False)

    pause: Callable[[float], object] = field(default=time.sleep, init=False)
    """What is done while something is waited for: a window of the test's own has to be read meanwhile."""

    def __post_init__(self) -> None:
        family = socket.AF_INET if self.path is None else socket.AF_UNIX
        self._socket = socket.socket(family, socket.SOCK_DGRAM)
        self._socket.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4 << 20)
        if sys.platform == "linux":
            self._socket.setsockopt(socket.SOL_SOCKET, LINUX_SO_TIMESTAMPNS, 1)
        self._socket.bind(("127.0.0.1", 0) if self.path is None else str(self.path))
        self._socket.settimeout(0.1)
        self.port: int = self._socket.getsockname()[1] if self.path is None else 0
        self._open = True
        self._caught_up = threading.Event()
        self._thread = threading.Thread(target=self._listen, daemon=True)
        self._thread.start()

    def _listen(self) -> None:
        while self._open:
            try:
                data, marks, _, _ = self._socket.recvmsg(2048, 64)
            except TimeoutError:
                continue
            if data == MARK:
                self._caught_up.set()
            else:
                self.packets.append((_arrival(marks), e131_layout.parse(data)))

    def catch_up(self) -> None:
        """Returns when everything that has arrived by now is among the packets."""
        self._caught_up.clear()
        with socket.socket(self._socket.family, socket.SOCK_DGRAM) as own:
            own.sendto(MARK, self._socket.getsockname())
        assert self._caught_up.wait(WAIT_S)

    def close(self) -> None:
        self._open = False
        self._thread.join()
        self._socket.close()

    def since(self, mark: int) -> list[Packet]:
        """Packets heard after the first ``mark`` ones."""
        return [packet for _, packet in self.packets[mark:]]

    def wait(self, fits: Callable[[Packet], bool], mark: int = 0) -> Packet:
        """The first packet after ``mark`` that fits."""
        deadline = time.monotonic() + WAIT_S
        while time.monotonic() < deadline:
            for packet in self.since(mark):
                if fits(packet):
                    return packet
                mark += 1
            self.pause(0.01)
        raise AssertionError(f"no such packet among {len(self.packets)}")


def _arrival(marks: list[tuple[int, int, bytes]]) -> float:
    """The monotonic time of arrival: by the kernel's stamp where there is one, else now."""
    for level, kind, mark in marks:
        if (level, kind) == (socket.SOL_SOCKET, LINUX_SO_TIMESTAMPNS) and len(mark) == TIMESPEC.size:
            seconds, nanoseconds = TIMESPEC.unpack(mark)
            return seconds + nanoseconds * 1e-9 - _wall_ahead_s()
    return time.monotonic()


def _wall_ahead_s() -> float:
    """How far the clock on the wall is ahead of the monotonic one: both read at one moment, or nearly.

    A thread that is held up between the two readings would take what held it up for time on the way.
    """
    readings = []
    for _ in range(10):
        before, wall, after = time.monotonic(), time.time(), time.monotonic()
        readings.append((after - before, wall - (before + after) / 2.0))
        if after - before < CLOSE_S:
            break
    return min(readings)[1]


class Sandbox:
    """Folders of its own, a show in them, a receiver, and every process it started."""

    def __init__(
        self, folder: Path, show: dict[str, Any] | None = None, receiver: PacketReceiver | None = None
    ) -> None:
        self.folder = folder
        self.receiver = receiver or PacketReceiver()
        whole = json.loads(json.dumps(document(show or SHOW)))
        whole.setdefault(
            "output", {"sacn": {"universes": {"1": {"to": [f"127.0.0.1:{self.receiver.port}"]}}}}
        )
        self.show = folder / "show.json"
        self.show.write_text(json.dumps(whole), encoding="utf-8")
        self.env = {**os.environ, "HOME": str(folder), "LOCALAPPDATA": str(folder), "APPDATA": str(folder)}
        for kind in ("RUNTIME_DIR", "STATE_HOME", "CONFIG_HOME", "DATA_HOME", "CACHE_HOME"):
            self.env[f"XDG_{kind}"] = str(folder / kind.lower())
            (folder / kind.lower()).mkdir(mode=0o700, exist_ok=True)
        self.prefix: list[str] = []
        """What goes before every command: a namespace that the processes live in."""
        self.seen: Callable[[Path], Path] = lambda path: path
        """Where a file of theirs can be read from here."""
        self.relay: Path | None = None
        """Unix socket of the relay that carries connections to their loopback, where that is not ours."""
        self._processes: list[subprocess.Popen[str]] = []

    # ── doing ───────────────────────────────────────────────────────────────────────────────────

    def run(self, *words: str, timeout: float = WAIT_S) -> subprocess.CompletedProcess[str]:
        """Runs ``onecrew WORDS`` to its end."""
        return subprocess.run(
            [*self.prefix, *self.command(*words)],
            env=self.env,
            cwd=self.folder,
            capture_output=True,
            text=True,
            timeout=timeout,
            stdin=subprocess.DEVNULL,
        )

    def start(self, *words: str, typed: bool = False) -> subprocess.Popen[str]:
        """Starts ``onecrew WORDS``; ``typed``: with a pipe to type into."""
        return self.popen(self.command(*words), typed=typed)

    def popen(
        self, command: list[str], *, typed: bool = False, own_session: bool = False
    ) -> subprocess.Popen[str]:
        """Starts any command in this sandbox."""
        process = subprocess.Popen(
            [*self.prefix, *command],
            env=self.env,
            cwd=self.folder,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            stdin=subprocess.PIPE if typed else subprocess.DEVNULL,
            start_new_session=own_session,
        )
        self._processes.append(process)
        return process

    def engine(self, *options: str) -> subprocess.Popen[str]:
        """Starts ``onecrew engine`` and waits for its ready."""
        process = self.start("engine", str(self.show), *options)
        assert process.stdout is not None
        assert process.stdout.readline() == "ready\n"
        return process

    def engine_without_ready(self) -> subprocess.Popen[str]:
        """Starts ``onecrew engine`` where something that it is to open cannot be, so that no ready comes."""
        process = self.start("engine", str(self.show))
        self.wait_status()
        return process

    def processes(self) -> list[subprocess.Popen[str]]:
        """What was started and is still to be waited for."""
        return list(self._processes)

    def send(self, *words: str) -> None:
        """Says ``onecrew send WORDS``, without the process that it would be."""
        show = Show.model_validate(self._exchange("answer", ask="show")["show"])
        self.tell(**read_words(words, Context(show)).model_dump(mode="json", exclude_none=True))

    def tell(self, **command: Any) -> bool:
        """Has the engine carry out a command, straight at its link; much quicker than a process.

        Returns whether that changed something."""
        return bool(self._exchange("changed", command=command))

    def _exchange(self, expected: str, **message: Any) -> Any:
        with self._link() as link:
            link.sendall(f"{json.dumps({'id': 1, **message})}\n".encode())
            for line in link.makefile(encoding="utf-8"):
                if (reply := json.loads(line)).get("id") == 1:
                    assert expected in reply, reply
                    return reply[expected]
        raise AssertionError("the engine did not answer")

    def _link(self) -> socket.socket:
        """A connection to the engine that it knows; ``OSError`` where it is away."""
        endpoint = self.endpoint()
        if endpoint is None:
            raise FileNotFoundError("no engine is known")
        link = socket.socket(socket.AF_INET if self.relay is None else socket.AF_UNIX)
        try:
            link.settimeout(WAIT_S)
            link.connect(("127.0.0.1", endpoint["port"]) if self.relay is None else str(self.relay))
            if self.relay is not None:
                link.sendall(f"{endpoint['port']}\n".encode())
            link.sendall(f"{json.dumps({'hello': {'token': endpoint['token']}})}\n".encode())
        except BaseException:
            link.close()
            raise
        return link

    def endpoint(self) -> dict[str, Any] | None:
        """Where the engine of the show listens, None where none is known."""
        for path in self.seen(self.folder / "runtime_dir").rglob("*.json"):
            return dict(json.loads(path.read_text()))
        return None

    def status(self) -> dict[str, Any] | None:
        """The engine's state, straight from its link; None while there is no engine."""
        with contextlib.suppress(OSError), self._link() as link:
            link.sendall(f"{json.dumps({'watch': {'rate_hz': 1}})}\n".encode())
            for line in link.makefile(encoding="utf-8"):
                if "snapshot" in (message := json.loads(line)):
                    return dict(message["snapshot"])
        return None

    def wait_status(self, fits: Callable[[dict[str, Any]], bool] = bool) -> dict[str, Any]:
        """The first status that fits; an engine that is away is waited for."""
        deadline = time.monotonic() + WAIT_S
        while True:
            status = self.status()
            if status is not None and fits(status):
                self.receiver.catch_up()  # what the engine sent before it said so has been heard
                return status
            assert time.monotonic() < deadline, status
            self.receiver.pause(0.02)

    def successor(self) -> int:
        """The pid of the process that the next engine comes from, once it is there."""
        status = self.wait_status()
        deadline = time.monotonic() + WAIT_S
        while True:
            children = psutil.Process(status["supervisor_pid"]).children()
            if pids := [child.pid for child in children if child.pid != status["engine_pid"]]:
                return pids[0]
            assert time.monotonic() < deadline
            time.sleep(0.05)

    def close(self) -> None:
        """Ends whatever still runs, and stops listening."""
        self.close_processes()
        self.receiver.close()

    def close_processes(self) -> None:
        """Ends whatever still runs, by its own pid: supervisors first, so that nothing is started again."""
        for process in self._processes:
            started = []
            with contextlib.suppress(psutil.NoSuchProcess):
                started = psutil.Process(process.pid).children(recursive=True)
            kill(process.pid)
            for child in started:
                kill(child.pid)
        for endpoint in self.seen(self.folder / "runtime_dir").rglob("*.json"):
            known = json.loads(endpoint.read_text())
            for pid in (known["supervisor_pid"], known["pid"]):
                if pid and pid != os.getpid():  # an engine without a supervisor names whoever started it
                    kill(pid)
        for process in self._processes:
            process.wait(WAIT_S)
        for started in psutil.process_iter(["cmdline"]):  # by a supervisor in the moment of its death
            if str(self.show) in (started.info["cmdline"] or ()):
                kill(started.pid)
        for process in self._processes:
            process.communicate(timeout=WAIT_S)
        self._processes.clear()

    @staticmethod
    def command(*words: str) -> list[str]:
        return [sys.executable, "-m", "onecrew.cli", *words]


def kill(pid: int, sign: signal.Signals = signal.SIGKILL) -> None:
    """SIGKILL, or another signal, if it is still there.

    ``ValueError`` for what is no process: the system takes 0 and less for groups, -1 for every process.
    """
    if pid <= 0:
        raise ValueError(f"{pid} is no process")
    with contextlib.suppress(ProcessLookupError):
        os.kill(pid, sign)
