"""The rig: which lamp is patched where, as what."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from typing import Literal

from onecrew.commands.command import Command, Log, Row, ShowCommand, changed, joined
from onecrew.commands.context import Context
from onecrew.errors import Misuse, Refused
from onecrew.language import names, places, reading, writing
from onecrew.language.modifiers import read_modifiers, write_modifiers
from onecrew.language.names import nearest, no_fixture, patch_address, universe
from onecrew.language.phrases import build, one_of, plain, split, unknown
from onecrew.show.base import Name
from onecrew.show.patching import next_free, next_free_anywhere
from onecrew.show.profile import Mode, Profile
from onecrew.show.profiles import ProfileLibrary
from onecrew.show.show import MIXINGS, NO_READINGS, ROLES, Arrangement, Cue, Fixture, Rig, Scene, Show


class PutFixture(ShowCommand):
    """Patch a fixture, or replace the one with this id."""

    kind: Literal["put-fixture"] = "put-fixture"
    fixture: Fixture


def _read_patch(words: list[str], context: Context) -> Command:
    rig = context.need_show().rig
    head, pairs = split(words, texts=frozenset({"note", "role", "modifiers"}))
    if not head:
        raise Misuse(
            "'patch' needs an id, a kind and an address, as 'patch window panel-cct-tint/16-bit 1.1 role=key'"
        )
    name, rest = head[0].lower(), head[1:]
    present = next((fixture for fixture in rig.fixtures if fixture.id == name), None)
    fields: dict[str, object] = present.model_dump() if present else {"id": name}
    if name in ROLES:
        fields.setdefault("role", name)
    for pair in pairs:
        read_fixture_field(pair.key, plain(pair, "patch"), fields)
    address = rest.pop() if rest and re.fullmatch(r"\d+(\.\d+)?|next", rest[-1].lower(), re.ASCII) else None
    if len(rest) > 1:
        raise names.no_address(rest[1])
    if rest:
        fields["profile"], fields["mode"] = _kind(rest[0].lower(), context.profiles)
        if present is not None and fields["profile"] != present.profile:
            fields |= NO_READINGS  # they were of the other lamp
    elif present is None:
        raise Misuse(f"say what kind of fixture {name} is; `onecrew profiles` lists the kinds")
    if address is not None or present is None:
        others = Rig(fixtures=tuple(fixture for fixture in rig.fixtures if fixture.id != name))
        fields["universe"], fields["address"] = _address(address or "next", others, fields, context.profiles)
    if "role" not in fields:
        raise Misuse(f"say the role of {name}: role=key, {', '.join(ROLES[1:])}")
    return PutFixture(fixture=build(Fixture, **fields))


_FIELDS: Mapping[str, tuple[str, Callable[[str], object]]] = {
    "role": ("role", names.role),
    "at": ("place", places.read_place),
    "modifiers": ("modifiers", read_modifiers),
    "even": ("even", lambda text: reading.yes_no(text, "even")),
    "sharing": ("sharing", lambda text: reading.yes_no(text, "sharing")),
    "mixing": ("mixing", lambda text: one_of(text, MIXINGS, "mixing")),
    "pwm": ("pwm_hz", reading.pulses),
    "note": ("note", str),
}


def read_fixture_field(key: str, value: str, fields: dict[str, object]) -> None:
    """Puts into ``fields`` what is written for one of them, by the words of ``patch``."""
    if key not in _FIELDS:
        raise unknown("a fixture", key, tuple(_FIELDS))
    name, read = _FIELDS[key]
    fields[name] = read(value)


def _kind(said: str, profiles: Mapping[str, Profile]) -> tuple[str, str]:
    name, slash, mode = said.partition("/")
    profile = profiles.get(name)
    if profile is None and isinstance(profiles, ProfileLibrary) and name in profiles.broken:
        raise profiles.broken[name]
    if profile is None:
        raise Misuse(f"there is no profile '{name}'{nearest(name, profiles)}; `onecrew profiles` has all")
    modes = [known.name for known in profile.modes]
    if not slash and len(modes) == 1:
        return name, modes[0]
    if mode not in modes:
        raise Misuse(f"say the mode of {name}: {' or '.join(f'{name}/{known}' for known in modes)}")
    return name, mode


def _address(
    said: str, others: Rig, fields: Mapping[str, object], profiles: Mapping[str, Profile]
) -> tuple[int, int]:
    """Universe and address from '1.33', '2' (the next free place of universe 2) or 'next' (of any)."""
    if "." in said:
        return patch_address(said)
    width = _mode_of(fields, profiles).width
    if said.lower() == "next":
        place = next_free_anywhere(others, profiles, width)
        if place is None:
            raise Misuse(f"no universe has {width} slots in a row left")
        return place
    wanted = universe(said)
    free = next_free(others, profiles, wanted, width)
    if free is None:
        raise Misuse(f"universe {wanted} has no {width} slots in a row left; name another universe")
    return wanted, free


def _mode_of(fields: Mapping[str, object], profiles: Mapping[str, Profile]) -> Mode:
    profile = profiles.get(str(fields["profile"]))
    mode = profile.mode(str(fields["mode"])) if profile else None
    if mode is None:
        raise Misuse(
            f"{fields['profile']}/{fields['mode']} is not among the profiles; write universe.address"
        )
    return mode


def _write_patch(command: PutFixture, show: Show | None) -> str:
    lamp = command.fixture
    said = f"patch {lamp.id} {lamp.profile}/{lamp.mode} {lamp.universe}.{lamp.address} role={lamp.role}"
    old = show.fixture(lamp.id) if show is not None else None
    fresh = Fixture(id=lamp.id, profile=lamp.profile, mode=lamp.mode, universe=1, address=1, role=lamp.role)
    return joined([said, *changed(_extras(lamp), _extras(fresh if old is None else old))])


def _extras(lamp: Fixture) -> dict[str, str]:
    return {
        "mixing": lamp.mixing,
        "even": writing.on(lamp.even),
        "sharing": writing.on(lamp.sharing),
        "at": places.write_place(lamp.place),
        "modifiers": write_modifiers(lamp.modifiers) or "none",
        "pwm": "none" if lamp.pwm_hz is None else writing.number(lamp.pwm_hz),
        "note": lamp.note,
    }


def with_rig(show: Show, **parts: object) -> Show:
    return show.model_copy(update={"rig": show.rig.model_copy(update=parts)})


def _with_fixture(show: Show, command: PutFixture) -> Show:
    fixtures, lamp = show.rig.fixtures, command.fixture
    if show.fixture(lamp.id) is None:
        # In the other scenes it has the same role, and no place, until they say otherwise.
        fresh = {lamp.id: Arrangement(role=lamp.role)}
        show = _in_other_scenes(show, lambda scene: {"arrangement": {**scene.arrangement, **fresh}})
        return with_rig(show, fixtures=(*fixtures, lamp))
    return with_rig(show, fixtures=tuple(lamp if one.id == lamp.id else one for one in fixtures))


def _say_patch(command: PutFixture, show: Show | None) -> str:
    lamp = command.fixture
    old = show.fixture(lamp.id) if show is not None else None
    if old is None or (old.profile, old.mode) != (lamp.profile, lamp.mode):
        return f"patch {lamp.id}"
    changes = {name for name in Fixture.model_fields if getattr(old, name) != getattr(lamp, name)}
    for names_of, said in _CHANGES:
        if changes and changes <= names_of:
            return f"{said} {lamp.id}"
    return f"change {lamp.id}"


_CHANGES: tuple[tuple[set[str], str], ...] = (
    ({"place"}, "move"),
    ({"universe", "address"}, "change the address of"),
    ({"role"}, "change the role of"),
    ({"modifiers"}, "change the modifiers of"),
    ({"note"}, "change the note of"),
    ({"calibration", "emitter_readings", "meter"}, "calibrate"),
)
"""What each change of a fixture that is there is called."""


PUT_FIXTURE = Row(
    model=PutFixture,
    forms={
        "patch window panel-cct-tint/16-bit 1.1 role=key": "add a lamp at universe.address, or change one",
        "patch window at=0.6,3.4,2.1,135,-10": "where it stands: x,y,height (metres, 6'11\"), aim, tilt",
        "patch window modifiers=softbox 1 0.6x0.6": "what stands before it, the stops it takes, its size, "
        "ahead 0.3 and beam 40; pwm=1200 is the rate of its dimming, for flicker",
    },
    reads={"patch": _read_patch},
    writes=_write_patch,
    says=_say_patch,
    log=Log.SHOW,
    edit=_with_fixture,
)


class RemoveFixture(ShowCommand):
    """Remove a fixture from the rig and from every look."""

    kind: Literal["remove-fixture"] = "remove-fixture"
    id: Name


def _read_unpatch(words: list[str], context: Context) -> Command:
    if len(words) != 1:
        raise Misuse("'unpatch' takes the id of one fixture")
    known = [fixture.id for fixture in context.need_show().rig.fixtures]
    if words[0].lower() not in known:
        raise Misuse(f"there is no fixture '{words[0]}'{nearest(words[0].lower(), known)}")
    return build(RemoveFixture, id=words[0].lower())


def _without_fixture(show: Show, command: RemoveFixture) -> Show:
    if show.fixture(command.id) is None:
        raise Refused(no_fixture(show, command.id))
    show = _in_other_scenes(
        show,
        lambda scene: {
            "arrangement": {n: one for n, one in scene.arrangement.items() if n != command.id},
            "cues": _without_light(scene.cues, command.id),
        },
    )
    show = show.model_copy(update={"cues": _without_light(show.cues, command.id)})
    return with_rig(show, fixtures=tuple(one for one in show.rig.fixtures if one.id != command.id))


def _in_other_scenes(show: Show, changed: Callable[[Scene], dict[str, object]]) -> Show:
    scenes = tuple(scene.model_copy(update=changed(scene)) for scene in show.other_scenes)
    return show.model_copy(update={"other_scenes": scenes})


def _without_light(cues: tuple[Cue, ...], fixture: str) -> tuple[Cue, ...]:
    return tuple(
        cue.model_copy(
            update={
                "look": {name: light for name, light in cue.look.items() if name != fixture},
                "predicted": None,
            }
        )
        if fixture in cue.look
        else cue
        for cue in cues
    )


REMOVE_FIXTURE = Row(
    model=RemoveFixture,
    forms={"unpatch window": "remove a lamp from the rig and from every look"},
    reads={"unpatch": _read_unpatch},
    writes=lambda command, _: f"unpatch {command.id}",
    says=lambda command, _: f"remove {command.id}",
    log=Log.SHOW,
    edit=_without_fixture,
)


class SwapAddresses(ShowCommand):
    """Give two fixtures each other's universe and address, as where their menus were set the other way."""

    kind: Literal["swap-addresses"] = "swap-addresses"
    id: Name
    with_id: Name


