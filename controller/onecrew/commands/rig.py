"""The rig and the room: which lamp is patched where, what else stands there, what the camera is set to."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from typing import Literal

from onecrew.commands.command import Command, Log, Row, ShowCommand, changed, joined, never
from onecrew.commands.context import Context
from onecrew.errors import Misuse, Refused
from onecrew.language import names, places, reading, writing
from onecrew.language.modifiers import SIZE, read_modifiers, write_modifiers
from onecrew.language.names import nearest, no_fixture, patch_address, universe
from onecrew.language.phrases import Pair, build, one_of, plain, split, unknown
from onecrew.show.base import Name
from onecrew.show.patching import next_free, next_free_anywhere
from onecrew.show.profile import Mode, Profile
from onecrew.show.show import (
    MIXINGS,
    NO_READINGS,
    ROLES,
    Arrangement,
    Camera,
    Cue,
    Fixture,
    Rig,
    Scene,
    SetPiece,
    Show,
)

# ── Fixtures ────────────────────────────────────────────────────────────────────────────────────────


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


def read_fixture_field(key: str, value: str, fields: dict[str, object]) -> None:
    """Puts into ``fields`` what is written for one of them, by the words of ``patch``."""
    if key == "role":
        fields["role"] = names.role(value)
    elif key == "even":
        fields["even"] = reading.yes_no(value, "even")
    elif key == "sharing":
        fields["sharing"] = reading.yes_no(value, "sharing")
    elif key == "mixing":
        fields["mixing"] = one_of(value, MIXINGS, "mixing")
    elif key == "note":
        fields["note"] = value
    elif key == "at":
        fields["place"] = places.read_place(value)
    elif key == "modifiers":
        fields["modifiers"] = read_modifiers(value)
    elif key == "pwm":
        fields["pwm_hz"] = reading.pulses(value)
    else:
        known = ("role", "at", "modifiers", "even", "sharing", "mixing", "pwm", "note")
        raise unknown("a fixture", key, known)


def _kind(said: str, profiles: Mapping[str, Profile]) -> tuple[str, str]:
    name, slash, mode = said.partition("/")
    profile = profiles.get(name)
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


def _with_rig(show: Show, **parts: object) -> Show:
    return show.model_copy(update={"rig": show.rig.model_copy(update=parts)})


def _with_fixture(show: Show, command: PutFixture) -> Show:
    fixtures, lamp = show.rig.fixtures, command.fixture
    if show.fixture(lamp.id) is None:
        # In the other scenes it has the same role, and no place, until they say otherwise.
        fresh = {lamp.id: Arrangement(role=lamp.role)}
        show = _in_other_scenes(show, lambda scene: {"arrangement": {**scene.arrangement, **fresh}})
        return _with_rig(show, fixtures=(*fixtures, lamp))
    return _with_rig(show, fixtures=tuple(lamp if one.id == lamp.id else one for one in fixtures))


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
    return _with_rig(show, fixtures=tuple(one for one in show.rig.fixtures if one.id != command.id))


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
    return _with_rig(show, fixtures=tuple(moved.get(lamp.id, lamp) for lamp in show.rig.fixtures))


SWAP_ADDRESSES = Row(
    model=SwapAddresses,
    forms={"swap window van": "give two lamps each other's address"},
    reads={"swap": _read_swap},
    writes=lambda command, _: f"swap {command.id} {command.with_id}",
    says=lambda command, _: f"swap the addresses of {command.id} and {command.with_id}",
    log=Log.SHOW,
    edit=_with_swapped,
)

# ── Set pieces ──────────────────────────────────────────────────────────────────────────────────────


class PutSetPiece(ShowCommand):
    """Add a set piece, or replace the one with this id."""

    kind: Literal["put-set-piece"] = "put-set-piece"
    set_piece: SetPiece


def _read_piece(words: list[str], context: Context) -> Command:
    head, pairs = split(words, texts=frozenset({"note"}))
    if not head:
        raise Misuse("'piece' needs an id and what it is, as 'piece cloth negative fill at=1.2,3.4'")
    name = head[0].lower()
    sizes = [word for word in head[1:] if SIZE.fullmatch(word)]
    kind = " ".join(word for word in head[1:] if word not in sizes)
    pairs = [*(Pair("size", "=", size) for size in sizes), *pairs]
    present = next((one for one in context.need_show().rig.set_pieces if one.id == name), None)
    fields: dict[str, object] = present.model_dump() if present else {"id": name}
    if kind:
        fields["kind"] = kind
    elif present is None:
        raise Misuse(f"say what {name} is, as 'piece {name} negative fill'")
    for pair in pairs:
        _piece_field(pair, fields)
    return PutSetPiece(set_piece=build(SetPiece, **fields))


def _piece_field(pair: Pair, fields: dict[str, object]) -> None:
    key, value = pair.key, plain(pair, "piece")
    if key == "note":
        fields["note"] = value
    elif key == "at":
        fields["place"] = places.read_place(value)
    elif key == "size":
        size = () if value == "none" else places.read_sides(value, "size", (2, 3))
        fields.update(dict.fromkeys(_SIZE), **dict(zip(_SIZE, size, strict=False)))
    elif key == "reflects":
        fields["reflectance"] = None if value == "none" else places.reflectance(value, "reflects")
    else:
        raise unknown("a set piece", key, ("at", "size", "reflects", "note"))


_SIZE = ("width_m", "height_m", "depth_m")


def _write_piece(command: PutSetPiece, show: Show | None) -> str:
    piece = command.set_piece
    old = next((one for one in show.rig.set_pieces if one.id == piece.id), None) if show else None
    had = piece_texts(SetPiece(id=piece.id, kind="") if old is None else old)
    return joined(["piece", piece.id, piece.kind, *changed(piece_texts(piece), had)])


def piece_texts(piece: SetPiece) -> dict[str, str]:
    """A set piece as it is typed, by the words of ``piece``."""
    sides = (piece.width_m, piece.height_m, *([] if piece.depth_m is None else [piece.depth_m]))
    size = "x".join("-" if side is None else writing.number(side) for side in sides)
    share = piece.reflectance
    return {
        "at": places.write_place(piece.place),
        "size": "none" if size == "-x-" else size,
        "reflects": "none" if share is None else share if isinstance(share, str) else writing.level(share),
        "note": piece.note,
    }


def _with_piece(show: Show, command: PutSetPiece) -> Show:
    pieces, piece = show.rig.set_pieces, command.set_piece
    if not any(other.id == piece.id for other in pieces):
        return _with_rig(show, set_pieces=(*pieces, piece))
    return _with_rig(show, set_pieces=tuple(piece if one.id == piece.id else one for one in pieces))


PUT_SET_PIECE = Row(
    model=PutSetPiece,
    forms={
        "piece cloth negative fill at=1.2,3.4,2 size=1.2x1.8": "add a set piece, or change one; size is "
        "width, height, depth; reflects=dark, mid, white or a share",
    },
    reads={"piece": _read_piece},
    writes=_write_piece,
    says=lambda command, _: f"place {command.set_piece.id}",
    log=Log.SHOW,
    lock_refuses=never,
    edit=_with_piece,
)


class RemoveSetPiece(ShowCommand):
    """Remove a set piece."""

    kind: Literal["remove-set-piece"] = "remove-set-piece"
    id: Name


def _read_remove_piece(words: list[str], context: Context) -> Command:
    known = [piece.id for piece in context.need_show().rig.set_pieces]
    name = " ".join(words).lower()
    if name not in known:
        raise Misuse(f"there is no set piece '{name}'{nearest(name, known)}")
    return build(RemoveSetPiece, id=name)


def _without_piece(show: Show, command: RemoveSetPiece) -> Show:
    left = tuple(piece for piece in show.rig.set_pieces if piece.id != command.id)
    if len(left) == len(show.rig.set_pieces):
        raise Refused(f"There is no set piece {command.id}.")
    return _with_rig(show, set_pieces=left)


REMOVE_SET_PIECE = Row(
    model=RemoveSetPiece,
    forms={"remove piece cloth": "remove a set piece"},
    reads={"remove piece": _read_remove_piece},
    writes=lambda command, _: f"remove piece {command.id}",
    says=lambda command, _: f"remove {command.id}",
    log=Log.SHOW,
    lock_refuses=never,
    edit=_without_piece,
)

# ── Camera ──────────────────────────────────────────────────────────────────────────────────────────


class SetCamera(ShowCommand):
    """Change the camera notes; the white balance is what the swatches are seen through."""

    kind: Literal["set-camera"] = "set-camera"
    camera: Camera


def _t_stop(text: str) -> float | None:
    return None if text in ("", "none") else reading.aperture(text.lower().removeprefix("t"))


_CAMERA: dict[str, tuple[str, Callable[[str], object]]] = {
    "iso": ("iso", lambda text: reading.whole(text, "iso", 1, 1_000_000)),
    "nd": ("nd_stops", lambda text: reading.within(reading.stops(text, "nd"), 0.0, 30.0, "nd", " stops")),
    "tstop": (
        "t_stop",
        _t_stop,
    ),
    "at": ("place", places.read_place),
    "fps": ("fps", lambda text: reading.within(reading.number(text, "fps"), 0.01, 1000, "fps")),
    "aperture": ("aperture", reading.aperture),
    "wb": ("white_balance_k", lambda text: reading.kelvin(text, "wb")),
    "lens": ("lens", str),
    "note": ("note", str),
}


def _read_camera(words: list[str], context: Context) -> Command:
    head, pairs = split(words, texts=frozenset({"lens", "note"}))
    if head or not pairs:
        raise Misuse("'camera' needs what to note, as 'camera wb=4300 iso=800 shutter=1/50'")
    texts = {pair.key: plain(pair, "camera") for pair in pairs}
    return SetCamera(camera=read_camera(texts, context.need_show().camera))


def read_camera(texts: Mapping[str, str], before: Camera) -> Camera:
    """The camera notes ``before``, with what is written over them, by the words of ``camera``."""
    fields = before.model_dump()
    for key, text in texts.items():
        if key == "shutter":
            fields.update(_shutter(text))
        elif key in _CAMERA:
            name, read = _CAMERA[key]
            fields[name] = read(text)
        else:
            raise unknown("the camera", key, ("shutter", *_CAMERA))
    return build(Camera, **fields)


def _shutter(text: str) -> dict[str, float | None]:
    """A time, which takes an angle's place, or an angle as '172.8°' or '180deg'."""
    bare = text.lower().removesuffix("°").removesuffix("deg")
    if bare != text.lower():
        angle = reading.within(reading.number(bare, "shutter"), 1.0, 360.0, "shutter", "°")
        return {"shutter_deg": angle}
    return {"shutter_s": reading.shutter(text), "shutter_deg": None}


