"""The forms that patch a new lamp or change one, with the address checked while it is typed."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from onecrew.commands.rig import read_fixture_field
from onecrew.language import names
from onecrew.language.modifiers import HINT, write_modifiers
from onecrew.language.phrases import build
from onecrew.language.places import write_place
from onecrew.show.show import ROLES, Fixture, Show
from onecrew.tui.dialogs.form import Form
from onecrew.tui.rig import typed
from onecrew.tui.rig.addresses import Kind, fault, free_from, kind_called

ROLE_HINT = f"Roles, by their first letters: {', '.join(ROLES)}"
HINTS = {
    "role": ROLE_HINT,
    "mixing": "most-light, or best-rendition where its profile has the spectra of its emitters",
    "even light": "yes: as much light at every white as at the weakest",
    "modifiers": f"With the stops they take: {HINT}",
    "place": "From the left and lower wall, height, aim, tilt: 0.6 3.4 2.1 135 -10, or feet as 6'11\"",
    "PWM rate": "How fast its dimming switches, where the maker states it: 2000 Hz",
    "segments share": "yes: finer in the dark, for a lamp that is not in the picture",
}


_SWITCHES = ("even", "sharing")
_LABELS = {"even": "even light", "at": "place", "pwm": "PWM rate", "sharing": "segments share"}
"""How fields that ``patch`` has short words for are called in the form."""


def _patch_of(
    texts: dict[str, str], show: Show, kinds: Sequence[Kind], width: int, but: str
) -> dict[str, int]:
    """Universe and address, or ``ValueError`` with the overlap and the next free address."""
    universe = names.universe(texts["universe"])
    address = names.address(texts["address"])
    wrong = fault(show.rig.fixtures, kinds, universe, address, width, but)
    if wrong:
        free = free_from(show.rig.fixtures, kinds, universe, width, but)
        mend = f"{free} is free" if free is not None else "this universe is full, use another"
        raise ValueError(f"{wrong}; {mend}")
    return {"universe": universe, "address": address}


def new_form(
    now: Callable[[], Show], kinds: Sequence[Kind], kind: Kind, universe: int, address: int | None = None
) -> Form[Fixture]:
    """Patches a new lamp of this kind, with this address offered or the next free one.

    ``now`` is the show: another window may take a name or an address while the form is open.
    """
    fixtures = now().rig.fixtures
    address = address or free_from(fixtures, kinds, universe, kind.width)

    def read(texts: dict[str, str]) -> Fixture:
        name = names.fixture_id(texts["name"])
        if now().fixture(name) is not None:
            raise ValueError(f"{name} is taken: give it another name")
        return build(
            Fixture,
            **{
                "id": name,
                "profile": kind.profile,
                "mode": kind.mode,
                "role": names.role(texts["role"]),
                **_patch_of(texts, now(), kinds, kind.width, ""),
            },
        )

    def moved(label: str, texts: dict[str, str]) -> dict[str, str]:
        """Another universe offers its own next free address."""
        if label != "universe":
            return {}
        try:
            free = free_from(now().rig.fixtures, kinds, names.universe(texts["universe"]), kind.width)
        except ValueError:  # the form says what is wrong
            return {}
        return {"address": str(free)} if free is not None else {}

    fields = {
        "name": typed.suggest_name(kind.profile, fixtures),
        "role": typed.suggest_role(fixtures),
        "universe": str(universe),
        "address": str(address) if address is not None else "",
    }
    return Form(f"Patch a lamp: {kind.words()}", fields, read, ROLE_HINT, moved)


def edit_form(show: Show, kinds: Sequence[Kind], fixture: Fixture) -> Form[Fixture]:
    """Changes a patched lamp. Its name stays, for the looks know it by that."""
    modes = [kind for kind in kinds if kind.profile == fixture.profile]

    def read(texts: dict[str, str]) -> Fixture:
        kind = kind_called(modes, fixture.profile, texts["mode"])
        if kind is None and modes:
            raise ValueError(f"a mode is one of: {', '.join(kind.mode for kind in modes)}")
        fields: dict[str, Any] = {**fixture.model_dump(), "mode": texts["mode"]}
        for word in ("role", "mixing", "even", "modifiers", "at", "pwm", "note", "sharing"):
            text = texts[_LABELS.get(word, word)]
            read_fixture_field(word, text or ("no" if word in _SWITCHES else ""), fields)
        fields |= _patch_of(texts, show, kinds, kind.width if kind is not None else 1, fixture.id)
        return build(Fixture, **fields)

    fields = {
        "role": fixture.role,
        "universe": str(fixture.universe),
        "address": str(fixture.address),
        "mode": fixture.mode,
        "mixing": fixture.mixing,
        "even light": "yes" if fixture.even else "no",
        "modifiers": write_modifiers(fixture.modifiers),
        "place": write_place(fixture.place, " ") if fixture.place is not None else "",
        "note": fixture.note,
        "PWM rate": f"{fixture.pwm_hz:g} Hz" if fixture.pwm_hz is not None else "",
        "segments share": "yes" if fixture.sharing else "no",
    }
    known = ", ".join(kind.mode for kind in modes) or fixture.mode
    hints = HINTS | {"mode": f"One of {known}"}
    return Form(f"Change {fixture.id}", fields, read, hints=hints)
