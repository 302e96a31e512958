"""Outline: what the cross checks need to know of a show, with the parts that cannot be read left out.

It is taken from a valid show or from raw data, so that a show with faults in it is still checked across.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from onecrew.show.destination import SLOTS, UNIVERSE_MAX
from onecrew.show.scenes import document_of
from onecrew.show.show import Show


@dataclass(frozen=True, slots=True)
class FixtureOutline:
    """One fixture, by its index in the document; None is what cannot be read."""

    index: int
    id: str | None
    profile: str | None
    mode: str | None
    universe: int | None
    address: int | None
    mixing: str | None = None
    asked: tuple[tuple[float, float] | None, ...] = ()
    """(CCT, Duv) asked for by each calibration reading."""


@dataclass(frozen=True, slots=True)
class CueOutline:
    index: int
    number: str | None
    shortcut: str | None
    lit: tuple[str, ...]
    """Names in the look."""


@dataclass(frozen=True, slots=True)
class SceneOutline:
    index: int
    name: str | None
    arranged: tuple[str, ...]
    """Names of the fixtures that it says something of."""
    set_pieces: tuple[str | None, ...]
    cues: tuple[CueOutline, ...]


@dataclass(frozen=True, slots=True)
class UniverseOutline:
    """One universe of one protocol's output."""

    protocol: str
    number: str
    to: tuple[str | None, ...]
    interface: str | None = None
    port_address: int | None = None


@dataclass(frozen=True, slots=True)
class Outline:
    fixtures: tuple[FixtureOutline, ...]
    scenes: tuple[SceneOutline, ...]
    open: str | None
    """The scene that is open."""
    universes: tuple[UniverseOutline, ...]
    osc_listen: str | None
    osc_allow: tuple[str | None, ...]
    osc_feedback: tuple[str | None, ...]
    page_listen: str | None


def outline_of_show(show: Show) -> Outline:
    return outline_of_data(document_of(show))


def outline_of_data(data: object) -> Outline:
    """The outline of a document, or of raw data as parsed from a file, where whatever is of the wrong kind
    counts as not there."""
    rig, output, remote = (_value(data, name) for name in ("rig", "output", "remote"))
    sacn, artnet = (_group(_value(output, name), "universes") for name in ("sacn", "artnet"))
    osc, page = _value(remote, "osc"), _value(remote, "page")
    return Outline(
        fixtures=tuple(_fixture(i, raw) for i, raw in enumerate(_list(rig, "fixtures"))),
        scenes=tuple(_scene(i, raw) for i, raw in enumerate(_list(data, "scenes"))),
        open=_text(data, "scene"),
        universes=(
            *(_universe("sacn", number, raw) for number, raw in sacn.items()),
            *(_universe("artnet", number, raw) for number, raw in artnet.items()),
        ),
        osc_listen=_text(osc, "listen"),
        osc_allow=_texts(osc, "allow"),
        osc_feedback=_texts(osc, "feedback"),
        page_listen=_text(page, "listen"),
    )


def _fixture(index: int, raw: object) -> FixtureOutline:
    universe, address = _whole(raw, "universe"), _whole(raw, "address")
    return FixtureOutline(
        index,
        _text(raw, "id"),
        _text(raw, "profile"),
        _text(raw, "mode"),
        universe if universe is not None and 1 <= universe <= UNIVERSE_MAX else None,
        address if address is not None and 1 <= address <= SLOTS else None,
        _text(raw, "mixing"),
        tuple(_asked(reading) for reading in _list(raw, "calibration")),
    )


def _asked(reading: object) -> tuple[float, float] | None:
    cct_k, duv = _value(reading, "asked_cct_k"), _value(reading, "asked_duv")
    duv = 0.0 if duv is None else duv
    if isinstance(cct_k, int | float) and isinstance(duv, int | float):
        return float(cct_k), float(duv)
    return None


def _scene(index: int, raw: object) -> SceneOutline:
    return SceneOutline(
        index,
        _text(raw, "name"),
        tuple(_group(raw, "arrangement")),
        tuple(_text(piece, "id") for piece in _list(raw, "set_pieces")),
        tuple(_cue(i, cue) for i, cue in enumerate(_list(raw, "cues"))),
    )


def _cue(index: int, raw: object) -> CueOutline:
    return CueOutline(index, _text(raw, "number"), _text(raw, "shortcut"), tuple(_group(raw, "look")))


def _universe(protocol: str, number: str, raw: object) -> UniverseOutline:
    interface, port_address = _text(raw, "interface"), _whole(raw, "port_address")
    return UniverseOutline(protocol, number, _texts(raw, "to"), interface, port_address)


def _value(raw: object, name: str) -> Any:
    """A field of a model or of raw data; None where there is none."""
    return raw.get(name) if isinstance(raw, Mapping) else getattr(raw, name, None)


def _group(raw: object, name: str) -> Mapping[str, Any]:
    value = _value(raw, name)
    return value if isinstance(value, Mapping) else {}


def _list(raw: object, name: str) -> Sequence[Any]:
    value = _value(raw, name)
    return value if isinstance(value, tuple) else ()


def _text(raw: object, name: str) -> str | None:
    value = _value(raw, name)
    return value if isinstance(value, str) else None


def _texts(raw: object, name: str) -> tuple[str | None, ...]:
    """A list of texts; an entry that is no text stands as None, so that the rest keeps its place."""
    return tuple(value if isinstance(value, str) else None for value in _list(raw, name))


def _whole(raw: object, name: str) -> int | None:
    value = _value(raw, name)
    return value if isinstance(value, int) and not isinstance(value, bool) else None
