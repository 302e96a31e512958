"""Facts: what a look sheet says, worked out once for every form it takes. Pure."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from onecrew.language import saying
from onecrew.language.places import say_length
from onecrew.log.recorded_state import Block, Lamp, RecordedState, kind_of
from onecrew.plan import saying as forecast
from onecrew.plan.assumed import is_subject
from onecrew.plan.exposure import exposure_of
from onecrew.plan.flicker import shutter_words, time_words
from onecrew.show.show import Place, SetPiece

RAISED_M = 1.5
"""A lamp from this height on can fall on a head: that of somebody who sits or bends under it, and nearly that
of one who stands (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class LampFacts:
    """One lamp in words and numbers."""

    lamp: Lamp
    lit: bool
    stops: float | None
    """Stops below the full light of its colour; None while it is dark."""
    stops_with_modifiers: float | None
    colour: str
    """'5600 K', or 'x 0.570 y 0.390' where it is no white."""
    tint: str
    mired_off: float | None
    """Mired above (warmer) or below (cooler) the camera's white balance; None where it is no white."""
    address: str
    """'1.1–1.6': universe and slots."""
    height_m: float | None
    to_subject_m: float | None
    to_camera_m: float | None
    above_subject_deg: float | None
    """Angle of the lamp above the subject's horizon; None where heights are not known."""
    effect: str
    slots: tuple[tuple[str, tuple[int, ...]], ...]
    """Channel by channel: what it does and its slot values, of one segment where all are alike."""
    segments: str

    @property
    def id(self) -> str:
        return self.lamp.fixture.id


def facts_of(recorded: RecordedState) -> list[LampFacts]:
    """The facts of every lamp, in rig order."""
    subject = subject_of(recorded)
    return [_lamp(recorded, lamp, subject) for lamp in recorded.lamps]


def subject_of(recorded: RecordedState) -> SetPiece | None:
    """The set piece that stands for who is lit: its name or kind says subject."""
    for piece in recorded.set_pieces:
        if piece.place is not None and is_subject(piece):
            return piece
    return None


def mired_word(off: float) -> str:
    """'54 mired cooler', '0 mired'."""
    whole = round(abs(off))
    return "as the white balance" if whole == 0 else f"{whole} mired {'warmer' if off > 0 else 'cooler'}"


def modifiers(lamp: Lamp) -> str:
    """The lamp's modifiers: 'diffusion −1 st, grid −0.5 st (40°)'."""
    said = []
    for modifier in lamp.fixture.modifiers:
        stops = f" −{modifier.stops:g} st" if modifier.stops else ""
        said.append(f"{modifier.kind}{stops}" + (f" ({modifier.note})" if modifier.note else ""))
    return ", ".join(said)


def states(recorded: RecordedState) -> list[str]:
    """What held for the whole look, one sentence each; nothing for a look at rest."""
    said = []
    if recorded.blackout:
        said.append("Blackout was on.")
    if recorded.master < 1.0:
        said.append(f"The master stood at {saying.per_cent(recorded.master)}; the levels here include it.")
    for word, lamps in (("Solo", recorded.solo), ("Without", recorded.without)):
        if lamps:
            said.append(f"{word}: {', '.join(lamps)}.")
    if recorded.comparing:
        said.append("The stored look was shown instead of the edited one.")
    if recorded.fade is not None:
        done, left = saying.per_cent(round(recorded.fade.progress, 2)), saying.seconds(recorded.fade.left_s)
        said.append(f"A fade was {done} done, {left} left.")
    if recorded.edited and not recorded.comparing:
        said.append(f"Changed by hand since the cue ran: {', '.join(recorded.edited)}.")
    if recorded.held:
        said.append("Every fade and effect was held.")
    if recorded.identify:
        said.append(f"Identify was on: {', '.join(recorded.identify)}.")
    return said


def camera_facts(recorded: RecordedState) -> list[tuple[str, str]]:
    """The camera notes and what they come to, as pairs of label and words."""
    camera = recorded.camera
    exposure = exposure_of(camera)
    shutter = time_words(exposure.shutter_s)
    if exposure.shutter_deg is not None:
        shutter += f" ({exposure.shutter_deg:.4g}° at {camera.fps:g} fps)"
    facts = [
        ("White balance", f"{camera.white_balance_k:.0f} K ({1e6 / camera.white_balance_k:.0f} mired)"),
        ("Aperture", f"f/{camera.aperture:g}" + (f", T{camera.t_stop:g}" if camera.t_stop else "")),
        ("Neutral density", f"{camera.nd_stops:g} stops" if camera.nd_stops else ""),
        ("Shutter", shutter),
        ("Sensitivity", f"ISO {camera.iso}"),
        ("Flicker", shutter_words(camera)),
        ("Frame rate", f"{camera.fps:g} fps"),
        ("Lens", camera.lens),
        ("Exposure value", f"EV {exposure.ev:.1f}, that is EV₁₀₀ {exposure.ev_100:.1f}"),
        (
            "Nominal light",
            f"{forecast.lux(exposure.lux)} ({forecast.footcandles(exposure.footcandles)}) on a flat meter "
            "(ISO 2720, C 250)",
        ),
        ("Note", camera.note),
    ]
    return [(label, said) for label, said in facts if said]


def cautions(recorded: RecordedState) -> Iterator[str]:
    """What to mind, one sentence each: what this look calls for, then what always holds."""
    high = [
        f"{lamp.fixture.id} ({say_length(lamp.fixture.place.height_m, recorded.room.units)})"
        for lamp in recorded.lamps
        if lamp.fixture.place is not None
        and lamp.fixture.place.height_m is not None
        and lamp.fixture.place.height_m >= RAISED_M
    ]
    effects = sorted({lamp.light.effect.kind for lamp in recorded.lamps if lamp.light.effect is not None})
    if effects:
        yield (
            f"This look moves ({', '.join(effects)}): flashing and flickering light can trigger seizures in "
            "people with photosensitive epilepsy. Warn everyone before it runs, with the flash guard on too."
        )
    if high:
        yield (
            f"Raised: {', '.join(high)}. A lamp can fall on whoever is under it. Common practice: a safety "
            "bond on every lamp and accessory, stand and clamp within their load ratings, sandbags on the "
            "stand, and someone licensed for overhead work."
        )
    yield "Lamps, ballasts and their stands get hot: keep cloth, paper and foam away, and let them cool."
    yield "Mains: earthed supply behind a residual-current device, no coiled cable under load, nothing damp."
    yield "Nobody looks into a bright emitter at close range; aim before raising the level."
    yield "Follow local codes, and ask licensed people for electrical and overhead work."


def placed(recorded: RecordedState) -> list[Place]:
    """Every place that is known."""
    found = [lamp.fixture.place for lamp in recorded.lamps]
    found += [piece.place for piece in recorded.set_pieces]
    return [place for place in (*found, recorded.camera.place) if place is not None]


def distance_m(one: Place, other: Place) -> float:
    """Metres between two places; along the floor where a height is not known."""
    rise = 0.0
    if one.height_m is not None and other.height_m is not None:
        rise = one.height_m - other.height_m
    return math.hypot(one.x_m - other.x_m, one.y_m - other.y_m, rise)


# ── One lamp ────────────────────────────────────────────────────────────────────────────────────────


def _lamp(recorded: RecordedState, lamp: Lamp, subject: SetPiece | None) -> LampFacts:
    sent, fixture = lamp.sent, lamp.fixture
    lit = sent.level > 0.0
    stops = math.log2(sent.output) if lit and sent.output > 0.0 else None
    lost = sum(modifier.stops for modifier in fixture.modifiers)
    white = sent.white if lamp.light.xy is None else None  # a colour stays a colour, however near to a white
    place, camera = fixture.place, recorded.camera.place
    goal = subject.place if subject is not None else None
    last = fixture.address + len(sent.slots) - 1
    blocks, segments = _blocks(recorded, lamp)
    return LampFacts(
        lamp=lamp,
        lit=lit,
        stops=stops,
        stops_with_modifiers=stops - lost if stops is not None else None,
        colour=f"{white.cct_k:.0f} K" if white is not None else f"x {sent.xy[0]:.4f} y {sent.xy[1]:.4f}",
        tint=f"{white.duv:+.4f}" if white is not None and abs(white.duv) >= 5e-5 else "",
        mired_off=1e6 / white.cct_k - 1e6 / recorded.camera.white_balance_k if white is not None else None,
        address=f"{fixture.universe}.{fixture.address}" + (f"–{last}" if last > fixture.address else ""),
        height_m=place.height_m if place is not None else None,
        to_subject_m=distance_m(place, goal) if place is not None and goal is not None else None,
        to_camera_m=distance_m(place, camera) if place is not None and camera is not None else None,
        above_subject_deg=_above(place, goal),
        effect=_effect(lamp),
        slots=blocks,
        segments=segments,
    )


def _above(place: Place | None, goal: Place | None) -> float | None:
    if place is None or goal is None or place.height_m is None or goal.height_m is None:
        return None
    along = math.hypot(place.x_m - goal.x_m, place.y_m - goal.y_m)
    return math.degrees(math.atan2(place.height_m - goal.height_m, along))


def _effect(lamp: Lamp) -> str:
    effect = lamp.light.effect
    if effect is None:
        return ""
    return (
        f"{effect.kind} around {saying.per_cent(lamp.light.level)}, depth {saying.per_cent(effect.depth)}, "
        f"rate {effect.rate:g}, seed {effect.seed}"
    )


def _blocks(recorded: RecordedState, lamp: Lamp) -> tuple[tuple[tuple[str, tuple[int, ...]], ...], str]:
    """The slots cut into channels, and in words how often they come."""
    kind = recorded.kinds.get(kind_of(lamp.fixture))
    slots = lamp.sent.slots
    width = sum(channel.slots for channel in kind.channels) if kind is not None else 0
    if kind is None or not width or width * kind.segments != len(slots):
        return (("slots", slots),), ""
    parts = [slots[at : at + width] for at in range(0, len(slots), width)]
    if len(set(parts)) == 1:
        return tuple(
            _cut(kind.channels, parts[0])
        ), f"× {kind.segments} segments" if kind.segments > 1 else ""
    every: list[tuple[str, tuple[int, ...]]] = []
    for number, part in enumerate(parts, start=1):
        every += [(f"{number} {does}", values) for does, values in _cut(kind.channels, part)]
    return tuple(every), f"{kind.segments} segments"


def _cut(channels: Sequence[Block], slots: tuple[int, ...]) -> Iterator[tuple[str, tuple[int, ...]]]:
    at = 0
    for channel in channels:
        yield channel.does, slots[at : at + channel.slots]
        at += channel.slots
