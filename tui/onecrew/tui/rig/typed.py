"""What is typed on the Rig screen, read into documents: modifiers, place, outputs, camera."""

from __future__ import annotations

import re
from typing import Any, get_args

from onecrew.language import reading
from onecrew.language.phrases import build
from onecrew.language.writing import shutter
from onecrew.show.show import Camera, Fixture, Modifier, Output, Place, SacnUniverse
from onecrew.tui.dialogs.form import Form

MODIFIERS: tuple[str, ...] = get_args(Modifier.model_fields["kind"].annotation)


def read_modifiers(text: str) -> tuple[Modifier, ...]:
    """Reads 'diffusion 1, grid, gel 0.5 half straw'; empty is none."""
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
        found.append(build(Modifier, **fields))
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
    values = {
        name: reading.number(part, name.split("_")[0]) for name, part in zip(names, parts, strict=False)
    }
    return build(Place, **values)


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


def output_form(output: Output, universe: int) -> Form[Output]:
    """Where a universe is sent, and the priority and rate of all of them."""
    sacn, key = output.sacn, str(universe)
    present = sacn.universes.get(key, SacnUniverse())

    def read(texts: dict[str, str]) -> Output:
        changed = present.model_copy(update={"to": read_destinations(texts["sent to"])})
        fields = {
            "priority": reading.whole(texts["priority"], "priority", 0, 200),
            "steady": reading.yes_no(texts["steady rate"] or "no", "steady rate"),
            "universes": {**sacn.universes, key: changed},
        }
        return build(
            Output, **output.model_copy(update={"sacn": sacn.model_copy(update=fields)}).model_dump()
        )

    fields = {
        "sent to": " ".join(present.to),
        "priority": str(sacn.priority),
        "steady rate": "yes" if sacn.steady else "no",
    }
    hint = (
        "Sent to: addresses of the receivers, with a port if need be; empty for multicast. On Wi-Fi, "
        "addresses are better. Priority 0 to 200. Steady rate: every frame is sent even at rest, for lossy "
        "Wi-Fi."
    )
    return Form(f"sACN output of universe {universe}", fields, read, hint)


def read_camera(values: dict[str, str], before: Camera) -> Camera:
    """The camera settings from their fields; shutter as 1/50 or in seconds."""
    return build(
        Camera,
        **{
            **before.model_dump(),
            "iso": reading.whole(values["iso"], "ISO", 1, 1_000_000),
            "shutter_s": reading.shutter(values["shutter"]),
            "fps": reading.number(values["frames a second"], "frames a second"),
            "aperture": reading.aperture(values["aperture"]),
            "white_balance_k": reading.kelvin(values["white balance"], "white balance"),
            "lens": values["lens"],
        },
    )


def camera_texts(camera: Camera) -> dict[str, str]:
    """The camera settings as they are typed."""
    return {
        "iso": str(camera.iso),
        "shutter": shutter(camera.shutter_s),
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
