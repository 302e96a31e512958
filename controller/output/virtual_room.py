"""VirtualRoom: the lamps of a rig as the wire lights them, from a receiver's slots."""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping, Sequence
from typing import Generic, Protocol, TypeVar

from controller.documents.profile import Profile
from controller.documents.show import Fixture
from controller.output.decoder import Decoder, Seen

Sources = TypeVar("Sources", covariant=True)


class Receives(Protocol[Sources]):
    """What the room needs of a receiver; times are monotonic seconds."""

    def levels(self, universe: int, now: float) -> bytes | None:
        """Return the slots of a universe, None while no source sends it."""
        ...

    def sources(self, now: float) -> Sources:
        """Return who sends."""
        ...


class VirtualRoom(Generic[Sources]):
    """Lamps that show what arrives on the wire. It knows the patch and the profiles, not the engine.

    A universe that nobody sends leaves its lamps black.
    """

    def __init__(
        self,
        fixtures: Sequence[Fixture],
        profiles: Mapping[str, Profile],
        receiver: Receives[Sources],
        white_balance_k: float = 5600.0,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self._universes = sorted({fixture.universe for fixture in fixtures})
        self._decoder = Decoder(fixtures, profiles, white_balance_k)
        self._receiver = receiver
        self._clock = clock

    def lamps(self) -> list[Seen]:
        """Return what each lamp gives now, in rig order."""
        now = self._clock()
        heard = {universe: self._receiver.levels(universe, now) for universe in self._universes}
        return self._decoder.decode({u: slots for u, slots in heard.items() if slots is not None})

    def sources(self) -> Sources:
        """Return who sends, as the receiver tells it."""
        return self._receiver.sources(self._clock())
