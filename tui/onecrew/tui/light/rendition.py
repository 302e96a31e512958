"""Colour rendition of a lamp: computed on request, shown until the lamp's colour changes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from onecrew.show.snapshot import LightState

Colour = tuple[float, ...]


def colour_of(light: LightState) -> Colour:
    """What the answer holds for."""
    if light.white is not None:
        return (round(light.white.cct_k), round(light.white.duv, 4))
    return (round(light.xy[0], 3), round(light.xy[1], 3), 0.0)


def arguments(name: str, light: LightState) -> dict[str, Any]:
    """The question for the engine."""
    if light.white is not None:
        return {"fixture": name, "cct_k": light.white.cct_k, "duv": light.white.duv}
    return {"fixture": name, "xy": light.xy}


@dataclass(frozen=True, slots=True)
class Rendition:
    """An answer, and the lamp and colour that it is for."""

    name: str
    colour: Colour
    lines: tuple[str, ...]

    def holds(self, name: str, light: LightState) -> bool:
        return (name, colour_of(light)) == (self.name, self.colour)


def lines_of(answer: Mapping[str, Any]) -> tuple[str, ...]:
    """The answer in words: one line per mixing method, then how far to trust it."""
    said = [_mix(mix) for mix in answer.get("mixes", ()) if mix.get("rendition")]
    note = str(answer.get("note", ""))
    return (*said, *([note] if note else []))


def _mix(mix: Mapping[str, Any]) -> str:
    index = mix["rendition"]
    figures = ", ".join(
        f"{name} {index[key]:.0f}"
        for name, key in (("Ra", "ra"), ("Rf", "rf"), ("Rg", "rg"), ("SSI", "ssi"))
        if index.get(key) is not None
    )
    used = " (in use)" if mix.get("used") else ""
    stops = float(mix.get("stops") or 0.0)
    cost = f", costs {stops:.1f} st" if stops >= 0.05 else ""
    return f"{mix['mixing'].replace('-', ' ')}{used}: {figures}{cost}"
