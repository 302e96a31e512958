"""Universe discovery: when a source says which universes it sends (E1.31-2018 §4.3, §12). No sockets."""

from __future__ import annotations

from collections.abc import Iterable
from uuid import UUID

from onecrew.network.sacn_packets import discovery_packets

INTERVAL_S = 10.0
"""Appendix A: E131_UNIVERSE_DISCOVERY_INTERVAL."""


class Discovery:
    """The discovery packets of one source: a set every 10 s, and one more between two when they change."""

    def __init__(self, cid: UUID, source_name: str, universes: Iterable[int], now: float) -> None:
        """The first set is due at once; raises ``ValueError`` for a universe outside 1–63999."""
        self._cid = cid
        self._packets = discovery_packets(cid, source_name, universes)
        self._regular_at_s = now
        self._changed = False
        self._extra_used = False

    def change(self, source_name: str, universes: Iterable[int]) -> None:
        """Takes a new name or new universes; what is the same as before changes nothing."""
        packets = discovery_packets(self._cid, source_name, universes)
        self._changed = self._changed or packets != self._packets
        self._packets = packets

    def next_due(self, now: float) -> float:
        """When to call ``due`` next, never before ``now``."""
        return now if self._changed and not self._extra_used else max(now, self._regular_at_s)

    def due(self, now: float) -> tuple[bytes, ...]:
        """The set of packets to send at ``now``, empty if none is due."""
        if now >= self._regular_at_s:
            late = now - self._regular_at_s
            self._regular_at_s = now + INTERVAL_S - (late if late < INTERVAL_S else 0.0)
            self._changed = self._extra_used = False
            return self._packets
        if self._changed and not self._extra_used:
            self._extra_used = True
            self._changed = False
            return self._packets
        return ()
