"""Run inside a network namespace: carries what arrives there to Unix sockets, which all namespaces share.

``namespace_relay.py lamp HOST PORT PATH`` hands every datagram on a UDP port to the Unix datagram socket at
PATH; ``namespace_relay.py link PATH`` carries connections from the Unix socket at PATH to the loopback port
that each names in its first line. It prints ``ready`` when it listens.
"""

from __future__ import annotations

import asyncio
import contextlib
import socket
import sys


def lamp(host: str, port: str, path: str) -> None:
    receiver = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
    receiver.bind((host, int(port)))
    out = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
    out.connect(path)
    print("ready", flush=True)
    with contextlib.suppress(OSError):  # the test has ended
        while True:
            out.send(receiver.recv(2048))


async def link(path: str) -> None:
    async def carry(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        with contextlib.suppress(OSError, ValueError):
            there, here = await asyncio.open_connection("127.0.0.1", int(await reader.readline()))
            await asyncio.gather(pump(reader, here), pump(there, writer))
        writer.close()

    server = await asyncio.start_unix_server(carry, path)
    print("ready", flush=True)
    await server.serve_forever()


async def pump(source: asyncio.StreamReader, sink: asyncio.StreamWriter) -> None:
    with contextlib.suppress(OSError):
        while data := await source.read(1 << 16):
            sink.write(data)
        sink.close()


if __name__ == "__main__":
    if sys.argv[1] == "lamp":
        lamp(*sys.argv[2:])
    else:
        asyncio.run(link(sys.argv[2]))
