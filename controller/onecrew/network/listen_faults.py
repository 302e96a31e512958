"""Addresses in a show at which this machine cannot listen, because they are another one's."""

from __future__ import annotations

import errno
from collections.abc import Iterator

from onecrew.network.ip import is_of_this_machine
from onecrew.show.listener import parse_listener
from onecrew.show.show import Remote


def why_not(error: Exception) -> str:
    """Why nothing can listen at an address, from what the system said, and what to do."""
    if isinstance(error, OSError) and error.errno == errno.EADDRNOTAVAIL:
        return "not an address of this machine; give one that is"
    why = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
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
