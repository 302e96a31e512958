"""Numbers in words, the same everywhere on the screens."""

from __future__ import annotations

import math
from collections.abc import Sequence

from onecrew.plan.flicker import time_words
from onecrew.show.light import White
from onecrew.show.show import Camera, Cue, Modifier
from onecrew.show.snapshot import OutputState, Snapshot

NO_LAMPS = "No lamps yet: F4 opens Rig, and a there patches the first."
NO_CUES = "No cues yet: build a look on F3 and store it there with Shift+S."


def level(value: float) -> str:
    """A level 0–1 in per cent; below 10 % with one decimal, where a dark scene lives.

    >>> level(0.22), level(0.035), level(0.004)
    ('22 %', '3.5 %', '0.4 %')
    """
    percent = value * 100
    if percent == 0 or percent >= 9.95:
        return f"{percent:.0f} %"
    return f"{percent:.1f} %"


def stops(output: float) -> str:
    """An output 0–1 in stops under full.

    >>> stops(1.0), stops(0.5), stops(0.0)
    ('full', '−1.0 st', 'off')
    """
    if output <= 0:
        return "off"
    if output >= 0.9995:
        return "full"
    return f"−{-math.log2(output):.1f} st"


def ratio(difference: float) -> str:
    """A difference in stops as the ratio of light: 2 stops are 4 : 1 (key ÷ fill)."""
    amount = 2.0 ** abs(difference)
    shown = f"{amount:.0f}" if amount >= 9.95 else f"{amount:.1f}"
    return f"{shown} : 1" if difference >= 0 or shown == "1.0" else f"1 : {shown}"


def cct(cct_k: float) -> str:
    return f"{cct_k:.0f} K"


def tint(duv: float) -> str:
    """Duv with the side it lies on, as a word: green above the locus, magenta below.

    >>> tint(0.003), tint(-0.0015), tint(0.0)
    ('+0.003 green', '−0.0015 magenta', 'neutral')
    """
    if abs(duv) < 0.00005:
        return "neutral"
    amount = f"{abs(duv):.4f}".rstrip("0")
    return f"+{amount} green" if duv > 0 else f"−{amount} magenta"


def tint_short(duv: float) -> str:
    """Duv in at most seven characters, its sign its side: + green, − magenta."""
    if abs(duv) < 0.00005:
        return "0"
    amount = f"{abs(duv):.4f}".rstrip("0")
    return f"{'+' if duv > 0 else '−'}{amount}"


def colour(white: White | None, xy: tuple[float, float]) -> str:
    """A colour in one line: a white by its CCT, anything else by its chromaticity."""
    return cct(white.cct_k) if white is not None else f"xy {xy[0]:.3f} {xy[1]:.3f}"


def seconds(value: float) -> str:
    """A time in seconds: tenths below ten, whole above.

    >>> seconds(3.04), seconds(42.4)
    ('3.0 s', '42 s')
    """
    return f"{value:.1f} s" if value < 9.95 else f"{value:.0f} s"


def clock(value: float) -> str:
    """Minutes and seconds.

    >>> clock(75)
    '1:15'
    """
    whole = int(max(value, 0))
    return f"{whole // 60}:{whole % 60:02d}"


def countdown(value: float) -> str:
    """A time left as the block digits show it: tenths below ten, whole seconds above, always rounded up."""
    if value <= 9.9:
        return f"{math.ceil(value * 10 - 1e-6) / 10:.1f}"
    return f"{math.ceil(value - 1e-6)}"


def times(cue: Cue) -> str:
    """A cue's times in one line."""
    fade = cue.fade
    text = (
        f"fade {seconds(fade.in_s)}"
        if fade.in_s == fade.out_s
        else f"fade in {seconds(fade.in_s)}, out {seconds(fade.out_s)}"
    )
    if cue.delay_s:
        text += f", delay {seconds(cue.delay_s)}"
    if cue.auto_follow_s is not None:
        text += f", auto-follow {seconds(cue.auto_follow_s)}"
    return text


def modifiers(items: tuple[Modifier, ...]) -> str:
    """A lamp's modifiers: 'diffusion 1.0 st, grid'."""
    return ", ".join(item.kind + (f" {item.stops:.1f} st" if item.stops else "") for item in items)


