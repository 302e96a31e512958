"""A receiver's choice among several sources, written from the standard and sharing nothing with ours.

ANSI E1.31-2018: the highest priority counts (6.2.3); a source is lost 2.5 s after its last packet, or at
once when it says Stream_Terminated (6.7.1, Appendix A); packets that come late by their sequence number are
dropped (6.7.2). Among sources of one priority the one that came first keeps counting (6.2.3.1 leaves that to
the maker).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from tests.wire.e131_layout import Packet

LOSS_S = 2.5


@dataclass(frozen=True)
class Shown:
    """What a receiver shows from a moment on: whose packet, or nobody's."""

    at: float
    packet: Packet | None


def shown(packets: Iterable[tuple[float, Packet]], universe: int = 1) -> list[Shown]:
    """What a receiver of one universe shows over time, change by change, given all that arrives."""
    latest: dict[bytes, tuple[float, Packet]] = {}
    winner: bytes | None = None
    result: list[Shown] = []

    def show(at: float) -> None:
        result.append(Shown(at, None if winner is None else latest[winner][1]))

    for at, packet in packets:
        if packet.kind != "data" or packet.universe != universe or packet.start_code != 0:
            continue
        for cid, (heard, _) in sorted(latest.items(), key=lambda known: known[1][0]):
            if at - heard > LOSS_S:
                del latest[cid]
                if cid == winner:
                    winner = _best(latest)
                    show(heard + LOSS_S)
        before = latest.get(packet.cid)
        if before is not None and -20 < (packet.sequence - before[1].sequence + 128) % 256 - 128 <= 0:
            continue
        if packet.terminated:
            latest.pop(packet.cid, None)
            if packet.cid == winner:
                winner = _best(latest)
                show(at)
            continue
        latest[packet.cid] = (at, packet)
        if winner is None or packet.priority > latest[winner][1].priority:
            winner = packet.cid
        elif winner == packet.cid:
            best = _best(latest)
            assert best is not None
            if latest[best][1].priority > packet.priority:  # it has lowered its own
                winner = best
                show(at)
        if winner == packet.cid:
            show(at)
    return result


def _best(latest: dict[bytes, tuple[float, Packet]]) -> bytes | None:
    return max(latest, key=lambda cid: latest[cid][1].priority, default=None)
