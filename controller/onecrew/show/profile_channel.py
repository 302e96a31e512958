"""Channel: what one channel of a fixture does, over which range, and in which slots."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import cached_property
from itertools import pairwise
from typing import Annotated, Literal, Self

from pydantic import ConfigDict, Field, model_validator

from onecrew.show.base import CctK, Duv, Level, Model, Name
from onecrew.show.destination import SLOTS

Slot = Annotated[int, Field(ge=1, le=SLOTS)]
"""A slot of a mode, counted from 1."""
Raw = Annotated[int, Field(ge=0, le=2**32 - 1)]
"""A value as the channel is sent it, 0 to 255 at 8 bits."""
EqualSteps = Annotated[int, Field(ge=2, le=256)]


def _ranges_apart(rows: Sequence[tuple[int, int, float]]) -> None:
    """Raises where the ranges (first, last, figure) of a channel that moves in steps cannot be."""
    if any(first > last for first, last, _ in rows):
        raise ValueError("a step ends before it begins; give its first and its last value")
    ordered = sorted(rows)
    if any(before[1] >= after[0] for before, after in pairwise(ordered)):
        raise ValueError("two steps share values of the channel; give each its own")
    if len({figure for _, _, figure in rows}) < max(2, len(rows)):
        raise ValueError("two steps are alike, or there is only one; give at least two, all different")


class CctRange(Model):
    """How a CCT channel spans its kelvins: linear between two ends, by a table of (share, kelvin), or in
    steps.

    A channel may run either way, from warm to cool or from cool to warm.
    """

    low_k: CctK | None = None
    """Kelvin at the channel's value 0; above ``high_k`` on a channel that begins cool."""
    high_k: CctK | None = None
    """Kelvin at the channel's full value."""
    table: tuple[tuple[Level, CctK], ...] = ()
    steps: EqualSteps | tuple[tuple[Raw, Raw, CctK], ...] | None = None
    """Of a channel that moves in steps: into how many equal ranges it is divided, or each of them (first
    value, last value, kelvin)."""

    @model_validator(mode="after")
    def _range_or_table(self) -> Self:
        if isinstance(self.steps, tuple):
            if self.table or self.low_k is not None or self.high_k is not None:
                raise ValueError(
                    "the kelvins of each step and a range or table are given; remove one of the two"
                )
            _ranges_apart(self.steps)
        elif self.table:
            if self.low_k is not None or self.high_k is not None:
                raise ValueError("both low_k and high_k and a table are given; remove one of the two")
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
        """(share of the channel 0–1, kelvin): the shares rise, the kelvins all rise or all fall.

        Of steps that are told one by one the shares count the steps from the warmest to the coolest.
        """
        if self.table:
            return self.table
        if isinstance(self.steps, tuple):
            return counted([kelvin for _, _, kelvin in self.steps])
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


def counted(figures: Iterable[float]) -> tuple[tuple[float, float], ...]:
    """Return the figures of steps as (share, figure), rising, the shares counting the steps from 0 to 1."""
    rising = sorted(figures)
    return tuple((i / (len(rising) - 1), figure) for i, figure in enumerate(rising))


class TintRange(Model):
    """How a tint channel spans Duv: its value at both ends and the raw share at which it is neutral, or in
    steps that are told one by one."""

    low_duv: Duv | None = None
    high_duv: Duv | None = None
    neutral: Level = 0.5
    steps: EqualSteps | tuple[tuple[Raw, Raw, Duv], ...] | None = None
    """As those of a ``CctRange``, (first value, last value, Duv)."""

    @model_validator(mode="after")
    def _through_zero(self) -> Self:
        if isinstance(self.steps, tuple):
            if self.low_duv is not None or self.high_duv is not None:
                raise ValueError("the Duv of each step and a range are given; remove one of the two")
            _ranges_apart(self.steps)
            return self
        if self.low_duv is None or self.high_duv is None:
            raise ValueError("a tint channel has no range; give low_duv and high_duv, or steps")
        if not (min(self.low_duv, self.high_duv) < 0.0 < max(self.low_duv, self.high_duv)):
            raise ValueError(
                "low_duv and high_duv lie on the same side of 0; let one be below 0 and the other above"
            )
        if not 0.0 < self.neutral < 1.0:
            raise ValueError("neutral is an end of the channel; give a number above 0 and below 1")
        return self

    @cached_property
    def points(self) -> tuple[tuple[float, float], ...]:
        """(share of the channel 0–1, Duv), as those of a ``CctRange``."""
        if isinstance(self.steps, tuple):
            return counted([duv for _, _, duv in self.steps])
        assert self.low_duv is not None and self.high_duv is not None
        return ((0.0, self.low_duv), (self.neutral, 0.0), (1.0, self.high_duv))


