"""Outputs: all the ways the light leaves the house, behind one door."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from uuid import UUID

import numpy as np
from numpy.typing import NDArray

from controller.documents.show import Show
from controller.documents.snapshot import OutputState
from controller.output.delivery import OpenSocket, open_udp
from controller.output.sacn_output import SacnOutput


class Outputs:
    """The outputs of one show. Times are monotonic seconds; nothing here raises for the network's sake."""

    def __init__(
        self,
        show: Show,
        universes: tuple[int, ...],
        cid: UUID,
        sequences: Mapping[int, int],
        now: float,
        *,
        open_socket: OpenSocket = open_udp,
    ) -> None:
        """``universes`` in the order of the rows of slots; ``sequences`` as an earlier run noted them."""
        self._sacn = SacnOutput(
            show.output.sacn, universes, cid, source_name(show), sequences, now, open_socket=open_socket
        )

    def reconfigure(self, show: Show, universes: tuple[int, ...], now: float) -> None:
        """Takes the outputs and universes of a changed show; streams that stay go on without a gap."""
        self._sacn.reconfigure(show.output.sacn, universes, source_name(show), now)

    def send(self, slots: NDArray[np.uint8] | None, now: float) -> None:
        """Sends what is due; ``slots`` (universes, 512) if the light changed, None if it did not."""
        self._sacn.send(slots, now)

    def next_due(self, now: float) -> float:
        """When to call ``send`` next."""
        return self._sacn.next_due(now)

    def states(self) -> tuple[OutputState, ...]:
        return self._sacn.states()

    def sequences(self) -> dict[int, int]:
        """Last sequence number of each sACN universe."""
        return self._sacn.sequences()

    def end(self, now: float, wait_until: Callable[[float], float]) -> None:
        """Terminates every stream: three last packets each, paced by ``wait_until`` (sleeps, returns the time)."""
        self._sacn.end(now)
        for _ in range(10):
            if self._sacn.ended:
                break
            now = wait_until(self._sacn.next_due(now))
            self._sacn.send(None, now)
        self._sacn.close()


def source_name(show: Show) -> str:
    """What receivers call this source when the show does not say."""
    return f"lampwright {show.name}"
