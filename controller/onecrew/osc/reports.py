"""OSC reports: who gets the state of the desk, until when, how often, and what has changed for each.

Pure: time is handed in, datagrams are handed out. The state is a mapping from address to arguments; a
receiver gets all of it when it asks or renews, then what changes, at its own rate.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from onecrew.errors import Mistake
from onecrew.osc.packets import Argument, write_bundles, write_message

Address = tuple[str, int]
"""IP address and UDP port."""
State = Mapping[str, tuple[Argument, ...]]

RECEIVERS = 16
RATE_HZ = 10.0
MAX_RATE_HZ = 30.0
LEASE_S = 60.0
MAX_LEASE_S = 600.0
LEAST_PORT = 1024
DATAGRAM_BYTES = 1432
"""Fits one Ethernet frame with some room for tunnels, so that nothing is cut in pieces on the way."""


@dataclass(slots=True)
class Receiver:
    until: float
    interval_s: float
    due: float
    sent: dict[str, tuple[Argument, ...]] = field(default_factory=dict)


class Reports:
    """Everybody who gets reports. Times are monotonic seconds."""

    def __init__(self) -> None:
        self._by_address: dict[Address, Receiver] = {}

    def __len__(self) -> int:
        return len(self._by_address)

    def add(self, address: Address, now: float, rate_hz: float, lease_s: float) -> None:
        """Adds or renews a receiver; raises ``Mistake`` for one too many or a number out of range."""
        self.drop_expired(now)
        if not 0.1 <= rate_hz <= MAX_RATE_HZ:
            raise Mistake(f"rate_hz: {rate_hz:g} is too much or too little; send 0.1 to {MAX_RATE_HZ:g}")
        if not 1.0 <= lease_s <= MAX_LEASE_S:
            raise Mistake(f"seconds: {lease_s:g} is too long or too short; send 1 to {MAX_LEASE_S:g}")
        if address[1] < LEAST_PORT:
            raise Mistake(f"port: {address[1]} belongs to the system; send a port from {LEAST_PORT} to 65535")
        if len(self) >= RECEIVERS and address not in self._by_address:
            raise Mistake(f"{RECEIVERS} receivers get reports already, which is the most")
        self._by_address[address] = Receiver(now + lease_s, 1.0 / rate_hz, due=now)

    def remove(self, address: Address) -> None:
        self._by_address.pop(address, None)

    def drop_expired(self, now: float) -> None:
        for address in [a for a, receiver in self._by_address.items() if receiver.until <= now]:
            del self._by_address[address]

    def next_due(self) -> float | None:
        """When the next report is due; None without receivers."""
        return min((receiver.due for receiver in self._by_address.values()), default=None)

    def news(self, state: State, now: float) -> list[tuple[bytes, Address]]:
        """What to send now: to each receiver that is due, what it has not got yet."""
        self.drop_expired(now)
        written: dict[str, bytes] = {}
        datagrams: list[tuple[bytes, Address]] = []
        for address, receiver in self._by_address.items():
            if receiver.due > now:
                continue
            receiver.due = max(receiver.due + receiver.interval_s, now + receiver.interval_s / 2)
            messages = []
            for where, arguments in state.items():
                if receiver.sent.get(where) != arguments:
                    if where not in written:
                        written[where] = write_message(where, arguments)
                    messages.append(written[where])
            receiver.sent = dict(state)
            datagrams += [(datagram, address) for datagram in write_bundles(messages, DATAGRAM_BYTES)]
        return datagrams