def _read_swap(words: list[str], context: Context) -> Command:
    if len(words) != 2:
        raise Misuse("'swap' takes the ids of two fixtures, as 'swap window van'")
    known = [fixture.id for fixture in context.need_show().rig.fixtures]
    one, other = (word.lower() for word in words)
    for word in (one, other):
        if word not in known:
            raise Misuse(f"there is no fixture '{word}'{nearest(word, known)}")
    return build(SwapAddresses, id=one, with_id=other)


def swapped(one: Fixture, other: Fixture) -> tuple[Fixture, Fixture]:
    """Return two fixtures with each other's universe and address."""
    pairs = ((one, other), (other, one))
    first, second = (
        lamp.model_copy(update={"universe": at.universe, "address": at.address}) for lamp, at in pairs
    )
    return first, second


def _with_swapped(show: Show, command: SwapAddresses) -> Show:
    one, other = show.fixture(command.id), show.fixture(command.with_id)
    for name, fixture in ((command.id, one), (command.with_id, other)):
        if fixture is None:
            raise Refused(no_fixture(show, name))
    assert one is not None and other is not None
    if one is other:
        raise Refused(f"{one.id} has its own address already; name two fixtures")
    moved = {lamp.id: lamp for lamp in swapped(one, other)}
    return with_rig(show, fixtures=tuple(moved.get(lamp.id, lamp) for lamp in show.rig.fixtures))


SWAP_ADDRESSES = Row(
    model=SwapAddresses,
    forms={"swap window van": "give two lamps each other's address"},
    reads={"swap": _read_swap},
    writes=lambda command, _: f"swap {command.id} {command.with_id}",
    says=lambda command, _: f"swap the addresses of {command.id} and {command.with_id}",
    log=Log.SHOW,
    edit=_with_swapped,
)

ROWS = (PUT_FIXTURE, REMOVE_FIXTURE, SWAP_ADDRESSES)
