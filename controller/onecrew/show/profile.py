"""Profile: what a kind of fixture is — its emitters, its dimming law, its modes and their channels."""

from __future__ import annotations

from functools import cached_property
from itertools import pairwise
from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from onecrew.show.base import CctK, Duv, Level, Model, Name
from onecrew.show.light import Xy

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


class CctRange(Model):
    """How a CCT channel spans its kelvins: linear between two ends, or by a table of (share, kelvin).

    A channel may run either way, from warm to cool or from cool to warm.
    """

    low_k: CctK | None = None
    """Kelvin at the channel's value 0; above ``high_k`` on a channel that begins cool."""
    high_k: CctK | None = None
    """Kelvin at the channel's full value."""
    table: tuple[tuple[Level, CctK], ...] = ()

    @model_validator(mode="after")
    def _range_or_table(self) -> Self:
        if self.table:
            if self.low_k is not None or self.high_k is not None:
                raise ValueError("both low_k and high_k and a table are given; take one of the two away")
            shares = [share for share, _ in self.table]
            kelvins = [k for _, k in self.table]
            rising = all(a < b for a, b in pairwise(shares))
            one_way = all(a < b for a, b in pairwise(kelvins)) or all(a > b for a, b in pairwise(kelvins))
            if len(shares) < 2 or not rising or not one_way or shares[0] != 0.0 or shares[-1] != 1.0:
                raise ValueError(
                    "the table does not run from [0.0, …] to [1.0, …]; "
                    "start and end there, the shares rising, the kelvins all rising or all falling"
                )
        elif self.low_k is None or self.high_k is None or self.low_k == self.high_k:
            raise ValueError("a cct channel has no range; give low_k and high_k, not alike, or a table")
        return self

    @cached_property
    def points(self) -> tuple[tuple[float, float], ...]:
        """(share of the channel 0–1, kelvin): the shares rise, the kelvins all rise or all fall."""
        if self.table:
            return self.table
        assert self.low_k is not None and self.high_k is not None
        return ((0.0, self.low_k), (1.0, self.high_k))

    @property
    def warmest_k(self) -> float:
        """The lower end of the range, kelvin, whichever end of the channel it is at."""
        return min(self.points[0][1], self.points[-1][1])

    @property
    def coolest_k(self) -> float:
        """The upper end of the range, kelvin, whichever end of the channel it is at."""
        return max(self.points[0][1], self.points[-1][1])


class TintRange(Model):
    """How a tint channel spans Duv: its value at both ends, and the raw share at which it is neutral."""

    low_duv: Duv
    high_duv: Duv
    neutral: Level = 0.5

    @model_validator(mode="after")
    def _through_zero(self) -> Self:
        if not (min(self.low_duv, self.high_duv) < 0.0 < max(self.low_duv, self.high_duv)):
            raise ValueError(
                "low_duv and high_duv lie on the same side of 0; let one be below 0 and the other above"
            )
        if not 0.0 < self.neutral < 1.0:
            raise ValueError("neutral is an end of the channel; give a number above 0 and below 1")
        return self


class Channel(Model):
    """One channel of a mode: exactly one of emitter, dimmer, cct, tint or fixed.

    16-bit channels take two slots, the coarse one at the lower address.
    """

    emitter: Name | None = None
    dimmer: Literal[True] | None = None
    cct: CctRange | None = None
    tint: TintRange | None = None
    fixed: Annotated[int, Field(ge=0, le=255)] | None = None
    bits: Literal[8, 16] = 8

    @model_validator(mode="after")
    def _one_kind(self) -> Self:
        kinds = (self.emitter, self.dimmer, self.cct, self.tint, self.fixed)
        if sum(kind is not None for kind in kinds) != 1:
            raise ValueError(
                "a channel is not one thing; give exactly one of emitter, dimmer, cct, tint or fixed"
            )
        if self.fixed is not None and self.bits != 8:
            raise ValueError("a fixed value has 16 bits; take bits away, it is one slot")
        return self

    @property
    def width(self) -> int:
        """Slots this channel takes."""
        return self.bits // 8


class Mode(Model):
    """One channel layout of a profile. ``segments`` repeats the block of channels, as a pixel tube does."""

    name: Name
    channels: Annotated[tuple[Channel, ...], Field(min_length=1, max_length=512)]
    segments: Annotated[int, Field(ge=1, le=170)] = 1

    @model_validator(mode="after")
    def _coherent(self) -> Self:
        for kind in ("dimmer", "cct", "tint"):
            if sum(getattr(channel, kind) is not None for channel in self.channels) > 1:
                raise ValueError(f"mode {self.name} has more than one {kind} channel; keep one")
        named = [channel.emitter for channel in self.channels if channel.emitter is not None]
        if len(set(named)) != len(named):
            raise ValueError(f"mode {self.name} names an emitter twice; keep one channel for each")
        if named and self.cct is not None:
            raise ValueError(
                f"mode {self.name} mixes emitter channels with a cct channel; keep the ones or the other"
            )
        if self.tint is not None and self.cct is None:
            raise ValueError(
                f"mode {self.name} has a tint channel without a cct channel; add the cct channel"
            )
        if not named and self.dimmer is None:
            raise ValueError(f"mode {self.name} has nothing that sets its level; add a dimmer or emitters")
        if self.width > 512:
            raise ValueError(f"mode {self.name} takes {self.width} slots; keep to the 512 of a universe")
        return self

    @cached_property
    def width(self) -> int:
        """Slots the whole mode takes."""
        return self.segments * sum(channel.width for channel in self.channels)

    def _find(self, kind: str) -> Channel | None:
        return next((channel for channel in self.channels if getattr(channel, kind) is not None), None)

    @cached_property
    def dimmer(self) -> Channel | None:
        return self._find("dimmer")

    @cached_property
    def cct(self) -> Channel | None:
        return self._find("cct")

    @cached_property
    def tint(self) -> Channel | None:
        return self._find("tint")

    @cached_property
    def emitters(self) -> tuple[str, ...]:
        """Names of the emitters that have a channel, in channel order."""
        return tuple(channel.emitter for channel in self.channels if channel.emitter is not None)


class Profile(Model):
    """A kind of fixture. ``id`` is the file's name without its ending."""

    id: Name
    name: Annotated[str, Field(min_length=1, max_length=80)]
    note: str = ""
    dimming: Literal["linear", "square", "log", "table"] = "linear"
    """Level → output: linear, square, log (IEC 62386-102) or by ``dimming_table``."""
    dimming_table: tuple[tuple[Level, Level], ...] = ()
    emitters: Annotated[dict[Name, Emitter], Field(min_length=1, max_length=8)]
    modes: Annotated[tuple[Mode, ...], Field(min_length=1)]

    @model_validator(mode="after")
    def _coherent(self) -> Self:
        names = [mode.name for mode in self.modes]
        if len(set(names)) != len(names):
            raise ValueError("two modes have the same name; give each its own")
        for mode in self.modes:
            unknown = [name for name in mode.emitters if name not in self.emitters]
            if unknown:
                raise ValueError(
                    f"mode {mode.name} names emitter {unknown[0]}, which is not described; "
                    f"add [emitters.{unknown[0]}], or name one of {', '.join(self.emitters)}"
                )
            if not mode.emitters and mode.cct is None and len(self.emitters) != 1:
                raise ValueError(
                    f"mode {mode.name} has only a dimmer for {len(self.emitters)} emitters; "
                    "describe the one emitter that it dims"
                )
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
