"""Words: levels, colours and times of the record as a person reads them."""

from __future__ import annotations

from onecrew.show.light import Light
from onecrew.show.show import Predicted

DELETED = "(deleted)"
"""In place of its name, of a cue that shows and was deleted."""
NO_CHANGE = "Nothing has changed: the show was so before, so there is no step to undo."


def per_cent(level: float) -> str:
    """A share 0–1 as '15 %', '2.5 %', '0.45 %'.

    >>> per_cent(0.15), per_cent(0.025), per_cent(0.0045)
    ('15 %', '2.5 %', '0.45 %')
    """
    value = 100.0 * level
    return f"{_short(value, 2 if 0.0 < value < 1.0 else 1)} %"


def figure(value: float, digits: int = 3) -> str:
    """A quantity from 0 on in so many digits at least, without an exponent.

    >>> figure(98.34), figure(999.7), figure(2256.1), figure(0.0456)
    ('98.3', '1000', '2256', '0.0456')
    """
    if value < 1e-4:
        return "0"
    return f"{value:.0f}" if value >= 10.0**digits - 0.5 else f"{value:.{digits}g}"


def seconds(value: float) -> str:
    """A time as '0.4 s', '8 s' or '2 min 5 s'."""
    if value < 60.0:
        return f"{_short(value, 2)} s"
    minutes, rest = divmod(round(value), 60)
    return f"{minutes} min {rest} s" if rest else f"{minutes} min"


def counted(number: int, noun: str) -> str:
    """'1 reading', '2 readings'."""
    return f"{number} {noun}{'' if number == 1 else 's'}"


def minus(number: str) -> str:
    """A number with the sign − for the hyphen that a program writes: for pages, not for what is read again.

    >>> minus(f"{-0.25:+.2f}")
    '−0.25'
    """
    return number.replace("-", "−")


def tint(duv: float) -> str:
    """A Duv as 'tint +0.003', nothing where there is none to see."""
    said = f"{duv:+.4f}".rstrip("0")
    return "" if abs(duv) < 5e-5 else f"tint {said}"


def colour(light: Light) -> str:
    """The colour a light names: '2800 K', '5600 K tint +0.004', 'xy 0.57 0.39'; empty where it names none."""
    if light.white is not None:
        return f"{light.white.cct_k:.0f} K {tint(light.white.duv)}".rstrip()
    if light.xy is not None:
        return f"xy {_short(light.xy[0], 4)} {_short(light.xy[1], 4)}"
    return ""


def said(light: Light) -> str:
    """A light in words: '22 % 3400 K', '35 % xy 0.57 0.39 with flame'; 'off' at level 0."""
    if light.level == 0.0:
        return "off"
    effect = f"with {light.effect.kind}" if light.effect is not None else ""
    return " ".join(part for part in (per_cent(light.level), colour(light), effect) if part)


def cue(number: str | None, name: str = "") -> str:
    """A cue in words: 'cue 3 Ovens on'."""
    return "no cue" if number is None else f"cue {number} {name}".rstrip()


def predicted(of: Predicted) -> str:
    """What a match predicts of a cue: 'within 0.3 stop (face), ΔE2000 0.5, camera +2.3 stops'."""
    parts = []
    if of.regions:
        worst = max(of.regions, key=lambda one: abs(one.stops))
        parts.append(f"predicted within {abs(worst.stops):.1f} stop ({worst.name})")
    if of.delta_e is not None:
        parts.append(f"predicted ΔE2000 {of.delta_e:.1f}")
    if abs(of.exposure_stops) >= 0.05:
        parts.append(f"camera {of.exposure_stops:+.1f} stops against the stills")
    return minus(", ".join(parts))


def take(setup: str, number: int) -> str:
    """A take in words: 'take 3 of setup 12A'."""
    return f"take {number} of setup {setup}"


def _short(value: float, places: int) -> str:
    text = f"{value:.{places}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text
