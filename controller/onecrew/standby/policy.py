"""Standby: one engine follows another over the network and sends the same looks at a lower priority.

Receivers show the highest priority they hear, so they show the main engine's packets, and the standby's when
the main engine has been silent for 2.5 s (E1.31-2018 §6.2.3, §6.7.1). Nobody has to decide anything, and no
light moves. What a standby sends depends on its part:

===========  ===============================  =========================================================
part         sends at                         light
===========  ===============================  =========================================================
following    the show's priority less 10      the main engine's, in step
alone        the show's priority less 10      goes on by itself, auto-follows included; takes no commands
in control    the show's priority and 10       its own: it takes commands, and the main engine is not heard
===========  ===============================  =========================================================

It is put in control by a command, never by itself. Art-Net and synchronisation know no priority, so a standby
sends neither until it is in control.
"""

from __future__ import annotations

import asyncio
import logging
import secrets
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol

from onecrew.commands.models import AnyCommand, Note, Stop, TakeOver
from onecrew.engine.desk import Desk
from onecrew.engine.live import LiveFile
from onecrew.errors import Mistake, OnecrewError, Refused, Trouble
from onecrew.playback.codec import from_json, shift, to_json
from onecrew.playback.state import Playback
from onecrew.show.destination import parse_destination
from onecrew.show.listener import parse_listener
from onecrew.show.load import parse_show
from onecrew.show.profile import Profile
from onecrew.show.show import Show

if TYPE_CHECKING:
    from onecrew.standby.feed import Feed
    from onecrew.standby.follow import Follow

log = logging.getLogger(__name__)

BELOW = 10
"""Steps of priority that a standby stays below the main engine, and rises above it when it is in control."""
PORT = 9056
"""Where a main engine is called if no port is named; ours, none is registered for this."""
LOWEST, HIGHEST = 0, 200  # E1.31-2018 §6.2.3
SHORTEST_SECRET = 16


@dataclass(frozen=True, slots=True)
class Plan:
    """What an engine was started as: one that feeds standbys at an address, or one that follows another."""

    secret: bytes
    feed: tuple[str, int] | None = None
    follow: tuple[str, int] | None = None


READY_AFTER_S = 0.1
"""The first frame of what is followed has left by then."""


class Engine(Protocol):
    """What is asked of the engine."""

    desk: Desk

    def adopt(self, show: Show, profiles: Mapping[str, Profile]) -> None: ...
    def play(self, playback: Playback) -> None: ...
    def rewire(self) -> None: ...
    def stop(self, fade_s: float = ...) -> None: ...


