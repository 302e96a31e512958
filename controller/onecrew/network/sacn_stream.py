"""SacnStream: one universe as E1.31 data packets, from the first to the terminated ones. No sockets."""

from __future__ import annotations

from uuid import UUID

from onecrew.network import sacn_packets
from onecrew.network.pacing import PLAIN, Repeat
from onecrew.network.stream import Stream

LAST_PACKETS = 3
"""§6.2.6, §12.2: packets with Stream_Terminated at the end of a stream."""
RESUME_AHEAD = 128
"""How far past the last number known a stream resumes.

A receiver discards a number up to 19 behind the newest it has seen (§6.7.2). The number known may be older
than the last one sent, by what left between the last save and a crash: 128 ahead, the first packet is
accepted whether 0 or 127 more had left.
"""


def resumed(sequence: int | None) -> int:
    """Number of the first packet, given the last one known to have been used (None: a new stream, 0)."""
    return 0 if sequence is None else (sequence + RESUME_AHEAD) % 256


class SacnStream(Stream):
    """One universe of one source, paced by E1.31-2018 §6.6, numbered by §6.7."""

    SEQUENCE_AT = sacn_packets.SEQUENCE_AT
    SLOTS_AT = sacn_packets.SLOTS_AT

    def __init__(
        self,
        universe: int,
        cid: UUID,
        source_name: str,
        *,
        priority: int = 100,
        sync_address: int = 0,
        repeat: Repeat = PLAIN,
        first_sequence: int = 0,
    ) -> None:
        """``first_sequence`` (0–255) numbers the first packet; ``ValueError`` as in ``data_header``."""
        super().__init__(universe, (first_sequence - 1) % 256, repeat)
        self._cid = cid
        self.retitle(source_name, priority=priority, sync_address=sync_address, repeat=repeat)

    def retitle(
        self, source_name: str, *, priority: int = 100, sync_address: int = 0, repeat: Repeat = PLAIN
    ) -> None:
        """Sets what the header says while the stream goes on.

        A synchronised stream sets Force_Synchronization: should synchronisation packets get lost, receivers
        go on unsynchronised instead of freezing (§6.2.6).
        """
        header = sacn_packets.data_header(
            self._cid,
            source_name,
            self.universe,
            priority=priority,
            sync_address=sync_address,
            force_sync=sync_address != 0,
        )
        self.take_header(header, repeat)

    def terminate(self) -> None:
        """Ends the stream: three packets more, a frame apart, all with Stream_Terminated."""
        self.end(LAST_PACKETS)
        sacn_packets.terminated(self.packet)

    @staticmethod
    def number_after(sequence: int) -> int:
        return (sequence + 1) & 0xFF
