"""ShotList: which still shows which lamp, at which output and white. JSON, read leniently.

    {"white_balance_k": 4300, "curve": "sRGB",
     "stills": [{"file": "00.jpg", "lamp": null},
                {"file": "01.jpg", "lamp": "key", "output": 1.0, "cct_k": 2700, "duv": 0}]}

A still without a lamp is dark. ``output`` is the fraction of full light (1 where it is missing); ``level``,
what the fixture's display shows, may stand in its place. Other keys are left alone.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from onecrew.colour.limits import CCT_MAX_K, CCT_MIN_K, DUV_LIMIT
from onecrew.errors import Mistake
from onecrew.show.json_reading import read_bytes

MOST_STILLS = 400
AS_IT_WAS, CORRECTED = "as it was", "corrected"
"""How a lamp is lit for a closing check."""
_DARK = frozenset({"", "dark", "none", "off", "black", "ambient"})


@dataclass(frozen=True, slots=True)
class Shot:
    """One still: its file, and what shone."""

    file: str
    lamp: str | None
    """None: dark."""
    output: float = 1.0
    level: float | None = None
    cct_k: float | None = None
    """As it was asked of the lamp; None for a lamp of one colour."""
    duv: float = 0.0
    told: tuple[float, float] | None = None
    """Kelvin and Duv to tell the lamp for that, where its readings are to have no say in it."""
    how: str = ""
    """What tells it from another still of the same light: 'corrected'."""
    promised: float = 1.0
    """Light at full output by the profile, in a unit that the lamps of a list share."""


@dataclass(frozen=True, slots=True)
class ShotList:
    shots: tuple[Shot, ...]
    white_balance_k: float | None = None
    curve: str | None = None


def read_shot_list(path: Path) -> ShotList:
    """Read a list. Raises ``Trouble`` where the file cannot be read, ``Mistake`` for what cannot be a
    list."""
    return shot_list(list_document(path), path.name)


def list_document(path: Path) -> Any:
    """What the file of a list holds, whatever it is; raises as ``json_of`` does."""
    return json_of(path, "it lists the stills, each with file, lamp, output, cct_k")


def json_of(path: Path, wanted: str) -> Any:
    """What a JSON file holds; ``Trouble`` where it cannot be read, ``Mistake`` with what is wanted of it."""
    try:
        return json.loads(read_bytes(path, noun="list").decode("utf-8-sig"))
    except (ValueError, RecursionError):
        raise Mistake(f"{path.name} is not JSON; {wanted}") from None


def taken_now() -> str:
    """When a still is taken, by the wall, as a list of stills has it."""
    return datetime.now().astimezone().isoformat(timespec="milliseconds")


def shot_list(document: Any, name: str = "the list") -> ShotList:
    """Return the list in a JSON document; raises ``Mistake`` with the entry that is wrong."""
    entries = document.get("stills", document.get("shots")) if isinstance(document, Mapping) else document
    if not isinstance(entries, Sequence) or isinstance(entries, str) or not entries:
        raise Mistake(f"{name} has no stills; give it a list 'stills', each with file, lamp, output, cct_k")
    if len(entries) > MOST_STILLS:
        raise Mistake(f"{name} lists {len(entries)} stills; {MOST_STILLS} are the most")
    top = document if isinstance(document, Mapping) else {}
    curve = top.get("curve")
    return ShotList(
        tuple(_shot(entry, f"{name}, still {n}") for n, entry in enumerate(entries, 1)),
        _number(top, ("white_balance_k", "wb_k", "white_balance"), name, 1000.0, 25000.0),
        str(curve) if curve else None,
    )


def _shot(entry: Any, where: str) -> Shot:
    if not isinstance(entry, Mapping) or not isinstance(entry.get("file", entry.get("name")), str):
        raise Mistake(f'{where}: it names no file; write "file": "NAME.jpg"')
    lamp = entry.get("lamp", entry.get("fixture"))
    dark = lamp is None or (isinstance(lamp, str) and lamp.strip().lower() in _DARK)
    if not dark and not isinstance(lamp, str):
        raise Mistake(f"{where}: the lamp is no name; write its id, or null for the dark still")
    output = _number(entry, ("output",), where, 0.0, 1.0)
    return Shot(
        file=str(entry.get("file", entry.get("name"))),
        lamp=None if dark else str(lamp).strip(),
        output=1.0 if output is None else output,
        level=None if output is not None else _number(entry, ("level",), where, 0.0, 1.0),
        cct_k=_number(entry, ("cct_k", "cct", "kelvin"), where, CCT_MIN_K, CCT_MAX_K),
        duv=_number(entry, ("duv", "tint"), where, -DUV_LIMIT, DUV_LIMIT) or 0.0,
        told=_told(entry, where),
        how=str(entry.get("how", ""))[:40],
        promised=_number(entry, ("promised",), where, 1e-6, 1e6) or 1.0,
    )


def _told(entry: Mapping[str, Any], where: str) -> tuple[float, float] | None:
    cct_k = _number(entry, ("told_cct_k",), where, CCT_MIN_K, CCT_MAX_K)
    duv = _number(entry, ("told_duv",), where, -DUV_LIMIT, DUV_LIMIT)
    return None if cct_k is None else (cct_k, duv or 0.0)


def _number(
    entry: Mapping[str, Any], names: Sequence[str], where: str, low: float, high: float
) -> float | None:
    for name in names:
        value = entry.get(name)
        if value is None:
            continue
        if isinstance(value, bool) or not isinstance(value, int | float) or not low <= value <= high:
            raise Mistake(f"{where}: {name} is {str(value)[:20]!r}; give a number from {low:g} to {high:g}")
        return float(value)
    return None
