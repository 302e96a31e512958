"""Places and lengths as a person writes them: metres, or feet and inches. Pure.

A place is x and y from the left and lower wall, then the height, the aim clockwise from up the plan, the tilt
above the horizontal and the roll, as far as they are known; ``-`` stands for one that is not.
"""

from __future__ import annotations

import re

from onecrew.errors import Misuse
from onecrew.language import reading, writing
from onecrew.language.phrases import build
from onecrew.show.photometry import REFLECTANCES, Units
from onecrew.show.show import Place

FIELDS = ("x_m", "y_m", "height_m", "aim_deg", "tilt_deg", "roll_deg")
LENGTHS = 3
"""So many of the fields are lengths, the rest are degrees."""
UNKNOWN = frozenset({"-", "_", "–", "?"})
_FEET = re.compile(
    r"(?:(\d+(?:\.\d+)?)\s*(?:'|ft|feet|foot))?\s*(?:(\d+(?:\.\d+)?)\s*(?:\"|''|in|inch|inches))?"
)
_TIMES = re.compile(r"\s*[x×*]\s*")


def length(text: str, what: str) -> float:
    """A length in metres from '1.8', '1.8 m', '180 cm', '6ft', '5 ft 11 in' or '5'11"'.

    >>> round(length("5'11\\"", "height"), 3)
    1.803
    """
    plain = text.strip().lower().replace("−", "-")
    for sign, is_now in (("′", "'"), ("’", "'"), ("″", '"'), ("”", '"')):
        plain = plain.replace(sign, is_now)
    match = _FEET.fullmatch(plain.lstrip("-"))
    if match and (match[1] or match[2]):
        metres = 0.3048 * float(match[1] or 0) + 0.0254 * float(match[2] or 0)
        return -metres if plain.startswith("-") else metres
    if plain.endswith("cm"):
        return reading.number(plain[:-2].strip(), what) / 100.0
    return reading.number(plain.removesuffix("m").strip(), what)


def say_length(metres: float, units: Units = "metres", places: int = 2) -> str:
    """A length to read: '1.80 m', or 5'11" to the inch.

    >>> say_length(1.8), say_length(1.8, "feet"), say_length(-0.1, "feet")
    ('1.80 m', '5\\'11"', '-4"')
    """
    if units == "metres":
        return f"{metres:.{places}f} m"
    feet, inches = divmod(round(abs(metres) / 0.0254), 12)
    said = f"{feet}'{inches}\"" if feet else f'{inches}"'
    return f"-{said}" if metres < 0 and said != '0"' else said


def read_place(text: str, what: str = "at") -> Place | None:
    """A place from 'x,y', 'x,y,height', … with commas or blanks between; '' and 'none' are no place."""
    if text.strip().lower() in ("", "none"):
        return None
    parts = [part.strip() for part in text.split(",")] if "," in text else text.split()
    if not 2 <= len(parts) <= len(FIELDS):
        raise Misuse(
            "a place is metres from the left and lower wall, then height, aim, tilt and roll as far as they "
            f"are known: {what}=0.6,3.4,2.1,135,-10"
        )
    fields: dict[str, float] = {}
    for number, (field, part) in enumerate(zip(FIELDS, parts, strict=False)):
        if part in UNKNOWN and number >= 2:
            continue
        name = field.rsplit("_", 1)[0]
        fields[field] = length(part, name) if number < LENGTHS else reading.number(part.rstrip("°"), name)
    return build(Place, **fields)


def write_place(place: Place | None, between: str = ",") -> str:
    """A place as it is typed; 'none' for no place."""
    if place is None:
        return "none"
    values = [getattr(place, field) for field in FIELDS]
    while values[-1] is None:
        values.pop()
    return between.join("-" if value is None else writing.number(value) for value in values)


def read_size(text: str, what: str, sides: tuple[int, ...]) -> tuple[float, ...]:
    """Lengths from '4x5x2.6', '4 × 5' or '6ft x 4ft'; ``sides`` says how many there may be."""
    return tuple(_side(part, what) for part in _parts(text, what, sides))


def read_sides(text: str, what: str, sides: tuple[int, ...]) -> tuple[float | None, ...]:
    """The same, where ``-`` stands for a side that is not known."""
    return tuple(None if part in UNKNOWN else _side(part, what) for part in _parts(text, what, sides))


def _parts(text: str, what: str, sides: tuple[int, ...]) -> list[str]:
    parts = _TIMES.split(text.strip())
    if len(parts) not in sides:
        raise Misuse(
            f"{what} '{text}' is not a size; write metres as {'x'.join(['4', '5', '2.6'][: sides[0]])}"
        )
    return parts


def _side(text: str, what: str) -> float:
    return reading.within(length(text, what), 0.01, 50.0, what, " m")


def reflectance(text: str, what: str) -> float | str:
    """How much light a surface sends back, from dark, mid, white, '40%' or '0.4'."""
    lowered = text.strip().lower()
    return lowered if lowered in REFLECTANCES else reading.level(lowered, what)
