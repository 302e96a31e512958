"""Guided: a run of stills as a person takes it, one light after the other. Pure: times are arguments.

A light is set and stands; then a key or the clicker says that the still is taken, or a countdown runs, or the
picture itself arrives. Whoever runs it shows ``light``, says ``words``, passes on what is pressed and calls
``passed`` a few times a second. ``now`` is monotonic seconds, ``wall`` the time of day as the list has it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from enum import StrEnum
from typing import Any

from onecrew.commands.stills import ShowStill
from onecrew.stills.levelling import Levels
from onecrew.stills.shotlist import Shot

SETTLE_S = 0.6
"""Until a light that was set stands, over Wi-Fi too; keys wait for it, so that none is pressed twice."""
SHUTTER_S = 1.0
"""How long the light stays when a countdown is over."""
LEAST_OUTPUT = 2.0**-12
KEYS = ("next", "again", "less", "back", "skip", "stop")


class Phase(StrEnum):
    SETTLING = "the light is on its way"
    WAITING = "take the still, then next"
    COUNTING = "counting down"
    OPEN = "now"
    PICTURE = "waiting for the picture"
    PAUSED = "paused"
    OVER = "over"


@dataclass(frozen=True, slots=True)
class Guided:
    """Where a run of stills stands. Every method returns another one."""

    shots: tuple[Shot, ...]
    taken: tuple[str, ...]
    """By still: when it was taken, '' for one that was not."""
    since: float
    """When the light was set."""
    wait_s: float | None = None
    """Seconds that are counted down for each; None: a key says that it is taken."""
    by_picture: bool = False
    """A still is taken when its picture arrives."""
    at: int = 0
    paused: str = ""
    """Why the light was given back for now."""
    remark: str = ""
    """What deserves a sentence: a still that has to be taken again."""
    levels: Levels = field(default_factory=Levels)
    """How bright each lamp was in the pictures that came."""

    # ── what to show and say ────────────────────────────────────────────────────────────────────

    @property
    def over(self) -> bool:
        return self.at >= len(self.shots)

    @property
    def light(self) -> ShowStill | None:
        """The light that is wanted, None where it is given back."""
        if self.over or self.paused:
            return None
        shot = self.shots[self.at]
        if shot.lamp is None:
            return ShowStill(words=self.words)
        cct_k, duv = (shot.cct_k, shot.duv) if shot.told is None else shot.told
        return ShowStill(fixture=shot.lamp, output=shot.output, cct_k=cct_k, duv=duv, words=self.words)

    @property
    def words(self) -> str:
        """'3 of 15: key alone at 2700 K'."""
        if self.over:
            return f"{sum(map(bool, self.taken))} of {len(self.shots)} stills are taken"
        return f"{self.at + 1} of {len(self.shots)}: {said(self.shots[self.at])}"[:120]

    def phase(self, now: float) -> Phase:
        if self.over:
            return Phase.OVER
        if self.paused:
            return Phase.PAUSED
        if now < self.since + SETTLE_S:
            return Phase.SETTLING
        if self.wait_s is not None and now < self._fires + SHUTTER_S:
            return Phase.COUNTING if now < self._fires else Phase.OPEN
        return Phase.PICTURE if self.by_picture else Phase.WAITING

    def left_s(self, now: float) -> float:
        """Seconds that are left of the countdown."""
        return max(self._fires - max(now, self.since + SETTLE_S), 0.0)

    @property
    def result(self) -> list[tuple[Shot, str]]:
        """What was taken, each with its time."""
        return [(shot, at) for shot, at in zip(self.shots, self.taken, strict=True) if at]

    # ── what happens ────────────────────────────────────────────────────────────────────────────

    def pressed(self, key: str, now: float, wall: str) -> Guided:
        """Return the run after one of ``KEYS``; ``next`` goes on after a pause, too."""
        if self.over:
            return self
        if key == "stop":
            return replace(self, at=len(self.shots), paused="", remark="")
        if self.paused:
            return self._at(self.at, now) if key in ("next", "again") else self
        match key:
            case "next":
                if self.phase(now) in (Phase.SETTLING, Phase.OPEN):
                    return self
                return self._taken(wall)._at(self.at + 1, now)
            case "again":
                return self._at(self.at, now)
            case "less":
                return self._lowered(now)
            case "back":
                return self._at(max(self.at - 1, 0), now)
            case "skip":
                return self._at(self.at, now)._at(self.at + 1, now)
        raise ValueError(f"a run of stills has no key {key!r}")

    def passed(self, now: float, wall: str) -> Guided:
        """Return the run after time has gone by."""
        if self.wait_s is None or self.over or self.paused or now < self._fires:
            return self
        run = self if self.taken[self.at] or self.by_picture else self._taken(wall)
        if run.by_picture or now < self._fires + SHUTTER_S:
            return run
        return run._at(run.at + 1, now)

    def arrived(self, file: str, clipped: str, now: float, wall: str, light: float | None = None) -> Guided:
        """Return the run after the picture ``file`` came; ``clipped`` names the region that is, if any.

        A still that clips is asked for once more, with half the light. Where the ``light`` of a card is told,
        the stills to come have as much of it as is known, whatever lamp they show.
        """
        if self.over or self.paused:
            return self
        shot = self.shots[self.at]
        if clipped and shot.lamp is not None and shot.output / 2.0 >= LEAST_OUTPUT:
            lower = self._lowered(now)
            share = f"{100.0 * lower.shots[self.at].output:.3g} %"
            return replace(lower, remark=f"{clipped} is clipped in {file}: once more at {share}")
        shots = (*self.shots[: self.at], replace(shot, file=file), *self.shots[self.at + 1 :])
        run = replace(self, shots=shots)._taken(wall)
        return (run if light is None else run._levelled(light))._at(self.at + 1, now)

    def halted(self, why: str) -> Guided:
        """Return the run with the light given back, as something else took it; ``next`` goes on."""
        return self if self.over else replace(self, paused=why)

    # ── inside ──────────────────────────────────────────────────────────────────────────────────

    @property
    def _fires(self) -> float:
        return self.since + SETTLE_S + (self.wait_s or 0.0)

    def _at(self, place: int, now: float) -> Guided:
        """At a still, which has to be taken, again if it was."""
        taken, shots = self.taken, self.shots
        if place <= self.at and place < len(shots):
            taken = (*taken[:place], "", *taken[place + 1 :])
            shots = (*shots[:place], replace(shots[place], file=""), *shots[place + 1 :])
        return replace(self, at=place, taken=taken, shots=shots, since=now, paused="", remark="")

    def _taken(self, wall: str) -> Guided:
        return replace(self, taken=(*self.taken[: self.at], wall, *self.taken[self.at + 1 :]))

    def _levelled(self, light: float) -> Guided:
        """The stills to come at one light of the card; the one of the brighter lamp that showed it too."""
        levels, shots, again = self.levels.after(self.shots, self.at, light)
        taken = (*self.taken[: self.at + 1], *[""] * len(again), *self.taken[self.at + 1 :])
        shots = (*shots[: self.at + 1], *again, *shots[self.at + 1 :])
        return replace(self, levels=levels, shots=shots, taken=taken)

    def _lowered(self, now: float) -> Guided:
        shot = self.shots[self.at]
        if shot.lamp is None or shot.output / 2.0 < LEAST_OUTPUT:
            return self
        shots = (*self.shots[: self.at], replace(shot, output=shot.output / 2.0), *self.shots[self.at + 1 :])
        return replace(self, shots=shots)._at(self.at, now)


def guided(
    shots: Sequence[Shot], now: float, wait_s: float | None = None, *, by_picture: bool = False
) -> Guided:
    """Return a run at its first still."""
    return Guided(tuple(shots), ("",) * len(shots), now, wait_s, by_picture)


def said(shot: Shot) -> str:
    """Return a shot in words: 'key alone at 2700 K', 'sky alone at 4300 K tint +0.01, 50 % of its light'."""
    if shot.lamp is None:
        return "every lamp out"
    white = "" if shot.cct_k is None else f" at {shot.cct_k:.0f} K"
    tint = f" tint {shot.duv:+.4g}" if abs(shot.duv) >= 5e-5 else ""
    share = "" if shot.output >= 0.9995 else f", {100 * shot.output:.3g} % of its light"
    how = f", {shot.how}" if shot.how else ""
    return f"{shot.lamp} alone{white}{tint}{share}{how}"


def as_entry(shot: Shot, taken: str = "") -> dict[str, Any]:
    """Return a shot as an entry of the list."""
    entry: dict[str, Any] = {"file": shot.file, "lamp": shot.lamp}
    if taken:
        entry["taken"] = taken
    if shot.lamp is not None:
        entry["output"] = round(shot.output, 6)
        if shot.cct_k is not None:
            entry |= {"cct_k": shot.cct_k, "duv": shot.duv}
        if shot.told is not None:
            entry |= dict(zip(("told_cct_k", "told_duv"), shot.told, strict=True))
        if shot.how:
            entry["how"] = shot.how
        if shot.promised != 1.0:
            entry["promised"] = round(shot.promised, 6)
    return entry


def as_document(
    taken: Sequence[tuple[Shot, str]], curve: str | None, white_balance_k: float | None
) -> Mapping[str, Any]:
    """Return the list of what was taken, each with its wall-clock time, as JSON."""
    top: dict[str, Any] = {} if curve is None else {"curve": curve}
    if white_balance_k is not None:
        top["white_balance_k"] = white_balance_k
    return {**top, "stills": [as_entry(shot, at) for shot, at in taken]}
