"""What the screens know of the engine's client, and how its news reaches the screen at a measured pace."""

from __future__ import annotations

from collections.abc import AsyncIterator, Callable, Coroutine
from typing import Any, Protocol

from onecrew.commands.command import Command
from onecrew.show.show import Show
from onecrew.show.snapshot import Snapshot

PAINT_EVERY_S = 1 / 15
"""Live state is painted at most this often: smooth to the eye, and it leaves the keys alone."""


class Client(Protocol):
    """The engine's link as the screens use it; ``onecrew.engine.client.Client`` is one."""

    @property
    def snapshot(self) -> Snapshot | None: ...

    @property
    def show(self) -> Show | None: ...

    async def send(self, command: Command, /) -> bool: ...

    def send_now(self, command: Command, /) -> Coroutine[Any, Any, bool]:
        """The command leaves before this returns; whether it changed something is awaited."""
        ...

    async def ask(self, topic: str, /, **arguments: Any) -> dict[str, Any]: ...

    def events(self) -> AsyncIterator[Any]:
        """Snapshots, shows, and the two remarks that the link was lost or has healed."""
        ...

    async def close(self) -> None: ...


def aged(snapshot: Snapshot, by_s: float) -> Snapshot:
    """The state ``by_s`` seconds after it was sent, as far as clocks go: nobody sends a state for each tenth.

    The countdown runs in real time; the auto-follow stands still while the show is held.
    """
    changes: dict[str, object] = {}
    if snapshot.countdown is not None:
        left_s = max(snapshot.countdown.left_s - by_s, 0.0)
        changes["countdown"] = snapshot.countdown.model_copy(update={"left_s": left_s})
    if snapshot.auto_follow_left_s is not None and not snapshot.held:
        changes["auto_follow_left_s"] = max(snapshot.auto_follow_left_s - by_s, 0.0)
    return snapshot.model_copy(update=changes) if changes else snapshot


class Pace:
    """Decides when to paint: at once after a rest, then at most every ``every_s``, the latest state last.

    ``later(delay_s, call)`` schedules one call; ``paint()`` paints what is latest then.
    """

    def __init__(
        self,
        now: Callable[[], float],
        later: Callable[[float, Callable[[], None]], object],
        paint: Callable[[], None],
        every_s: float = PAINT_EVERY_S,
    ) -> None:
        self._now, self._later, self._paint, self._every_s = now, later, paint, every_s
        self._painted_at = float("-inf")
        self._waiting = False

    def ask(self) -> None:
        """Something changed."""
        if self._waiting:
            return
        left_s = self._painted_at + self._every_s - self._now()
        if left_s <= 0:
            self._fire()
        else:
            self._waiting = True
            self._later(left_s, self._fire)

    def _fire(self) -> None:
        self._waiting = False
        self._painted_at = self._now()
        self._paint()
