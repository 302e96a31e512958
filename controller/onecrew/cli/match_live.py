"""``onecrew match --page``: the page in the browser, with the lamps and the show behind it."""

from __future__ import annotations

import asyncio
import sys
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from onecrew.cli.document import carry_out, current_show
from onecrew.cli.exits import DONE, endings_are_interrupts
from onecrew.cli.match_page_server import MatchPage
from onecrew.cli.reach import running_shows
from onecrew.commands.cues import PutCue
from onecrew.commands.light import SetLight
from onecrew.engine.client import Client
from onecrew.errors import Refused
from onecrew.language.names import cue_number
from onecrew.stills.cue import cue_of
from onecrew.stills.kit import Leaves
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

        async def send(lamp: str, level: float, mired: float | None) -> None:
            if client is None:
                raise Refused(f"no engine runs for this show; `onecrew open {path.name}` starts one")
            cct_k = None if mired is None else 1e6 / mired
            await client.send(SetLight(fixtures=(lamp,), level=level, cct_k=cct_k, effect="none"))

        async def store(
            number: str,
            leaving: Mapping[str, tuple[Leaves, float | None]],
            exposure: float,
            results: Sequence[RegionResult],
        ) -> str:
            return await asyncio.to_thread(_store, path, page.found, number, leaving, exposure, results)

        page = MatchPage(
            stills, reference, regions, found, solve, send, store, present=_present(client, stills)
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


def _present(client: Client | None, stills: Run) -> dict[str, dict[str, float | None]] | None:
    """What the lamps give now, for the picture of it; None where no engine says so."""
    if client is None or client.snapshot is None:
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
    leaving: Mapping[str, tuple[Leaves, float | None]],
    exposure: float,
    results: Sequence[RegionResult],
) -> str:
    show = current_show(path)
    number = cue_number(said.strip(), show, "store")
    lamps = tuple(
        replace(
            lamp,
            level=leaving[lamp.id][0].level,
            output=leaving[lamp.id][0].output,
            asked_cct_k=None if (mired := leaving[lamp.id][1]) is None else 1e6 / mired,
        )
        for lamp in found.lamps
    )
    made = replace(found, lamps=lamps, regions=tuple(results), exposure_stops=exposure, delta_e=None)
    return f"stored as cue {number} {carry_out(path, [PutCue(cue=cue_of(show, made, number))])}"