class Standby:
    """An engine's part in a pair. Without a plan it has none, and nothing here does anything."""

    def __init__(
        self,
        plan: Plan | None,
        live: LiveFile,
        engine: Engine,
        say: Callable[[str], None],
        clock: Callable[[], float],
    ) -> None:
        self.follows = plan is not None and plan.follow is not None
        """Whether this engine was started as the standby of another."""
        self._plan = plan
        self._live = live
        self._engine = engine
        self._say = say
        self._clock = clock
        self._feed: Feed | None = None
        self._follow: Follow | None = None
        self._following: asyncio.Task[None] | None = None
        self._heard: dict[str, Any] | None = None
        """The show of the main engine as it was told last."""
        self._ready: Callable[[], None] | None = None
        self._told: Playback | None = None
        self._adopted = False
        """What the main engine plays is what plays here."""

    # ── what the engine asks ────────────────────────────────────────────────────────────────────

    def wire(self, show: Show) -> Show:
        """The show with the outputs as this engine may send them."""
        if not self.follows:
            return show
        sacn = show.output.sacn
        if self._live.in_charge:
            changed: dict[str, Any] = {"priority": min(HIGHEST, sacn.priority + BELOW)}
        else:
            changed = {"priority": max(LOWEST, sacn.priority - BELOW), "sync_universe": None}
        output = show.output.model_copy(update={"sacn": sacn.model_copy(update=changed)})
        return show.model_copy(update={"output": output})

    @property
    def artnet(self) -> bool:
        """Whether this engine may send Art-Net."""
        return not self.follows or self._live.in_charge

    def before(self, command: AnyCommand) -> None:
        """Raises ``Refused`` where a command has no place: a standby that is not in control takes none."""
        if self._plan is None or self._plan.follow is None:
            if isinstance(command, TakeOver):
                raise Refused("this engine stands by for no other, so there is nothing to take over")
        elif not self._live.in_charge and not isinstance(command, Note | Stop | TakeOver):
            raise Refused(
                f"this engine stands by for {_written(self._plan.follow)} and does as that one does: "
                "`onecrew send takeover` puts it in control"
            )

    def take_over(self, command: TakeOver) -> None:
        """Puts this engine in control, or has it follow again."""
        on = not self._live.in_charge if command.on is None else command.on
        if on == self._live.in_charge:
            return
        self._live.in_charge = on
        self._engine.rewire()
        if on:
            self._say("this engine is in control now: it takes commands, and receivers show its light")
            return
        self._say("this engine stands by again")
        if self._follow is not None and self._heard is not None:
            self._hear_show(self._heard)
            self._follow.again()

    def kept(self, playback: Playback) -> None:
        """This plays now: followers are told if it is something new."""
        if playback is not self._told:
            self._told = playback
            if self._feed is not None and self._feed.followers:
                self._feed.tell(self._playback())

    def kept_show(self) -> None:
        """The show has changed: followers are told."""
        if self._feed is not None and self._feed.followers:
            self._feed.tell(self._show())

    def state(self) -> dict[str, Any] | None:
        """What a snapshot says of it; None for an engine without a part."""
        if self._feed is not None:
            followers = self._feed.followers
            return {
                "part": "main",
                "others": [follower.address for follower in followers],
                "taken_over": any(follower.in_charge for follower in followers),
                "error": self._feed.error,
            }
        if self._follow is not None and self._plan is not None and self._plan.follow is not None:
            part = "following" if self._follow.linked else "alone"
            return {
                "part": "in control" if self._live.in_charge else part,
                "others": [_written(self._plan.follow)],
                "error": self._follow.error,
            }
        return None

    # ── its life ────────────────────────────────────────────────────────────────────────────────

    async def open(self, ready: Callable[[], None]) -> None:
        """Begins to feed or to follow; ``ready`` is called when what is followed has been sent."""
        self._ready = ready
        plan = self._plan
        if plan is not None and plan.feed is not None:
            from onecrew.standby.feed import Feed

            self._feed = Feed(
                plan.feed, plan.secret, latest=self._latest, changed=self._say, clock=self._clock
            )
            await self._feed.open()
        if plan is not None and plan.follow is not None:
            from onecrew.standby.follow import Follow, Hears

            self._follow = Follow(
                plan.follow,
                plan.secret,
                Hears(self._hear_show, self._hear_playback, self._main_ended, self._say),
                clock=self._clock,
                in_charge=lambda: self._live.in_charge,
            )
            self._following = asyncio.create_task(self._follow.run())

    @property
    def followed(self) -> bool:
        """Whether somebody follows this engine."""
        return self._feed is not None and bool(self._feed.followers)

    def close(self, *, handed_over: bool) -> None:
        """The engine ends in good order, and with it those that follow it, or they go on in its place."""
        self._live.in_charge = False
        if self._feed is not None:
            self._feed.close(ended=not handed_over)
        if self._following is not None:
            self._following.cancel()

    # ── what followers are told ─────────────────────────────────────────────────────────────────

    def _latest(self) -> list[dict[str, Any]]:
        return [self._show(), self._playback()]

    def _show(self) -> dict[str, Any]:
        desk = self._engine.desk
        used = dict.fromkeys(fixture.profile for fixture in desk.show.rig.fixtures)
        profiles = {name: desk.profiles[name].model_dump(mode="json", exclude_none=True) for name in used}
        return {"show": desk.show.model_dump_json(), "profiles": profiles}

    def _playback(self) -> dict[str, Any]:
        return {"playback": to_json(self._engine.desk.playback)}

    # ── what the main engine tells ──────────────────────────────────────────────────────────────

    def _hear_show(self, message: dict[str, Any]) -> None:
        self._heard, self._adopted = message, False
        if self._live.in_charge:
            return
        given = {name: Profile.model_validate(data) for name, data in message["profiles"].items()}
        profiles = {**self._engine.desk.profiles, **given}
        try:
            show = parse_show(message["show"], "the show of the main engine", profiles)
        except OnecrewError as error:
            log.error("%s", error)
            self._say("the show of the main engine cannot be used here; this engine's log says why")
            return
        self._engine.adopt(show, profiles)
        self._adopted = True

    def _hear_playback(self, data: dict[str, Any], ahead_s: float) -> None:
        if self._live.in_charge or not self._adopted:
            return
        playback = from_json(data, self._engine.desk.compiled)
        self._engine.play(shift(playback, -ahead_s, remembering=True))
        if self._ready is not None:
            asyncio.get_running_loop().call_later(READY_AFTER_S, self._ready)
            self._ready = None

    def _main_ended(self) -> None:
        if self._live.in_charge:
            self._say("the main engine was ended; this one stays in control")
        else:
            self._engine.stop(0.0)


def read_plan(options: Sequence[str]) -> Plan | None:
    """The plan in an engine's options: ``--feed ADDRESS`` or ``--standby ADDRESS``, and ``--secret FILE``.

    None without either. Raises ``OnecrewError`` with a sentence where they make no sense.
    """
    given = dict(zip(options[::2], options[1::2], strict=False))
    feed, follow = given.get("--feed"), given.get("--standby")
    if feed is None and follow is None:
        return None
    try:
        listen = None if feed is None else parse_listener(feed)
        main = None if follow is None else parse_destination(follow, PORT)
    except ValueError as error:
        raise Mistake(str(error)) from None
    return Plan(read_secret(Path(given["--secret"]), make=feed is not None), listen, main)


def read_secret(path: Path, *, make: bool) -> bytes:
    """The secret in a file; with ``make``, a new one in a new file if there is none.

    Raises ``Trouble`` where it cannot be read or is too short to be one.
    """
    try:
        if make and not path.exists():
            path.touch(mode=0o600, exist_ok=False)
            path.write_text(secrets.token_urlsafe(32) + "\n", encoding="ascii")
        secret = path.read_bytes().strip()
    except OSError as error:
        raise Trouble(
            f"the secret in {path} cannot be read ({error.strerror}): copy the main engine's file there"
        ) from error
    if len(secret) < SHORTEST_SECRET:
        raise Trouble(f"the secret in {path} is too short: delete the file, and the main engine makes one")
    return secret


def _written(address: tuple[str, int]) -> str:
    host, port = address
    return f"[{host}]:{port}" if ":" in host else f"{host}:{port}"
