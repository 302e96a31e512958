"""Standby: one engine follows another over the network and sends the same looks at a lower priority. Pure.

Receivers show the highest priority they hear, so they show the main engine's packets, and the standby's when
the main engine has been silent for 2.5 s (E1.31-2018 §6.2.3, §6.7.1). Nobody has to decide anything, and no
light moves. What a standby sends depends on its part:

===========  ===============================  =========================================================
part         sends at                         light
===========  ===============================  =========================================================
following    the show's priority less 10      the main engine's, in step
alone        the show's priority less 10      goes on by itself, auto-follows included; takes no commands
in control   the show's priority and 10       its own: it takes commands, and the main engine is not heard
===========  ===============================  =========================================================

It is put in control by a command, never by itself. Art-Net and synchronisation know no priority, so a standby
sends neither until it is in control.

What is to be done about anything heard is returned as decisions; the engine carries them out.
"""

from __future__ import annotations

import logging
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from onecrew.commands.command import Command
from onecrew.commands.session import Stop, TakeOver
from onecrew.commands.takes import Note
from onecrew.errors import OnecrewError, Refused
from onecrew.show.destination import PRIORITY_MAX
from onecrew.show.load import parse_show
from onecrew.show.profile import Profile
from onecrew.show.show import Show
from onecrew.standby.options import Options

log = logging.getLogger(__name__)

BELOW = 10
"""Steps of priority that a standby stays below the main engine, and rises above it when it is in control."""
LOWEST = 0  # E1.31-2018 §6.2.3

Message = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Say:
    """A remark for every client."""

    sentence: str


@dataclass(frozen=True, slots=True)
class InControl:
    """Whether this engine is in control has changed: to be kept, and the outputs to be set anew."""

    on: bool


@dataclass(frozen=True, slots=True)
class Adopt:
    """The show of the main engine, with the profiles it needs, is the show here."""

    show: Show
    profiles: Mapping[str, Profile]


@dataclass(frozen=True, slots=True)
class Play:
    """What the main engine plays is played here: a playback as ``playback.resume`` writes it."""

    playback: Message
    ahead_s: float
    """The main engine's clock less ours."""


@dataclass(frozen=True, slots=True)
class End:
    """The main engine was ended in good order, and this one ends with it."""


Decision = Say | InControl | Adopt | Play | End


class Standby:
    """An engine's part in a pair. Without a plan it has none, and nothing is ever decided."""

    def __init__(self, plan: Options | None, *, in_charge: bool, profiles: Mapping[str, Profile]) -> None:
        """``in_charge``: whether a standby was, when its engine died. ``profiles``: those of this machine."""
        self.main = None if plan is None else plan.follow
        """Where the main engine is called, None for an engine that follows nobody."""
        self.in_charge = in_charge
        self._profiles = profiles
        self._show: Message | None = None
        self._playback: Play | None = None
        """What the main engine said last."""
        self._adopted = False
        """What the main engine plays fits the show here."""

    def wire(self, show: Show) -> Show:
        """The show with the outputs as this engine may send them."""
        if self.main is None:
            return show
        sacn = show.output.sacn
        if self.in_charge:
            changed: dict[str, Any] = {"priority": min(PRIORITY_MAX, sacn.priority + BELOW)}
        else:
            changed = {"priority": max(LOWEST, sacn.priority - BELOW), "sync_universe": None}
        output = show.output.model_copy(update={"sacn": sacn.model_copy(update=changed)})
        return show.model_copy(update={"output": output})

    @property
    def artnet(self) -> bool:
        """Whether this engine may send Art-Net."""
        return self.main is None or self.in_charge

    def check(self, command: Command) -> None:
        """Raises ``Refused`` where a command has no place: a standby that is not in control takes none."""
        if self.main is None:
            if isinstance(command, TakeOver):
                raise Refused("this engine stands by for no other, so there is nothing to take over")
        elif not self.in_charge and not isinstance(command, Note | Stop | TakeOver):
            raise Refused(
                f"this engine stands by for {written(self.main)} and does as that one does: "
                "`onecrew send takeover` puts it in control"
            )

    def take_over(self, command: TakeOver) -> list[Decision]:
        """Puts this engine in control, or has it follow again."""
        on = not self.in_charge if command.on is None else command.on
        if on == self.in_charge:
            return []
        self.in_charge = on
        if on:
            said = "this engine is in control now: it takes commands, and receivers show its light"
            return [InControl(on), Say(said)]
        followed = [] if self._show is None else self.receive_show(self._show)
        if self._adopted and self._playback is not None:
            followed.append(self._playback)
        return [InControl(on), Say("this engine stands by again"), *followed]

    def receive_show(self, message: Message) -> list[Decision]:
        """The main engine works on another show, or on another version of it."""
        self._show, self._adopted = message, False
        if self.in_charge:
            return []
        given = {name: Profile.model_validate(data) for name, data in message["profiles"].items()}
        profiles = {**self._profiles, **given}
        try:
            show = parse_show(message["show"], "the show of the main engine", profiles)
        except OnecrewError as error:
            log.error("%s", error)
            return [Say("the show of the main engine cannot be used here; this engine's log says why")]
        self._adopted = True
        return [Adopt(show, profiles)]

    def receive_playback(self, playback: Message, ahead_s: float) -> list[Decision]:
        """The main engine plays something else, or its clock is better known now."""
        self._playback = Play(playback, ahead_s)
        return [self._playback] if self._adopted and not self.in_charge else []

    def receive_end(self) -> list[Decision]:
        """The main engine was ended."""
        if self.in_charge:
            return [Say("the main engine was ended; this one stays in control")]
        return [End()]


def written(address: tuple[str, int]) -> str:
    host, port = address
    return f"[{host}]:{port}" if ":" in host else f"{host}:{port}"