def _write_camera(command: SetCamera, show: Show | None) -> str:
    fields, had = (camera_texts(one) for one in (command.camera, show.camera if show else Camera()))
    return joined(["camera", *(changed(fields, had) or [f"wb={fields['wb']}"])])


def camera_texts(camera: Camera) -> dict[str, str]:
    """The camera notes as they are typed, by the words of ``camera``."""
    return {
        "wb": writing.number(camera.white_balance_k),
        "iso": str(camera.iso),
        "shutter": writing.shutter(camera.shutter_s)
        if camera.shutter_deg is None
        else f"{writing.number(camera.shutter_deg)}°",
        "nd": writing.number(camera.nd_stops),
        "tstop": "none" if camera.t_stop is None else writing.number(camera.t_stop),
        "at": places.write_place(camera.place),
        "fps": writing.number(camera.fps),
        "aperture": writing.number(camera.aperture),
        "lens": camera.lens,
        "note": camera.note,
    }


def _say_camera(command: SetCamera, show: Show | None) -> str:
    old = show.camera if show is not None else command.camera
    moves = command.camera == old.model_copy(update={"place": command.camera.place}) != old
    return "move the camera" if moves else "change the camera notes"


SET_CAMERA = Row(
    model=SetCamera,
    forms={
        "camera wb=4300 iso=800 shutter=1/50": "camera notes; wb is what the swatches are seen through; "
        "shutter=172.8° and tstop=2.9 count in place of time and aperture; nd=3 is in stops",
    },
    reads={"camera": _read_camera},
    writes=_write_camera,
    says=_say_camera,
    log=Log.SHOW,
    lock_refuses=never,
    edit=lambda show, command: show.model_copy(update={"camera": command.camera}),
)

ROWS = (PUT_FIXTURE, REMOVE_FIXTURE, SWAP_ADDRESSES, PUT_SET_PIECE, REMOVE_SET_PIECE, SET_CAMERA)
