"""The least that can be between a key and a command: a bare loop that reads the terminal.

Run by ``bench_screens`` in a pseudo-terminal, to tell what the machine itself takes just then.
"""

from __future__ import annotations

import asyncio
import os
import sys
import time
import tty
from pathlib import Path


async def listen(times: Path) -> None:
    tty.setraw(sys.stdin.fileno())
    with times.open("w", buffering=1) as out:

        def heard() -> None:
            for _ in os.read(sys.stdin.fileno(), 64):  # two keys come as one where the loop was late
                out.write(f"{time.monotonic_ns()}\n")

        asyncio.get_running_loop().add_reader(sys.stdin.fileno(), heard)
        print("NEXT", flush=True)
        await asyncio.sleep(60)


if __name__ == "__main__":
    asyncio.run(listen(Path(sys.argv[2])))
