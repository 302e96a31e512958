"""The page of reference for OSC, made from the same table that messages are parsed by."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from typing import Any

from onecrew.osc.addresses import ALL, CUE, LAMP, ROOT, Method, methods
from onecrew.osc.arguments import Argument
from onecrew.osc.faders import CCT, TINT
from onecrew.osc.packets import MAX_BYTES, MAX_DEPTH, MAX_MESSAGES
from onecrew.osc.reports import LEASE_S, MAX_LEASE_S, MAX_RATE_HZ, RATE_HZ, RECEIVERS, REFRESH_S, TOUCH_S
from onecrew.osc.server import (
    AHEAD_S,
    EDITS,
    PATTERNS,
    PENDING,
    REFUSED,
    REPORT,
    REPORT_ARGUMENTS,
    REPORT_END,
    STATE,
)

REPORTED: tuple[tuple[str, str, str], ...] = (
    ("show", "s", "name of the show"),
    ("cue", "s s", "number and name of the cue showing; empty before the first"),
    ("next", "s s", "number and name of the cue that go runs; empty after the last"),
    ("fade", "f f", "share of the fade done 0–1, seconds left; 1 and 0 when none runs"),
    ("countdown", "f s", "seconds left, what it will run; 0 and empty when none runs"),
    ("take", "s i i", "setup, number, 1 while it runs"),
    ("held", "i", "1 while fades and effects are held"),
    ("locked", "i", "1 while locked"),
    ("blackout", "i", "1 in blackout"),
    ("raised", "s", "slots raised by hand, '1.41–46 of key'; empty when none are"),
    ("master", "f", "master level 0–1"),
    (f"light/{LAMP}/level", "f", "level that leaves in its slots 0–1, with master and blackout"),
)
"""What is reported: address after the root, type tags, meaning."""

INTRODUCTION = f"""
OSC 1.0 over UDP. The show says where OSC is received: `onecrew send remote osc=127.0.0.1:9001` takes it from
this machine alone; `onecrew send remote osc=0.0.0.0:9001 allow=192.168.1.20` from one more, and nobody else.

Type tags: i f h d are taken for numbers (0.15 sent as a 32-bit float is understood as 0.15), s for texts, and
T F or 1 0 for on and off; hold, blackout, lock and compare without an argument toggle. In brackets:
arguments that may be left out, or sent as N. An address without arguments takes 1 and 0 from a button: 1 does
it, 0 (the release) does nothing.

{LAMP} is the id of a fixture, a role (with - for blanks: ambience) or {ALL}. It may be a pattern of OSC
(? * [a-z] {{one,two}}): all lamps that match change together. A pattern may not match several commands or
cues.

The messages of a bundle change the lamps in one frame. A bundle with a time tag ahead waits for it,
{AHEAD_S:g} s at most; one that is late runs at once. One packet has at most {MAX_BYTES} bytes,
{MAX_MESSAGES} messages, {PATTERNS} patterns and {EDITS} changes of the show, and bundles {MAX_DEPTH} deep;
{PENDING} bundles can wait.

