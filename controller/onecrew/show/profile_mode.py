"""Mode: one channel layout of a kind of fixture, and where in it each channel lies."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from functools import cached_property
from itertools import groupby
from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from onecrew.show.base import Model, Name
from onecrew.show.destination import SLOTS
from onecrew.show.profile_channel import Channel

FEW_STEPS = 4095
"""Channels of more steps than this are fine enough by themselves."""
Way = Literal["two parts", "emitters", "filters", "hue", "xy", "whites", "level"]
"""How a mode says its light."""
KINDS_BY_WAY: Mapping[Way, tuple[str, ...]] = {
    "two parts": ("dimmer", "crossfade", "cct", "tint", "emitter", "hue", "saturation", "x", "y", "fixed"),
    "emitters": ("dimmer", "emitter", "fixed"),
    "filters": ("dimmer", "filter", "fixed"),
    "hue": ("dimmer", "hue", "saturation", "cct", "tint", "fixed"),
    "xy": ("dimmer", "x", "y", "fixed"),
    "whites": ("dimmer", "cct", "tint", "fixed"),
    "level": ("dimmer", "fixed"),
}
"""The kinds of channel that the encoder of a way sends and reads back; a mode has no others."""
Places = tuple[tuple[int, ...], ...]
"""The slots of a channel, counted from 1, coarse first: one entry for each place where it stands."""


class Mode(Model):
    """One channel layout of a profile. ``segments`` repeats the block of channels, as a pixel tube does."""

    name: Name
    channels: Annotated[tuple[Channel, ...], Field(min_length=1, max_length=SLOTS)]
    segments: Annotated[int, Field(ge=1, le=170)] = 1
    menu: Annotated[str, Field(max_length=80)] = ""
    """What the fixture's own menu calls this mode, where that is not its name here."""

    @model_validator(mode="after")
    def _each_once(self) -> Self:
        for kind in ("cct", "tint", "hue", "saturation", "x", "y", "crossfade"):
            if sum(getattr(channel, kind) is not None for channel in self.channels) > 1:
                raise ValueError(f"mode {self.name} has more than one {kind} channel; keep one")
        for what, named in (("an emitter", self.emitters), ("a filter", self.filters)):
            if len(set(named)) != len(named):
                raise ValueError(f"mode {self.name} names {what} twice; keep one channel for each")
        for part in ("white", "colour"):
            if sum(channel.part == part for channel in self.channels) > 1:
                raise ValueError(f"mode {self.name} has more than one dimmer for its {part} part; keep one")
        return self

    @model_validator(mode="after")
    def _one_way_to_colour(self) -> Self:
        for one, other in (("hue", "saturation"), ("x", "y")):
            if (self.find(one) is None) != (self.find(other) is None):
                raise ValueError(f"mode {self.name} has one of {one} and {other}; give both channels")
        ways = [bool(self.emitters), self.find("hue") is not None, self.find("x") is not None]
        if sum(ways) + bool(self.filters) > 1:
            raise ValueError(
                f"mode {self.name} tells its colour in two ways (emitters, filters, hue and saturation, "
                "x and y); keep one and hold the channels of the other fixed"
            )
        if self.cct is not None and (ways[0] or ways[2]) and not self.two_parts:
            what = "emitter channels" if ways[0] else "x and y"
            raise ValueError(
                f"mode {self.name} mixes {what} with a cct channel; keep the ones or the other, "
                "or give the channel that goes over between white and colour"
            )
        if self.filters and self.cct is not None:
            raise ValueError(
                f"mode {self.name} has a cct channel beside filters; hold the one or the others fixed"
            )
        if len(self.filters) == 1:
            raise ValueError(f"mode {self.name} has one filter alone; hold it fixed, colours take two")
        if self.two_parts and (self.cct is None or not any(ways)):
            raise ValueError(
                f"mode {self.name} goes over between white and colour; give it a cct channel, and emitters, "
                "hue and saturation, or x and y"
            )
        if self.tint is not None and self.cct is None:
            raise ValueError(
                f"mode {self.name} has a tint channel without a cct channel; add the cct channel"
            )
        return self

    @model_validator(mode="after")
    def _can_be_sent(self) -> Self:
        for channel in self.channels:
            if channel.kind not in KINDS_BY_WAY[self.way]:
                raise ValueError(
                    f"mode {self.name} has a channel of kind {channel.kind}, "
                    "which nothing sends beside its others; hold it fixed"
                )
        return self

    @model_validator(mode="after")
    def _has_a_level(self) -> Self:
        parts = {channel.part for channel in self.channels if channel.part is not None}
        if len(parts) == 1:
            raise ValueError(f"mode {self.name} has a dimmer for its {parts.pop()} part alone; give both")
        if parts and self.find("crossfade") is not None:
            raise ValueError(
                f"mode {self.name} has a crossfade and dimmers for both parts; hold one or the others fixed"
            )
        if self.dimmer is None and not parts and not (self.emitters and not self.two_parts):
            raise ValueError(f"mode {self.name} has nothing that sets its level; add a dimmer or emitters")
        return self

    @model_validator(mode="after")
    def _slots_apart(self) -> Self:
        told = [bool(channel.told_places) for channel in self.channels]
        if any(told):
            if not all(told):
                raise ValueError(f"mode {self.name} gives slots for some channels; give them for all or none")
            if self.segments > 1:
                raise ValueError(
                    f"mode {self.name} has segments and slots; give places for each channel instead"
                )
        elif sum(not once for once, _ in self._runs) > 1:
            raise ValueError(
                f"mode {self.name} has a channel with once among those of a segment; move it before or after "
                "them, or give slots"
            )
        if self.width > SLOTS:
            raise ValueError(f"mode {self.name} takes {self.width} slots; keep to the {SLOTS} of a universe")
        taken = Counter(slot for places in self.places for place in places for slot in place)
        slot, times = max(taken.items(), key=lambda item: (item[1], -item[0]))
        if times > 1:
            raise ValueError(f"mode {self.name} gives slot {slot} to two channels; give each its own")
        return self

    @cached_property
    def places(self) -> tuple[Places, ...]:
        """Where each channel lies, in the order of ``channels``."""
        if any(channel.told_places for channel in self.channels):
            return tuple(channel.told_places for channel in self.channels)
        found: list[Places] = []
        slot = 1
        for once, run in self._runs:
            step = sum(channel.width for channel in run)
            for channel in run:
                starts = range(slot, slot + (1 if once else self.segments) * step, step)
                found.append(tuple(tuple(range(at, at + channel.width)) for at in starts))
                slot += channel.width
            slot += 0 if once else (self.segments - 1) * step
        return tuple(found)

    @cached_property
    def _runs(self) -> list[tuple[bool, list[Channel]]]:
        """The channels in order, cut where those for the whole lamp and those of a segment meet."""
        by_once = groupby(self.channels, key=lambda channel: channel.once and self.segments > 1)
        return [(once, list(run)) for once, run in by_once]

    @cached_property
    def width(self) -> int:
        """Slots the whole mode takes, up to the last that is used."""
        return max(slot for places in self.places for place in places for slot in place)

    @cached_property
    def parts(self) -> int:
        """How many segments there are: the places of the channel that stands in the mode most often."""
        return max(len(places) for places in self.places)

    def find(self, kind: str) -> Channel | None:
        """Return the channel of a kind, the first where there are several."""
        return next((channel for channel in self.channels if getattr(channel, kind) is not None), None)

    @cached_property
    def dimmer(self) -> Channel | None:
        """The dimmer of the whole lamp that carries the level: of several, the finest."""
        whole = [channel for channel in self.channels if channel.dimmer and channel.part is None]
        return max(whole, key=lambda channel: channel.span, default=None)

    @cached_property
    def coarse_dimmer(self) -> bool:
        """Whether the dimmer has so few steps that the emitters under it make up for them."""
        dimmer = self.dimmer
        if dimmer is None or not self.emitters or self.two_parts:
            return False
        return dimmer.span <= FEW_STEPS and not dimmer.smooth and dimmer.lowest_level is None

    @cached_property
    def cct(self) -> Channel | None:
        return self.find("cct")

    @cached_property
    def tint(self) -> Channel | None:
        return self.find("tint")

    @cached_property
    def two_parts(self) -> bool:
        """Whether the lamp has a white and a colour part and something to go over between them."""
        return self.find("crossfade") is not None or any(channel.part for channel in self.channels)

    @cached_property
    def way(self) -> Way:
        """How it says its light, which is what its encoder is chosen by."""
        if self.two_parts:
            return "two parts"
        ways: tuple[tuple[str, Way], ...] = (
            ("emitter", "emitters"), ("filter", "filters"), ("hue", "hue"), ("x", "xy"), ("cct", "whites")
        )  # fmt: skip
        return next((way for kind, way in ways if self.find(kind) is not None), "level")

    @cached_property
    def one_colour(self) -> bool:
        """Whether only its level can be told: it has a dimmer alone, or one emitter."""
        return self.cct is None and (not self.tells_colours or len(self.emitters) == 1)

    @cached_property
    def whites_only(self) -> bool:
        """Whether it takes whites and no other colour."""
        return self.cct is not None and not self.tells_colours

    @cached_property
    def tells_colours(self) -> bool:
        """Whether it has channels for colours: emitters, filters, hue and saturation, or x and y."""
        return any(self.find(kind) is not None for kind in ("emitter", "filter", "hue", "x"))

    @cached_property
    def emitters(self) -> tuple[str, ...]:
        """Names of the emitters that have a channel, in channel order."""
        return tuple(channel.emitter for channel in self.channels if channel.emitter is not None)

    @cached_property
    def filters(self) -> tuple[str, ...]:
        """Names of the filters that have a channel, in channel order."""
        return tuple(channel.filter for channel in self.channels if channel.filter is not None)
