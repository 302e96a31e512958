"""Reads what a person writes for a level, a time, a colour; pure, and every misreading is a sentence."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Sequence

from onecrew.cli.exits import Misuse
from onecrew.show.base import CCT_MAX_K, CCT_MIN_K, DUV_LIMIT, SHORT_NAME
from onecrew.show.faults import meant
from onecrew.show.show import ROLES, Fixture, Show

_SECONDS = re.compile(r"^(\d+(?:\.\d+)?|\.\d+)(ms|s|m|min)?$")
_NUMBER = re.compile(r"^[+-]?(\d+(\.\d*)?|\.\d+)$", re.ASCII)
_UNIT_S = {"ms": 0.001, "s": 1.0, None: 1.0, "m": 60.0, "min": 60.0}
MIRED_MIN, MIRED_MAX = 1e6 / CCT_MAX_K, 1e6 / CCT_MIN_K


def number(text: str, what: str) -> float:
    """A finite decimal number."""
    if not _NUMBER.match(text) or not math.isfinite(float(text)):
        raise Misuse(f"{what} '{text}' is not a number")
    return float(text)


def within(value: float, low: float, high: float, what: str, unit: str = "") -> float:
    """``value``, refused outside ``low`` … ``high``."""
    if not low <= value <= high:
        raise Misuse(f"{what} {value:g}{unit} is out of range: {low:g} to {high:g}{unit}")
    return value


def level(text: str, what: str = "level") -> float:
    """A level 0–1 from '15%', '0.15', 'full', 'off'.

    A bare whole number is refused: 1 could mean 1 % or full, and the difference hurts the eyes.
    """
    lowered = text.lower()
    if lowered in ("full", "off"):
        return float(lowered == "full")
    if lowered.startswith(("+", "-")):
        raise Misuse(f"{what} '{text}' has a sign; to nudge, write {what}{lowered[0]}={lowered[1:]}")
    if lowered.endswith("%"):
        return within(number(lowered[:-1], what), 0.0, 100.0, what, " %") / 100.0
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


def seconds(text: str, what: str = "time", high: float = 3600.0) -> float:
    """Seconds from '5', '5s', '500ms', '2m'."""
    match = _SECONDS.match(text.lower())
    if not match:
        raise Misuse(f"{what} '{text}' is not a time; write 5s, 0.5s, 500ms or 2m")
    return within(float(match[1]) * _UNIT_S[match[2]], 0.0, high, what, " s")


def kelvin(text: str, what: str = "cct") -> float:
    """Kelvin from '2800' or '2800K'."""
    return within(number(text.lower().removesuffix("k"), what), CCT_MIN_K, CCT_MAX_K, what, " K")


def kelvin_of_mired(text: str) -> float:
    """Kelvin from mired."""
    return 1e6 / within(number(text, "mired"), MIRED_MIN, MIRED_MAX, "mired")


def tint(text: str, what: str = "tint") -> float:
    """Duv from '+0.003'."""
    return within(number(text, what), -DUV_LIMIT, DUV_LIMIT, what)


def xy(text: str) -> tuple[float, float]:
    """A CIE 1931 chromaticity from '0.44,0.40'."""
    parts = text.split(",")
    if len(parts) != 2:
        raise Misuse(f"xy '{text}' is not a chromaticity; write two numbers with a comma, as 0.44,0.40")
    x, y = (number(part.strip(), "xy") for part in parts)
    if not (x > 0.0 and y > 0.0 and x + y < 1.0):
        raise Misuse(f"xy {text} is not a chromaticity: x and y lie above 0 and add up to less than 1")
    return x, y


def on_off(words: Sequence[str], verb: str) -> bool | None:
    """True, False, or None (toggle) where nothing is said."""
    if not words:
        return None
    if len(words) > 1 or words[0].lower() not in ("on", "off"):
        raise Misuse(f"'{verb}' takes on, off or nothing, not '{' '.join(words)}'")
    return words[0].lower() == "on"


def yes_no(text: str, what: str) -> bool:
    """True for 'on', False for 'off'."""
    if text.lower() not in ("on", "off"):
        raise Misuse(f"{what} is on or off, not '{text}'")
    return text.lower() == "on"


def role(text: str) -> str:
    """A role, its space written as space, '-' or '_'."""
    wanted = re.sub(r"[\s_-]+", " ", text.strip().lower())
    if wanted not in ROLES:
        raise Misuse(f"there is no role '{text}'{nearest(wanted, ROLES)}; roles are {', '.join(ROLES)}")
    return wanted


def fixtures(text: str, show: Show | None, verb: str) -> tuple[str, ...]:
    """Fixture ids from a comma list of ids, roles and 'all', in the order named, each once.

    An id comes before a role of the same name. Without a show, only ids can be meant and are taken as they
    are. Refused where a name is neither, or a role has no fixture.
    """
    names = [part.strip().lower() for part in text.split(",")]
    if not all(names):
        raise Misuse(f"'{verb}' needs lamps: ids or roles with commas between, or 'all'")
    found: dict[str, None] = {}
    for name in names:
        found.update(dict.fromkeys(_fixtures_called(name, show)))
    return tuple(found)


def _fixtures_called(name: str, show: Show | None) -> list[str]:
    if show is None:
        if not re.fullmatch(SHORT_NAME, name):
            raise Misuse(f"'{name}' cannot be the id of a fixture: letters, digits, - and _")
        return [name]
    rig: tuple[Fixture, ...] = show.rig.fixtures
    if not rig:
        raise Misuse("the rig has no fixture yet; add one: patch ID PROFILE/MODE UNIVERSE.ADDRESS role=key")
    if any(fixture.id == name for fixture in rig):
        return [name]
    if name == "all":
        return [fixture.id for fixture in rig]
    wanted = re.sub(r"[\s_-]+", " ", name)
    by_role = [fixture.id for fixture in rig if fixture.role == wanted]
    if by_role:
        return by_role
    if wanted in ROLES:
        raise Misuse(f"no fixture of the rig has the role {wanted}")
    ids = [fixture.id for fixture in rig]
    raise Misuse(
        f"there is no fixture or role '{name}'{nearest(name, [*ids, *ROLES])}; the rig has {', '.join(ids)}"
    )


def nearest(word: str, known: Iterable[str]) -> str:
    """', did you mean …?' as part of a sentence, or nothing."""
    close = meant(word, known)
    return f" (did you mean '{close}'?)" if close else ""
