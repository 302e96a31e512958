"""The least that can send light: a packet at the engine's own rate and in its scheduling class.

The control of ``bench_soak``: what is late here is the machine's doing. Arguments: port, process id of the
engine whose class it takes on, the seconds of processor that it takes after each packet (none if not said).
"""

from __future__ import annotations

import contextlib
import os
import socket
import sys
import time
import uuid

from onecrew.engine.frame_clock import FRAME_S
from onecrew.network.sacn_packets import SEQUENCE_AT, data_header

LOOK_S = 1.0
"""How often it takes on the engine's class anew."""


def main(port: int, engine: int, work_s: float = 0.0) -> None:
    packet = data_header(uuid.UUID(int=1), "control", 1)
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as out:
        out.connect(("127.0.0.1", port))
        begun = look = time.monotonic()
        frame = 0
        while True:
            frame = max(frame + 1, int((time.monotonic() - begun) / FRAME_S))
            time.sleep(max(0.0, begun + frame * FRAME_S - time.monotonic()))
            packet[SEQUENCE_AT] = frame % 256
            with contextlib.suppress(ConnectionRefusedError):
                out.send(packet)
            if work_s:
                work(work_s)
            if time.monotonic() > look:
                look += LOOK_S
                take_on_the_class_of(engine)


def work(for_s: float) -> None:
    """Takes so much processor, however long it has to wait for it."""
    enough = time.thread_time() + for_s
    while time.thread_time() < enough:
        pass


def take_on_the_class_of(engine: int) -> None:
    """As the engine is scheduled; ends with it."""
    if not hasattr(os, "SCHED_RR"):
        return
    try:
        policy = os.sched_getscheduler(engine) & ~os.SCHED_RESET_ON_FORK
        os.sched_setscheduler(0, policy, os.sched_getparam(engine))
    except ProcessLookupError:
        sys.exit(0)
    except PermissionError:
        pass


if __name__ == "__main__":
    main(int(sys.argv[1]), int(sys.argv[2]), *map(float, sys.argv[3:]))
