"""Restore: a cue from a sheet or a take, for the rig as it is today; what is missing or changed is listed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from onecrew.commands.cues import free_shortcut
from onecrew.errors import Refused
from onecrew.language.saying import DELETED
from onecrew.log.recorded_state import Lamp, RecordedState, kind_of
from onecrew.show.light import Light, Look
from onecrew.show.show import Cue, Fixture, Show

LONGEST_NAME = 80
"""Letters of a cue's name."""


@dataclass(frozen=True, slots=True)
class Restored:
    """What became of one lit lamp of the sheet."""

    lamp: Lamp
    state: Literal["same", "changed", "missing"]
    """changed: the rig has a lamp for it, of another profile or mode."""
    now: Fixture | None
    """The lamp of today's rig that has its light."""
    candidates: tuple[str, ...] = ()
    """For a missing lamp: lamps of the rig that might stand in, the likeliest first."""

    @property
    def id(self) -> str:
        return self.lamp.fixture.id

    @property
    def light(self) -> Light:
        return self.lamp.light


@dataclass(frozen=True, slots=True)
class Restoration:
    """The cue, and what became of every lit lamp of the sheet."""

    cue: Cue
    lamps: tuple[Restored, ...]
    unknown: tuple[str, ...]
    """Lamps of the rig that the sheet does not have."""

    def of(self, state: str) -> list[Restored]:
        return [lamp for lamp in self.lamps if lamp.state == state]


def restore(
    recorded: RecordedState,
    show: Show,
    number: str,
    name: str | None = None,
    instead: Mapping[str, str] | None = None,
) -> Restoration:
    """The cue that gives the look of a moment on the rig of a show.

    ``instead`` names, by a lamp of the sheet, the lamp of the rig that takes its light. ``Refused`` for one
    that is not there, or for two lamps on one.
    """
    instead = instead or {}
    _check(recorded, show, instead)
    taken: Look = {}
    found: list[Restored] = []
    owners: dict[str, str] = {}
    for lamp in recorded.lamps:
        if lamp.light.level <= 0.0:
            continue
        goal = instead.get(lamp.fixture.id, lamp.fixture.id)
        now = show.fixture(goal)
        if now is None:
            found.append(Restored(lamp, "missing", None, tuple(_candidates(lamp, recorded, show, instead))))
            continue
        if goal in owners:
            raise Refused(f"{owners[goal]} and {lamp.fixture.id} would both go onto {goal}: choose another")
        owners[goal] = lamp.fixture.id
        taken[goal] = lamp.light
        same = kind_of(now) == kind_of(lamp.fixture)
        found.append(Restored(lamp, "same" if same else "changed", now))
    on_sheet = {lamp.fixture.id for lamp in recorded.lamps} | set(owners)
    title = name if name is not None else _name(recorded)
    old = show.cue(number)
    shortcut = free_shortcut(show, number) if old is None else old.shortcut
    cue = Cue(number=number, name=title[:LONGEST_NAME], shortcut=shortcut, look=taken)
    unknown = tuple(fixture.id for fixture in show.rig.fixtures if fixture.id not in on_sheet)
    return Restoration(cue, tuple(found), unknown)


def _check(recorded: RecordedState, show: Show, instead: Mapping[str, str]) -> None:
    for old, new in instead.items():
        if all(lamp.fixture.id != old for lamp in recorded.lamps):
            have = ", ".join(lamp.fixture.id for lamp in recorded.lamps) or "none"
            raise Refused(f"the sheet has no lamp {old}; it has {have}")
        if show.fixture(new) is None:
            have = ", ".join(fixture.id for fixture in show.rig.fixtures) or "none yet"
            raise Refused(f"the rig has no lamp {new}; it has {have}")


def _candidates(lamp: Lamp, recorded: RecordedState, show: Show, instead: Mapping[str, str]) -> list[str]:
    """Lamps that the look leaves dark: those of the same kind first, then of the same role."""
    busy = {instead.get(one.fixture.id, one.fixture.id) for one in recorded.lamps if one.light.level > 0.0}
    free = [fixture for fixture in show.rig.fixtures if fixture.id not in busy]

    def unlike(fixture: Fixture) -> tuple[bool, bool]:
        return kind_of(fixture) != kind_of(lamp.fixture), fixture.role != lamp.fixture.role

    return [f.id for f in sorted(free, key=unlike) if unlike(f) != (True, True)]


def _name(recorded: RecordedState) -> str:
    name = recorded.cue.name if recorded.cue is not None and recorded.cue.name != DELETED else ""
    if recorded.take is not None:  # which is said whole: takes of one cue are told apart by it
        take = f"{recorded.take.setup}/{recorded.take.number}"
        return f"{name[: max(LONGEST_NAME - 1 - len(take), 0)]} {take}".strip()[-LONGEST_NAME:]
    return name or "From a sheet"
