"""``onecrew match --page``: the page in the browser, with the lamps and the show behind it."""

from __future__ import annotations

import asyncio
import dataclasses
import sys
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path

from onecrew.cli.exits import DONE, endings_are_interrupts
from onecrew.cli.match_page_server import MatchPage, Present
from onecrew.cli.match_store import now_shown, store_match
from onecrew.cli.reach import running_shows
from onecrew.commands.light import SetLight
from onecrew.engine.client import Client
from onecrew.errors import Refused
from onecrew.show.snapshot import LightState
from onecrew.stills.kit import LampOutput
from onecrew.stills.regions import Region
from onecrew.stills.result import Match, RegionResult
from onecrew.stills.run import Run
from onecrew.stills.stack import Plate


def serve(
    path: Path,
    stills: Run,
    reference: Plate,
    regions: tuple[Region, ...],
    found: Match,
    solve: Callable[[tuple[Region, ...]], Match],
) -> int:
    """Serves the page until Ctrl-C."""

    async def until_ended() -> None:
        client = await Client.attach(path, start=False) if path in running_shows() else None
        attaching = asyncio.Lock()  # two windows of the page may be the first to send

        async def send(lamp: str, level: float, mired: float | None) -> None:
            nonlocal client
            async with attaching:
                if client is None and path not in running_shows():
                    raise Refused(f"no engine runs for this show; `onecrew open {path.name}` starts one")
                client = client or await Client.attach(path, start=False)
            cct_k = None if mired is None else 1e6 / mired
            await client.send(SetLight(fixtures=(lamp,), level=level, cct_k=cct_k, effect="none"))

        async def store(
            number: str,
            leaving: Mapping[str, tuple[LampOutput, float | None]],
            exposure: float,
            results: Sequence[RegionResult],
            said_of_it: str,
        ) -> str:
            lights = None if client is None or client.snapshot is None else client.snapshot.lights
            return await asyncio.to_thread(
                _store, path, page.found, number, leaving, exposure, results,
                stills=stills, reference=reference.name, lights=lights, said_of_it=said_of_it,
            )  # fmt: skip

        page = MatchPage(
            stills, reference, regions, found, solve, send, store, lambda: _present(client, stills)
        )
        try:
            print(f"open {await page.open()}", flush=True)
            print("Ctrl-C closes the page; the lamps stay as they are", file=sys.stderr, flush=True)
            await asyncio.Event().wait()
        finally:
            await page.close()
            if client is not None:
                await client.close()

    with endings_are_interrupts():
        try:
            asyncio.run(until_ended())
        except KeyboardInterrupt:
            return DONE
    return DONE


def _present(client: Client | None, stills: Run) -> Present | None:
    """What the lamps give now, for the picture of it; None where no engine says so."""
    if client is None or not client.attached or client.snapshot is None:
        return None
    lights = client.snapshot.lights
    return {
        shown.lamp.id: {
            "output": lights[shown.lamp.id].output if shown.lamp.id in lights else 0.0,
            "mired": _mired(lights, shown.lamp.id),
        }
        for shown in stills.lamps
    }


def _mired(lights: Mapping[str, object], name: str) -> float | None:
    white = getattr(lights.get(name), "white", None)
    return None if white is None else 1e6 / float(white.cct_k)


def _store(
    path: Path,
    found: Match,
    said: str,
    leaving: Mapping[str, tuple[LampOutput, float | None]],
    exposure: float,
    results: Sequence[RegionResult],
    *,
    stills: Run,
    reference: str,
    lights: Mapping[str, LightState] | None,
    said_of_it: str,
) -> str:
    """Stores what the sliders give, in place of the cue of which that was said, if anything."""
    lamps = tuple(
        dataclasses.replace(
            lamp,
            level=leaving[lamp.id][0].level,
            output=leaving[lamp.id][0].output,
            asked_cct_k=None if (mired := leaving[lamp.id][1]) is None else 1e6 / mired,
        )
        for lamp in found.lamps
    )
    predicted = stills.predicted([one.xyz for one, _ in leaving.values()]) * 2.0**exposure
    made = dataclasses.replace(
        found,
        lamps=lamps,
        regions=tuple(results),
        exposure_stops=exposure,
        delta_e=None,
        predicted=predicted,
    )
    present = None if lights is None else now_shown(lights, stills)
    return store_match(
        path, made, said, reference, present,
        replace=bool(said_of_it), or_else=", or replace its look", said_of_it=said_of_it,
    )  # fmt: skip