A message that cannot be carried out is answered with {REFUSED} (s s): the address, and why, in a
sentence. One that is carried out gets no answer.
"""
REPORTING = f"""
{REPORT} [port] [rate_hz] [seconds] asks for reports: all of the state below, then what changes of it,
{RATE_HZ:g} times a second ({MAX_RATE_HZ:g} at most), for {LEASE_S:g} seconds ({MAX_LEASE_S:g} at most).
Whatever the device sends before that renews them; asking again sends all of it anew,
since UDP may lose some. Reports go to the
address that the message came from, to the port named or, without one, to the port it came from.
{REPORT_END} [port] ends them. At most {RECEIVERS} receivers get reports.
"""
FEEDBACK = f"""
A control surface follows the desk without asking: `onecrew send remote feedback=192.168.1.20:9002` sends it
all of this: what changes {RATE_HZ:g} times a second, and everything every {REFRESH_S:g} seconds. Name its
address under allow= as well, so that it may send. Give each control the address below for both directions:
where a fader or a button stands comes back on the address that moves it, as one number, 0 to 1 unless the
table says otherwise. What a device moves is not sent back to it until it has rested for {TOUCH_S:g} s, and
what it merely sends back is not carried out. {LAMP} is the id of a fixture here.
"""
CONTROLS: tuple[tuple[str, str, str, str], ...] = (
    (f"light/{LAMP}/level", "fader", "0–1", "level asked of the lamp, without master and blackout"),
    (
        f"light/{LAMP}/{CCT}",
        "fader",
        "0–1",
        "CCT: 0 the lamp's warmest white, 1 its coolest",
    ),
    (f"light/{LAMP}/{TINT}", "fader", "0–1", "tint: 0 most magenta, 0.5 neutral, 1 most green"),
    (f"light/{LAMP}/cct", "number", "kelvin", "the same CCT in kelvin"),
    (f"light/{LAMP}/tint", "number", "Duv", "the same tint as Duv: + green, − magenta"),
    ("master", "fader", "0–1", "master level"),
    (f"cue/{CUE}", "button", "1", "runs this cue; lit while it is the one that ran last"),
    ("go", "button", "1", "runs the next cue; sends nothing back"),
    ("back", "button", "1", "runs the cue before; sends nothing back"),
    ("hold", "switch", "0 or 1", "holds fades and effects"),
    ("lock", "switch", "0 or 1", "locks the desk"),
    ("blackout", "switch", "0 or 1", "blackout"),
    ("compare", "switch", "0 or 1", "shows the cue without what was changed by hand"),
)
"""What a control surface is set up with: address after the root, control, range, meaning."""
WIDTH = 100


def page() -> str:
    """The whole page, for reading."""
    width = max(len(f"{STATE}/{where}") for where, _, _ in REPORTED)
    told = [f"{f'{STATE}/{where}':<{width}}  {tags:<5}  {what}" for where, tags, what in REPORTED]
    parts = [_filled(INTRODUCTION), "WHAT CAN BE SENT", "\n".join(map(_lines, methods()))]
    width = max(len(f"/{ROOT}/{where}") for where, *_ in CONTROLS)
    rows = [
        f"{f'/{ROOT}/{where}':<{width}}  {control:<6}  {span:<6}  {does}"
        for where, control, span, does in CONTROLS
    ]
    parts += ["FOR A CONTROL SURFACE", _filled(FEEDBACK), "\n".join(rows)]
    parts += ["WHAT IS REPORTED", _filled(REPORTING), "\n".join(told)]
    return "\n\n".join(parts)


def _filled(text: str) -> str:
    paragraphs = text.strip().split("\n\n")
    return "\n\n".join(textwrap.fill(paragraph, WIDTH, break_on_hyphens=False) for paragraph in paragraphs)


def _lines(method: Method) -> str:
    words = [method.address, *map(_short, method.arguments)]
    said = [" ".join(words), f"    {method.does}"]
    said += [f"    {argument.name}: {argument.words}" for argument in method.arguments]
    return "\n".join(said)


def _short(argument: Argument) -> str:
    return f"[{argument.name}]" if argument.optional else argument.name


def table() -> dict[str, Any]:
    """The page as plain data, for programs."""
    return {
        "send": [
            {"address": method.address, "arguments": _plain(method.arguments), "does": method.does}
            for method in methods()
        ],
        "report": {"address": REPORT, "arguments": _plain(REPORT_ARGUMENTS)},
        "report-end": {"address": REPORT_END, "arguments": _plain(REPORT_ARGUMENTS[:1])},
        "reported": [
            {"address": f"{STATE}/{where}", "types": tags, "what": what} for where, tags, what in REPORTED
        ],
        "controls": [
            {"address": f"/{ROOT}/{where}", "control": control, "range": span, "does": does}
            for where, control, span, does in CONTROLS
        ],
        "refused": {"address": REFUSED, "types": "s s", "what": "the address, and why"},
        "placeholders": {LAMP: f"id of a fixture, a role, '{ALL}', or a pattern", CUE: "number of a cue"},
    }


def _plain(arguments: Sequence[Argument]) -> list[dict[str, Any]]:
    return [
        {
            "name": argument.name,
            "types": argument.types,
            "optional": argument.optional,
            "low": argument.low,
            "high": argument.high,
            "what": argument.words,
        }
        for argument in arguments
    ]
