"""Who is who: what to set in a lamp's menu, and where to look when the wrong lamp pulses or none."""

from __future__ import annotations

from collections.abc import Iterable

from onecrew.language.saying import counted
from onecrew.show.show import Fixture, Output


def menu_words(fixture: Fixture, menu: str = "", width: int | None = None) -> str:
    """What to set in a lamp's own menu: the mode as its maker calls it, universe, address."""
    slots = "" if width is None else f" ({counted(width, 'slot')})"
    return f"mode {menu or fixture.mode}{slots}, universe {fixture.universe}, address {fixture.address}"


def dark_words(fixture: Fixture, output: Output | None) -> str:
    """What to look at where a lamp does not pulse, the likeliest first."""
    by = " or ".join(name for name, _ in _ways(fixture.universe, output))
    return (
        f"Is {fixture.id} set to {by}, mode {fixture.mode}, universe {fixture.universe}, "
        f"address {fixture.address}, and in the same network as this machine? Then: "
        + " ".join(f"it {where}" for _, where in _ways(fixture.universe, output))
    )


def unlit_words(fixture: Fixture, menu: str) -> str:
    """What to compare first where a lamp of several did not pulse; ``menu`` as ``menu_words`` has it."""
    return f"{fixture.id} did not pulse: is its menu at {menu}?"


def unlit_hints(universes: Iterable[int], output: Output | None) -> list[str]:
    """What to look at next where lamps of these universes did not pulse."""
    return [
        f"universe {universe}: by {name} it {where} Is the lamp set to {name}, in this machine's network?"
        for universe in sorted(set(universes))
        for name, where in _ways(universe, output)
    ]


def _ways(universe: int, output: Output | None) -> list[tuple[str, str]]:
    """The protocols that a universe is sent by, each with where it goes and what to ask of that."""
    if output is None:
        return [("sACN", "goes out by multicast.")]
    ways = []
    artnet = output.artnet.universes.get(str(universe)) if output.artnet is not None else None
    sacn = output.sacn.universes.get(str(universe))
    if sacn is not None and sacn.to:
        ways.append(("sACN", _sent_to(sacn.to)))
    elif sacn is not None or artnet is None:
        ways.append(
            ("sACN", "goes out by multicast, which Wi-Fi often drops: send it to the lamp's own address.")
        )
    if artnet is not None:
        ways.append(("Art-Net", _sent_to(artnet.to)))
    return ways


def _sent_to(to: Iterable[str]) -> str:
    return f"is sent to {', '.join(to)}: is that the lamp's or its node's address?"


def mixed_up_words(seen: Fixture, seen_menu: str, meant: Fixture, meant_menu: str) -> str:
    """What to set where another lamp pulses in place of the one that was meant."""
    return (
        f"{seen.id} is set to the address of {meant.id}: set {seen.id} to {seen_menu}, "
        f"and {meant.id} to {meant_menu}."
    )


def unpatched_words(meant: Fixture) -> str:
    """What to do where a lamp pulses that is none of the rig."""
    return f"{meant.id}: a lamp that is not patched has its address; give that one another."
