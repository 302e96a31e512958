"""What is typed on the Rig screen, read into documents: outputs, and names and roles that are free."""

from __future__ import annotations

import re

from onecrew.language import reading
from onecrew.language.phrases import build
from onecrew.show.show import Fixture, Output, SacnUniverse
from onecrew.tui.dialogs.form import Form


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
            "wifi": reading.yes_no(texts["Wi-Fi"] or "no", "Wi-Fi"),
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
        "Wi-Fi": "yes" if sacn.wifi else "no",
    }
    hint = (
        "Sent to: addresses of the receivers, with a port if need be; empty for multicast. On Wi-Fi, "
        "addresses are better. Priority 0 to 200. Steady rate: every frame is sent even at rest. "
        "Wi-Fi: changes are repeated more often."
    )
    return Form(f"sACN output of universe {universe}", fields, read, hint)


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
