"""One lamp of a running engine, held in one white after the other, and given back as it was."""

from __future__ import annotations

import asyncio
from collections.abc import Mapping
from pathlib import Path
from typing import Any, TypeVar

from onecrew.commands.command import Command
from onecrew.commands.light import Revert, SetLight, Solo, Without
from onecrew.commands.rig import PutFixture
from onecrew.engine.client import Client
from onecrew.errors import Refused, Trouble
from onecrew.fixtures.calibration_plan import Question
from onecrew.fixtures.describe import describe_lights
from onecrew.show.light import Light
from onecrew.show.profile import Profile
from onecrew.show.show import Fixture, Reading, Show
from onecrew.show.snapshot import Snapshot

T = TypeVar("T")
ARRIVE_S = 4.0
"""How long a lamp may take to come to a white: the flash guard can hold it for a second."""
HEAL_S = 5.0
_POLL_S = 0.05


class Lamp:
    """The lamp under the meter. The event loop runs only while something is asked of the engine."""

    def __init__(self, runner: asyncio.Runner, client: Client, fixture_id: str) -> None:
        self._runner = runner
        self._client = client
        self._id = fixture_id
        self._before: dict[str, Any] | None = None
        self._cue: str | None = None
        self._edited = False
        self._solo: tuple[str, ...] = ()
        self._without: tuple[str, ...] = ()
        self._told: Light | None = None

    @classmethod
    def attach(cls, runner: asyncio.Runner, show: Path, fixture_id: str) -> Lamp:
        """Attaches to the engine of a show, starting one where none runs."""
        return cls(runner, runner.run(Client.attach(show, rate_hz=4.0)), fixture_id)

    @property
    def show(self) -> Show:
        assert self._client.show is not None  # attach waits for it
        return self._client.show

    def hold(self) -> None:
        """Takes the lamp for itself: the others are dark meanwhile. Refused where that cannot be."""
        snapshot = self._snapshot()
        if way := in_the_way(snapshot, self._id):
            raise Refused(way)
        self._before = self._ask("asked")["lights"][self._id]
        self._cue, self._edited = snapshot.cue, snapshot.lights[self._id].edited
        self._solo, self._without = snapshot.solo, snapshot.without
        self._send(Without())
        self._send(Solo(fixtures=(self._id,)))

    def go(self, question: Question, fixture: Fixture, profiles: Mapping[str, Profile]) -> None:
        """Brings the lamp to a white at full, past its readings, and waits until its slots say so."""
        white = question.told
        self._told = Light(level=1.0, white=white)
        [there] = describe_lights(
            fixture, profiles, [self._told.model_copy(update={"level": self._snapshot().master})]
        )
        sending = SetLight(
            fixtures=(self._id,), level=1.0, cct_k=white.cct_k, duv=white.duv, effect="none", passing=True
        )
        self._runner.run(self._arrive(sending, there.slots))

    def disturbed(self) -> str:
        """Says what happened to the lamp since it was sent to its white; empty if nothing did."""
        asked = self._asked(self._ask("asked"))
        snapshot = self._snapshot()
        if asked != self._told:
            return "something else changed the lamp meanwhile"
        if snapshot.solo != (self._id,):
            return "the other lamps were lit meanwhile"
        return in_the_way(snapshot, self._id)

    def store(self, readings: tuple[Reading, ...]) -> None:
        """Puts readings in the place of those that the fixture has; nothing else of it changes."""
        show = Show.model_validate(self._ask("show")["show"])
        fixture = show.fixture(self._id)
        if fixture is None:
            raise Refused(f"{self._id} was removed from the rig meanwhile")
        self._send(PutFixture(fixture=fixture.model_copy(update={"calibration": readings})))

    def give_back(self) -> None:
        """Returns the lamp to what it showed, or to what a cue that ran meanwhile wants of it."""
        if self._before is None:
            return
        if self._told is not None:
            self._runner.run(self._return(Light.model_validate(self._before)))
        self._send(Solo(fixtures=self._solo))
        self._send(Without(fixtures=self._without))
        self._before = None

    def close(self) -> None:
        self._runner.run(self._client.close())

    # ── inside ──────────────────────────────────────────────────────────────────────────────────

    async def _return(self, before: Light) -> None:
        snapshot = self._client.snapshot
        cue = snapshot.cue if snapshot is not None else None
        if cue is not None and (cue != self._cue or not self._edited):
            await self._steadily(Revert(fixtures=(self._id,), passing=True))
            return
        fields: dict[str, Any] = {"level": before.level, "effect": before.effect or "none"}
        if before.white is not None:
            fields |= {"cct_k": before.white.cct_k, "duv": before.white.duv}
        elif before.xy is not None:
            fields["xy"] = before.xy
        await self._steadily(SetLight(fixtures=(self._id,), passing=True, **fields))

    async def _arrive(self, sending: SetLight, slots: tuple[int, ...]) -> None:
        """Sends the lamp and waits for its slots; sends it again where something else moves it on the way."""
        deadline = asyncio.get_running_loop().time() + ARRIVE_S
        await self._steadily(Solo(fixtures=(self._id,)))  # a cue that ran meanwhile has ended it
        await self._steadily(sending)
        while self._snapshot().lights[self._id].slots != slots or self._snapshot().solo != (self._id,):
            if asyncio.get_running_loop().time() > deadline:
                raise Trouble(f"{self._id} does not reach its white: something else is changing it")
            await asyncio.sleep(_POLL_S)
            if way := in_the_way(self._snapshot(), self._id):
                raise Refused(way)
            if self._asked(await self._client.ask("asked")) != self._told:
                await self._steadily(Solo(fixtures=(self._id,)))
                await self._steadily(sending)

    def _asked(self, answer: dict[str, Any]) -> Light:
        """What the engine says is asked of the lamp; dark if it is not in the rig any more."""
        return Light.model_validate(answer["lights"].get(self._id, {"level": 0.0}))

    async def _steadily(self, command: Command) -> None:
        """Sends a command, once more if the engine had to be started again meanwhile."""
        try:
            await self._client.send(command)
        except Trouble as trouble:
            for _ in range(int(HEAL_S / _POLL_S)):
                if self._client.attached:
                    break
                await asyncio.sleep(_POLL_S)
            else:
                raise trouble
            await self._client.send(command)

    def _send(self, command: Command) -> None:
        self._runner.run(self._steadily(command))

    def _ask(self, topic: str) -> dict[str, Any]:
        return self._runner.run(self._client.ask(topic))

    def _snapshot(self) -> Snapshot:
        assert self._client.snapshot is not None  # attach waits for it
        return self._client.snapshot


def in_the_way(snapshot: Snapshot, fixture_id: str) -> str:
    """Why a lamp cannot be read now, with the fix; empty if it can."""
    reasons = (
        (snapshot.locked, "the desk is locked; unlock it first: onecrew send lock off"),
        (snapshot.blackout, "everything is blacked out; come back first: onecrew send blackout off"),
        (snapshot.held, "the show is held; release it first: onecrew send hold off"),
        (snapshot.comparing, "a comparison is showing; end it first: onecrew send compare off"),
        (snapshot.master == 0.0, "the master is at 0; raise it first: onecrew send master full"),
        (
            fixture_id in snapshot.identify,
            "the lamp is identifying itself; end that first: send identify off",
        ),
        (snapshot.take is not None and snapshot.take.running, "a take is running; end it first"),
    )
    return next((sentence for is_so, sentence in reasons if is_so), "")
