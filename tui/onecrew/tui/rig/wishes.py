"""What was typed on the Rig screen, read into documents: patch, modifiers, place, outputs, camera."""

from __future__ import annotations

import re
from typing import Any, TypeVar, get_args

from pydantic import BaseModel, ValidationError

from onecrew.show.show import ROLES, Camera, Fixture, Modifier, Output, Place, SacnUniverse

MODIFIERS: tuple[str, ...] = get_args(Modifier.model_fields["kind"].annotation)
Built = TypeVar("Built", bound=BaseModel)


def build(kind: type[Built], what: str, fields: dict[str, Any]) -> Built:
    """A document value, or ``ValueError`` with what is wrong with ``what``."""
    try:
        return kind.model_validate(fields)
    except ValidationError as error:
        first = error.errors()[0]
        where = " ".join(str(part) for part in first["loc"]) or what
        raise ValueError(f"{where}: {str(first['msg']).removeprefix('Value error, ')}") from None


def whole(text: str, what: str, low: int, high: int) -> int:
    if not re.fullmatch(r"\d{1,6}", text) or not low <= int(text) <= high:
        raise ValueError(f"{what} is a whole number from {low} to {high}")
    return int(text)


def number(text: str, what: str) -> float:
    try:
        value = float(text.replace(",", "."))
    except ValueError:
        value = float("nan")
    if not abs(value) < 1e9:
        raise ValueError(f"{what} is a number; '{text}' is none")
    return value


def read_role(text: str) -> str:
    """A role by its name or the beginning of it."""
    found = [role for role in ROLES if role.startswith(text.lower())] if text else []
    exact = [role for role in found if role == text.lower()]
    if len(exact or found) != 1:
        raise ValueError(f"a role is one of: {', '.join(ROLES)}")
    return (exact or found)[0]


def read_name(text: str) -> str:
    if not re.fullmatch(r"[a-z0-9][a-z0-9_-]{0,31}", text):
        raise ValueError(
            "a name has small letters, digits, - and _, at most 32, and begins with a letter or digit"
        )
    return text


def read_yes(text: str, what: str) -> bool:
    if text.lower() in ("y", "yes", "on"):
        return True
    if text.lower() in ("", "n", "no", "off"):
        return False
    raise ValueError(f"{what}: yes or no")


def read_modifiers(text: str) -> tuple[Modifier, ...]:
    """Reads 'diffusion 1, grid, gel 0.5 half straw'; empty takes all away."""
    found: list[Modifier] = []
    for part in filter(None, (part.strip() for part in text.split(","))):
        words = part.split()
        fields: dict[str, Any] = {"kind": words[0].lower()}
        rest = words[1:]
        if fields["kind"] not in MODIFIERS:
            raise ValueError(f"'{words[0]}' is none of: {', '.join(MODIFIERS)}")
        if rest and re.fullmatch(r"\d+(\.\d+)?(st)?", rest[0]):
            fields["stops"] = float(rest.pop(0).removesuffix("st"))
            if rest and rest[0] in ("st", "stop", "stops"):
                rest.pop(0)
        fields["note"] = " ".join(rest)
        found.append(build(Modifier, "modifier", fields))
    return tuple(found)


def modifiers_text(items: tuple[Modifier, ...]) -> str:
    """Modifiers as they are typed."""
    return ", ".join(
        " ".join(filter(None, (item.kind, f"{item.stops:g}" if item.stops else "", item.note)))
        for item in items
    )


def read_place(text: str) -> Place | None:
    """Reads 'x y', 'x y height' or 'x y height aim'; empty is no place."""
    parts = text.split()
    if not parts:
        return None
    if not 2 <= len(parts) <= 4:
        raise ValueError(
            "metres from the left and lower wall, then height and aim in degrees: 0.6 3.4 2.1 135"
        )
    names = ("x_m", "y_m", "height_m", "aim_deg")
    values = {name: number(part, name.split("_")[0]) for name, part in zip(names, parts, strict=False)}
    return build(Place, "place", values)


def place_text(place: Place | None) -> str:
    """A place as it is typed."""
    if place is None:
        return ""
    values = (place.x_m, place.y_m, place.height_m, place.aim_deg)
    last = max(index for index, value in enumerate(values) if value is not None)
    return " ".join(f"{value if value is not None else 0:g}" for value in values[: last + 1])


def read_destinations(text: str) -> tuple[str, ...]:
    """Addresses, maybe with a port, parted by spaces or commas; empty means multicast."""
    return tuple(part for part in re.split(r"[\s,]+", text) if part)


def with_destinations(output: Output, universe: int, to: tuple[str, ...]) -> Output:
    """The outputs with one universe sent elsewhere."""
    key = str(universe)
    now = output.sacn.universes.get(key, SacnUniverse())
    universes = {**output.sacn.universes, key: now.model_copy(update={"to": to})}
    sacn = output.sacn.model_copy(update={"universes": universes})
    return Output.model_validate(output.model_copy(update={"sacn": sacn}).model_dump())


def read_priority(text: str) -> tuple[int, bool]:
    """Reads '100' or '120 steady'."""
    parts = text.lower().split()
    if not parts or len(parts) > 2 or (len(parts) == 2 and parts[1] != "steady"):
        raise ValueError("a priority from 0 to 200, and the word steady for a steady rate: 100 steady")
    return whole(parts[0], "the priority", 0, 200), len(parts) == 2


def read_camera(values: dict[str, str], before: Camera) -> Camera:
    """The camera settings from their fields; shutter as 1/50 or in seconds."""
    shutter = values["shutter"]
    over = re.fullmatch(r"1/(\d+(?:\.\d+)?)", shutter)
    seconds = 1 / float(over[1]) if over and float(over[1]) else number(shutter, "shutter")
    return build(
        Camera,
        "camera",
        {
            **before.model_dump(),
            "iso": whole(values["iso"], "ISO", 1, 1_000_000),
            "shutter_s": seconds,
            "fps": number(values["frames a second"], "frames a second"),
            "aperture": number(values["aperture"].lower().removeprefix("f").removeprefix("/"), "aperture"),
            "white_balance_k": number(values["white balance"].lower().removesuffix("k"), "white balance"),
            "lens": values["lens"],
        },
    )


def camera_texts(camera: Camera) -> dict[str, str]:
    """The camera settings as they are typed."""
    over = 1 / camera.shutter_s
    shutter = f"1/{over:g}" if abs(over - round(over, 1)) < 1e-6 and over >= 2 else f"{camera.shutter_s:.9g}"
    return {
        "iso": str(camera.iso),
        "shutter": shutter,
        "frames a second": f"{camera.fps:g}",
        "aperture": f"{camera.aperture:g}",
        "white balance": f"{camera.white_balance_k:g}",
        "lens": camera.lens,
    }


def suggest_name(profile: str, fixtures: tuple[Fixture, ...]) -> str:
    """A free name after the kind: panel1, panel2."""
    stem = profile.split("-")[0][:28]
    taken = {fixture.id for fixture in fixtures}
    count = 1
    while f"{stem}{count}" in taken:
        count += 1
    return f"{stem}{count}"


def suggest_role(fixtures: tuple[Fixture, ...]) -> str:
    """The first role that nobody has yet, in the order in which a look is built."""
    taken = {fixture.role for fixture in fixtures}
    return next(
        (role for role in ("ambience", "key", "practical", "edge", "fill") if role not in taken), "fill"
    )
