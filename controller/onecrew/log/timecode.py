"""Timecode: frames and their labels HH:MM:SS:FF, per SMPTE ST 12-1 (time and control code), drop-frame too.

At 30000/1001 frames a second, labels that count 30 run behind the clock. Drop-frame counting skips the labels
of frames 00 and 01 at the beginning of every minute but each tenth (at 60000/1001: 00 to 03), which keeps
them within 86.4 ms a day. No frame is dropped, only labels; a skipped label does not exist.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from fractions import Fraction

HOURS = 24
MOST_FPS = 60
"""Labels have two digits for frames, and edit lists go no faster."""
NEAR = 0.005
"""23.98 and 29.97 are what people write for 24000/1001 and 30000/1001."""
_LABEL = re.compile(r"(\d{1,2}):(\d{2}):(\d{2})([:;.])(\d{2})", re.ASCII)


@dataclass(frozen=True, slots=True)
class Rate:
    """A frame rate: ``fps`` exactly, ``nominal`` as labels count it, ``drop`` for drop-frame labels."""

    fps: Fraction
    nominal: int
    drop: bool = False

    @property
    def skipped(self) -> int:
        """Labels skipped in a minute that skips."""
        return self.nominal // 15 if self.drop else 0

    @property
    def a_day(self) -> int:
        """Frames until the labels begin again."""
        per_hour = 3600 * self.nominal - 54 * self.skipped
        return HOURS * per_hour

    def __str__(self) -> str:
        shown = f"{float(self.fps):.3f}".rstrip("0").rstrip(".")
        return f"{shown} fps{', drop-frame' if self.drop else ''}"


def rate_of(fps: float, *, drop: bool | None = None) -> Rate:
    """The rate that a camera's ``fps`` names; drop-frame at 29.97 and 59.94 unless ``drop`` says otherwise.

    Raises ``ValueError`` with a sentence for a rate that has no timecode, or no drop-frame.
    """
    nominal = round(fps) if math.isfinite(fps) else 0
    if not 1 <= nominal <= MOST_FPS:
        raise ValueError(f"{fps:g} fps has no timecode; give the rate of the edit, from 1 to {MOST_FPS}")
    if abs(fps - nominal) < 1e-6:
        exact = Fraction(nominal)
    elif nominal in (24, 30, 48, 60) and abs(fps - nominal * 1000 / 1001) < NEAR:
        exact = Fraction(nominal * 1000, 1001)
    else:
        raise ValueError(f"{fps:g} fps has no timecode; give 23.976, 24, 25, 29.97, 30, 50, 59.94 or 60")
    can_drop = exact.denominator != 1 and nominal in (30, 60)
    if drop and not can_drop:
        raise ValueError(f"{fps:g} fps has no drop-frame timecode; only 29.97 and 59.94 have")
    return Rate(exact, nominal, can_drop if drop is None else drop)


def label(frame: int, rate: Rate) -> str:
    """The label of a frame counted from 00:00:00:00; after 24 hours the labels begin again.

    >>> label(1800, rate_of(29.97)), label(17982, rate_of(29.97)), label(1800, rate_of(25))
    ('00:01:00;02', '00:10:00;00', '00:01:12:00')
    """
    frame %= rate.a_day
    if rate.drop:
        tens, rest = divmod(frame, 600 * rate.nominal - 9 * rate.skipped)
        past_first = rest - 60 * rate.nominal
        minutes = 0 if past_first < 0 else 1 + past_first // (60 * rate.nominal - rate.skipped)
        frame += rate.skipped * (9 * tens + minutes)
    seconds, frames = divmod(frame, rate.nominal)
    minutes, second = divmod(seconds, 60)
    hour, minute = divmod(minutes, 60)
    return f"{hour:02d}:{minute:02d}:{second:02d}{';' if rate.drop else ':'}{frames:02d}"


def frame_of(text: str, rate: Rate) -> int:
    """The frame that a label names. ``ValueError`` with a sentence for one that is none or does not exist."""
    match = _LABEL.fullmatch(text.strip())
    if match is None:
        raise ValueError(f"'{text}' is not a timecode; write it as 01:02:03:04")
    hour, minute, second, frame = (int(match[group]) for group in (1, 2, 3, 5))
    if match[4] == ";" and not rate.drop:
        raise ValueError(f"'{text}' is drop-frame timecode, and {rate} has none; write it with a colon")
    if hour >= HOURS or minute > 59 or second > 59 or frame >= rate.nominal:
        raise ValueError(f"'{text}' is past the end of a day, an hour, a minute or a second at {rate}")
    skips = minute % 10 != 0 and second == 0 and frame < rate.skipped
    if skips:
        raise ValueError(f"'{text}' does not exist: drop-frame timecode skips it")
    minutes = 60 * hour + minute
    return (60 * minutes + second) * rate.nominal + frame - rate.skipped * (minutes - minutes // 10)


def frame_at(seconds: float, rate: Rate) -> int:
    """The frame that shows at this time after frame 0 began."""
    return math.floor(Fraction(seconds) * rate.fps + Fraction(1, 10**6))


def seconds_of(frame: int, rate: Rate) -> float:
    """When a frame begins, in seconds after frame 0 began."""
    return float(frame / rate.fps)
