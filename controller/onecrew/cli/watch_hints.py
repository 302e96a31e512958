"""What a show says about where its packets go, for those who listen and hear nothing. Pure."""

from __future__ import annotations

from ipaddress import ip_address

from onecrew.show.destination import SACN_PORT, parse_destination
from onecrew.show.show import Show

NOTHING = "Nothing arrives yet."
IN_GENERAL = (
    "Unicast must be sent to an address of this machine;",
    "multicast is received with --multicast and the universes' numbers.",
)


def by_multicast(show: Show) -> list[int]:
    """The patched universes that the show sends by sACN multicast, rising."""
    listed = show.output.sacn.universes
    return [
        universe for universe in _by_sacn(show) if str(universe) not in listed or not listed[str(universe)].to
    ]


def multicast_interface(show: Show) -> str | None:
    """The interface that the show sends multicast by, where it names one and the same for all."""
    listed = show.output.sacn.universes
    named = {listed[str(one)].interface if str(one) in listed else None for one in by_multicast(show)}
    return named.pop() if len(named) == 1 else None


def hints(show: Show | None, port: int, joined: bool) -> list[str]:
    """Why nothing may arrive at ``port``, a line each; ``joined``: multicast would be heard."""
    if show is None:
        return [NOTHING, *IN_GENERAL]
    by_sacn = _by_sacn(show)
    found = [hint for universe in by_sacn if (hint := _elsewhere(show, universe, port))]
    if not joined and (missed := by_multicast(show)):
        found.append(f"The show sends {_named(missed)} by multicast: received with --multicast.")
    if artnet := sorted(_patched(show) - set(by_sacn)):
        found.append(f"The show sends {_named(artnet)} by Art-Net, which is not listened to here.")
    return [
        NOTHING,
        *(found or IN_GENERAL[:1]),
        "Does an engine run? `onecrew status` says what it sends.",
    ]


def _elsewhere(show: Show, universe: int, port: int) -> str | None:
    """Why a universe does not come to this port of this machine, None if it may."""
    entry = show.output.sacn.universes.get(str(universe))
    ends = [parse_destination(text) for text in entry.to] if entry is not None else []
    ports = sorted({one for _, one in ends}) or [SACN_PORT]
    if port not in ports:
        said = " and ".join(map(str, ports))
        return f"The show sends universe {universe} to port {said}, not {port}: use --port {ports[0]}."
    hosts = [host for host, one in ends if one == port]
    if hosts and not any(ip_address(host).is_loopback for host in hosts):
        return f"The show sends universe {universe} to {' and '.join(hosts)}: received on that machine alone."
    return None


def _named(universes: list[int]) -> str:
    return f"universe{'s' if len(universes) > 1 else ''} {', '.join(map(str, universes))}"


def _patched(show: Show) -> set[int]:
    return {fixture.universe for fixture in show.rig.fixtures}


def _by_sacn(show: Show) -> list[int]:
    """As ``output.outputs`` has it: all but those that only the Art-Net settings name."""
    artnet = set() if show.output.artnet is None else set(show.output.artnet.universes)
    alone = artnet - set(show.output.sacn.universes)
    return [universe for universe in sorted(_patched(show)) if str(universe) not in alone]
