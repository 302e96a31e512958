"""Writes values as they are typed: exactly, so that ``reading`` reads them back. Pure."""

from __future__ import annotations

from collections.abc import Sequence


def number(value: float) -> str:
    """A number without exponent or idle zeros, to nine places.

    >>> number(2.50), number(100.0)
    ('2.5', '100')
    """
    text = f"{value:.9f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def level(value: float) -> str:
    """A level 0–1 as '15%'."""
    return f"{number(100.0 * value)}%"


def stops(value: float) -> str:
    """Stops as '-2s' or '+0.5s'."""
    return f"{'' if value < 0 else '+'}{number(value)}s"


def tint(duv: float) -> str:
    """A Duv with its sign, as '+0.003'."""
    return f"{'' if duv < 0 else '+'}{number(duv)}"


def xy(value: Sequence[float]) -> str:
    """A chromaticity as '0.44,0.4'."""
    return ",".join(map(number, value))


def seconds(value: float) -> str:
    """A time as '5s'."""
    return f"{number(value)}s"


def shutter(value_s: float) -> str:
    """A shutter time as '1/50', or in seconds where it is no such fraction."""
    over = round(1.0 / value_s, 3)
    if over >= 2.0 and abs(value_s * over - 1.0) < 1e-9:
        return f"1/{number(over)}"
    return seconds(value_s)


def on(value: bool) -> str:
    """A switch as 'on' or 'off'."""
    return "on" if value else "off"
