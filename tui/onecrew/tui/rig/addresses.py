"""Addresses: which slots each fixture takes, which are free, and what is wrong with a wanted one."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from onecrew.language import who
from onecrew.language.saying import counted
from onecrew.show.destination import SLOTS
from onecrew.show.patching import first_gap
from onecrew.show.show import Fixture


@dataclass(frozen=True, slots=True)
class Kind:
    """A profile in one of its modes, as it is offered."""

    profile: str
    name: str
    mode: str
    width: int
    channels: tuple[str, ...]
    note: str = ""
    menu: str = ""
    """What the maker calls the mode in the lamp's menu, where the profile says."""

    def words(self) -> str:
        return f"{self.name} · {self.mode} · {counted(self.width, 'slot')}"


def kinds_of(answer: Mapping[str, Any]) -> tuple[Kind, ...]:
    """The kinds of fixture in the engine's answer about its profiles."""
    return tuple(
        Kind(
            profile=profile["id"],
            name=profile["name"],
            mode=mode["name"],
            width=int(mode["width"]),
            channels=tuple(mode.get("channels", ())),
            note=" ".join(profile.get("note", "").split()),
            menu=mode.get("menu") or "",
        )
        for profile in answer.get("profiles", ())
        for mode in profile["modes"]
    )


def search(kinds: Sequence[Kind], typed: str) -> list[Kind]:
    """Kinds that have every typed word in their name, profile or mode; names that begin with it first."""
    words = typed.lower().split()
    found = [
        kind
        for kind in kinds
        if all(word in f"{kind.name} {kind.profile} {kind.mode}".lower() for word in words)
    ]
    return sorted(
        found, key=lambda kind: (not kind.name.lower().startswith(typed.lower()), kind.name, kind.mode)
    )


def kind_called(kinds: Sequence[Kind], profile: str, mode: str) -> Kind | None:
    """The kind with this profile and mode, None where it is unknown here."""
    return next((kind for kind in kinds if (kind.profile, kind.mode) == (profile, mode)), None)


def width_of(fixture: Fixture, kinds: Sequence[Kind]) -> int | None:
    """Slots that a fixture takes, None where its kind is unknown here."""
    kind = kind_called(kinds, fixture.profile, fixture.mode)
    return kind.width if kind is not None else None


def menu_words(fixture: Fixture, kinds: Sequence[Kind]) -> str:
    """What to set in a lamp's own menu: the mode as its maker calls it, universe, address."""
    kind = kind_called(kinds, fixture.profile, fixture.mode)
    return who.menu_words(fixture, kind.menu, kind.width) if kind is not None else who.menu_words(fixture)


def span(fixture: Fixture, kinds: Sequence[Kind]) -> range:
    """The addresses that a fixture takes; of an unknown kind, its first."""
    return range(fixture.address, fixture.address + (width_of(fixture, kinds) or 1))


def span_words(fixture: Fixture, kinds: Sequence[Kind]) -> str:
    taken = span(fixture, kinds)
    last = f"–{taken[-1]}" if len(taken) > 1 else ""
    return f"{taken[0]}{last}"


def map_of(fixtures: Sequence[Fixture], kinds: Sequence[Kind], universe: int) -> list[int | None]:
    """For each of the 512 slots, the index of the fixture that takes it."""
    slots: list[int | None] = [None] * SLOTS
    for index, fixture in enumerate(fixtures):
        if fixture.universe == universe:
            for address in span(fixture, kinds):
                if 1 <= address <= SLOTS:
                    slots[address - 1] = index
    return slots


def fault(
    fixtures: Sequence[Fixture], kinds: Sequence[Kind], universe: int, address: int, width: int, but: str = ""
) -> str:
    """Why ``width`` slots cannot sit there, in a sentence; empty when they can. ``but`` names who moves."""
    last = address + width - 1
    if last > SLOTS:
        return f"{address}–{last} runs past {SLOTS}: the last place for {width} slots is {SLOTS - width + 1}"
    for other in fixtures:
        if other.id == but or other.universe != universe:
            continue
        taken = span(other, kinds)
        if taken[0] <= last and address <= taken[-1]:
            return f"{address}–{last} overlaps {other.id}, which has {span_words(other, kinds)}"
    return ""


def free_from(
    fixtures: Sequence[Fixture], kinds: Sequence[Kind], universe: int, width: int, but: str = ""
) -> int | None:
    """The lowest address with ``width`` free slots."""
    others = (one for one in fixtures if one.id != but and one.universe == universe)
    return first_gap((span(one, kinds) for one in others), width)