class HueRange(Model):
    """How a hue channel spans its degrees: red 0, green 120, blue 240 (A. R. Smith's HSV, SIGGRAPH 1978)."""

    low_deg: Annotated[float, Field(ge=-360.0, le=720.0)] = 0.0
    """Degrees at the channel's value 0."""
    high_deg: Annotated[float, Field(ge=-360.0, le=720.0)] = 360.0

    @model_validator(mode="after")
    def _a_range(self) -> Self:
        if not 0.0 < abs(self.high_deg - self.low_deg) <= 360.0:
            raise ValueError("the hue goes nowhere or round more than once; keep the ends up to 360 apart")
        return self


class ShareRange(Model):
    """A quantity that runs from one number to another: saturation 0–1, or a chromaticity coordinate."""

    low: Level = 0.0
    """The number at the channel's value 0."""
    high: Level = 1.0

    @model_validator(mode="after")
    def _a_range(self) -> Self:
        if self.low == self.high:
            raise ValueError("low and high are alike; give the numbers at both ends of the channel")
        return self


class Crossfade(Model):
    """How a channel goes over from the white part of a lamp to its colour part."""

    white: Level = 0.0
    """Share of the channel at which only the white part gives light."""
    colour: Level = 1.0
    """Share at which only the colour part does."""

    @model_validator(mode="after")
    def _two_ends(self) -> Self:
        if self.white == self.colour:
            raise ValueError("white and colour are alike; give the two ends of the crossfade")
        return self


KINDS = (
    "emitter", "filter", "dimmer", "cct", "tint", "hue", "saturation", "x", "y", "crossfade", "fixed"
)  # fmt: skip
"""What a channel can be."""