def camera(notes: Camera) -> str:
    """The camera notes that make the exposure: 'ISO 800, 1/50 s, f/2.8, ND 2 st'."""
    exposed = f"{notes.shutter_deg:g}°" if notes.shutter_deg is not None else time_words(notes.shutter_s)
    stop = f"f/{notes.aperture:g}" if notes.t_stop is None else f"T{notes.t_stop:g} (f/{notes.aperture:g})"
    density = f", ND {notes.nd_stops:g} st" if notes.nd_stops else ""
    return f"ISO {notes.iso}, {exposed}, {stop}{density}"


QUIET = ("nobody answers", "nothing listens")
"""How the engine begins what it says of an address that may be wrong; the first is the worse."""


def outputs(states: tuple[OutputState, ...]) -> tuple[str, bool]:
    """(health of the outputs in a few words, whether all is well)."""
    failing = [state for state in states if state.state == "failing"]
    if failing:
        return (
            f"{len(failing)} of {len(states)} outputs failing" if len(states) > 1 else "output failing"
        ), False
    if not states:
        return "no output yet", True
    doubts = [state.error for state in states if state.error]
    if doubts:
        said = next(
            (word for word in QUIET if any(error.startswith(word) for error in doubts)), "output in doubt"
        )
        return (f"{said} at {len(doubts)} of {len(states)}" if len(states) > 1 else said), False
    if any(state.state == "waiting" for state in states):
        return "output waiting", True
    return ("output ok" if len(states) == 1 else f"{len(states)} outputs ok"), True


FULL = 0.9995
"""A master from here on is said as 100 %."""


def loud_states(snapshot: Snapshot) -> list[tuple[str, str]]:
    """(word in capitals, which lamps and what ends it) of every state that keeps the look from the lamps."""
    said: list[tuple[str, str]] = []
    if snapshot.blackout:
        said.append(("BLACKOUT", ". ends it"))
    if any(output.state == "failing" for output in snapshot.outputs):
        said.append(("NO OUTPUT", "F4 shows why"))
    if snapshot.still is not None:
        said.append(("STILLS", snapshot.still or "one lamp alone; any cue ends it"))
    if snapshot.raised is not None:
        said.append(("RAISED", f"slots {snapshot.raised.words} by hand, black as soon as that ends"))
    if snapshot.solo:
        said.append(("SOLO", f"{', '.join(snapshot.solo)}, o on F3 ends it"))
    if snapshot.without:
        said.append(("WITHOUT", f"{', '.join(snapshot.without)}, Shift+O on F3 ends it"))
    if snapshot.locked:
        said.append(("LOCKED", "l on F2 unlocks"))
    if snapshot.held:
        said.append(("HELD", "h on F2 releases"))
    if snapshot.master < FULL:
        said.append((f"MASTER {level(snapshot.master).replace(' ', '')}", "+ on F2 raises it"))
    return said


def not_stored(snapshot: Snapshot) -> str:
    """What keeps the look from the lamps and is no part of it, so that a look stored now is all of it."""
    hides = {
        "BLACKOUT": snapshot.blackout,
        "SOLO": snapshot.solo,
        "WITHOUT": snapshot.without,
        "MASTER": snapshot.master < FULL,
    }
    said = [word for word, hidden in hides.items() if hidden]
    return f"All of the look is stored, whatever is dark by {' and '.join(said)}." if said else ""


def states(snapshot: Snapshot) -> list[str]:
    """What else is out of the ordinary about what is showing, besides ``loud_states``."""
    said: list[str] = []
    if snapshot.comparing:
        said.append("comparing: the stored look is on")
    if snapshot.identify:
        said.append("identifying: " + ", ".join(snapshot.identify))
    edited = [name for name, light in snapshot.lights.items() if light.edited]
    if edited:
        said.append(f"edited, not stored: {', '.join(edited)}")
    return said


def away(reason: str, *, stopped: bool, given_up: bool = False) -> str:
    """What the banner says while there is no engine; the part in brackets goes first where space is short."""
    if stopped:
        return f"{reason[:1].upper()}{reason[1:]}."
    if given_up:
        return f"NO LIGHT LEAVES. Trying again every few seconds. ({reason})"
    return f"The engine is not answering. Lamps hold what they were sent last; reconnecting. ({reason})"


def back(missed: Sequence[str]) -> str:
    """What is said when the engine is back; it names every command that was refused meanwhile."""
    not_done = f" Not done meanwhile: {', '.join(missed)}." if missed else ""
    return f"The engine is back.{not_done}"
