"""OSC reports: who gets the state of the desk, until when, how often, and what has changed for each.

Pure: time is handed in, datagrams are handed out. The state is a mapping from address to arguments; a
receiver gets all of it when it asks or renews, then what changes, at its own rate.
"""

from __future__ import annotations

import math
from collections import OrderedDict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from onecrew.errors import Mistake
from onecrew.osc.packets import Argument, write_bundles, write_message
from onecrew.show.listener import LEAST_PORT

Address = tuple[str, int]
"""IP address and UDP port."""
Plain = tuple[object, ...]
State = Mapping[str, tuple[Argument, ...]]

RECEIVERS = 16
RATE_HZ = 10.0
MAX_RATE_HZ = 30.0
LEASE_S = 60.0
MAX_LEASE_S = 600.0
REFRESH_S = 10.0
"""How often a receiver that the show names is sent all of it anew: it may have missed some, or just begun."""
TOUCH_S = 0.5
"""What a fader or a button moves is not sent back to its device until it has rested this long."""
ECHO_S = 0.5
"""A device that sends back what it is sent does so within this."""
ECHOES = 4096
"""Most values remembered for telling echoes."""
DATAGRAM_BYTES = 1432
"""Fits one Ethernet frame with some room for tunnels, so that nothing is cut in pieces on the way."""


@dataclass(slots=True)
class Receiver:
    until: float
    interval_s: float
    due: float
    lease_s: float = math.inf
    refresh_at: float = math.inf
    """When all of it is sent anew; only to receivers that the show names."""
    sent: dict[str, tuple[Argument, ...]] = field(default_factory=dict)


class Reports:
    """Everybody who gets reports. Times are monotonic seconds."""

    def __init__(self, fixed: Sequence[Address] = ()) -> None:
        """``fixed`` get reports without asking, for ever."""
        self._by_address: dict[Address, Receiver] = {
            address: Receiver(math.inf, 1.0 / RATE_HZ, due=0.0, refresh_at=0.0) for address in fixed
        }
        self._fixed = frozenset(fixed)
        self._touched: dict[tuple[str, str], float] = {}
        """By host and address: until when nothing is sent there."""
        self._echoes: OrderedDict[tuple[str, str], list[tuple[float, Plain]]] = OrderedDict()
        """By host and address: what was sent in the last moments."""

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
        if address in self._fixed:
            self._by_address[address].refresh_at = now
        else:
            self._by_address[address] = Receiver(now + lease_s, 1.0 / rate_hz, due=now, lease_s=lease_s)

    def remove(self, address: Address) -> None:
        """Ends the reports that somebody asked for; those that the show wants go on."""
        if address not in self._fixed:
            self._by_address.pop(address, None)

    def renew(self, host: str, now: float) -> None:
        """Somebody there is alive: the reports it asked for go on."""
        for (receiver, _), one in self._by_address.items():
            if receiver == host:
                one.until = max(one.until, now + one.lease_s)

    def touch(self, host: str, address: str, now: float) -> None:
        """A device moves what this address controls: it is not fought until it rests."""
        receivers = [one for (receiver, _), one in self._by_address.items() if receiver == host]
        if not receivers or len(self._touched) >= ECHOES:
            return
        self._touched[host, address] = now + TOUCH_S
        self._echoes.pop((host, address), None)
        for receiver in receivers:
            receiver.sent.pop(address, None)

    def is_echo(self, host: str, address: str, values: Sequence[object], now: float) -> bool:
        """Whether a device only sends back what it was sent a moment ago."""
        sent = self._echoes.get((host, address), ())
        return any(at > now - ECHO_S and one == _plain(values) for at, one in sent)

    def drop_expired(self, now: float) -> None:
        for address in [a for a, receiver in self._by_address.items() if receiver.until <= now]:
            del self._by_address[address]

    def next_due(self) -> float | None:
        """When the next report is due; None without receivers."""
        return min((receiver.due for receiver in self._by_address.values()), default=None)

    def news(self, state: State, now: float) -> list[tuple[bytes, Address]]:
        """What to send now: to each receiver that is due, what it has not got yet."""
        self.drop_expired(now)
        self._touched = {where: until for where, until in self._touched.items() if until > now}
        written: dict[str, bytes] = {}
        datagrams: list[tuple[bytes, Address]] = []
        for address, receiver in self._by_address.items():
            if receiver.due > now:
                continue
            receiver.due = max(receiver.due + receiver.interval_s, now + receiver.interval_s / 2)
            if receiver.refresh_at <= now:
                receiver.refresh_at = now + REFRESH_S
                receiver.sent = {}
            messages = []
            for where, arguments in state.items():
                if receiver.sent.get(where) == arguments or (address[0], where) in self._touched:
                    continue
                if where not in written:
                    written[where] = write_message(where, arguments)
                messages.append(written[where])
                self._remember(address[0], where, arguments, now)
                receiver.sent[where] = arguments
            datagrams += [(datagram, address) for datagram in write_bundles(messages, DATAGRAM_BYTES)]
        return datagrams

    def _remember(self, host: str, where: str, arguments: tuple[Argument, ...], now: float) -> None:
        kept = [one for one in self._echoes.pop((host, where), ()) if one[0] > now - ECHO_S]
        self._echoes[host, where] = [*kept, (now, _plain(arguments))]
        if len(self._echoes) > ECHOES:
            self._echoes.popitem(last=False)


def _plain(values: Sequence[object]) -> Plain:
    """Arguments in one way of writing: devices send 1, 1.0 or T, and floats of 32 bits."""
    return tuple(
        float(f"{value:.6g}") if isinstance(value, int | float) else value
        for value in values
        if value is not None
    )
