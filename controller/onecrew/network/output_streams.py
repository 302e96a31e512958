"""Output streams, one per universe: the destinations they go to, and how each stands."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import Generic, Literal, TypeVar

import numpy as np
from numpy.typing import NDArray

from onecrew.network.delivery import Address, AddressSockets, Delivery
from onecrew.network.pacing import NEVER_S, ROUNDING_S
from onecrew.network.stream import Stream
from onecrew.show.destination import SLOTS, parse_destination
from onecrew.show.snapshot import OutputState

AnyStream = TypeVar("AnyStream", bound=Stream)
Protocol = Literal["sacn", "artnet"]


@dataclass(frozen=True, slots=True)
class Routes:
    """Where a universe goes: addresses under their names for the user, and unusable names with the reason."""

    usable: dict[Address, str] = field(default_factory=dict)
    unusable: tuple[tuple[str, str], ...] = ()


def unicast_routes(destinations: Iterable[str], default_port: int) -> Routes:
    """Reads unicast destinations; one address is one route however often it is named."""
    usable: dict[Address, str] = {}
    unusable: list[tuple[str, str]] = []
    for to in destinations:
        try:
            host, port = parse_destination(to, default_port)
        except ValueError as error:
            unusable.append((to, str(error)))
        else:
            usable.setdefault(Address(host, port), to)
    return Routes(usable, tuple(unusable))


class UniverseStream(Generic[AnyStream]):
    """A stream with its deliveries."""

    __slots__ = ("_unusable", "deliveries", "stream")

    def __init__(
        self,
        stream: AnyStream,
        routes: Routes,
        sockets: AddressSockets,
        before: UniverseStream[AnyStream] | None = None,
    ) -> None:
        """Takes over from ``before`` the deliveries that stay; a new one is owed the latest packet."""
        self.stream = stream
        self._unusable = routes.unusable
        known = {delivery.address: delivery for delivery in before.deliveries} if before else {}
        self.deliveries: list[Delivery] = []
        for address, to in routes.usable.items():
            delivery = known.get(address)
            if delivery is None:
                delivery = Delivery(sockets.to(address), to)
                delivery.owes = stream.started
            delivery.to = to
            self.deliveries.append(delivery)

    def emit(self, now: float) -> bool:
        """Sends what is due, else what is owed; true if a packet left."""
        left = False
        for packet in self.stream.due(now):
            for delivery in self.deliveries:
                left |= delivery.send(packet, now)
            return left
        for delivery in self.deliveries:
            if delivery.owes and now >= delivery.retry_at():
                left |= delivery.send(self.stream.packet, now)
        return left

    def next_due(self, now: float, held_until: float = -NEVER_S) -> float:
        """When to call ``emit`` next, never before ``now``; a change is held back until ``held_until``."""
        due = self.stream.next_due(now)
        if due < held_until and self.stream.changed:
            due = held_until
        for delivery in self.deliveries:
            if delivery.owes:
                due = min(due, max(now, delivery.retry_at()))
        return due

    def addresses(self) -> Iterator[Address]:
        return (delivery.address for delivery in self.deliveries)

    def states(self, protocol: Protocol) -> Iterator[OutputState]:
        universe = self.stream.universe
        for delivery in self.deliveries:
            yield delivery.state(universe, protocol)
        for to, why in self._unusable:
            yield OutputState(
                universe=universe, protocol=protocol, to=to, state="failing", sent=0, errors=0, error=why
            )


class UniverseStreams(Generic[AnyStream]):
    """The universes of one output, in the order of the rows of slots."""

    def __init__(self, protocol: Protocol, together: bool = False) -> None:
        """``together``: universes change in one frame; those that may leave wait for the rest."""
        self.all: list[UniverseStream[AnyStream]] = []
        self.together = together
        self._protocol: Protocol = protocol

    def send(self, slots: NDArray[np.uint8] | None, now: float) -> bool:
        """Sends what is due and what is owed; true if a packet left.

        ``slots`` has shape (universes, 512), None if nothing changed; raises ``ValueError`` for another.
        """
        if slots is not None:
            self._want(slots)
        held = self._held_until() > now + ROUNDING_S
        left = False
        for running in self.all:
            if not (held and running.stream.changed):
                left |= running.emit(now)
        return left

    def expect(self, moment: float) -> None:
        """The next slots come at ``moment``: repeats before it would only hold them up."""
        for running in self.all:
            running.stream.expect(moment)

    def may_send_at(self) -> float:
        """The earliest moment at which a change of all universes may leave."""
        return max((running.stream.may_send_at() for running in self.all), default=-NEVER_S)

    def next_due(self, now: float) -> float:
        """When to call ``send`` next, never before ``now``; infinity if there is nothing to send."""
        held_until = self._held_until()
        due = NEVER_S
        for running in self.all:
            due = min(due, running.next_due(now, held_until))
        return due

    def addresses(self) -> Iterator[Address]:
        return (address for running in self.all for address in running.addresses())

    def states(self) -> tuple[OutputState, ...]:
        """How each destination of each universe stands."""
        return tuple(state for running in self.all for state in running.states(self._protocol))

    def _want(self, slots: NDArray[np.uint8]) -> None:
        wanted = (len(self.all), SLOTS)
        if slots.shape != wanted or slots.dtype != np.uint8:
            raise ValueError(f"slots must be uint8 of shape {wanted}, not {slots.dtype} of {slots.shape}")
        octets = slots.tobytes()
        for index, running in enumerate(self.all):
            running.stream.want(octets[index * SLOTS : (index + 1) * SLOTS])

    def _held_until(self) -> float:
        """When the last of those with a change may leave."""
        if not self.together:
            return -NEVER_S
        waiting = (running.stream.may_send_at() for running in self.all if running.stream.changed)
        return max(waiting, default=-NEVER_S)


def rows_of(slots: NDArray[np.uint8], rows: Sequence[int]) -> NDArray[np.uint8]:
    """Return some rows of slots (universes, 512), each named once and rising; no copy where it is all."""
    if len(rows) == len(slots):
        return slots
    return slots[rows] if rows else slots[:0]
