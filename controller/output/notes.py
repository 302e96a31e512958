"""Notes: what a lamp could not do of what was asked, in sentences."""

from __future__ import annotations

from dataclasses import dataclass

from controller.documents.show import Fixture
from controller.output.dimming import BoolArray, FloatArray
from controller.output.modes import DimmerMode, EmitterMode, ModeEncoder, Targets, WhiteMode
from controller.playback.frame import Frame

_SEEN_OFF_BY = 1e-3
"""Δu′v′ from which a miss is worth a sentence: about what an attentive eye can tell side by side."""
_SEEN_COARSE = 5e-3
"""The same for the rounding of slots, which comes and goes along a fade: only what is plain to see."""
_SEEN_K = 0.5
_SEEN_DUV = 5e-5
_SEEN_MIRED = 1.0


@dataclass(frozen=True, slots=True)
class Facts:
    """What is known of every lamp of a rig under a frame; arrays in rig order."""

    frame: Frame
    targets: Targets
    asked_xy: FloatArray
    """(n, 2), CIE 1931."""
    xy: FloatArray
    """(n, 2), reached."""
    off_by: FloatArray
    """(n,), Δu′v′."""
    is_white: BoolArray
    """(n,), whether what is reached is a white; if so it is ``mired`` and ``duv``."""
    mired: FloatArray
    duv: FloatArray
    beyond: FloatArray
    """(n,), mired past the ends of the calibration, 0 within or without one."""


def notes_on(
    facts: Facts,
    row: int,
    fixture: Fixture,
    encoder: ModeEncoder,
    dark: bool,
    darkest_level: float,
    coarse: float,
) -> tuple[str, ...]:
    """Return the sentences on one lamp, none at level 0.

    ``dark`` says that its slots are black, ``darkest_level`` is the lowest it can show, ``coarse`` how far
    the rounding of slots moves its colour, in Δu′v′.
    """
    level = float(facts.targets.level[row])
    if level == 0.0:
        return ()
    notes: list[str] = []
    if dark:
        notes.append(f"asked {_percent(level)}, dark: its darkest step is {_percent(darkest_level)}")
    elif coarse > _SEEN_COARSE:
        notes.append(f"too low for fine colour: the steps of its slots put it Δu′v′ {coarse:.3f} off")
    if isinstance(encoder, WhiteMode):
        notes += _on_whites(facts, row, encoder)
        if encoder.even and encoder.blend is None and not fixture.calibration:
            notes.append("even output needs calibration readings: the profile has one light for every white")
    elif facts.off_by[row] > _SEEN_OFF_BY:
        if isinstance(encoder, DimmerMode):
            notes.append(f"asked {_asked(facts, row)}, always gives {_reached(facts, row)}")
        else:
            notes.append(f"asked {_asked(facts, row)}, out of reach: {_nearest(facts, row)}")
    if isinstance(encoder, EmitterMode) and fixture.mixing == "truest" and not encoder.blend.truest:
        notes.append("mixed brightest, not truest: the profile does not give the spectra of its emitters")
    if abs(facts.beyond[row]) > _SEEN_MIRED and not isinstance(encoder, DimmerMode):
        side = "warmer" if facts.beyond[row] > 0.0 else "cooler"
        notes.append(f"{side} than any calibration reading: corrected as the {side[:-2]}est one was")
    return tuple(notes)


def _on_whites(facts: Facts, row: int, encoder: WhiteMode) -> list[str]:
    if not facts.frame.white[row]:
        if facts.off_by[row] <= _SEEN_OFF_BY:
            return []
        return [f"asked {_asked(facts, row)}, mixes whites only: {_nearest(facts, row)}"]
    notes = []
    asked_k = 1e6 / float(facts.frame.mired[row])
    cct_k, duv = 1e6 / float(facts.targets.mired[row]), float(facts.targets.duv[row])
    if cct_k < encoder.low_k - _SEEN_K:
        notes.append(f"asked {_kelvin(asked_k)}, goes no lower than {_reached_k(facts, row)}")
    elif cct_k > encoder.high_k + _SEEN_K:
        notes.append(f"asked {_kelvin(asked_k)}, goes no higher than {_reached_k(facts, row)}")
    tint = _tint(float(facts.frame.duv[row]))
    if not encoder.has_tint and abs(duv) > _SEEN_DUV:
        notes.append(f"asked tint {tint}, has no tint channel")
    elif duv > encoder.high_duv + _SEEN_DUV:
        notes.append(f"asked tint {tint}, goes no greener than {_tint(float(facts.duv[row]))}")
    elif duv < encoder.low_duv - _SEEN_DUV:
        notes.append(f"asked tint {tint}, goes no further to magenta than {_tint(float(facts.duv[row]))}")
    return notes


def _asked(facts: Facts, row: int) -> str:
    if facts.frame.white[row]:
        return _white(1e6 / float(facts.frame.mired[row]), float(facts.frame.duv[row]))
    return _chromaticity(facts.asked_xy[row])


def _reached(facts: Facts, row: int) -> str:
    if facts.is_white[row]:
        return _white(1e6 / float(facts.mired[row]), float(facts.duv[row]))
    return _chromaticity(facts.xy[row])


def _nearest(facts: Facts, row: int) -> str:
    return f"the nearest is {_reached(facts, row)}, Δu′v′ {float(facts.off_by[row]):.4f} away"


def _reached_k(facts: Facts, row: int) -> str:
    return _kelvin(1e6 / float(facts.mired[row]))


def _white(cct_k: float, duv: float) -> str:
    return _kelvin(cct_k) if abs(duv) < 5e-4 else f"{_kelvin(cct_k)} with tint {_tint(duv)}"


def _chromaticity(xy: FloatArray) -> str:
    return f"xy ({float(xy[0]):.4f}, {float(xy[1]):.4f})"


def _kelvin(cct_k: float) -> str:
    return f"{cct_k:.0f} K"


def _tint(duv: float) -> str:
    return f"{duv:+.3f}"


def _percent(share: float) -> str:
    return f"{100.0 * share:.2g} %"
