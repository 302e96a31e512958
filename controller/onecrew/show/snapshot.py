"""Snapshot: the state of the engine at one moment, as clients see it and ``status --json`` prints it."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from onecrew.show.base import Model
from onecrew.show.light import Effect, White


class FadeState(Model):
    progress: float
    """0–1 of the longest running fade."""
    left_s: float


class CountdownState(Model):
    left_s: float
    command: str
    """What it will run, in words: 'go', 'recall 3'."""


class TakeState(Model):
    setup: str
    number: int
    running: bool
    since: float | None = None
    """Wall-clock start, seconds since 1970, while running."""
    good: bool | None = None
    note: str = ""


class LightState(Model):
    """What one fixture is doing now, after fades, effects, master and blackout."""

    level: float
    white: White | None = None
    xy: tuple[float, float]
    """CIE 1931 chromaticity the fixture really gives, as near as its emitters and clamps allow."""
    effect: Effect | None = None
    output: float
    """Fraction of full light, through the dimming law."""
    slots: tuple[int, ...]
    swatch: str
    """#rrggbb as the camera sees it at its white balance."""
    notes: tuple[str, ...] = ()
    """Clamps and unreachable colours, one sentence each."""
    edited: bool = False
    """Differs from the stored look of the current cue by an edit not yet stored."""
    goal_level: float = 0.0
    """Where the level is going, before master and blackout."""
    goal_xy: tuple[float, float] | None = None


class RaisedState(Model):
    """Slots that a probe or a reading of emitters has raised by hand, in place of the look's."""

    universe: int
    address: int
    """Of the first of them, from 1."""
    slots: tuple[int, ...]
    """What leaves, 0–255."""
    fixtures: tuple[str, ...] = ()
    """The lamps that they hold; none where nobody patched one there."""

    @property
    def words(self) -> str:
        """Where they are and whose: '1.41–46 of key', '1.101'."""
        last = self.address + len(self.slots) - 1
        said = f"{self.universe}.{self.address}" + (f"–{last}" if last > self.address else "")
        return said + (f" of {', '.join(self.fixtures)}" if self.fixtures else "")


class OutputState(Model):
    """One destination of one universe."""

    universe: int
    protocol: Literal["sacn", "artnet"] = "sacn"
    to: str
    state: Literal["ok", "waiting", "failing"]
    """waiting: nothing sent yet; failing: the last send did not leave."""
    sent: int
    errors: int
    error: str = ""
    """The last error in words, empty when healed."""


class Saved(Model):
    """Whether what is on disk is what is in memory."""

    ok: bool = True
    error: str = ""
    outside: bool = False
    """Another program wrote to the file, and nobody has decided yet whose version goes on."""


class OscState(Model):
    """OSC as it is now, and what came since it was opened."""

    state: Literal["off", "listening", "failing"] = "off"
    at: str = ""
    error: str = ""
    """Why it cannot be heard, in words."""
    heard: int = 0
    """Datagrams from senders that are let in."""
    done: int = 0
    """Commands carried out."""
    refused: int = 0
    """Messages that were answered with a sentence."""
    bad: int = 0
    """Datagrams that were no OSC."""
    strangers: int = 0
    """Datagrams from senders that are not let in."""
    sent: int = 0
    receivers: int = 0
    remark: str = ""
    """What was refused last, in words."""


class PageState(Model):
    """The phone page as it is now."""

    state: Literal["off", "starting", "listening", "failing"] = "off"
    at: str = ""
    error: str = ""
    """Why it cannot be served, in words."""
    phones: int = 0
    """Phones that are connected."""


class RemoteState(Model):
    """What else reaches the engine."""

    osc: OscState = OscState()
    page: PageState = PageState()


class StandbyState(Model):
    """The part of this engine in a pair, where it has one."""

    part: Literal["main", "following", "alone", "in control"]
    """main: others may follow it. The rest are a standby's: it hears the main engine, does not, or leads."""
    others: tuple[str, ...] = ()
    """Addresses: of those that follow, or of the main engine."""
    taken_over: bool = False
    """A follower is in control: receivers show its light."""
    error: str = ""
    """Why the others are not heard, in words."""


class Snapshot(Model):
    show: str
    path: str
    revision: int
    """Rises with every change of the show document."""
    cue: str | None
    cue_name: str = ""
    next: str | None
    next_name: str = ""
    fade: FadeState | None
    held: bool
    locked: bool
    blackout: bool
    comparing: bool = False
    master: float
    countdown: CountdownState | None = None
    auto_follow_left_s: float | None = None
    take: TakeState | None = None
    solo: tuple[str, ...] = ()
    without: tuple[str, ...] = ()
    identify: tuple[str, ...] = ()
    still: str | None = None
    """One lamp is shown alone for a still, in words; the look waits under it."""
    raised: RaisedState | None = None
    """Slots that are raised by hand; the lamps there are held by them."""
    kept_edits: dict[str, tuple[str, ...]] = Field(default_factory=dict)
    """Lamps whose edits were not stored when their cue was left, by the number of the cue."""
    lights: dict[str, LightState]
    outputs: tuple[OutputState, ...]
    saved: Saved = Saved()
    """The show."""
    logged: Saved = Saved()
    """The take log."""
    remote: RemoteState = RemoteState()
    undo: str = ""
    """What undo would take back, in words; empty when there is nothing."""
    redo: str = ""
    standby: StandbyState | None = None
    engine_pid: int
    supervisor_pid: int | None = None
    message: str = ""
    """The latest remark of the engine for every client (refusals while locked, faults healed)."""
    said: int = 0
    """How many remarks there were: the same sentence again is another one."""
