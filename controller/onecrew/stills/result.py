"""Result of a match: what each lamp is to do, region by region what comes of it, and what to say about it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any

from onecrew.colour.arrays import FloatArray
from onecrew.language.saying import per_cent, tint


@dataclass(frozen=True, slots=True)
class LampResult:
    """What one lamp is to do, as it leaves."""

    id: str
    output: float
    level: float
    cct_k: float | None
    duv: float | None
    asked_cct_k: float | None
    """The white to ask it for; ``cct_k`` is what its slots then give. None for a lamp of one colour."""
    sure: bool
    """Whether the level stands within about 0.15 stop."""
    stops_error: float
    """Standard error of the level in stops."""
    mired_error: float
    share: float
    """What part of the light it gives where it shows most, 0–1."""


@dataclass(frozen=True, slots=True)
class RegionResult:
    """How near one region comes."""

    name: str
    stops: float
    """Luminance of the prediction against the reference."""
    delta_e: float
    """ΔE2000 between their means."""
    note: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class Match:
    """What came of it."""

    own: bool
    """Whether the reference shows the room of the stills."""
    lamps: tuple[LampResult, ...]
    regions: tuple[RegionResult, ...]
    exposure_stops: float
    """By so much more the camera is to be exposed than for the stills."""
    exposure_known: bool
    delta_e: float | None
    """Median ΔE2000 over the blocks of the frame; None against another room."""
    notes: tuple[str, ...]
    seconds: float
    """Time that the solving took."""
    predicted: FloatArray = field(repr=False)
    """(h, w, 3), linear, exposed as the reference is."""
    reference: FloatArray = field(repr=False)


def as_json(match: Match) -> dict[str, Any]:
    """Return a match as its JSON document."""
    return {
        "lamps": {lamp.id: _lamp(lamp) for lamp in match.lamps},
        "regions": {one.name: region_json(one) for one in match.regions},
        "exposure_stops": round(match.exposure_stops, 4),
        "exposure_known": match.exposure_known,
        "reference": "own" if match.own else "foreign",
        "delta_e": None if match.delta_e is None else round(match.delta_e, 3),
        "solve_seconds": round(match.seconds, 3),
        "notes": list(match.notes),
    }


def _lamp(lamp: LampResult) -> dict[str, Any]:
    return {
        "output": round(lamp.output, 7),
        "level": round(lamp.level, 6),
        "cct_k": None if lamp.cct_k is None else round(lamp.cct_k, 1),
        "duv": None if lamp.duv is None else round(lamp.duv, 6),
        "sure": lamp.sure,
        "asked_cct_k": None if lamp.asked_cct_k is None else round(lamp.asked_cct_k, 1),
        "stops_error": round(min(lamp.stops_error, 99.0), 3),
        "mired_error": round(min(lamp.mired_error, 999.0), 1),
        "share": round(lamp.share, 4),
    }


def region_json(region: RegionResult) -> dict[str, Any]:
    """Return one region as JSON."""
    said = {"stops": round(region.stops, 4), "delta_e": round(region.delta_e, 3)}
    return {**said, "note": region.note} if region.note else said


def as_lines(match: Match, table: Callable[..., list[str]]) -> list[str]:
    """Return a match as lines to read; ``table`` aligns rows."""
    rows: list[Sequence[str]] = [["lamp", "level", "output", "white", "sure to", "share at most"]]
    for lamp in match.lamps:
        rows.append(
            [
                lamp.id,
                per_cent(lamp.level),
                per_cent(lamp.output),
                "" if lamp.cct_k is None else f"{lamp.cct_k:.0f} K {tint(lamp.duv or 0.0)}".rstrip(),
                f"{lamp.stops_error:.2f} stop" if lamp.sure else "not sure",
                per_cent(round(lamp.share, 2)),
            ]
        )
    lines = list(table(rows, right=frozenset({1, 2, 5})))
    exposure = f"expose {match.exposure_stops:+.2f} stops against the stills"
    lines += ["", exposure if abs(match.exposure_stops) >= 0.005 else "expose as for the stills"]
    if match.delta_e is not None:
        lines.append(f"the frame comes within ΔE2000 {match.delta_e:.2f} (median)")
    if match.regions:
        rows = [["region", "stops", "ΔE2000", ""]]
        rows += [[one.name, f"{one.stops:+.2f}", f"{one.delta_e:.1f}", one.note] for one in match.regions]
        lines += ["", *table(rows, right=frozenset({1, 2}))]
    return lines
