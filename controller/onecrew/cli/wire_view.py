"""What a receiver hears, as lines to read and as facts for a script. Pure."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Any

from onecrew.cli.parts import table
from onecrew.fixtures.decoder import Seen
from onecrew.network.arbiter import Announced, SourceSeen


@dataclass(frozen=True, slots=True)
class View:
    """One moment on the wire."""

    sources: tuple[SourceSeen, ...]
    """By universe and then by falling priority."""
    levels: Mapping[int, bytes]
    """The levels in control, by universe."""
    announced: tuple[Announced, ...]
    received: int
    bad: int
    out_of_order: int
    lamps: tuple[Seen, ...] | None = None
    """With a patch: what the lamps do."""
    unheard: frozenset[str] = frozenset()
    """Lamps whose universe nobody sends."""


def lines(view: View) -> list[str]:
    """The view as a table with what deserves a sentence below it."""
    said = [f"{view.received} packets, {view.bad} bad, {view.out_of_order} out of order"]
    if view.sources:
        head = ["universe", "source", "from", "priority", "rate", "", "slots up"]
        rows = [_row(source, view.levels) for source in view.sources]
        said += ["", *table([head, *rows], right=frozenset({0, 3, 4, 6}))]
    conflicts = list(conflicts_in(view))
    if conflicts:
        said += ["", *conflicts]
    said += [
        f"announced by {one.name} ({one.host}): universes {_ranges(one.universes)}" for one in view.announced
    ]
    if view.lamps is not None:
        rows = [
            [lamp.id, "not heard", "", ""]
            if lamp.id in view.unheard
            else [lamp.id, f"{100 * lamp.level:.2f} %", _colour(lamp), lamp.swatch]
            for lamp in view.lamps
        ]
        said += ["", *table([["lamp", "level", "colour", "camera"], *rows], right=frozenset({1}))]
    return said


def facts(view: View) -> dict[str, Any]:
    """The view for a script."""
    told = {
        "received": view.received,
        "bad": view.bad,
        "out_of_order": view.out_of_order,
        "universes": [
            {
                "universe": universe,
                "slots": list(view.levels.get(universe, b"").rstrip(b"\0")),
                "conflict": _conflict(universe, sources),
                "sources": [_source_facts(source) for source in sources],
            }
            for universe, sources in _by_universe(view.sources)
        ],
        "announced": [
            {"name": one.name, "from": one.host, "universes": list(one.universes)} for one in view.announced
        ],
    }
    if view.lamps is not None:
        told["lamps"] = [_lamp_facts(lamp, lamp.id not in view.unheard) for lamp in view.lamps]
    return told


def changes(before: View | None, after: View) -> list[str]:
    """What came, went or changed between two views, apart from levels, a line each."""
    old = {} if before is None else {_key(source): source for source in before.sources}
    new = {_key(source): source for source in after.sources}
    said = [f"{_name(source)} is heard, {_standing(source)}" for key, source in new.items() if key not in old]
    said += [f"{_name(source)} has gone" for key, source in old.items() if key not in new]
    said += [
        f"{_name(source)} changed: {_standing(source)}"
        for key, source in new.items()
        if key in old and _standing(old[key]) != _standing(source)
    ]
    known = set() if before is None else set(conflicts_in(before))
    return said + [conflict for conflict in conflicts_in(after) if conflict not in known]


def conflicts_in(view: View) -> Iterator[str]:
    """A sentence for each universe with more than one source."""
    for universe, sources in _by_universe(view.sources):
        conflict = _conflict(universe, sources)
        if conflict is not None:
            yield conflict


def _by_universe(sources: Sequence[SourceSeen]) -> list[tuple[int, list[SourceSeen]]]:
    return [(universe, list(some)) for universe, some in groupby(sources, key=lambda source: source.universe)]


def _conflict(universe: int, sources: Sequence[SourceSeen]) -> str | None:
    live = [source for source in sources if not source.preview]
    if len(live) < 2:
        return None
    highest = [source for source in live if source.priority == live[0].priority]
    names = " and ".join(f"{source.name} ({source.host})" for source in highest)
    if len(highest) > 1:
        return (
            f"conflict on universe {universe}: {names} send with the same priority {live[0].priority}; "
            "here the higher level of each slot is shown, a lamp may do something else"
        )
    return f"universe {universe}: {names} with priority {live[0].priority} outranks {len(live) - 1} more"


def _row(source: SourceSeen, levels: Mapping[int, bytes]) -> list[str]:
    slots = levels.get(source.universe, b"")
    return [
        str(source.universe),
        source.name or "without a name",
        source.host,
        str(source.priority),
        f"{source.rate:.1f}/s",
        _role(source),
        str(len(slots) - slots.count(0)) if source.wins else "",
    ]


def _role(source: SourceSeen) -> str:
    if source.preview:
        return "preview only"
    standing = "in control" if source.wins else "outranked"
    return f"{standing}, synchronised" if source.synchronised else standing


def _standing(source: SourceSeen) -> str:
    return f"priority {source.priority}, {_role(source)}"


def _key(source: SourceSeen) -> tuple[int, bytes]:
    return source.universe, source.cid.bytes


def _name(source: SourceSeen) -> str:
    return f"universe {source.universe}: {source.name or 'a source without a name'} ({source.host})"


def _colour(lamp: Seen) -> str:
    if lamp.output == 0.0:
        return "dark"
    if lamp.cct_k is not None and lamp.duv is not None:
        return f"{lamp.cct_k:.0f} K {lamp.duv:+.4f}"
    return f"x {lamp.xy[0]:.4f} y {lamp.xy[1]:.4f}"


def _source_facts(source: SourceSeen) -> dict[str, Any]:
    return {
        "name": source.name,
        "cid": str(source.cid),
        "from": source.host,
        "priority": source.priority,
        "rate_hz": round(source.rate, 2),
        "last_seen_s": round(source.last_seen_s, 3),
        "preview": source.preview,
        "synchronised": source.synchronised,
        "in_control": source.wins,
    }


def _lamp_facts(lamp: Seen, heard: bool) -> dict[str, Any]:
    return {
        "id": lamp.id,
        "heard": heard,
        "level": lamp.level,
        "output": lamp.output,
        "x": lamp.xy[0],
        "y": lamp.xy[1],
        "cct_k": lamp.cct_k,
        "duv": lamp.duv,
    }


def _ranges(numbers: Sequence[int]) -> str:
    """'1-3, 7' of 1, 2, 3, 7."""
    said: list[str] = []
    start = end = None
    for number in (*sorted(numbers), None):
        if start is not None and end is not None and number != end + 1:
            said.append(str(start) if start == end else f"{start}-{end}")
            start = None
        if number is not None:
            start, end = (number if start is None else start), number
    return ", ".join(said) or "none"
