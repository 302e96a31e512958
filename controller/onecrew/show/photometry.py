"""Photometry: how much light a kind of fixture gives and how it spreads; what surfaces send back."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Literal, Self, get_args

from pydantic import BeforeValidator, Field, model_validator

from onecrew.show.base import CctK, Model
from onecrew.show.faults import shown

Units = Literal["metres", "feet"]
UNITS: tuple[Units, ...] = get_args(Units)
Positive = Annotated[float, Field(gt=0.0, le=1e9)]
SizeM = Annotated[float, Field(gt=0.0, le=50.0)]

REFLECTANCES: Mapping[str, float] = {"dark": 0.1, "mid": 0.4, "white": 0.8}
"""Shares of the light that a surface sends back, by name. Common practice, no source."""


def _reflectance(value: object) -> object:
    if isinstance(value, str) and value not in REFLECTANCES:
        raise ValueError("this is no reflectance; give dark, mid or white, or a number from 0 to 1")
    if isinstance(value, int | float) and not isinstance(value, bool) and not 0.0 <= value <= 1.0:
        raise ValueError(
            f"no surface reflects {shown(value)} of the light it gets; "
            "give dark, mid or white, or a number from 0 to 1"
        )
    return value


Reflectance = Annotated[
    Annotated[float, Field(ge=0.0, le=1.0)] | Literal["dark", "mid", "white"], BeforeValidator(_reflectance)
]
"""dark, mid or white, or a share 0–1."""


class Photometry(Model):
    """What a meter reads of a fixture at full, without modifiers: exactly one of the first three."""

    lux_at_1m: Positive | None = None
    """Illuminance on the axis, one metre from the middle of the emitting face, facing it."""
    lumens: Positive | None = None
    """Luminous flux."""
    candela: Positive | None = None
    """Intensity on the axis, from far away."""
    cct_k: CctK | None = None
    """The white at which that was read; null: whatever gives most light."""
    whites: tuple[tuple[CctK, Positive], ...] = ()
    """The same figure at further whites: pairs of kelvin and figure."""
    beam_deg: Annotated[float, Field(ge=2.0, le=360.0)] = 120.0
    """Full angle at half of the intensity on the axis; from 180 on the same every way, as a bare bulb."""
    field_deg: Annotated[float, Field(gt=2.0, lt=180.0)] | None = None
    """Full angle at a tenth; null: the beam is a power of the cosine."""
    width_m: Annotated[float, Field(ge=0.0, le=20.0)] = 0.0
    """Width of the emitting face; 0 for a point."""
    height_m: Annotated[float, Field(ge=0.0, le=20.0)] = 0.0
    pwm_hz: Annotated[float, Field(gt=0.0, le=1e7)] | None = None
    """Rate at which its dimming switches, where the maker states one."""

    @model_validator(mode="after")
    def _coherent(self) -> Self:
        if sum(figure is not None for figure in (self.lux_at_1m, self.lumens, self.candela)) != 1:
            raise ValueError(
                "photometry lacks its one figure of light; give one of lux_at_1m, lumens or candela"
            )
        if self.field_deg is not None and not self.beam_deg < self.field_deg:
            raise ValueError("field_deg is not above beam_deg; the field angle is the wider one")
        if self.whites and self.cct_k is None:
            raise ValueError("whites are given but not the white of the first figure; add cct_k")
        return self


class Room(Model):
    """The room as a box, from the lower left corner of the plan; null is assumed and said so."""

    width_m: SizeM | None = None
    """Along x, to the right on the plan."""
    depth_m: SizeM | None = None
    """Along y, up the plan."""
    height_m: Annotated[float, Field(gt=0.0, le=20.0)] | None = None
    walls: Reflectance | None = None
    """How much light the walls send back: dark, mid, white or a share 0–1."""
    ceiling: Reflectance | None = None
    floor: Reflectance | None = None
    left: Reflectance | None = None
    """One wall by itself, as on the plan, where it is unlike the others."""
    right: Reflectance | None = None
    bottom: Reflectance | None = None
    top: Reflectance | None = None
    mains_hz: Literal[50, 60] | None = None
    """Frequency of the mains, for what practicals do to a shutter; null: both are given."""
    units: Units = "metres"
    """What lengths are shown in; typed they are read in either, and documents hold metres."""


class Metered(Model):
    """What a light meter made of one lamp, in place of its profile's figure."""

    lux_at_1m: Positive
    """Bare and at full, on the axis one metre before its face."""
    cct_k: CctK | None = None
    """The white it gave; null: whatever gives most light."""


def reflectance_of(value: float | str) -> float:
    """The share 0–1 that a reflectance by name or number stands for."""
    return REFLECTANCES[value] if isinstance(value, str) else value
