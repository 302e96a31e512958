"""The least that can obey: whatever comes by TCP, a packet leaves, in the engine's own kind of loop.

The control of a command to its packet: this much of it is the machine waking up. Arguments: port, process id
of the engine whose scheduling class it takes on. Prints its own port.
"""

from __future__ import annotations

import asyncio
import socket
import sys
import uuid

from onecrew.engine.main import precise_loop
from onecrew.network.sacn_packets import data_header
from tests.benchmarks.bare_sender import take_on_the_class_of


class Answering(asyncio.Protocol):
    """One connection."""

    def __init__(self, out: socket.socket) -> None:
        self._out = out
        self._packet = data_header(uuid.UUID(int=1), "control", 1)

    def data_received(self, _data: bytes) -> None:
        self._out.send(self._packet)


async def serve(out: socket.socket) -> None:
    server = await asyncio.get_running_loop().create_server(lambda: Answering(out), "127.0.0.1", 0)
    print(server.sockets[0].getsockname()[1], flush=True)
    await asyncio.sleep(600.0)


def main(port: int, engine: int) -> None:
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as out:
        out.connect(("127.0.0.1", port))
        take_on_the_class_of(engine)
        with asyncio.Runner(loop_factory=precise_loop) as runner:
            runner.run(serve(out))


if __name__ == "__main__":
    main(int(sys.argv[1]), int(sys.argv[2]))
