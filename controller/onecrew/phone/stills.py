"""A run of stills led from a phone: its page keeps the light, and gives it back when the phone goes."""

from __future__ import annotations

import asyncio
import contextlib
import time
from collections.abc import Awaitable, Callable
from importlib import import_module
from typing import Annotated, Any, Literal

from pydantic import Field, TypeAdapter, ValidationError

from onecrew.commands.command import Command
from onecrew.commands.stills import KEEP_EVERY_S, ShowStill
from onecrew.errors import Mistake, OnecrewError, Refused
from onecrew.show.base import Model, Seconds
from onecrew.stills.shotlist import taken_now

TICK_S = 0.2
AWAY_S = 6.0
"""How long a phone may be away, in a pocket or out of reach, before the light is given back."""
GONE = "no phone was connected, so the light was given back; Taken takes it up again"


class Press(Model):
    """What a phone asks of the run."""

    kind: Literal["stills"]
    key: Literal["start", "next", "again", "less", "back", "skip", "stop"]
    one_white: bool = False
    seconds: Annotated[Seconds, Field(le=600.0)] = 0.0
    """Of the countdown for each; 0: the phone says when a still is taken."""


_PRESS = TypeAdapter(Press)


class PhoneStills:
    """The run of one page, if there is one. It needs a running loop."""

    def __init__(
        self,
        carry_out: Callable[[Command], Awaitable[None]],
        ask: Callable[..., Awaitable[dict[str, Any]]],
        tell: Callable[[dict[str, Any]], None],
        connected: Callable[[], bool],
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        """``tell`` takes what phones see of it; ``connected`` says whether there is one."""
        self._carry_out, self._ask, self._tell, self._connected = carry_out, ask, tell, connected
        self._clock = clock
        self._run: Any = None
        """A ``Guided``, which needs the extra that reads pictures and is loaded when it is wanted."""
        self._shown: ShowStill | None = None
        self._asked_at = self._seen_at = 0.0
        self._ticking: asyncio.Task[None] | None = None
        self._result = ""

    async def receive(self, raw: object) -> None:
        """Do what a phone asks; raises ``OnecrewError`` where that cannot be."""
        try:
            press = _PRESS.validate_python(raw)
        except ValidationError:
            raise Mistake("a run of stills has start, next, again, less, back, skip and stop") from None
        self._seen_at = self._clock()
        if press.key == "start":
            await self._start(press)
        elif self._run is None:
            raise Mistake("no run of stills is going on; start one")
        else:
            self._run = self._run.pressed(press.key, self._clock(), taken_now())
            await self._follow()

    async def close(self) -> None:
        """End the run, and give the light back."""
        if self._ticking is not None:
            self._ticking.cancel()
            with contextlib.suppress(OnecrewError):
                await self._show(None)

    # ── inside ──────────────────────────────────────────────────────────────────────────────────

    async def _start(self, press: Press) -> None:
        if self._run is not None:
            raise Refused("a run of stills goes on already")
        answer = await self._ask("stills", one_white=press.one_white)
        shots = import_module("onecrew.stills.shotlist").shot_list(answer).shots
        guided = import_module("onecrew.stills.guided").guided
        run = guided(shots, self._clock(), press.seconds or None)
        self._shown, self._result = None, ""
        await self._show(run.light)
        self._run = run
        self._ticking = asyncio.get_running_loop().create_task(self._tick())
        self._say()

    async def _tick(self) -> None:
        while self._run is not None:
            await asyncio.sleep(TICK_S)
            if self._run is None:  # a key ended it meanwhile
                return
            now = self._clock()
            if self._connected():
                self._seen_at = now
            elif self._run.light is not None and now > self._seen_at + AWAY_S:
                self._run = self._run.halted(GONE)
            self._run = self._run.passed(now, taken_now())
            with contextlib.suppress(OnecrewError):
                await self._follow()

    async def _follow(self) -> None:
        """Show what the run wants; raises what is refused, with the run paused."""
        run = self._run
        if run is None:
            return
        if run.over:
            await self._finish(run)
            return
        try:
            await self._show(run.light, anew=run.since > self._asked_at)
        except Refused as refused:
            self._run = run.halted(str(refused))
            self._shown = None
            raise
        finally:
            self._say()

    async def _show(self, light: ShowStill | None, *, anew: bool = False) -> None:
        now = self._clock()
        if light is None:
            if self._shown is not None:
                self._shown = None
                await self._carry_out(ShowStill(off=True))
        elif anew or light != self._shown:
            self._asked_at = now
            await self._carry_out(light)
            self._shown = light
        elif now >= self._asked_at + KEEP_EVERY_S:
            self._asked_at = now
            await self._carry_out(light.model_copy(update={"again": True}))

    async def _finish(self, run: Any) -> None:
        self._run = None
        taken = run.result
        self._result = "No still was taken; the light is as it was."
        try:
            await self._show(None)
            if taken:
                as_entry = import_module("onecrew.stills.guided").as_entry
                kept = await self._ask("keep-stills", stills=[as_entry(shot, at) for shot, at in taken])
                self._result = f"{len(taken)} stills are taken, listed in {kept['file']} beside the show."
        finally:
            self._say()

    def _say(self) -> None:
        run, now = self._run, self._clock()
        if run is None:
            self._tell({"result": self._result})
            return
        shot = run.shots[run.at]
        self._tell(
            {
                "at": run.at + 1,
                "of": len(run.shots),
                "lamp": shot.lamp or "every lamp out",
                "words": run.words.partition(": ")[2],
                "phase": run.phase(now).value,
                "left_s": None if run.wait_s is None else -int(-run.left_s(now) // 1),
                "trouble": run.paused or run.remark,
                "paused": bool(run.paused),
            }
        )
