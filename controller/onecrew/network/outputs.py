"""Outputs: every way in which light leaves, sACN and Art-Net alike."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from uuid import UUID

import numpy as np
from numpy.typing import NDArray

from onecrew.network.artnet_output import ArtnetOutput
from onecrew.network.delivery import OpenSocket, open_udp
from onecrew.network.output_streams import rows_of
from onecrew.network.sacn_output import SacnOutput
from onecrew.show.show import Show
from onecrew.show.snapshot import OutputState

LAST_SENDS = 10
"""Bound on the sends that end the streams; three packets each need four."""


class Outputs:
    """The outputs of one show. Times are monotonic seconds; nothing here raises for the network's sake.

    Every universe goes by sACN, to the addresses its settings name or by multicast, but for one that only the
    Art-Net settings name: that goes by Art-Net alone.
    """

    def __init__(
        self,
        show: Show,
        universes: Sequence[int],
        cid: UUID,
        sequences: Mapping[int, int],
        now: float,
        *,
        open_socket: OpenSocket = open_udp,
        artnet: bool = True,
    ) -> None:
        """``universes`` in the order of the rows of slots; ``sequences`` as an earlier run noted them.

        ``artnet`` False keeps Art-Net silent, whatever the show says.
        """
        self._rows = sacn_rows(show, universes)
        self._sacn = SacnOutput(
            show.output.sacn,
            [universes[row] for row in self._rows],
            cid,
            source_name(show),
            sequences,
            now,
            open_socket=open_socket,
        )
        settings = show.output.artnet if artnet else None
        self._artnet = ArtnetOutput(settings, universes, open_socket=open_socket)

    def reconfigure(self, show: Show, universes: Sequence[int], now: float, *, artnet: bool = True) -> None:
        """Takes the outputs and universes of a changed show; streams that stay go on without a gap."""
        self._rows = sacn_rows(show, universes)
        self._sacn.reconfigure(
            show.output.sacn, [universes[row] for row in self._rows], source_name(show), now
        )
        self._artnet.reconfigure(show.output.artnet if artnet else None, universes)

    def send(self, slots: NDArray[np.uint8] | None, now: float) -> None:
        """Sends what is due; ``slots`` (universes, 512) if the light changed, None if it did not."""
        self._sacn.send(None if slots is None else rows_of(slots, self._rows), now)
        self._artnet.send(slots, now)

    def expect(self, moment: float) -> None:
        """The next slots come at ``moment``: repeats before it would only hold them up."""
        self._sacn.expect(moment)
        self._artnet.expect(moment)

    def may_send_at(self) -> float:
        """The earliest moment at which a change of all universes may leave."""
        return max(self._sacn.may_send_at(), self._artnet.may_send_at())

    def next_due(self, now: float) -> float:
        """When to call ``send`` next."""
        return min(self._sacn.next_due(now), self._artnet.next_due(now))

    def states(self) -> tuple[OutputState, ...]:
        """How each destination of each universe stands."""
        return self._sacn.states() + self._artnet.states()

    def sequences(self) -> dict[int, int]:
        """Last sequence number of each sACN universe."""
        return self._sacn.sequences()

    def end(self, now: float, wait_until: Callable[[float], float]) -> None:
        """Terminates every stream by three last packets; ``wait_until`` sleeps and returns the time."""
        now = wait_until(max(now, self.may_send_at()))
        self.send(None, now)  # the last frame, if the 44 Hz limit still held it back
        self._sacn.end(now)
        for _ in range(LAST_SENDS):
            if self._sacn.ended:
                break
            now = wait_until(self._sacn.next_due(now))
            self._sacn.send(None, now)
        self._sacn.close()
        self._artnet.close()


def sacn_rows(show: Show, universes: Sequence[int]) -> list[int]:
    """Rows of the universes that go by sACN."""
    artnet = show.output.artnet.universes if show.output.artnet is not None else {}
    sacn = show.output.sacn.universes
    return [row for row, u in enumerate(universes) if str(u) in sacn or str(u) not in artnet]


def source_name(show: Show) -> str:
    """What receivers call this source when the show does not say."""
    return f"onecrew {show.name}"
