"""Who is who: what to set in a lamp's menu, and where to look when the wrong lamp pulses or none."""

from __future__ import annotations

from onecrew.language.saying import counted
from onecrew.show.show import Fixture, Output


def menu_words(fixture: Fixture, menu: str = "", width: int | None = None) -> str:
    """What to set in a lamp's own menu: the mode as its maker calls it, universe, address."""
    slots = "" if width is None else f" ({counted(width, 'slot')})"
    return f"mode {menu or fixture.mode}{slots}, universe {fixture.universe}, address {fixture.address}"


def dark_words(fixture: Fixture, output: Output | None) -> str:
    """What to look at where a lamp does not pulse, the likeliest first."""
    universe = output.sacn.universes.get(str(fixture.universe)) if output is not None else None
    sent = (
        f"it is sent to {', '.join(universe.to)}: is that the lamp's or its node's address?"
        if universe is not None and universe.to
        else "it goes out by multicast, which Wi-Fi often drops: send it to the lamp's own address."
    )
    return (
        f"Is {fixture.id} set to sACN, mode {fixture.mode}, universe {fixture.universe}, "
        f"address {fixture.address}, and in the same network as this machine? Then: {sent}"
    )


def mixed_up_words(seen: Fixture, seen_menu: str, meant: Fixture, meant_menu: str) -> str:
    """What to set where another lamp pulses in place of the one that was meant."""
    return (
        f"{seen.id} is set to the address of {meant.id}: set {seen.id} to {seen_menu}, "
        f"and {meant.id} to {meant_menu}."
    )


def unpatched_words(meant: Fixture) -> str:
    """What to do where a lamp pulses that is none of the rig."""
    return f"{meant.id}: a lamp that is not patched has its address; give that one another."
