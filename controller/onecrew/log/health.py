"""Health: how the outputs fared since they were last looked at, destination by destination. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from onecrew.log.happenings import Happening
from onecrew.show.snapshot import OutputState

HICCUPS_S = 10.0
"""How often short failures of one destination are logged at most."""


@dataclass(slots=True)
class _Seen:
    failing: bool
    errors: int
    told_errors: int
    told_at: float


class Health:
    """Remembers how every destination was. Times are monotonic seconds."""

    def __init__(self) -> None:
        self._seen: dict[tuple[str, int, str], _Seen] = {}

    def look(self, states: Iterable[OutputState], now: float) -> Iterator[Happening]:
        """What to tell: a destination that fails, that is back, or that failed and healed in between."""
        present: set[tuple[str, int, str]] = set()
        for state in states:
            key: tuple[str, int, str] = (state.protocol, state.universe, state.to)
            present.add(key)
            seen = self._seen.get(key)
            if seen is None:
                seen = self._seen[key] = _Seen(False, 0, 0, -float("inf"))
            yield from self._told(state, seen, now)
            seen.errors = state.errors
        for key in self._seen.keys() - present:
            del self._seen[key]

    def _told(self, state: OutputState, seen: _Seen, now: float) -> Iterator[Happening]:
        failing = state.state == "failing"
        where = f"universe {state.universe} to {state.to}"
        data = state.model_dump(include={"protocol", "universe", "to", "errors"})
        if failing and not seen.failing:
            reason = f": {state.error}" if state.error else ""
            yield Happening("output", "trouble", f"{where} fails{reason}", {**data, "error": state.error})
            seen.told_errors = state.errors
        elif seen.failing and state.state == "ok":
            yield Happening("output", "healed", f"{where} is back", data)
            seen.told_errors, seen.told_at = state.errors, now
        elif not failing and state.errors > seen.told_errors and now >= seen.told_at + HICCUPS_S:
            lost = state.errors - seen.told_errors
            packets = "one packet" if lost == 1 else f"{lost} packets"
            yield Happening("output", "hiccup", f"{where}: {packets} did not leave, it is back", data)
            seen.told_errors, seen.told_at = state.errors, now
        if state.state != "waiting":
            seen.failing = failing
