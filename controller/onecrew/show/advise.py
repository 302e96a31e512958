"""Hints on a show that can be played as it is: likely slips, and what the room may not expect."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from ipaddress import ip_address
from itertools import pairwise

from onecrew.show.light import Light
from onecrew.show.listener import parse_listener
from onecrew.show.patching import universes
from onecrew.show.profile import Mode, Profile
from onecrew.show.scenes import each_opened, scenes_of
from onecrew.show.show import Show

SHOOT_KEYS = frozenset(".bhldDtTgGnVuU+-?q# ")
"""Printable keys that the Shoot screen uses itself: as the shortcut of a cue they do not recall it there."""


def advise(show: Show, profiles: Mapping[str, Profile]) -> list[str]:
    """One sentence for each thing in a faultless show that is worth a second look."""
    said = [*_rig_advice(show), *_output_advice(show), *_remote_advice(show)]
    for opened in each_opened(show):
        said += _cue_advice(opened, profiles)
    return said


def _rig_advice(show: Show) -> Iterator[str]:
    if not show.rig.fixtures:
        yield "The rig has no fixtures yet."
    cues = [cue for scene in scenes_of(show) for cue in scene.cues]
    lit = {name for cue in cues for name, light in cue.look.items() if light.level > 0.0}
    for fixture in show.rig.fixtures:
        if cues and fixture.id not in lit:
            yield f"No cue lights {fixture.id}."


def _output_advice(show: Show) -> Iterator[str]:
    patched = universes(show.rig)
    listed = show.output.sacn.universes
    artnet = show.output.artnet.universes if show.output.artnet else {}
    for universe in patched:
        key = str(universe)
        if key not in artnet and (key not in listed or not listed[key].to):
            yield (
                f"Universe {universe} goes out by multicast, which Wi-Fi often drops: "
                f"list the receivers in output.sacn.universes.{universe}.to."
            )
    for protocol, known in (("sacn", list(listed)), ("artnet", list(artnet))):
        for key in known:
            if int(key) not in patched:
                yield f"output.{protocol} lists universe {key}, in which no fixture is patched."


def _remote_advice(show: Show) -> Iterator[str]:
    osc, page = show.remote.osc, show.remote.page
    if osc is not None and not ip_address(parse_listener(osc.listen)[0]).is_loopback and not osc.allow:
        yield "remote.osc listens to the network but lets no other machine in: list them in remote.osc.allow."
    if page is not None and not ip_address(parse_listener(page.listen)[0]).is_loopback:
        yield "remote.page can be reached from the network: on a shared one, others see it too."


def _cue_advice(show: Show, profiles: Mapping[str, Profile]) -> Iterator[str]:
    if show.cues and show.cues[-1].auto_follow_s is not None:
        yield f"Cue {show.cues[-1].number} is the last and has an auto-follow, but no cue comes after it."
    for cue, _ in pairwise(show.cues):
        if cue.auto_follow_s is not None and cue.delay_s and cue.auto_follow_s <= cue.delay_s:
            yield (
                f"Cue {cue.number} gives way before it shows: its auto-follow ({cue.auto_follow_s:g} s) and "
                f"its delay ({cue.delay_s:g} s) both count from its start."
            )
    for cue in show.cues:
        if cue.shortcut in SHOOT_KEYS:
            yield (
                f'Cue {cue.number} has the shortcut "{cue.shortcut}", a key that Shoot uses itself: '
                "give it another."
            )
        if not cue.flash_guard:
            yield (
                f"Cue {cue.number} runs without the flash guard: over three flashes a second can harm people "
                "with photosensitive epilepsy. Warn everyone first."
            )
        for name, light in cue.look.items():
            fixture = show.fixture(name)
            profile = profiles.get(fixture.profile) if fixture else None
            mode = profile.mode(fixture.mode) if profile and fixture else None
            if mode is not None and (why := _out_of_reach(light, mode)):
                yield f"Cue {cue.number} asks {name} for {why}."


def _out_of_reach(light: Light, mode: Mode) -> str:
    """What the light asks that the mode cannot even be told; empty if nothing."""
    if mode.tells_colours or light.level == 0.0:
        return ""
    reach = mode.cct.cct if mode.cct is not None else None
    if reach is None:
        asked = "a white" if light.white is not None else "a colour" if light.xy is not None else ""
        return f"{asked}, and it has only a dimmer: it keeps its own white" if asked else ""
    if light.xy is not None:
        return "a colour, and it takes whites only: it gives the nearest white"
    low_k, high_k = reach.warmest_k, reach.coolest_k
    if light.white is None or low_k <= light.white.cct_k <= high_k:
        return ""
    return f"{light.white.cct_k:g} K, and it reaches {low_k:g} to {high_k:g} K: it gives the nearest"
