"""Addresses in a show at which this machine cannot listen, because they are another one's."""

from __future__ import annotations

import errno
import os
from collections.abc import Iterator

from onecrew.network.ip import is_of_this_machine
from onecrew.show.listener import parse_listener
from onecrew.show.show import Remote


def why_not(error: Exception) -> str:
    """Why nothing can listen at an address, from what the system said, and what to do."""
    if isinstance(error, OSError) and error.errno == errno.EADDRNOTAVAIL:
        return "not an address of this machine; give one that is"
    why = str(error)
    if isinstance(error, OSError) and error.errno is not None:
        # In the system's words: asyncio puts the address into its own, which is said already. What cannot be
        # resolved has a number below 0 and words of its own.
        why = os.strerror(error.errno) if error.errno > 0 else str(error.strerror)
    return f"{why}; free the port or choose another"


def not_here(remote: Remote) -> Iterator[str]:
    """A sentence for each listener whose address is not this machine's now."""
    for name, wanted in (("osc", remote.osc), ("page", remote.page)):
        if wanted is None:
            continue
        host, port = parse_listener(wanted.listen)
        if not is_of_this_machine(host):
            every = "[::]" if ":" in host else "0.0.0.0"
            yield (
                f"remote.{name}.listen: {host} is not an address of this machine now, so nothing can reach "
                f"it there: write one that this machine has, or {every}:{port} for every one."
            )
