"""Stream: the slots of one universe as packets — what leaves, when, numbered how. No sockets, no clock."""

from __future__ import annotations

from collections.abc import Sequence

from onecrew.network.pacing import NEVER_S, PLAIN, ROUNDING_S, Pacer, Repeat
from onecrew.show.destination import SLOTS

NOTHING: tuple[bytearray, ...] = ()


class Stream:
    """One universe of one source; a protocol adds its packet, its numbers and its end.

    A change of the slots leaves at once if 1/44 s have passed since the last packet, else when they have;
    then it is repeated as ``repeat`` says: by default three times, then every 0.9 s.

    The packet is one buffer, patched in place: the sequence number, and the slots if they changed.
    """

    SEQUENCE_AT: int
    SLOTS_AT: int

    def __init__(self, universe: int, sequence: int, repeat: Repeat = PLAIN) -> None:
        """``sequence`` is the number before the first packet's."""
        self.universe = universe
        self.sequence = sequence
        """Number of the packet that left last."""
        self.packet = bytearray()
        """The packet that left last, octet for octet; it changes in place with the next one."""
        self._out: tuple[bytearray, ...] = NOTHING
        self._repeat = repeat
        self._pacer = Pacer(repeat)
        self._wanted: bytes | None = None
        self._shown = bytes(SLOTS)
        self._slots_changed = False
        self._header_changed = True
        """True at first: the first packet leaves as a change does, with its repeats."""
        self._packets_left: int | None = None
        """Packets still to go of a stream that ends; None while it runs."""

    def take_header(self, header: bytearray, repeat: Repeat = PLAIN) -> None:
        """Puts a new header around the slots; one that differs leaves as a change does."""
        header[self.SEQUENCE_AT] = self.sequence
        header[self.SLOTS_AT :] = self._shown
        self._header_changed = self._header_changed or header != self.packet
        self.packet = header
        self._out = (header,)
        if repeat != self._repeat:
            self._repeat = repeat
            self._pacer.repeat_as(repeat)

    @property
    def changed(self) -> bool:
        """Whether a change waits for its moment."""
        return self._slots_changed or self._header_changed

    @property
    def started(self) -> bool:
        """Whether a packet has left."""
        return self._pacer.may_send_at() > -NEVER_S

    @property
    def ended(self) -> bool:
        """Whether the last packet has left."""
        return self._packets_left == 0

    def expect(self, moment: float) -> None:
        """Holds repeats back: the slots change at ``moment``."""
        self._pacer.expect(moment)

    def may_send_at(self) -> float:
        """The earliest moment at which the next packet may leave."""
        return self._pacer.may_send_at()

    def next_due(self, now: float) -> float:
        """When to call ``due`` next, never before ``now``; infinity if there is nothing to send."""
        if self._wanted is None or self._packets_left == 0:
            return NEVER_S
        due = self._pacer.must_send_at(
            self._slots_changed or self._header_changed or self._packets_left is not None
        )
        return due if due > now else now

    def want(self, slots: bytes) -> None:
        """Takes the 512 octets that the stream shall show from now on; ``ValueError`` for another count."""
        if len(slots) != SLOTS:
            raise ValueError(f"a universe has {SLOTS} slots, not {len(slots)}")
        self._wanted = slots
        self._slots_changed = slots != self._shown

    def due(self, now: float, slots: bytes | None = None) -> Sequence[bytearray]:
        """The packet to send at ``now``: one or none. It is the stream's own buffer, not a copy.

        ``slots`` are the newest 512 octets, None if unchanged. Before the first slots nothing is due.
        """
        if slots is not None:
            self.want(slots)
        if self._wanted is None or self._packets_left == 0:
            return NOTHING
        changed = self._slots_changed or self._header_changed
        if now + ROUNDING_S < self._pacer.must_send_at(changed or self._packets_left is not None):
            return NOTHING
        packet = self.packet
        if self._slots_changed:
            packet[self.SLOTS_AT :] = self._shown = self._wanted
        self.sequence = packet[self.SEQUENCE_AT] = self.number_after(self.sequence)
        self._pacer.sent(now, changed)
        self._slots_changed = self._header_changed = False
        if self._packets_left is not None:
            self._packets_left -= 1
        return self._out

    def end(self, packets: int) -> None:
        """Ends the stream after this many packets more, a frame apart; none if it never had slots."""
        if self._packets_left is None:
            self._packets_left = packets if self._wanted is not None else 0

    @staticmethod
    def number_after(sequence: int) -> int:
        raise NotImplementedError
