"""Dimming laws: level ⇄ output, and level ⇄ slot values at 8 and 16 bit.

Level (0–1) is what the fixture's own display would show; output (0–1) is the fraction of full light that it
gives. The laws, each rising strictly from 0 to 1:

- ``linear``: output = level.
- ``square``: output = level² (the square law of stage dimmers: perceived brightness goes roughly with the
  square root of the light, IESNA Lighting Handbook, 9th edition).
- ``log``: the logarithmic curve of IEC 62386-102, percent = 10^((n − 1)/(253/3) − 1), with the level as the
  share of n = 1…254, n = 1 + 253·level, so output = 10^(3·(level − 1)). The curve ends at 0.1 %, and level 0
  is off. The two meet within the lowest 16-bit step (level below 1/65535), where output runs straight
  from 0 up to the curve: the law stays continuous and can be inverted everywhere.
- a table: straight lines between (level, output) points.

Slot values round half up (0.5 of 65535 is 32768, not the even neighbour), with one exception: light of at
least half the darkest step is never sent as 0. It matters for the log law alone, whose first step is a leap
to 0.1 %: there every level above 0 shows.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from controller.documents.profile import Mode, Profile

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]
Law = str | tuple[tuple[float, float], ...]
"""``"linear"``, ``"square"``, ``"log"``, or the (level, output) points of a table."""

_LOG_DECADES = 3.0  # 0.1 % to 100 %, IEC 62386-102
_LOG_SEAM_LEVEL = 1.0 / 65535.0
_LOG_SEAM_OUTPUT = float(10.0 ** (_LOG_DECADES * (_LOG_SEAM_LEVEL - 1.0)))


@dataclass(frozen=True, slots=True)
class DarkestStep:
    """The lowest light above black that a mode can send: as a level, and as the output it gives."""

    level: float
    output: float


def law_of(profile: Profile) -> Law:
    """Return the dimming law of a profile."""
    return profile.dimming_table if profile.dimming == "table" else profile.dimming


def clamped(values: ArrayLike) -> FloatArray:
    """Return ``values`` limited to 0–1; what is not a number becomes 0, so that a bug goes dark."""
    limited: FloatArray = np.fmin(np.fmax(np.asarray(values, dtype=np.float64), 0.0), 1.0)
    return limited


def output_of(level: ArrayLike, law: Law) -> FloatArray:
    """Return the fraction of full light, 0–1, that ``level`` gives; same shape, clamped to 0–1.

    ValueError for an unknown law.

    >>> float(output_of(0.5, "square"))
    0.25
    """
    level = clamped(level)
    if not isinstance(law, str):
        return _along(level, law, 0, 1)
    if law == "linear":
        return level
    if law == "square":
        return level * level
    if law == "log":
        curve = np.power(10.0, _LOG_DECADES * (level - 1.0))
        return np.where(level < _LOG_SEAM_LEVEL, level * (_LOG_SEAM_OUTPUT / _LOG_SEAM_LEVEL), curve)
    raise ValueError(f"unknown dimming law {law!r}: linear, square, log or a table")


def level_of(output: ArrayLike, law: Law) -> FloatArray:
    """Return the level, 0–1, that gives ``output``: the inverse of ``output_of``, clamped to 0–1.

    ValueError for an unknown law.
    """
    output = clamped(output)
    if not isinstance(law, str):
        return _along(output, law, 1, 0)
    if law == "linear":
        return output
    if law == "square":
        return np.sqrt(output)
    if law == "log":
        curve = 1.0 + np.log10(np.maximum(output, _LOG_SEAM_OUTPUT)) / _LOG_DECADES
        return np.where(output < _LOG_SEAM_OUTPUT, output * (_LOG_SEAM_LEVEL / _LOG_SEAM_OUTPUT), curve)
    raise ValueError(f"unknown dimming law {law!r}: linear, square, log or a table")


def full_value(bits: ArrayLike) -> FloatArray:
    """Return the highest slot value of channels of so many bits: 255 for 8, 65535 for 16."""
    return np.exp2(np.asarray(bits, dtype=np.float64)) - 1.0


def half_up(values: ArrayLike) -> IntArray:
    """Return the nearest whole numbers, halves upwards (values at or above 0).

    A ten-millionth is added first, so that a half that floating point left a hair short still goes up, and
    the same light is the same slot on every machine.
    """
    return np.floor(np.asarray(values, dtype=np.float64) + (0.5 + 1e-7)).astype(np.int64)


def slots_of_share(share: ArrayLike, bits: ArrayLike) -> IntArray:
    """Return the slot value of a plain share 0–1 of a channel's range, half up, no dimming law involved.

    ``bits``, here and below, is 8 or 16, one for all or one for each value.

    >>> int(slots_of_share(0.5, 16))
    32768
    """
    return half_up(clamped(share) * full_value(bits))


def slots_of_level(level: ArrayLike, law: Law, bits: ArrayLike) -> IntArray:
    """Return the slot value, 0–255 or 0–65535, of a channel that shows ``level`` and dims by ``law``."""
    values = slots_of_share(level, bits)
    if law in ("linear", "square"):
        return values  # rounding already lights them from half a step on
    return _never_lost(values, output_of(level, law), law, bits)


def slots_of_output(output: ArrayLike, law: Law, bits: ArrayLike) -> IntArray:
    """Return the slot value, 0–255 or 0–65535, at which a channel that dims by ``law`` gives ``output``."""
    values = slots_of_share(level_of(output, law), bits)
    if law in ("linear", "square"):
        return values
    return _never_lost(values, np.asarray(output), law, bits)


def level_of_slots(values: ArrayLike, bits: ArrayLike) -> FloatArray:
    """Return the level, 0–1, that a channel of 8 or 16 bits shows at a slot value."""
    return np.asarray(values, dtype=np.float64) / full_value(bits)


def darkest_output(law: Law, bits: ArrayLike) -> FloatArray:
    """Return the output of slot value 1 under ``law``."""
    return output_of(1.0 / full_value(bits), law)


def darkest_step(profile: Profile, mode: Mode, strongest: float = 1.0) -> DarkestStep:
    """Return the lowest level above black that ``mode`` can show, and its output.

    It is the first step of the dimmer, or else of the most driven emitter. ``strongest`` 0–1 is the drive of
    that emitter, or what even output leaves of the dimmer: a colour that is not given fully begins that much
    higher. A level of at least half of this is never sent as black.
    """
    law = law_of(profile)
    carriers = (
        [mode.dimmer] if mode.dimmer is not None else [c for c in mode.channels if c.emitter is not None]
    )
    first = float(darkest_output(law, max(channel.bits for channel in carriers)))
    output = min(first / max(strongest, 1e-9), 1.0)
    return DarkestStep(level=float(level_of(output, law)), output=output)


def _never_lost(values: IntArray, output: FloatArray, law: Law, bits: ArrayLike) -> IntArray:
    """Lift to the darkest step what rounding took to 0 although it is at least half as bright."""
    lost = (values == 0) & (output >= 0.5 * darkest_output(law, bits))
    return np.where(lost, 1, values)


def _along(values: FloatArray, table: tuple[tuple[float, float], ...], known: int, wanted: int) -> FloatArray:
    points = np.asarray(table, dtype=np.float64)
    return np.asarray(np.interp(values, points[:, known], points[:, wanted]), dtype=np.float64)
