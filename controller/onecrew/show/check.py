"""Faults between the parts of a show: what no model can see because it needs the rest, or the profiles.

Everything is checked on an outline, so that a show which its models refuse is still checked across.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import islice
from re import compile as pattern
from re import fullmatch

from onecrew.errors import Fault
from onecrew.show.advise import advise
from onecrew.show.base import CUE_NUMBER, cue_order
from onecrew.show.destination import (
    ARTNET_PORT,
    PORT_ADDRESS_MAX,
    SACN_PORT,
    SLOTS,
    UNIVERSE_MAX,
    parse_destination,
    parse_interface,
    port_address,
)
from onecrew.show.faults import MAX_FAULTS, bounded, few, listed, meant, path_of, shown
from onecrew.show.listener import parse_guest, parse_listener, parse_receiver
from onecrew.show.outline import (
    CueOutline,
    FixtureOutline,
    Outline,
    SceneOutline,
    UniverseOutline,
    outline_of_show,
)  # fmt: skip
from onecrew.show.patching import gap, occupy, width_of
from onecrew.show.profile import Profile
from onecrew.show.profiles import ProfileLibrary
from onecrew.show.show import Show

__all__ = ["advise", "check_outline", "check_show", "new_faults"]

ProfileMap = Mapping[str, Profile]

_READING = pattern(r"rig\.fixtures\[(\d+)\]\.(calibration|emitter_readings)\[(\d+)\](?:\.(\w+))?.*")
_READINGS = {"calibration": "white readings", "emitter_readings": "emitter readings"}
_FIELDS = {
    "asked_cct_k": "the colour temperature asked", "asked_duv": "the tint asked",
    "measured_cct_k": "the colour temperature read", "measured_duv": "the tint read",
    "xy": "its x and y", "light": "its light", "level": "its level", "emitter": "its emitter",
}  # fmt: skip


def check_show(show: Show, profiles: ProfileMap) -> list[Fault]:
    """Every fault of a show beyond its models, in the order of the document; empty if it can be played."""
    outline = outline_of_show(show)
    return readings_named(check_outline(outline, profiles), outline)


def new_faults(before: Show, after: Show, profiles: ProfileMap) -> list[Fault]:
    """The faults of a changed show that it did not have before, wherever they stood then."""
    known = {(fault.what, fault.fix) for fault in check_show(before, profiles)}
    return [fault for fault in check_show(after, profiles) if (fault.what, fault.fix) not in known]


def readings_named(faults: Iterable[Fault], outline: Outline) -> list[Fault]:
    """Faults with the lamp and the reading in words where they are in its readings: nobody writes these by
    hand, so that a path in the file would say nothing."""
    return [_of_a_reading(fault, outline.fixtures) for fault in faults]


def _of_a_reading(fault: Fault, fixtures: Sequence[FixtureOutline]) -> Fault:
    found = _READING.fullmatch(fault.where)
    if found is None or int(found[1]) >= len(fixtures):
        return fault
    lamp = fixtures[int(found[1])].id or f"lamp {int(found[1]) + 1}"
    field = f", {_FIELDS.get(found[4], found[4])}" if found[4] else ""
    return replace(fault, where=f"{lamp}, number {int(found[3]) + 1} of its {_READINGS[found[2]]}{field}")


def check_outline(outline: Outline, profiles: ProfileMap) -> list[Fault]:
    """The same for an outline, as far as its parts can be read."""
    ids = [fixture.id for fixture in outline.fixtures if fixture.id is not None]
    of_fixtures = ((f"rig.fixtures[{fixture.index}].id", fixture.id) for fixture in outline.fixtures)
    sections = (
        (fault for fixture in outline.fixtures for fault in _fixture_faults(fixture, profiles)),
        _patch_faults(outline.fixtures, profiles),
        _twice(of_fixtures, "fixture"),
        _output_faults(outline.universes),
        _remote_faults(outline),
        _scene_faults(outline, ids),
        _cue_faults(outline.scenes, ids),
    )
    # A hostile file may have a fault in each of its lines: no section is followed without end.
    return bounded([fault for section in sections for fault in islice(section, 2 * MAX_FAULTS)])


# ── The rig ─────────────────────────────────────────────────────────────────────────────────────────


def _fixture_faults(fixture: FixtureOutline, profiles: ProfileMap) -> Iterator[Fault]:
    where = f"rig.fixtures[{fixture.index}]"
    if fixture.profile is not None and fixture.profile not in profiles:
        yield _unknown_profile(f"{where}.profile", fixture.profile, profiles)
    profile = profiles.get(fixture.profile) if fixture.profile is not None else None
    if profile is not None and fixture.mode is not None:
        mode, modes = profile.mode(fixture.mode), [mode.name for mode in profile.modes]
        if mode is None:
            close = meant(fixture.mode, modes)
            guess = f', perhaps "{close}" was meant' if close else ""
            what = f"profile {profile.id} has no mode {shown(fixture.mode)}{guess}"
            yield Fault(f"{where}.mode", what, f"it has {listed(modes)}")
        elif fixture.mixing == "best-rendition" and mode.emitters:
            blank = [name for name in mode.emitters if not profile.emitters[name].spectrum]
            if blank:
                what = f'"best-rendition" needs all spectra, {profile.id} has none for {listed(blank)}'
                yield Fault(f"{where}.mixing", what, 'use "most-light", or add the spectra to the profile')
    seen: dict[tuple[float, float], int] = {}
    for number, asked in enumerate(fixture.asked):
        if asked is not None and asked in seen:
            what = f"it asks the same white as number {seen[asked] + 1}"
            yield Fault(f"{where}.calibration[{number}]", what, "keep one of the two")
        elif asked is not None:
            seen[asked] = number


def _unknown_profile(where: str, name: str, profiles: ProfileMap) -> Fault:
    if isinstance(profiles, ProfileLibrary) and name in profiles.broken:
        what = f'the profile "{name}" cannot be used, its file has faults'
        return Fault(where, what, "fix the file, or use another profile")
    close = meant(name, profiles)
    fix = f'perhaps "{close}" was meant' if close else f"there are {few(sorted(profiles)) or 'no profiles'}"
    return Fault(where, f"there is no profile {shown(name)}", fix)


def _patch_faults(fixtures: Sequence[FixtureOutline], profiles: ProfileMap) -> Iterator[Fault]:
    """Fixtures that reach past their universe, or into one that stands before them in the document."""
    owners: dict[int, dict[int, FixtureOutline]] = {}
    taken: dict[int, bytearray] = {}
    patched = [(fixture, *patch) for fixture in fixtures if (patch := _patch(fixture, profiles))]
    for _, universe, span in patched:
        occupy(taken.setdefault(universe, bytearray(SLOTS)), span)
    for fixture, universe, span in patched:
        where, owner = f"rig.fixtures[{fixture.index}].address", owners.setdefault(universe, {})
        if span[-1] > SLOTS:
            what = f"{_name(fixture)} takes {len(span)} slots from {span[0]} on and ends at {span[-1]}"
            fix = f"a universe has {SLOTS} slots, {SLOTS + 1 - len(span)} is the last address that fits"
            yield Fault(where, what, fix)
        shared: dict[int, list[int]] = {}
        for address in span:
            if address <= SLOTS and owner.setdefault(address, fixture) is not fixture:
                shared.setdefault(owner[address].index, []).append(address)
        if shared:
            names = [f"{_name(fixtures[index])} on {_slots(slots)}" for index, slots in shared.items()]
            rest = [f"{len(names) - 3} more"] if len(names) > 3 else []
            what = f"{_name(fixture)} overlaps {listed([*names[:3], *rest])} of universe {universe}"
            free = gap(taken[universe], len(span))
            if free is not None:
                occupy(taken[universe], range(free, free + len(span)))  # not to be offered to two fixtures
            fix = f"address {free} is free" if free is not None else "move it to another universe"
            yield Fault(where, what, fix)


def _patch(fixture: FixtureOutline, profiles: ProfileMap) -> tuple[int, range] | None:
    """Universe and addresses of a fixture; one of unknown width counts with its first slot."""
    if fixture.universe is None or fixture.address is None:
        return None
    width = width_of(profiles, fixture.profile, fixture.mode) or 1
    return fixture.universe, range(fixture.address, fixture.address + width)


def _name(fixture: FixtureOutline) -> str:
    return fixture.id if fixture.id else f"fixture [{fixture.index}]"


def _slots(addresses: list[int]) -> str:
    first, last = addresses[0], addresses[-1]
    return f"slot {first}" if first == last else f"slots {first}–{last}"


def _twice(names: Iterable[tuple[str, str | None]], noun: str) -> Iterator[Fault]:
    first: dict[str, str] = {}
    for where, name in names:
        if name is None:
            continue
        if name in first:
            what = f"the {noun} {shown(name)} is there already as {first[name].rsplit('.', 1)[0]}"
            yield Fault(where, what, "give each its own")
        first.setdefault(name, where)


# ── Outputs and remotes ─────────────────────────────────────────────────────────────────────────────


def _output_faults(universes: Iterable[UniverseOutline]) -> Iterator[Fault]:
    ports: dict[tuple[int, str], str] = {}
    for universe in universes:
        where = f"output.{universe.protocol}.universes.{universe.number}"
        number = int(universe.number) if fullmatch("[1-9][0-9]{0,4}", universe.number) else None
        if number is not None and number > UNIVERSE_MAX:
            yield Fault(where, f"there is no universe {number}", f"use 1 to {UNIVERSE_MAX}")
        hosts: set[tuple[str, int]] = set()
        default = SACN_PORT if universe.protocol == "sacn" else ARTNET_PORT
        for place, text in enumerate(universe.to):
            if text is None:
                continue
            at = f"{where}.to[{place}]"
            try:
                host = parse_destination(text, default)
            except ValueError as error:
                yield _said(at, error)
                continue
            if host in hosts:
                yield Fault(at, f"{text} is in the list already", "remove it here")
            hosts.add(host)
        if universe.interface is not None:
            yield from _try(parse_interface, universe.interface, f"{where}.interface")
        if universe.protocol == "artnet" and number is not None:
            yield from _port_faults(universe, number, hosts, ports, where)


def _port_faults(
    universe: UniverseOutline,
    number: int,
    hosts: set[tuple[str, int]],
    ports: dict[tuple[int, str], str],
    where: str,
) -> Iterator[Fault]:
    """An Art-Net port-address has 15 bits, and two universes cannot share one at the same receiver."""
    port = port_address(number, universe.port_address)
    if universe.port_address is None and port > PORT_ADDRESS_MAX:
        what = f"universe {number} is past the last Art-Net port-address"
        yield Fault(where, what, f"add a port_address from 0 to {PORT_ADDRESS_MAX}")
    for host, udp_port in sorted(hosts):
        other = ports.setdefault((port, f"{host}:{udp_port}"), universe.number)
        if other != universe.number:
            what = f"universes {other} and {universe.number} both go to port-address {port} at {host}"
            yield Fault(f"{where}.port_address", what, "give each its own port_address")


def _remote_faults(outline: Outline) -> Iterator[Fault]:
    if outline.osc_listen is not None:
        yield from _try(parse_listener, outline.osc_listen, "remote.osc.listen")
    for number, text in enumerate(outline.osc_allow):
        if text is not None:
            yield from _try(parse_guest, text, f"remote.osc.allow[{number}]")
    for number, text in enumerate(outline.osc_feedback):
        if text is not None:
            yield from _try(parse_receiver, text, f"remote.osc.feedback[{number}]")
    if outline.page_listen is not None:
        yield from _try(parse_listener, outline.page_listen, "remote.page.listen")


def _try(parse: Callable[[str], object], text: str, where: str) -> Iterator[Fault]:
    try:
        parse(text)
    except ValueError as error:
        yield _said(where, error)


def _said(where: str, error: ValueError) -> Fault:
    what, _, fix = str(error).partition("; ")
    return Fault(where, what, fix or "give an address such as 192.168.1.50")


# ── The scenes and their cues ─────────────────────────────────────────────────────────────────────────


def _scene_faults(outline: Outline, fixtures: list[str]) -> Iterator[Fault]:
    yield from _twice(((f"scenes[{scene.index}].name", scene.name) for scene in outline.scenes), "scene")
    names = [scene.name for scene in outline.scenes if scene.name is not None]
    if outline.open is not None and names and outline.open not in names:
        yield Fault("scene", f"there is no scene {shown(outline.open)}", f"the show has {few(names)}")
    for scene in outline.scenes:
        where = f"scenes[{scene.index}]"
        for name in scene.arranged:
            if name not in fixtures:
                yield _unknown_fixture(f"{where}.{path_of(('arrangement', name))}", name, fixtures)
        pieces = ((f"{where}.set_pieces[{i}].id", name) for i, name in enumerate(scene.set_pieces))
        yield from _twice(pieces, "set piece")


def _unknown_fixture(where: str, name: str, fixtures: list[str]) -> Fault:
    close = meant(name, fixtures)
    names = f"the rig has {few(list(dict.fromkeys(fixtures)))}" if fixtures else "the rig has none yet"
    fix = f'perhaps "{close}" was meant' if close else names
    return Fault(where, f"the rig has no fixture {shown(name)}", fix)


def _cue_faults(scenes: Iterable[SceneOutline], fixtures: list[str]) -> Iterator[Fault]:
    """A number is unique in the show, a shortcut in its scene."""
    numbers: dict[tuple[int, int], tuple[CueOutline, str]] = {}
    known = set(fixtures)
    for where, cue in ((_place(scene, cue), cue) for scene in scenes for cue in scene.cues):
        if cue.number is not None and fullmatch(CUE_NUMBER, cue.number):
            first, there = numbers.setdefault(cue_order(cue.number), (cue, where))
            if first is not cue:
                what = f"cue {cue.number} is there already as {there}"
                yield Fault(f"{where}.number", what, "give each cue its own number")
        for name in cue.lit:
            if name not in known:
                yield _unknown_fixture(f"{where}.{path_of(('look', name))}", name, fixtures)
    for scene in scenes:
        yield from _shortcut_faults(scene)


def _place(scene: SceneOutline, cue: CueOutline) -> str:
    return f"scenes[{scene.index}].cues[{cue.index}]"


def _shortcut_faults(scene: SceneOutline) -> Iterator[Fault]:
    shortcuts: dict[str, CueOutline] = {}
    for cue in scene.cues:
        where = _place(scene, cue)
        if cue.shortcut is not None and len(cue.shortcut) == 1:
            other = shortcuts.setdefault(cue.shortcut, cue)
            if not cue.shortcut.isprintable():
                yield Fault(
                    f"{where}.shortcut",
                    f"{shown(cue.shortcut)} is not a key that can be typed",
                    "use a printable key",
                )
            elif other is not cue:
                what = f"{shown(cue.shortcut)} is the shortcut of cue {other.number} already"
                yield Fault(f"{where}.shortcut", what, "give each cue its own shortcut")
