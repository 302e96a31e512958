"""What is typed on the Rig screen, read into documents: outputs, and names and roles that are free."""

from __future__ import annotations

from onecrew.language import network, reading
from onecrew.language.phrases import build
from onecrew.show.show import Artnet, ArtnetUniverse, Fixture, Output, SacnUniverse
from onecrew.tui.dialogs.form import Form

OFF = "off"
_HINT = (
    "Sent to: addresses of receivers of sACN, with a port if need be; empty for multicast, off for none. "
    "On Wi-Fi, addresses are better. Priority 0 to 200. Steady rate: every frame is sent even at rest. "
    "Wi-Fi: changes are repeated more often. Art-Net to: addresses of nodes that take no sACN, empty: none; "
    "its port-address is the universe less 1 unless it is typed."
)


def output_form(output: Output, universe: int) -> Form[Output]:
    """Where a universe is sent by sACN and by Art-Net, and how all of them are."""
    sacn, key = output.sacn, str(universe)
    artnet = output.artnet or Artnet()
    present, node = sacn.universes.get(key, SacnUniverse()), artnet.universes.get(key)
    port_there = str(node.port_address) if node is not None and node.port_address is not None else ""
    silent = node is not None and key not in sacn.universes

    def read(texts: dict[str, str]) -> Output:
        nodes = {number: one for number, one in artnet.universes.items() if number != key}
        port = texts["port-address"]
        if port not in ("", port_there) and not texts["Art-Net to"]:
            raise ValueError("a port-address needs the address of a node: fill in Art-Net to, or empty both")
        if texts["Art-Net to"]:
            to = network.destinations(texts["Art-Net to"])
            number = network.port_address(port, "port-address") if port else None
            nodes[key] = build(ArtnetUniverse, to=to, port_address=number)
        universes = {number: one for number, one in sacn.universes.items() if number != key}
        if texts["sent to"].lower() != OFF:
            to = network.destinations(texts["sent to"])
            universes[key] = build(SacnUniverse, **{**present.model_dump(), "to": to})
        elif key not in nodes:
            raise ValueError("without sACN the universe needs an address for Art-Net")
        fields = {
            "priority": network.priority(texts["priority"]),
            "wifi": reading.yes_no(texts["Wi-Fi"] or "no", "Wi-Fi"),
            "steady": reading.yes_no(texts["steady rate"] or "no", "steady rate"),
            "universes": universes,
        }
        sync = reading.yes_no(texts["Art-Net sync"] or "no", "Art-Net sync")
        return build(
            Output,
            sacn={**sacn.model_dump(), **fields},
            artnet=Artnet(sync=sync, universes=nodes) if nodes else None,
        )

    fields = {
        "sent to": OFF if silent else " ".join(present.to),
        "priority": str(sacn.priority),
        "steady rate": "yes" if sacn.steady else "no",
        "Wi-Fi": "yes" if sacn.wifi else "no",
        "Art-Net to": " ".join(node.to) if node is not None else "",
        "port-address": port_there,
        "Art-Net sync": "yes" if artnet.sync else "no",
    }
    return Form(f"Outputs of universe {universe}", fields, read, _HINT)


def said_of(output: Output, universe: int) -> str:
    """Where a universe goes, in words."""
    key = str(universe)
    node = output.artnet.universes.get(key) if output.artnet is not None else None
    listed = output.sacn.universes.get(key)
    ways = [", ".join(listed.to) or "multicast"] if listed is not None else []
    ways += [f"{', '.join(node.to)} by Art-Net"] if node is not None else []
    return " and to ".join(ways)


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