class Channel(Model):
    """One channel of a mode: exactly one of the ``KINDS``.

    Without ``slots`` it takes the next ones, the coarse slot first. ``lowest`` and ``highest`` say which of
    its values are used, where others mean something else.
    """

    model_config = ConfigDict(json_schema_extra={"examples": [{"dimmer": True}]})

    emitter: Name | None = None
    filter: Name | None = None
    """How far a filter stands in front of the light: out at its lowest value, all in at its highest."""
    dimmer: Literal[True] | None = None
    part: Literal["white", "colour"] | None = None
    """Which part of the lamp a dimmer dims; None for all of it."""
    smooth: bool = False
    """Of a dimmer: the fixture itself fades between its steps, so it is sent the level and nothing else
    is."""
    inverted: bool = False
    """Of a dimmer, an emitter or a filter: it does nothing at its highest value and all at its lowest."""
    cct: CctRange | None = None
    tint: TintRange | None = None
    hue: HueRange | None = None
    saturation: ShareRange | None = None
    x: ShareRange | None = None
    y: ShareRange | None = None
    crossfade: Crossfade | None = None
    fixed: Raw | None = None
    bits: Literal[8, 16, 24, 32] = 8
    slots: tuple[Slot, ...] = ()
    """Its slots, coarse first, where they are not the next ones in order."""
    places: tuple[tuple[Slot, ...], ...] = ()
    """The same for a channel that stands in the mode several times, once for each segment."""
    once: bool = False
    """In a mode with segments: for the whole lamp, not for each segment."""
    lowest: Raw | None = None
    highest: Raw | None = None
    lowest_level: Annotated[float, Field(gt=0.0, lt=1.0)] | None = None
    """Of a dimmer that does not go down to 0 at ``lowest``: the level that it shows there."""
    off: Raw | None = None
    """Of a dimmer: a value beside the range that is used, at which it is dark."""
    idle: Raw | None = None
    """What it is sent while the other part of the lamp makes the light; None for what it would be sent."""
    ranges: tuple[tuple[Raw, Raw, Annotated[str, Field(max_length=80)]], ...] = ()
    """What its values mean, (first, last, meaning), for people."""

    @model_validator(mode="before")
    @classmethod
    def _slots_tell_the_bits(cls, data: object) -> object:
        if isinstance(data, dict) and "bits" not in data:
            told = data.get("slots") or next(iter(data.get("places") or ()), ())
            if isinstance(told, tuple | list) and 1 < len(told) <= 4:
                return {**data, "bits": 8 * len(told)}
        return data

    @model_validator(mode="after")
    def _one_kind(self) -> Self:
        if sum(getattr(self, kind) is not None for kind in KINDS) != 1:
            raise ValueError(
                f"a channel is not one thing; give exactly one of {', '.join(KINDS[:-1])} or {KINDS[-1]}"
            )
        if self.part is not None and self.dimmer is None:
            raise ValueError("part stands beside something that is no dimmer; remove it")
        for name in ("lowest_level", "off"):
            if getattr(self, name) is not None and (self.dimmer is None or self.part is not None):
                raise ValueError(f"{name} stands beside what is no dimmer of the whole lamp; remove it")
        if self.inverted and self.kind not in ("dimmer", "emitter", "filter"):
            raise ValueError(
                "inverted stands beside something that is no dimmer, emitter or filter; "
                "remove it, and swap the ends"
            )
        return self

    @model_validator(mode="after")
    def _values_fit(self) -> Self:
        full = 2**self.bits - 1
        for name in ("fixed", "lowest", "highest", "off", "idle"):
            value = getattr(self, name)
            if value is not None and value > full:
                raise ValueError(f"{name} is {value}, and at {self.bits} bits a channel ends at {full}")
        if self.first >= self.last:
            raise ValueError("lowest is not below highest; swap them")
        if self.off is not None and self.first <= self.off <= self.last:
            raise ValueError(f"off is {self.off}, among the values that dim; give lowest or highest, past it")
        told = self.cct or self.tint
        steps = told.steps if told is not None and isinstance(told.steps, tuple) else ()
        if any(last > full for _, last, _ in steps):
            raise ValueError(f"a step ends past {full}, where a channel of {self.bits} bits ends")
        for first, last, _ in self.ranges:
            if not first <= last <= full:
                raise ValueError(
                    f"a range goes from {first} to {last}; "
                    f"give its first and last value, up to {full} at {self.bits} bits"
                )
        return self

    @model_validator(mode="after")
    def _slots_fit(self) -> Self:
        if self.slots and self.places:
            raise ValueError("both slots and places are given; remove one of the two")
        for place in self.told_places:
            if len(place) != self.width:
                raise ValueError(
                    f"{len(place)} slots are given for {self.bits} bits; give {self.width}, coarse first"
                )
        return self

    @property
    def kind(self) -> str:
        """Which of ``KINDS`` it is."""
        return next(kind for kind in KINDS if getattr(self, kind) is not None)

    @property
    def width(self) -> int:
        """Slots this channel takes in one place."""
        return self.bits // 8

    @property
    def told_places(self) -> tuple[tuple[int, ...], ...]:
        """Its slots as the profile gives them, one entry a place; empty where they follow from the order."""
        return (self.slots,) if self.slots else self.places

    @cached_property
    def first(self) -> int:
        """The lowest value that is used."""
        return 0 if self.lowest is None else self.lowest

    @cached_property
    def last(self) -> int:
        """The highest value that is used."""
        return 2**self.bits - 1 if self.highest is None else self.highest

    @property
    def span(self) -> int:
        """Steps from the lowest to the highest value that is used."""
        return self.last - self.first
