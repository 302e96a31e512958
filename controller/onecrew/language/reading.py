"""Reads what a person writes for a level, a time, a colour. Pure; every misreading is a sentence.

One grammar for the command line, the screens, files of readings and the phone; ``saying`` is its inverse. A
typographic minus, a decimal comma and a blank before a unit are read like the plain forms.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence

from onecrew.colour.limits import CCT_MAX_K, CCT_MIN_K, DUV_LIMIT
from onecrew.errors import Misuse
from onecrew.language.writing import number as number_said

MIRED_MIN, MIRED_MAX = 1e6 / CCT_MAX_K, 1e6 / CCT_MIN_K
STOPS_MAX = 15.0

_NUMBER = re.compile(r"[+-]?(\d+(\.\d*)?|\.\d+)", re.ASCII)
_DECIMAL_COMMA = re.compile(r"[+-]?\d*,\d+", re.ASCII)
_TIME = re.compile(r"(\d+(?:\.\d+)?|\.\d+) ?(ms|s|m|min)?", re.ASCII)
_MINUTES = re.compile(r"(\d+) ?m(?:in)? ?(\d+(?:\.\d+)?) ?s", re.ASCII)
_UNIT_S = {"ms": 0.001, "s": 1.0, None: 1.0, "m": 60.0, "min": 60.0}
_STOPS = re.compile(r"(?<=[\d.]) ?(?:s|st|stops?)$", re.ASCII)
_FRACTION = re.compile(r"1/(\d{1,6}(?:\.\d{1,6})?)", re.ASCII)
_YES = {"on": True, "yes": True, "y": True, "off": False, "no": False, "n": False}


def number(text: str, what: str) -> float:
    """A finite decimal number.

    >>> number("−2,5", "tint")
    -2.5
    """
    plain = text.strip().replace("−", "-")
    if _DECIMAL_COMMA.fullmatch(plain):
        plain = plain.replace(",", ".")
    if not _NUMBER.fullmatch(plain) or not math.isfinite(float(plain)):
        raise Misuse(f"{what} '{text}' is not a number")
    return float(plain)


def within(value: float, low: float, high: float, what: str, unit: str = "") -> float:
    """``value``, refused outside ``low`` … ``high``."""
    if not low <= value <= high:
        said = number_said(value) if abs(value) < 1e15 else f"{value:g}"
        raise Misuse(f"{what} {said}{unit} is out of range: {number_said(low)} to {number_said(high)}{unit}")
    return value


def whole(text: str, what: str, low: int, high: int) -> int:
    """A whole number."""
    if not re.fullmatch(r"\d{1,10}", text.strip(), re.ASCII):
        raise Misuse(f"{what} '{text}' is not a whole number")
    return int(within(int(text), low, high, what))


# ── Light ───────────────────────────────────────────────────────────────────────────────────────────


def level(text: str, what: str = "level", *, in_per_cent: bool = False) -> float:
    """A level 0–1 from '15%', '0.15', 'full', 'off'.

    A bare whole number is refused: 1 could mean 1 % or full, and the difference hurts the eyes. Where the
    place that is written in says per cent (``in_per_cent``), every bare number is one.
    """
    lowered = text.strip().lower()
    if lowered in ("full", "off"):
        return float(lowered == "full")
    if lowered.startswith(("+", "-")):
        raise Misuse(f"{what} '{text}' has a sign; to nudge, write {what}{lowered[0]}={lowered[1:]}")
    if lowered.endswith("%") or in_per_cent:
        return within(number(lowered.removesuffix("%"), what), 0.0, 100.0, what, " %") / 100.0
    value = number(lowered, what)
    if value == 0.0:
        return 0.0
    if "." not in lowered:
        raise Misuse(f"{what} '{text}' could be a share or a per cent; write {lowered}% or full")
    return within(value, 0.0, 1.0, what)


def level_step(text: str) -> float:
    """A step of level 0–1 from '5%' or '0.05'."""
    if text.endswith("%"):
        return within(number(text[:-1], "level step"), 0.0, 100.0, "level step", " %") / 100.0
    if "." not in text and text != "0":
        raise Misuse(f"level step '{text}' could be a share or a per cent; write {text}%")
    return within(number(text, "level step"), 0.0, 1.0, "level step")


def stops(text: str, what: str = "stops", low: float = -STOPS_MAX, high: float = STOPS_MAX) -> float:
    """Stops from '-2s', '+0.5 st', '1 stop', '-2'."""
    return within(number(_STOPS.sub("", text.strip().lower()), what), low, high, what)


def kelvin(text: str, what: str = "cct") -> float:
    """Kelvin from '2800', '2800K', in thousands as '3.2k', in hundreds as '56'."""
    lowered = text.strip().lower()
    value = number(lowered.removesuffix("k"), what)
    if lowered.endswith("k"):
        value *= 1000.0 if value <= CCT_MAX_K / 1000.0 else 1.0
    elif 10.0 <= value < 100.0:
        value *= 100.0
    return within(value, CCT_MIN_K, CCT_MAX_K, what, " K")


def mired(text: str) -> float:
    """Kelvin from mired."""
    return 1e6 / within(number(text, "mired"), MIRED_MIN, MIRED_MAX, "mired")


def tint(text: str, what: str = "tint") -> float:
    """Duv from '+0.003', or in thousandths from '+3'.

    Between the two, nothing can be meant: 0.3 is refused.

    >>> tint("+3"), tint("-0.0025")
    (0.003, -0.0025)
    """
    value = number(text, what)
    if 1.0 <= abs(value) <= 1000.0 * DUV_LIMIT:
        return round(value / 1000.0, 9)
    return within(value, -DUV_LIMIT, DUV_LIMIT, what)


def xy(text: str) -> tuple[float, float]:
    """A CIE 1931 chromaticity from '0.44,0.40' or '.44 .40'."""
    parts = text.split(",") if text.count(",") == 1 else text.replace(", ", " ").split()
    if len(parts) != 2:
        raise Misuse(f"xy '{text}' is not a chromaticity; write two numbers with a comma, as 0.44,0.40")
    x, y = (number(part, "xy") for part in parts)
    if not (x > 0.0 and y > 0.0 and x + y < 1.0):
        raise Misuse(f"xy {text} is not a chromaticity: x and y lie above 0 and add up to less than 1")
    return x, y


def hue_saturation(text: str) -> tuple[float, float]:
    """Hue in degrees and saturation 0–1 from '30 80' or '30,80%'."""
    parts = text.replace(",", " ").split()
    if len(parts) != 2:
        raise Misuse("hue in degrees and saturation in per cent, as in: h 30 80")
    hue_deg = within(number(parts[0], "hue"), 0.0, 360.0, "hue", "°")
    return hue_deg, within(number(parts[1].removesuffix("%"), "saturation"), 0, 100, "saturation", " %") / 100


# ── Times and switches ──────────────────────────────────────────────────────────────────────────────


def seconds(text: str, what: str = "time", high: float = 3600.0) -> float:
    """Seconds from '5', '5s', '500ms', '2m', '2 min 5 s'."""
    lowered = text.strip().lower()
    if _DECIMAL_COMMA.match(lowered):
        lowered = lowered.replace(",", ".")
    if long := _MINUTES.fullmatch(lowered):
        value = 60.0 * float(long[1]) + float(long[2])
    elif match := _TIME.fullmatch(lowered):
        value = float(match[1]) * _UNIT_S[match[2]]
    else:
        raise Misuse(f"{what} '{text}' is not a time; write 5s, 0.5s, 500ms or 2m")
    return within(value, 0.0, high, what, " s")


def shutter(text: str, what: str = "shutter") -> float:
    """The time of a shutter in seconds, from '1/50', '1/47.95' or '0.5s'."""
    match = _FRACTION.fullmatch(text.strip().removesuffix("s"))
    value = 1.0 / float(match[1]) if match and float(match[1]) > 0.0 else seconds(text, what)
    if value <= 0.0:
        raise Misuse(f"a {what} time is longer than nothing; write 1/50")
    return value


def aperture(text: str, what: str = "aperture") -> float:
    """An f-number from '2.8' or 'f/2.8'."""
    bare = text.strip().lower().removeprefix("f").removeprefix("/")
    return within(number(bare, what), 0.1, 64.0, what)


def pulses(text: str) -> float | None:
    """Pulses in a second from '1200', '1200 Hz' or '1.2 kHz'; '' and 'none' are not known."""
    bare = text.strip().lower()
    if bare in ("", "none"):
        return None
    thousands = bare.endswith("khz")
    value = number(bare.removesuffix("hz").removesuffix("k"), "pwm") * (1000.0 if thousands else 1.0)
    return within(value, 1.0, 1e7, "pwm", " Hz")


def on_off(words: Sequence[str], verb: str) -> bool | None:
    """True, False, or None (toggle) where nothing is said."""
    if not words:
        return None
    if len(words) > 1 or words[0].lower() not in ("on", "off"):
        raise Misuse(f"'{verb}' takes on, off or nothing, not '{' '.join(words)}'")
    return words[0].lower() == "on"


def yes_no(text: str, what: str) -> bool:
    """True for 'on', 'yes' and 'y', False for 'off', 'no' and 'n'."""
    if text.strip().lower() not in _YES:
        raise Misuse(f"{what} is on or off, not '{text}'")
    return _YES[text.strip().lower()]
