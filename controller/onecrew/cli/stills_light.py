"""Loan: the light of some lamps, lent to a run of stills by a running engine, and given back as it was.

What has to be given back is written down, as JSON, before anything changes: a second process that holds it
gives the light back when the first one is killed.
"""

from __future__ import annotations

import asyncio
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from onecrew.cli.calibrate_lamp import in_the_way
from onecrew.commands.command import Command
from onecrew.commands.light import Revert, SetLight, Solo, Without
from onecrew.engine.client import Client
from onecrew.errors import Refused, Trouble
from onecrew.fixtures.describe import describe_lights
from onecrew.show.light import Light, White
from onecrew.show.profiles import ProfileShelf
from onecrew.show.show import Fixture
from onecrew.show.snapshot import LightState
from onecrew.stills.shotlist import Shot

ARRIVE_S = 5.0
"""How long lamps may take to come there: the flash guard can hold one for a second."""
HEAL_S = 8.0
_POLL_S = 0.05


@dataclass(slots=True)
class Loan:
    """Lamps on loan. Everything here runs inside one event loop."""

    client: Client
    fixtures: tuple[Fixture, ...]
    profiles: ProfileShelf
    before: dict[str, Any] = field(default_factory=dict)

    async def take(self) -> dict[str, Any]:
        """Return what is to be given back; raises ``Refused`` where the light cannot be lent now."""
        snapshot = self.client.snapshot
        assert snapshot is not None  # attach waits for it
        if way := in_the_way(snapshot, ""):
            raise Refused(way)
        lights = (await self.client.ask("asked"))["lights"]
        names = [fixture.id for fixture in self.fixtures]
        self.before = {
            "show": str(self.client.show_path),
            "lights": {name: lights[name] for name in names},
            "cue": snapshot.cue,
            "edited": {name: snapshot.lights[name].edited for name in names},
            "solo": list(snapshot.solo),
            "without": list(snapshot.without),
        }
        return self.before

    async def show(self, shot: Shot, level: float) -> None:
        """Bring one lamp up alone, or all out, and wait until the slots say so."""
        snapshot = self.client.snapshot
        assert snapshot is not None
        if way := in_the_way(snapshot, ""):
            raise Refused(way)
        fixture = next((one for one in self.fixtures if one.id == shot.lamp), self.fixtures[0])
        white = None if shot.cct_k is None or shot.lamp is None else White(cct_k=shot.cct_k, duv=shot.duv)
        light = Light(level=0.0 if shot.lamp is None else level, white=white)
        await steadily(self.client, Without())
        await steadily(self.client, Solo(fixtures=(fixture.id,)))
        command = SetLight(
            fixtures=(fixture.id,),
            level=light.level,
            cct_k=None if white is None else white.cct_k,
            duv=None if white is None else white.duv,
            effect="none",
            passing=True,
        )
        await steadily(self.client, command)
        await self._arrive(fixture, light)

    async def _arrive(self, fixture: Fixture, light: Light) -> None:
        deadline = asyncio.get_running_loop().time() + ARRIVE_S
        while True:
            snapshot = self.client.snapshot
            assert snapshot is not None
            lights = snapshot.lights
            alone = all(state.level == 0.0 for name, state in lights.items() if name != fixture.id)
            if alone and self._is_there(fixture, light, lights[fixture.id], snapshot.master):
                return
            if asyncio.get_running_loop().time() > deadline:
                raise Trouble(f"{fixture.id} does not come to its light: something else is changing it")
            await asyncio.sleep(_POLL_S)

    def _is_there(self, fixture: Fixture, light: Light, state: LightState, master: float) -> bool:
        if light.level == 0.0:
            return state.level == 0.0
        asked = light.model_copy(update={"level": light.level * master})
        [there] = describe_lights(fixture, self.profiles, [asked])
        return state.slots == there.slots


async def give_back(client: Client, before: dict[str, Any]) -> None:
    """Return every lamp to what it showed, or to what a cue that ran meanwhile wants of it."""
    snapshot = client.snapshot
    cue = None if snapshot is None else snapshot.cue
    for name, light in before["lights"].items():
        if snapshot is not None and name not in snapshot.lights:
            continue  # it was taken out of the rig meanwhile
        if cue is not None and (cue != before["cue"] or not before["edited"][name]):
            await steadily(client, Revert(fixtures=(name,), passing=True))
        else:
            await steadily(client, _as_it_was(name, Light.model_validate(light)))
    await steadily(client, Solo(fixtures=tuple(before["solo"])))
    await steadily(client, Without(fixtures=tuple(before["without"])))


def _as_it_was(name: str, light: Light) -> SetLight:
    fields: dict[str, Any] = {"level": light.level, "effect": light.effect or "none"}
    if light.white is not None:
        fields |= {"cct_k": light.white.cct_k, "duv": light.white.duv}
    elif light.xy is not None:
        fields["xy"] = light.xy
    return SetLight(fixtures=(name,), passing=True, **fields)


async def steadily(client: Client, command: Command) -> None:
    """Send a command, once more if the engine had to be started again meanwhile."""
    try:
        await client.send(command)
    except Trouble as trouble:
        for _ in range(int(HEAL_S / _POLL_S)):
            if client.attached:
                break
            await asyncio.sleep(_POLL_S)
        else:
            raise trouble
        await client.send(command)


async def give_back_from_outside(show: Path, before: dict[str, Any]) -> None:
    """Attach to the engine that runs a show and give the light back; nothing where none runs."""
    try:
        client = await Client.attach(show, start=False)
    except Trouble:
        return
    try:
        await give_back(client, before)
    finally:
        await client.close()
