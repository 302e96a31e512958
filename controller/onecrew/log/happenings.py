"""Happenings: what a command or an event of its own did, in words and in data for the log. Pure.

Told from the playback before and after, so that a command that changed nothing leaves no trace, and one that
a countdown ran is logged like one that was typed.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from onecrew.commands.command import Command, Log
from onecrew.commands.countdown import CancelCountdown, Countdown
from onecrew.commands.cues import PutCue, Store
from onecrew.commands.session import Redo, Undo
from onecrew.commands.table import in_words, row_of
from onecrew.commands.takes import TakeStart
from onecrew.language import saying
from onecrew.playback.single_lamp import Plays, worked_out
from onecrew.playback.state import Playback, Take
from onecrew.show.light import Light
from onecrew.show.show import Cue, Show


@dataclass(frozen=True, slots=True)
class Happening:
    """One thing for the log. ``lights`` are lamps changed by hand, ``master`` a new master: both may flood
    in and are then put together."""

    kind: str
    what: str
    text: str
    data: Mapping[str, Any] = field(default_factory=dict)
    lights: Mapping[str, tuple[Light, Light]] = field(default_factory=dict)
    master: tuple[float, float] | None = None
    whole_state: bool = False
    """The state as sent belongs to it."""
    playback: Playback | None = None
    """Whose state that is, where something else has begun at the same moment."""


@dataclass(frozen=True, slots=True)
class Done:
    """A command that was carried out, or None for what happened by itself; the desk before and after."""

    command: Command | None
    before: Playback
    plays: Plays
    """What plays after it."""
    show: Show
    at: float
    """When, in monotonic seconds."""
    changed: str = ""
    """What became of the show, in words; empty where it stayed as it was."""

    @property
    def after(self) -> Playback:
        return worked_out(self.plays)


def happenings(done: Done) -> Iterator[Happening]:
    """What to write about it, in order."""
    yield from _countdown(done)
    yield from _takes(done)
    yield from _cues(done)
    yield from _states(done)
    yield from _lights(done)
    if done.changed:
        yield _show(done)


# ── Cues ────────────────────────────────────────────────────────────────────────────────────────────


def _cues(done: Done) -> Iterator[Happening]:
    command = done.command
    if command is None:
        ran = None if done.before.countdown is done.after.countdown else done.before.countdown
        command = ran.command if ran is not None else None
        if command is not None and _refused(done):
            command = None
    if command is not None and row_of(command).log is Log.CUE and done.after.cue is not None:
        yield _ran(done.show.cue(done.after.cue), command.kind, getattr(command, "fade_s", None))
    elif isinstance(command, TakeStart) and command.chain_from is not None and done.after.cue is not None:
        yield _ran(done.show.cue(done.after.cue), "chain", None)
    elif done.command is None and done.after.cue != done.before.cue:
        for cue in _between(done):
            yield _ran(cue, "auto-follow", None)


def _between(done: Done) -> Iterator[Cue | None]:
    """The cues that ran by themselves: each follows the one before it."""
    numbers = [cue.number for cue in done.show.cues]
    first = numbers.index(done.before.cue) + 1 if done.before.cue in numbers else None
    last = numbers.index(done.after.cue) if done.after.cue in numbers else None
    if first is None or last is None or first > last:
        yield done.show.cue(done.after.cue)
        return
    yield from done.show.cues[first : last + 1]


def _ran(cue: Cue | None, what: str, fade_s: float | None) -> Happening:
    if cue is None:
        return Happening("cue", what, f"{what}: a cue that is no longer in the show")
    fade = {"in_s": fade_s, "out_s": fade_s} if fade_s is not None else cue.fade.model_dump(mode="json")
    delay_s = cue.delay_s if fade_s is None else 0.0
    data: dict[str, Any] = {
        "cue": cue.number,
        "name": cue.name,
        "fade": fade,
        "delay_s": delay_s,
        "auto_follow_s": cue.auto_follow_s,
        "look": {name: _plain(light) for name, light in cue.look.items()},
    }
    return Happening(
        "cue", what, f"{what}: {saying.cue(cue.number, cue.name)}, {_times(fade, delay_s)}", data
    )


def _times(fade: Mapping[str, Any], delay_s: float) -> str:
    rise, fall = saying.seconds(fade["in_s"]), saying.seconds(fade["out_s"])
    said = f"in {rise}" if rise == fall else f"in {rise}, out {fall}"
    return said + (f", after {saying.seconds(delay_s)}" if delay_s else "")


# ── Countdown ───────────────────────────────────────────────────────────────────────────────────────


def _countdown(done: Done) -> Iterator[Happening]:
    before, after = done.before.countdown, done.after.countdown
    if isinstance(done.command, Countdown):
        said = in_words(done.command.command)
        data = {"seconds": done.command.seconds, "command": done.command.command.model_dump(mode="json")}
        text = f"countdown: {said} in {saying.seconds(done.command.seconds)}"
        yield Happening("cue", "countdown", text, data)
    elif before is not None and after is None:
        said = in_words(before.command)
        if isinstance(done.command, CancelCountdown):
            yield Happening("cue", "countdown cancelled", f"countdown to {said} cancelled")
        elif _refused(done):
            yield Happening("cue", "countdown refused", done.after.remark)
        else:
            yield Happening("cue", "countdown over", f"countdown over: {said}")


def _refused(done: Done) -> bool:
    return done.command is None and done.after.remark not in ("", done.before.remark)


# ── What holds for the whole room ───────────────────────────────────────────────────────────────────


def _states(done: Done) -> Iterator[Happening]:
    before, after = done.before, done.after
    for what, was, now, on, off in (
        ("hold", before.held, after.held, "hold: every fade is frozen", "hold released"),
        ("blackout", before.dark, after.dark, "blackout", "blackout ends"),
        ("lock", before.locked, after.locked, "locked", "unlocked"),
        (
            "stills",
            before.still is not None,
            after.still is not None,
            "one lamp alone, for a still",
            "the look again, after stills",
        ),
        ("compare", before.comparing, after.comparing, "the stored look instead", "the edited look again"),
    ):
        if was != now:
            yield Happening("light", what, on if now else off, {"on": now})
    for what, lamps in (("solo", after.solo), ("without", after.without), ("identify", after.identify)):
        if lamps != getattr(before, what):
            text = f"{what} {', '.join(lamps)}" if lamps else f"{what} ends"
            yield Happening("light", what, text, {"lamps": list(lamps)})
    first, last = float(before.master.goal), float(after.master.goal)
    if first != last:
        data = {"from": first, "level": last}
        yield Happening("light", "master", f"master {saying.per_cent(last)}", data, master=(first, last))


# ── Lamps ───────────────────────────────────────────────────────────────────────────────────────────


def _lights(done: Done) -> Iterator[Happening]:
    command = done.command
    if command is None or done.before.ids != done.after.ids:
        return
    if row_of(command).log is not Log.LAMPS and not isinstance(command, Undo | Redo):
        return
    lights = {
        name: (old, new)
        for name, old, new in zip(done.after.ids, done.before.asked, done.after.asked, strict=True)
        if old != new
    }
    if lights:
        yield changed(lights, command.kind, getattr(command, "fade_s", 0.0))


def changed(lights: Mapping[str, tuple[Light, Light]], what: str, fade_s: float, times: int = 1) -> Happening:
    """Lamps whose light was changed by hand: from, to, and by how many changes in a row."""
    told = ", ".join(f"{name} {saying.said(new)}" for name, (_, new) in lights.items())
    in_time = f" in {saying.seconds(fade_s)}" if fade_s else ""
    often = f" ({times} changes)" if times > 1 else ""
    data: dict[str, Any] = {
        "lamps": {name: {"from": _plain(old), "to": _plain(new)} for name, (old, new) in lights.items()}
    }
    if fade_s:
        data["fade_s"] = fade_s
    if times > 1:
        data["changes"] = times
    verb = "reverted: " if what == "revert" else ""
    return Happening("light", what, f"{verb}{told}{in_time}{often}", data, lights=lights)


# ── Takes ───────────────────────────────────────────────────────────────────────────────────────────


def _takes(done: Done) -> Iterator[Happening]:
    before, after = done.before.take, done.after.take
    if after is None or after is before:
        return
    named = saying.take(after.setup, after.number)
    data: dict[str, Any] = {"setup": after.setup, "number": after.number}
    if after.running and (before is None or not before.running):
        data["takes"] = dict(done.after.takes)
        cue = done.show.cue(done.after.cue)
        showing = saying.cue(cue.number, cue.name) if cue is not None else "no cue"
        yield Happening("take", "start", f"{named} starts, {showing}", data, whole_state=True)
    elif before is not None and before.running and not after.running:
        verdict = {True: ", good", False: ", bad", None: ""}[after.good]
        note = f": {after.note}" if after.note else ""
        data |= {"good": after.good, "note": after.note}
        data["length_s"] = round(max(0.0, done.at - after.since), 3)
        yield Happening("take", "end", f"{named} ends{verdict}{note}", data)


def left_out(
    playback: Playback, show: Show, last: tuple[str, str, int], kept_at: float
) -> Iterator[tuple[float, Happening]]:
    """What the log does not know of the latest take, each with its moment: an engine had kept it, and died
    before its entries were in the file.

    ``last`` is the take that the log knows of last: what of it ('end', or another), setup and number.
    """
    take = playback.take
    if take is None:
        return
    running = replace(playback, take=replace(take, running=True))
    if last[1:] != (take.setup, take.number):
        before = replace(playback, take=None)
        for told in _takes(Done(None, before, running, show, take.since)):
            yield take.since, replace(told, whole_state=False)
    elif take.running or last[0] == "end":
        return
    if not take.running:
        for told in _takes(Done(None, running, playback, show, kept_at)):
            yield kept_at, told


def stands(take: Take, playback: Playback, show: Show) -> Happening:
    """Every lamp has arrived while a take runs: what a sheet of it shows."""
    cue = show.cue(playback.cue)
    showing = saying.cue(cue.number, cue.name) if cue is not None else "the light"
    text = f"{saying.take(take.setup, take.number)}: {showing} stands"
    data = {"setup": take.setup, "number": take.number}
    return Happening("take", "stands", text, data, whole_state=True, playback=playback)


# ── The show ────────────────────────────────────────────────────────────────────────────────────────


def _show(done: Done) -> Happening:
    command = done.command
    what = command.kind if command is not None else "change"
    text, data = done.changed, {}
    if isinstance(command, Undo | Redo):
        text = f"{what}: {done.changed}"
    cue = None
    if isinstance(command, Store):
        cue = done.show.cue(done.after.cue)
    elif isinstance(command, PutCue):
        cue = done.show.cue(command.cue.number)
    if cue is not None:
        text = f"{done.changed} {cue.name}".rstrip()
        data = {"cue": cue.number, "name": cue.name, "look": {n: _plain(x) for n, x in cue.look.items()}}
    return Happening("show", what, text, data)


def _plain(light: Light) -> dict[str, Any]:
    return light.model_dump(mode="json", exclude_defaults=True)
