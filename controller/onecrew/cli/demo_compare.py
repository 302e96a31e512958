"""Compares what the virtual room saw of a lamp with what the cue says. Pure.

A channel of 8 or 16 bits rounds, so a lamp cannot be exactly as asked. What is allowed is worked out from the
slots themselves: every channel half a step up or down, all at their worst together.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from onecrew.colour.spaces import xy_to_uv76
from onecrew.fixtures.decoder import Decoder, Seen
from onecrew.fixtures.report import FixtureReport
from onecrew.playback.effects import FREE_RIPPLE, RIPPLE
from onecrew.show.destination import SLOTS
from onecrew.show.light import Effect
from onecrew.show.profile import Profile
from onecrew.show.show import Fixture

WORTH_SAYING = 1e-4
"""Δu′v′ from which a lamp's nearest colour counts as another than the cue's."""
ARITHMETIC = 2e-6
"""Allowed besides rounding to slots: the two tables of whites, there and back."""


@dataclass(frozen=True, slots=True)
class Allowed:
    """How far the rounding of slots can take a lamp."""

    level: float
    output: float
    uv: float
    """Δu′v′."""


@dataclass(frozen=True, slots=True)
class Verdict:
    ok: bool
    words: str


def allowed(fixture: Fixture, profiles: Mapping[str, Profile], slots: Mapping[int, bytes]) -> Allowed:
    """What half a step on every channel of a fixture does to its level, output and colour."""
    mode = profiles[fixture.profile].mode(fixture.mode)
    if mode is None:
        return Allowed(0.0, 0.0, 0.0)
    decoder = Decoder((fixture,), profiles)
    whole = bytes(slots.get(fixture.universe, b"")).ljust(SLOTS, b"\0")
    here = decoder.decode({fixture.universe: whole})[0]
    sums = [ARITHMETIC, ARITHMETIC, ARITHMETIC]
    for channel, places in zip(mode.channels, mode.places, strict=True):
        for place in places if channel.fixed is None else ():
            steps = _one_step_away(whole, [fixture.address + slot - 2 for slot in place])
            there = [decoder.decode({fixture.universe: other})[0] for other in steps]
            sums[0] += 0.5 * max(abs(seen.level - here.level) for seen in there)
            sums[1] += 0.5 * max(abs(seen.output - here.output) for seen in there)
            sums[2] += 0.5 * max(_apart(seen.xy, here.xy) for seen in there)
    return Allowed(*sums)


def _one_step_away(whole: bytes, slots: Sequence[int]) -> list[bytes]:
    value = int.from_bytes(bytes(whole[slot] for slot in slots), "big")
    other = []
    for near in (value - 1, value + 1):
        if 0 <= near < 256 ** len(slots):
            changed = bytearray(whole)
            for slot, byte in zip(slots, near.to_bytes(len(slots), "big"), strict=True):
                changed[slot] = byte
            other.append(bytes(changed))
    return other


def steady(asked: FixtureReport, seen: Seen, may: Allowed) -> Verdict:
    """A lamp without effect: level and colour as asked, or the nearest colour it can give."""
    off_level = abs(seen.level - asked.level)
    if off_level > may.level:
        return Verdict(False, f"LEVEL OFF by {100 * off_level:.3f} %, {100 * may.level:.3f} % allowed")
    if seen.output == 0.0:
        return Verdict(True, "dark as asked" if asked.level == 0.0 else "below its darkest step")
    off_uv = _apart(asked.xy, seen.xy)
    if off_uv > may.uv:
        return Verdict(False, f"COLOUR OFF by {off_uv:.6f} u′v′, {may.uv:.6f} allowed")
    said = f"as asked within {100 * may.level:.3f} %, {may.uv:.6f} u′v′"
    if asked.off_by > WORTH_SAYING:
        said += f"; its nearest colour, {asked.off_by:.4f} from the cue's"
    return Verdict(True, said)


def swaying(
    asked: FixtureReport, seen: Sequence[Seen], may: Allowed, effect: Effect, guarded: bool
) -> Verdict:
    """A lamp with an effect: its light stays between the cue's level and what the effect's depth takes.

    The colour moves with the effect and is not compared.
    """
    ripple = (RIPPLE if guarded else FREE_RIPPLE) * effect.depth
    low = asked.output * (1.0 - effect.depth) * (1.0 - ripple) - may.output
    high = asked.output + may.output
    for reading in seen:
        if not low <= reading.output <= high:
            return Verdict(
                False,
                f"LIGHT OFF: {100 * reading.output:.3f} %, {effect.kind} stays within {_span(low, high)}",
            )
    return Verdict(True, f"{effect.kind} within {_span(low, high)} of light; colour not compared")


def _span(low: float, high: float) -> str:
    return f"{100 * max(low, 0.0):.2f}–{100 * high:.2f} %"


def _apart(one: tuple[float, float], other: tuple[float, float]) -> float:
    return math.dist(xy_to_uv76(one), xy_to_uv76(other))
