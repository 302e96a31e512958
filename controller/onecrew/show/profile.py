"""Profile: what a kind of fixture is — its emitters, its dimming law, its modes and their channels."""

from __future__ import annotations

from itertools import pairwise
from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from onecrew.show.base import Level, Model, Name
from onecrew.show.light import Xy
from onecrew.show.photometry import Photometry
from onecrew.show.profile_channel import CctRange, Channel, TintRange
from onecrew.show.profile_mode import Mode

__all__ = ["CctRange", "Channel", "Emitter", "Filter", "Mode", "Peak", "Profile", "TintRange"]

WavelengthNm = Annotated[float, Field(ge=360.0, le=830.0)]


class Peak(Model):
    """One bell of a spectrum: a Gaussian by its peak and full width at half maximum."""

    peak_nm: WavelengthNm
    fwhm_nm: Annotated[float, Field(gt=0.0, le=400.0)]
    share: Annotated[float, Field(gt=0.0)] = 1.0
    """Height of this bell against the others of the same emitter."""


class Emitter(Model):
    """One kind of light source in a fixture: its chromaticity at full and its share of the light."""

    xy: Xy
    flux: Annotated[float, Field(gt=0.0)] = 1.0
    """Luminous flux at full drive, in any unit, the same unit for all emitters of a profile."""
    spectrum: tuple[Peak, ...] = ()
    """Typical shape of the spectrum, optional. ``xy`` stays the truth about colour."""

    @model_validator(mode="before")
    @classmethod
    def _one_peak_is_a_list_of_one(cls, data: object) -> object:
        if isinstance(data, dict) and isinstance(data.get("spectrum"), dict):
            return {**data, "spectrum": (data["spectrum"],)}
        return data


class Filter(Model):
    """A colour filter that moves into the light of a lamp with one emitter."""

    xy: Xy
    """The lamp's chromaticity with this filter alone all in."""
    passes: Annotated[float, Field(gt=0.0, lt=1.0)]
    """The share of the light that is left then."""


class Profile(Model):
    """A kind of fixture. ``id`` is the file's name without its ending."""

    id: Name
    name: Annotated[str, Field(min_length=1, max_length=80)]
    note: str = ""
    dimming: Literal["linear", "square", "log", "table"] = "linear"
    """Level → output: linear, square, log (IEC 62386-102) or by ``dimming_table``."""
    dimming_table: tuple[tuple[Level, Level], ...] = ()
    photometry: Photometry | None = None
    """How much light it gives and how that spreads; without it the light at a place is relative."""
    emitters: Annotated[dict[Name, Emitter], Field(min_length=1, max_length=8)]
    filters: Annotated[dict[Name, Filter], Field(default_factory=dict, max_length=6)]
    """Filters of a lamp that makes its colours by taking from one white."""
    modes: Annotated[tuple[Mode, ...], Field(min_length=1)]

    @model_validator(mode="after")
    def _coherent(self) -> Self:
        names = [mode.name for mode in self.modes]
        if len(set(names)) != len(names):
            twice = next(name for name in names if names.count(name) > 1)
            raise ValueError(f"two modes are called {twice}; give each a name of its own")
        for mode in self.modes:
            for what, told, known in (
                ("emitter", mode.emitters, self.emitters),
                ("filter", mode.filters, self.filters),
            ):
                for name in told:
                    if name not in known:
                        choice = f", or name one of {', '.join(known)}" if known else ""
                        raise ValueError(
                            f"mode {mode.name} names {what} {name}, which is not described; "
                            f"add [{what}s.{name}]{choice}"
                        )
            if mode.filters and len(self.emitters) != 1:
                raise ValueError(
                    f"mode {mode.name} has filters before {len(self.emitters)} emitters; "
                    "describe the one emitter whose light they colour"
                )
            if not mode.tells_colours and mode.cct is None and len(self.emitters) != 1:
                raise ValueError(
                    f"mode {mode.name} has only a dimmer for {len(self.emitters)} emitters; "
                    "describe the one emitter that it dims"
                )
            if mode.find("hue") is not None and not {"red", "green", "blue"} <= set(self.emitters):
                raise ValueError(
                    f"mode {mode.name} has a hue channel, and what is red, green and blue is not described; "
                    "add [emitters.red], [emitters.green] and [emitters.blue]"
                )
        return self

    @model_validator(mode="after")
    def _dims_by_a_law(self) -> Self:
        levels = [level for level, _ in self.dimming_table]
        outputs = [output for _, output in self.dimming_table]
        if (self.dimming == "table") != bool(self.dimming_table):
            raise ValueError(
                'dimming and dimming_table disagree; give dimming = "table" and a table, or neither'
            )
        if self.dimming_table and not (
            self.dimming_table[0] == (0.0, 0.0)
            and self.dimming_table[-1] == (1.0, 1.0)
            and all(a < b for a, b in pairwise(levels))
            and all(a < b for a, b in pairwise(outputs))
        ):
            raise ValueError(
                "dimming_table does not rise from [0, 0] to [1, 1]; start and end there, both columns rising"
            )
        return self

    def mode(self, name: str) -> Mode | None:
        return next((mode for mode in self.modes if mode.name == name), None)
