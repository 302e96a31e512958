"""Verbs for where packets go and for the camera: words into show commands. Pure."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence

from onecrew.cli.exits import Misuse
from onecrew.commands import models as say
from onecrew.commands.context import Context
from onecrew.commands.models import AnyCommand
from onecrew.language import reading
from onecrew.language.names import universe as universe_number
from onecrew.language.phrases import Pair, build, plain, split, unknown
from onecrew.show.show import Artnet, ArtnetUniverse, Camera, Output, Sacn, SacnUniverse


def output(words: list[str], context: Context) -> AnyCommand:
    present = context.need_show().output
    head, pairs = split(words)
    if head and re.fullmatch(r"\d+", head[0], re.ASCII):
        changed = _universe(present, str(universe_number(head[0])), head[1:], pairs)
    elif head or not pairs:
        raise Misuse(
            "'output' needs a universe and where it goes, as 'output 1 to=192.168.1.50', or priority="
        )
    else:
        changed = present.model_copy(update={"sacn": _sending(present.sacn, pairs)})
    return say.SetOutput(output=build(Output, **changed.model_dump()))


def _universe(present: Output, universe: str, words: Sequence[str], pairs: Sequence[Pair]) -> Output:
    """The output with one universe sent elsewhere, or no longer by one of the two protocols."""
    how = [word.lower() for word in words]
    sacn = dict(present.sacn.universes)
    artnet = dict(present.artnet.universes) if present.artnet is not None else {}
    if how == ["sacn", "off"] and not pairs:
        sacn.pop(universe, None)
    elif how == ["artnet", "off"] and not pairs:
        artnet.pop(universe, None)
    elif how == ["artnet"]:
        artnet[universe] = _artnet(pairs)
    else:
        sacn[universe] = _sacn(how, pairs)
    sync = present.artnet.sync if present.artnet is not None else False
    return present.model_copy(
        update={
            "sacn": present.sacn.model_copy(update={"universes": sacn}),
            "artnet": Artnet(sync=sync, universes=artnet) if artnet else None,
        }
    )


def _sacn(how: Sequence[str], pairs: Sequence[Pair]) -> SacnUniverse:
    fields = _fields(pairs, {"to": _addresses, "interface": lambda text: text or None})
    multicast = list(how) == ["multicast"]
    if (how and not multicast) or multicast == bool(fields.get("to")):
        raise Misuse("say where the universe goes: to=ADDRESS, the word multicast, or artnet to=ADDRESS")
    return build(SacnUniverse, **fields)


def _artnet(pairs: Sequence[Pair]) -> ArtnetUniverse:
    fields = _fields(
        pairs, {"to": _addresses, "port_address": lambda text: reading.whole(text, "port_address", 0, 32767)}
    )
    if not fields.get("to"):
        raise Misuse("say where Art-Net goes: artnet to=ADDRESS")
    return build(ArtnetUniverse, **fields)


def _sending(sacn: Sacn, pairs: Sequence[Pair]) -> Sacn:
    names = {"sync": "sync_universe", "name": "source_name"}
    fields = _fields(
        pairs,
        {
            "priority": lambda text: reading.whole(text, "priority", 0, 200),
            "steady": lambda text: reading.yes_no(text, "steady"),
            "sync": lambda text: (
                None if text.lower() == "off" else reading.whole(text, "sync universe", 1, 63999)
            ),
            "name": lambda text: text or None,
        },
    )
    return build(
        Sacn, **{**sacn.model_dump(), **{names.get(key, key): value for key, value in fields.items()}}
    )


def _fields(pairs: Sequence[Pair], readers: Mapping[str, Callable[[str], object]]) -> dict[str, object]:
    fields: dict[str, object] = {}
    for pair in pairs:
        if pair.key not in readers:
            raise unknown("an output", pair.key, tuple(readers))
        fields[pair.key] = readers[pair.key](plain(pair, "output"))
    return fields


def _addresses(text: str) -> tuple[str, ...]:
    return tuple(part.strip() for part in text.split(",") if part.strip())


_CAMERA: dict[str, tuple[str, Callable[[str], object]]] = {
    "iso": ("iso", lambda text: reading.whole(text, "iso", 1, 1_000_000)),
    "shutter": ("shutter_s", reading.shutter),
    "fps": ("fps", lambda text: reading.within(reading.number(text, "fps"), 0.01, 1000, "fps")),
    "aperture": ("aperture", reading.aperture),
    "wb": ("white_balance_k", lambda text: reading.kelvin(text, "wb")),
    "lens": ("lens", str),
    "note": ("note", str),
}


def camera(words: list[str], context: Context) -> AnyCommand:
    head, pairs = split(words, texts=frozenset({"lens", "note"}))
    if head or not pairs:
        raise Misuse("'camera' needs what to note, as 'camera wb=4300 iso=800 shutter=1/50'")
    fields = context.need_show().camera.model_dump()
    for pair in pairs:
        if pair.key not in _CAMERA:
            raise unknown("the camera", pair.key, tuple(_CAMERA))
        name, read = _CAMERA[pair.key]
        fields[name] = read(plain(pair, "camera"))
    return say.SetCamera(camera=build(Camera, **fields))
