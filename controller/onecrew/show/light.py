"""Light: what one fixture does. Look: the light of every fixture, complete."""

from __future__ import annotations

from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from onecrew.show.base import CctK, Duv, Level, Model, Name


class White(Model):
    """A white: correlated colour temperature in kelvin and Duv (CIE 1960 uv, + green, − magenta)."""

    cct_k: CctK
    duv: Duv = 0.0


Xy = tuple[Annotated[float, Field(gt=0.0, lt=1.0)], Annotated[float, Field(gt=0.0, lt=1.0)]]
"""CIE 1931 2° chromaticity."""


class Effect(Model):
    """A seeded, repeatable modulation of light and colour around the look."""

    kind: Literal["television", "flame", "headlights", "lightning", "failing-tube"]
    rate: Annotated[float, Field(gt=0.0, le=4.0)] = 1.0
    """Speed against the effect's usual pace."""
    depth: Level = 0.5
    """How far the light strays from the look, 0–1."""
    seed: Annotated[int, Field(ge=0, le=2**31 - 1)] = 1


class Light(Model):
    """Level 0–1 as the fixture's own display would show it, one colour, and maybe an effect.

    The colour is ``white`` or ``xy``, not both; with neither, the fixture keeps the white it has by nature.
    """

    level: Level
    white: White | None = None
    xy: Xy | None = None
    effect: Effect | None = None

    @model_validator(mode="after")
    def _one_colour(self) -> Self:
        if self.white is not None and self.xy is not None:
            raise ValueError("a light has both white and xy; remove one of the two")
        if self.xy is not None and sum(self.xy) >= 1.0:
            raise ValueError("x + y is not below 1; give the chromaticity of a light that exists")
        return self


Look = dict[Name, Light]
"""By fixture id. A fixture that a look does not name is at level 0 in it."""
