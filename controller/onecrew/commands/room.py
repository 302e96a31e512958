"""The room: how large it is and how much of the light its surfaces send back."""

from __future__ import annotations

from typing import Literal

from onecrew.commands.command import Command, Log, Row, ShowCommand, changed, joined, never, plainly
from onecrew.commands.context import Context
from onecrew.errors import Misuse
from onecrew.language import places, reading, writing
from onecrew.language.phrases import build, one_of, plain, split, unknown
from onecrew.show.photometry import UNITS, Room
from onecrew.show.show import Show

SURFACES = ("walls", "ceiling", "floor", "left", "right", "bottom", "top")


class SetRoom(ShowCommand):
    """Say how large the room is and how much of the light its surfaces send back."""

    kind: Literal["set-room"] = "set-room"
    room: Room


def _read_room(words: list[str], context: Context) -> Command:
    head, pairs = split(words)
    if not head and not pairs:
        raise Misuse("'room' needs its size or its surfaces, as 'room 4x5x2.6 walls=dark ceiling=white'")
    fields: dict[str, object] = context.need_show().room.model_dump()
    if head:
        size = places.read_size(" ".join(head), "the room", (3, 2))
        fields.update(zip(("width_m", "depth_m", "height_m"), size, strict=False))
    for pair in pairs:
        value = plain(pair, "room")
        if pair.key in SURFACES:
            fields[pair.key] = None if value == "none" else places.reflectance(value, pair.key)
        elif pair.key == "mains":
            hz = value.lower().removesuffix("hz").strip()
            fields["mains_hz"] = None if value == "none" else reading.whole(hz, "mains", 50, 60)
        elif pair.key == "units":
            fields["units"] = one_of(value, UNITS, "units")
        else:
            raise unknown("the room", pair.key, (*SURFACES, "mains", "units"))
    return SetRoom(room=build(Room, **fields))


def _write_room(command: SetRoom, show: Show | None) -> str:
    room, was = command.room, show.room if show is not None else Room()
    size = [each for each in (room.width_m, room.depth_m, room.height_m) if each is not None]
    said = "x".join(map(writing.number, size)) if len(size) > 1 else None
    return joined(["room", said, *changed(_fields(room), _fields(was))])


def _fields(room: Room) -> dict[str, str]:
    values = {name: getattr(room, name) for name in SURFACES}
    said = {
        name: "none" if value is None else value if isinstance(value, str) else writing.level(value)
        for name, value in values.items()
    }
    mains = "none" if room.mains_hz is None else str(room.mains_hz)
    return {**said, "mains": mains, "units": room.units}


SET_ROOM = Row(
    model=SetRoom,
    forms={
        "room 4x5x2.6 walls=dark ceiling=white": "width, depth, height; how much the surfaces reflect: dark, "
        "mid, white or a share; left= right= bottom= top= for one wall; mains=50; units=feet",
    },
    reads={"room": _read_room},
    writes=_write_room,
    says=plainly("change the room"),
    log=Log.SHOW,
    lock_refuses=never,
    edit=lambda show, command: show.model_copy(update={"room": command.room}),
)

ROWS = (SET_ROOM,)
