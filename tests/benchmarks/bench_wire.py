"""One changed universe on the wire: ours, a bare ``send`` of as many octets, and the sacn package's own.

Run ``python -m tests.benchmarks wire``. The three take turns in
each round and send to one listener on loopback, so that a busy machine slows all three alike.
"""

from __future__ import annotations

import socket
import statistics
import time
from collections.abc import Callable
from dataclasses import dataclass
from uuid import UUID

import numpy as np
from sacn.messages.data_packet import DataPacket
from sacn.sending import sender_socket_udp
from sacn.sending.output import Output
from sacn.sending.sender_handler import SenderHandler

from onecrew.network.sacn_output import SacnOutput
from onecrew.network.sacn_packets import data_header
from onecrew.show.show import Sacn, SacnUniverse
from tests.benchmarks.report import Row

SIZES = (1, 16, 64)
PACKETS = 128
"""In one measurement: few enough for the listener's buffer, so that every one arrives."""
ROUNDS = 60
CID = UUID(int=1)
BARE_GOAL, PACKAGE_GOAL = 3.0, 5.0


@dataclass(frozen=True, slots=True)
class Figures:
    """Seconds a universe, medians over the rounds; the ratios are medians of each round's own."""

    bare: float
    ours: float
    package: float
    to_bare: float
    to_package: float
    still: float
    """Ours in a frame in which nothing changed and nothing is due."""


def bench(universes: int) -> Figures:
    """Costs with this many universes, all changed in every frame and all sent to one address."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as listener:
        listener.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 1 << 20)
        listener.bind(("127.0.0.1", 0))
        listener.setblocking(False)
        port = int(listener.getsockname()[1])
        frames = PACKETS // universes
        with (
            _bare(port, universes) as bare,
            _ours(port, universes) as ours,
            _package(port, universes) as package,
        ):
            _drain(listener)
            rounds = []
            for _ in range(ROUNDS):
                costs = []
                for sender in (bare, ours, package):
                    costs.append(_timed(sender.frame, frames) / universes)
                    arrived = _drain(listener)
                    if arrived != frames * universes:
                        raise RuntimeError(f"{frames * universes} packets left, {arrived} arrived")
                rounds.append((*costs, _timed(ours.still, frames) / universes))
    columns = list(zip(*rounds, strict=True))
    return Figures(
        bare=statistics.median(columns[0]),
        ours=statistics.median(columns[1]),
        package=statistics.median(columns[2]),
        to_bare=statistics.median(ours / bare for bare, ours, _, _ in rounds),
        to_package=statistics.median(package / ours for _, ours, package, _ in rounds),
        still=statistics.median(columns[3]),
    )


def rows() -> list[Row]:
    """One row for each size against both, the growth, and a frame that changes nothing."""
    figures = {size: bench(size) for size in SIZES}
    table: list[Row] = []
    for size, f in figures.items():
        name = "one changed universe" if size == 1 else f"{size} changed universes, each"
        table.append(
            Row(
                f"{name}, against a bare connected send",
                f"{_us(f.ours)} against {_us(f.bare)}",
                f"{f.to_bare:.1f} ×",
                f"≤ {BARE_GOAL:.0f} ×",
                f.to_bare <= BARE_GOAL,
            )
        )
        table.append(
            Row(
                f"{name}, against the sacn package's own sender",
                f"{_us(f.ours)} against {_us(f.package)}",
                f"{f.to_package:.1f} × cheaper",
                f"≥ {PACKAGE_GOAL:.0f} ×",
                f.to_package >= PACKAGE_GOAL,
            )
        )
    first, last = SIZES[0], SIZES[-1]
    growth = figures[last].ours * last / (figures[first].ours * first)
    most = last // first
    what = f"growth from {first} to {last} universes"
    table.append(Row(what, "a frame of all", f"{growth:.1f} ×", f"≤ {most} ×", growth <= most))
    what = f"a frame that changes nothing, {last} universes"
    table.append(Row(what, _us(figures[last].still * last), "", "", True))
    return table


class _Sender:
    """Something that sends one frame, every universe changed from the frame before."""

    def __init__(
        self, frame: Callable[[], None], close: Callable[[], None], still: Callable[[], None]
    ) -> None:
        self.frame = frame
        self.still = still
        self._close = close

    def __enter__(self) -> _Sender:
        self.frame()
        return self

    def __exit__(self, *_: object) -> None:
        self._close()


def _bare(port: int, universes: int) -> _Sender:
    sock = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
    sock.connect(("127.0.0.1", port))
    packets = [bytes(data_header(CID, "bench", universe + 1)) for universe in range(universes)]

    def frame() -> None:
        for packet in packets:
            sock.send(packet)

    return _Sender(frame, sock.close, lambda: None)


def _ours(port: int, universes: int) -> _Sender:
    numbers = range(1, universes + 1)
    listed = {str(number): SacnUniverse(to=(f"127.0.0.1:{port}",)) for number in numbers}
    out = SacnOutput(Sacn(universes=listed), numbers, CID, "bench", {}, 0.0)
    looks = [np.full((universes, 512), level, np.uint8) for level in (0, 255)]
    now, turn = 0.0, 0

    def frame() -> None:
        nonlocal now, turn
        now, turn = now + 0.03, 1 - turn
        out.send(looks[turn], now)

    return _Sender(frame, out.close, lambda: out.send(looks[turn], now + 0.001))


def _package(port: int, universes: int) -> _Sender:
    """The path that its own thread takes at each period; discovery, which it broadcasts, is off."""
    sender_socket_udp.DEFAULT_PORT = port
    cid = tuple(CID.bytes)
    outputs = {number: Output(DataPacket(cid, "bench", number)) for number in range(1, universes + 1)}
    handler = SenderHandler(cid, "bench", outputs, "127.0.0.1", 0, 44)
    handler.universe_discovery = False
    looks = [(level,) * 512 for level in (0, 255)]
    now, turn = 0.0, 0

    def frame() -> None:
        nonlocal now, turn
        now, turn = now + 0.03, 1 - turn
        for output in outputs.values():
            output.dmx_data = looks[turn]
        handler.on_periodic_callback(now)

    return _Sender(frame, handler.socket._socket.close, lambda: None)


def _timed(work: Callable[[], None], times: int) -> float:
    start = time.perf_counter()
    for _ in range(times):
        work()
    return (time.perf_counter() - start) / times


def _drain(listener: socket.socket) -> int:
    arrived = 0
    try:
        while True:
            listener.recv(2048)
            arrived += 1
    except BlockingIOError:
        return arrived


def _us(seconds: float) -> str:
    return f"{seconds * 1e6:.2f} µs"
