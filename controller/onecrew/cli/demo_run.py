"""The demo without screens: every cue once with its real fade, and what the room saw beside what it says."""

from __future__ import annotations

import asyncio
import time
from collections.abc import Mapping, Sequence
from pathlib import Path

from onecrew.cli.demo_compare import Verdict, allowed, steady, swaying
from onecrew.cli.demo_room import DemoRoom, RoomReading
from onecrew.cli.exits import DONE, FAILED
from onecrew.cli.looks import frames_of_cues
from onecrew.cli.parts import table
from onecrew.commands.running import Go
from onecrew.engine.client import Client
from onecrew.errors import Trouble
from onecrew.fixtures.decoder import Seen
from onecrew.fixtures.encoder import Encoder
from onecrew.fixtures.report import FixtureReport
from onecrew.show.light import Light
from onecrew.show.profile import Profile
from onecrew.show.show import Cue, Show

STARTING_S = 15.0
SETTLE_S = 0.3
"""After a fade: time for the last packet to arrive and be looked at."""
SWAY_S = 1.0
SWAY_EVERY_S = 0.05
ALLOWED = "what rounding to slots can do: half a step on every channel of a lamp, all at their worst"
LATE_S = 3.0
"""Longest that a fade may outlast its time."""


def run_cues(path: Path, show: Show, profiles: Mapping[str, Profile], room: DemoRoom) -> int:
    """Runs the cues; returns ``DONE`` if every lamp was seen as the cues say, else ``FAILED``."""
    return asyncio.run(_run(path, show, profiles, room))


async def _run(path: Path, show: Show, profiles: Mapping[str, Profile], room: DemoRoom) -> int:
    lamps, cues = len(show.rig.fixtures), len(show.cues)
    print(f"{show.name}: {lamps} lamps, {cues} cues, sACN to 127.0.0.1:{room.port}", flush=True)
    client = await Client.attach(path, start=True, timeout_s=STARTING_S)
    verdicts: list[Verdict] = []
    try:
        encoder = Encoder(show.rig.fixtures, profiles)
        for cue, frame in frames_of_cues(show, profiles):
            await client.send(Go())
            await _finished(client, cue)
            readings = await _watched(room, cue)
            asked = encoder.report(frame, show.camera.white_balance_k)
            found = compared(show, profiles, cue, asked, readings)
            _print(cue, asked, readings, found)
            verdicts += found
    finally:
        await client.close()
    return _sum_up(verdicts, room.reading())


async def _finished(client: Client, cue: Cue) -> None:
    """Waits for the cue's delay and fade, and until the engine says that nothing fades any more."""
    fade_s = cue.delay_s + max(cue.fade.in_s, cue.fade.out_s)
    await asyncio.sleep(fade_s)
    deadline = time.monotonic() + LATE_S
    while time.monotonic() < deadline:
        state = client.snapshot
        if state is not None and state.cue == cue.number and state.fade is None:
            await asyncio.sleep(SETTLE_S)
            return
        await asyncio.sleep(0.02)
    raise Trouble(
        f"cue {cue.number} was not done {fade_s + LATE_S:g} s after go, its fade takes {fade_s:g} s"
    )


async def _watched(room: DemoRoom, cue: Cue) -> list[RoomReading]:
    """One look at the room, or many where an effect runs."""
    readings = [room.reading()]
    if any(light.effect is not None for light in cue.look.values()):
        until = time.monotonic() + SWAY_S
        while time.monotonic() < until:
            await asyncio.sleep(SWAY_EVERY_S)
            readings.append(room.reading())
    return readings


def compared(
    show: Show,
    profiles: Mapping[str, Profile],
    cue: Cue,
    asked: Sequence[FixtureReport],
    readings: Sequence[RoomReading],
) -> list[Verdict]:
    """A verdict for each lamp in rig order."""
    verdicts = []
    for index, fixture in enumerate(show.rig.fixtures):
        effect = cue.look.get(fixture.id, Light(level=0.0)).effect
        may = allowed(fixture, profiles, readings[-1].slots)
        if effect is None:
            verdicts.append(steady(asked[index], readings[-1].lamps[index], may))
        else:
            lamp = [reading.lamps[index] for reading in readings]
            verdicts.append(swaying(asked[index], lamp, may, effect, cue.flash_guard))
    return verdicts


def _print(
    cue: Cue, asked: Sequence[FixtureReport], readings: Sequence[RoomReading], verdicts: Sequence[Verdict]
) -> None:
    print(f"\ncue {cue.number}  {cue.name}  (in {cue.fade.in_s:g} s, out {cue.fade.out_s:g} s)", flush=True)
    rows = [["lamp", "asked", "", "seen", "", ""]]
    for index, (report, verdict) in enumerate(zip(asked, verdicts, strict=True)):
        lamp = [reading.lamps[index] for reading in readings]
        named = cue.look.get(report.id)
        as_white = named is None or named.xy is None
        rows.append(
            [
                report.id,
                f"{100 * report.level:.2f} %",
                _asked_colour(report, named),
                _levels(lamp),
                _seen_colour(lamp[-1], as_white),
                verdict.words,
            ]
        )
    print("\n".join(table(rows, right=frozenset({1, 3}), indent="  ")), flush=True)


def _asked_colour(report: FixtureReport, light: Light | None) -> str:
    if light is None or light.level == 0.0:
        return ""
    if light.white is not None:
        return f"{light.white.cct_k:.0f} K {light.white.duv:+.4f}"
    x, y = light.xy if light.xy is not None else report.xy
    return f"x {x:.4f} y {y:.4f}"


def _levels(lamp: Sequence[Seen]) -> str:
    low, high = min(seen.level for seen in lamp), max(seen.level for seen in lamp)
    return f"{100 * high:.2f} %" if low == high else f"{100 * low:.2f}–{100 * high:.2f} %"


def _seen_colour(seen: Seen, as_white: bool) -> str:
    if seen.output == 0.0:
        return ""
    if as_white and seen.cct_k is not None and seen.duv is not None:
        return f"{seen.cct_k:.0f} K {seen.duv:+.4f}"
    return f"x {seen.xy[0]:.4f} y {seen.xy[1]:.4f}"


def _sum_up(verdicts: Sequence[Verdict], reading: RoomReading) -> int:
    off = sum(not verdict.ok for verdict in verdicts)
    print(f"\nAllowed is {ALLOWED}.")
    print(f"{len(verdicts)} lights compared, {off} not as their cue says, {reading.bad} bad packets")
    return DONE if verdicts and not off and not reading.bad else FAILED
