"""Raised slots: some slots of a running engine, held while a person looks at what a lamp does with them."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from typing import Any

from onecrew.cli.keeping import Keeper
from onecrew.commands.light import RAMP_S, RISEN_S, RaiseSlots


def _sleep(seconds: float) -> None:
    time.sleep(seconds)


class Raised:
    """A lamp's slots by a running engine; they are black as soon as nobody asks for them.

    ``fixture`` is the lamp that is patched there; then a still has to have every lamp out.
    """

    def __init__(self, keeper: Keeper, universe: int, address: int, fixture: str | None = None) -> None:
        self._keeper = keeper
        self._universe, self._address, self._fixture = universe, address, fixture
        self._wanted: tuple[int, ...] = ()
        self._free = 0.0
        """When, in monotonic seconds, the movement that goes on ends: another one begins no sooner."""

    def show(self, slots: Sequence[int], wait: Callable[[float], str | None] = _sleep) -> str | None:
        """Brings the slots there, and waits until they are; raises what the engine refuses.

        Return what ``wait`` does, which is given the seconds.
        """
        said = None
        if tuple(slots) != self._wanted:
            self._wanted = tuple(slots)
            raising = RaiseSlots(
                universe=self._universe, address=self._address, slots=self._wanted, fixture=self._fixture
            )
            self._keeper.keep(raising, raising)
            now = time.monotonic()
            self._free = max(self._free, now) + RISEN_S
            said = wait(self._free - now)
        if self._keeper.failed is not None:
            raise self._keeper.failed
        return said

    def black(self) -> None:
        self._wanted = ()
        self._keeper.drop()
        self._keeper.send(RaiseSlots())
        self._free = time.monotonic() + RAMP_S

    def ask(self, topic: str, **arguments: Any) -> dict[str, Any]:
        """Return the engine's answer to a question."""
        return self._keeper.run(self._keeper.client.ask(topic, **arguments))
