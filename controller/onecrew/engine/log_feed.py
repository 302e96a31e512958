"""Log feed: writes what happens in the engine into the take log. It is called, and asks nobody.

Being told costs next to nothing: words and JSON are made right after the frame has left, and the file is
written by a thread. Nothing that goes wrong here reaches the light or the one who sent a command.
"""

from __future__ import annotations

import contextlib
import logging
import os
import time
from collections import deque
from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from onecrew.clock import boot, on_the_wall
from onecrew.commands.command import Command
from onecrew.commands.session import Redo, Undo
from onecrew.commands.takes import Note, TakeClip, TakeRecord
from onecrew.engine.desk import Desk
from onecrew.engine.halts import without_engine
from onecrew.engine.kept_log import KeptLog, Outliving
from onecrew.engine.recorded_state import recorded_state
from onecrew.engine.state import state_of
from onecrew.errors import Mistake, Refused
from onecrew.language import saying
from onecrew.log.coalesce import Coalescer
from onecrew.log.entries import Entry, to_line
from onecrew.log.happenings import Done, Happening, happenings, left_out, stands
from onecrew.log.health import Health
from onecrew.log.logfile import tail
from onecrew.log.text import clean
from onecrew.log.writer import MOST_BYTES, Writer
from onecrew.playback.render import rested
from onecrew.playback.state import Playback, Take
from onecrew.show.snapshot import OutputState, Saved

log = logging.getLogger(__name__)

LOOK_EVERY_S = 0.5
"""How often the outputs are looked at."""
KEPT_LINES = 1000
"""Lines kept in memory for clients that ask."""
TAIL_BYTES = 1 << 18
FINISH_S = 1.0
STANDS_EVERY_S = 1.0
"""How often, at most, a take's light is written down as it stands: a hand may move it many times a second."""


class LogFeed:
    """The log of one engine. Times are monotonic seconds."""

    def __init__(
        self,
        path: Path,
        say: Callable[[str], None],
        *,
        wall: Callable[[], float] = time.time,
        clock: Callable[[], float] = time.monotonic,
        writer: Writer | None = None,
        outliving: Outliving | None = None,
    ) -> None:
        self.path = path
        self.state = Saved()
        """Whether the log on disk is whole."""
        self._say = say
        self._wall = wall
        self._clock = clock
        self._writer = writer or Writer(path, self._writing)
        self._n = 0
        self._kept = KeptLog(outliving, self._writer)
        self._noted: list[tuple[float, Happening]] = []
        """Of what was heard, what stands nowhere else."""
        self._lines: deque[tuple[int, float, str, str]] = deque(maxlen=KEPT_LINES)
        self._heard: list[tuple[float, Done | Happening]] = []
        self._coalescer = Coalescer()
        self._health = Health()
        self._look_at = -float("inf")
        self._saved = Saved()
        self._rolling: Take | None = None
        self._stood: tuple[object, ...] = ()
        """What the state of the running take was last written of."""
        self._stood_at = -float("inf")
        self._call: Callable[..., object] = _directly

    # ── what is reported to it ───────────────────────────────────────────────────────────────────

    def begin(
        self,
        desk: Desk,
        now: float,
        call: Callable[..., object],
        kept_at: float | None = None,
        sent_at: float | None = None,
    ) -> None:
        """The engine runs: the log goes on where it stood, and takes are numbered on from there.

        ``call`` calls a function in the engine's thread; ``kept_at`` is when the engine before this one last
        kept what plays, ``sent_at`` when it sent its last frame.
        """
        self._call = call
        try:
            earlier = tail(self.path, TAIL_BYTES)
            self._n, lost = self._kept.take_up(earlier)
            self._lines.extend((e.n, e.at, e.kind, e.text) for e in earlier)
            engines = [entry for entry in earlier if entry.kind == "engine"]
            died = bool(engines) and engines[-1].what in ("start", "resume")
            resumed = _plays(desk.playback)
            if not resumed:
                desk.playback = self._numbered_on(desk.playback)
            if lost > 0:
                self._write(_lost_with_an_engine(lost), now, desk)
            if resumed and kept_at is not None:
                self._tell_left_out(desk, kept_at)
            if resumed and sent_at is not None and (halt := without_engine(sent_at, now)) is not None:
                self._write(halt, now, desk)
            self._write(_beginning(desk, resumed=resumed, died=died), now, desk)
        except Exception:  # the light does not wait for the log
            log.exception("the log could not be started")

    def heard(self, command: Command, before: Playback, revision: int, desk: Desk, now: float) -> None:
        """A command was carried out; ``before`` and ``revision`` are what the desk was before it."""
        changed = ""
        if isinstance(command, Undo | Redo):
            changed = desk.redo_words if isinstance(command, Undo) else desk.undo_words
        elif desk.revision != revision:
            changed = desk.undo_words
        self._heard.append((now, Done(command, before, desk.plays, desk.show, now, changed)))

    def passed(self, before: Playback, desk: Desk, at: float) -> None:
        """Something happened by itself at its own moment: an auto-follow, a countdown."""
        self._standing(before, desk, at)
        self._heard.append((at, Done(None, before, desk.playback, desk.show, at)))

    def note(self, note: Note, desk: Desk, now: float) -> None:
        """Somebody wrote a remark."""
        take = desk.playback.take if note.take else None
        data: dict[str, Any] = {"note": note.text}
        on = ""
        if take is not None:
            data |= {"setup": take.setup, "number": take.number}
            on = f" on {saying.take(take.setup, take.number)}"
        what = "take" if take is not None else "note"
        self._note(Happening("note", what, f"note{on}: {note.text}", data), now)

    def _clip(self, command: TakeClip, desk: Desk, now: float) -> str:
        """Somebody names the camera's clip of the last take; returns it in words."""
        take = desk.playback.take
        if take is None:
            raise Refused("there has been no take yet whose clip this could be; start one first")
        text = f"{saying.take(take.setup, take.number)} is clip {command.name}"
        data = {"setup": take.setup, "number": take.number, "clip": command.name}
        self._note(Happening("note", "clip", text, data), now)
        return text

    def record(self, command: TakeClip | TakeRecord, desk: Desk, now: float) -> str:
        """Somebody says what is on record of a take; returns it in words."""
        if isinstance(command, TakeClip):
            return self._clip(command, desk, now)
        take = saying.take(command.setup, command.number)
        if command.number > dict(desk.playback.takes).get(command.setup, 0):
            raise Refused(f"there has been no {take}: look at the list of takes")
        data: dict[str, Any] = {"setup": command.setup, "number": command.number}
        said = []
        if command.verdict is not None:
            data["good"] = {"good": True, "bad": False, "open": None}[command.verdict]
            said.append({"good": "good", "bad": "bad", "open": "neither good nor bad"}[command.verdict])
        if command.clip is not None:
            data["clip"] = command.clip
            said.append(f"clip {command.clip}" if command.clip else "no clip")
        if command.note is not None:
            data["notes"] = [command.note] if command.note.strip() else []
            said.append(f"note: {command.note}" if command.note.strip() else "no note")
        text = f"{take} on record: {', '.join(said) or 'as it was'}"
        self._note(Happening("note", "record", text, data), now)
        return text

    def happened(self, happening: Happening, now: float) -> None:
        """Something else happened that deserves an entry."""
        self._heard.append((now, happening))

    def halted(self, happening: Happening, now: float) -> None:
        """Nothing ran until now: what became due by itself meanwhile stands before this in the log, and the
        commands that waited, which are carried out by now, behind it."""
        waited = (i for i, (_, one) in enumerate(self._heard) if not isinstance(one, Done) or one.command)
        index = next(waited, len(self._heard))
        at = min([now, *(at for at, _ in self._heard[index:])])
        self._heard.insert(index, (at, happening))

    def stopping(self, fade_s: float, now: float) -> None:
        """Somebody ended the engine."""
        text = f"stop: fade to black in {saying.seconds(fade_s)}"
        self._heard.append((now, Happening("engine", "stopping", text, {"fade_s": fade_s})))

    def saved(self, state: Saved) -> None:
        """The show was saved, or could not be."""
        if state.ok == self._saved.ok and state.error == self._saved.error:
            return
        self._saved = state
        text = "the show is saved again" if state.ok else f"the show is not saved: {state.error}"
        what = "saved again" if state.ok else "not saved"
        self._heard.append((self._clock(), Happening("show", what, text)))

    # ── when it writes ──────────────────────────────────────────────────────────────────────────

    def frame(
        self,
        desk: Desk,
        now: float,
        rendered: float | None,
        outputs: Callable[[], tuple[OutputState, ...]],
    ) -> None:
        """The packets due at ``now`` have left: time to write down what led to them.

        ``rendered`` is the moment that they show, None if the light was not rendered anew. What a command did
        waits until its own frame has left, so that a state that is written is one that was sent.
        """
        try:
            if rendered is not None or not any(isinstance(one, Done) for _, one in self._heard):
                self._write_heard(desk, rendered)
                self._standing(desk.playback, desk, now)
                self._write_heard(desk, rendered)  # now: there may be another rig by the next frame
            for happening in self._coalescer.told(now):
                self._write(happening, now, desk)
            if now >= self._look_at:
                self._look_at = now + LOOK_EVERY_S
                if not self.waits:
                    self._kept.forget()
                for happening in self._health.look(outputs(), now):
                    self._write(happening, now, desk)
        except Exception:  # the light does not wait for the log
            log.exception("the log could not be written")

    @property
    def waits(self) -> bool:
        """Whether something that has happened is not in the file yet."""
        return bool(self._heard) or bool(self._writer.waiting)

    @property
    def threatened(self) -> str:
        """Why an end now would lose what waits, in a sentence; empty where it would not."""
        return "" if self._kept.whole else self.state.error

    def due(self) -> float:
        """When ``frame`` should be called again at the latest."""
        return self._coalescer.due()

    def finish(self, desk: Desk, now: float, *, handed_over: bool = False) -> None:
        """The engine ends and the lights are out, or a standby goes on with them."""
        self.frame(desk, now, now, tuple)
        try:
            for happening in self._coalescer.told(now, everything=True):
                self._write(happening, now, desk)
            light = "a standby goes on with the light" if handed_over else "the lights are out"
            self._write(Happening("engine", "stop", f"the engine ends, {light}"), now, desk)
            if self._writer.finish(FINISH_S):
                self._kept.forget()
            else:
                self._kept.keep(size=MOST_BYTES)
        except Exception:  # the end comes all the same
            log.exception("the log could not be closed")

    # ── what clients ask ────────────────────────────────────────────────────────────────────────

    def lines(self, arguments: Mapping[str, Any]) -> dict[str, Any]:
        """Lines after ``after``, oldest first, at most the newest ``limit``; raises ``Mistake``."""
        after, limit = arguments.get("after", 0), arguments.get("limit", 500)
        whole = isinstance(after, int) and isinstance(limit, int)
        if not whole or arguments.keys() - {"after", "limit"} or limit < 1:
            raise Mistake("the log is asked with after and limit, two whole numbers")
        found = [line for line in self._lines if line[0] > after][-limit:]
        keys = ("n", "at", "kind", "text")
        return {"lines": [dict(zip(keys, line, strict=True)) for line in found], "last": self._n}

    def recorded_state(self, desk: Desk, now: float) -> dict[str, Any]:
        """What is sent now, in the shape of ``log.recorded_state.RecordedState``."""
        wall = on_the_wall(now, self._wall, self._clock)
        entry = Entry(0, wall, _offset_s(wall), now, "", "", "")
        take = desk.playback.take
        running = {"setup": take.setup, "number": take.number} if take is not None and take.running else None
        return {
            **recorded_state(state_of(desk, now)),
            "at": entry.utc,
            "local": entry.local_offset,
            "take": running,
        }

    # ── inside ──────────────────────────────────────────────────────────────────────────────────

    def _standing(self, playback: Playback, desk: Desk, now: float) -> None:
        """While a take runs, its state is written each time that the light has come to rest."""
        take = playback.take
        if take is None or not take.running:
            return
        if not rested(playback, now):
            self._rolling = take
            return
        what = (take, playback.movement, playback.blackout, playback.master, playback.shown)
        if take is not self._rolling:  # its start has been written with its state
            self._rolling, self._stood = take, what
        if what == self._stood or now < self._stood_at + STANDS_EVERY_S:
            return
        self._stood, self._stood_at = what, now
        self._heard.append((now, stands(take, playback, desk.show)))

    def _write_heard(self, desk: Desk, rendered: float | None) -> None:
        """Writes each thing that was heard; where one fails, the others are written all the same."""
        heard, self._heard = self._heard, []
        for at, one in heard:
            try:
                for happening in happenings(one) if isinstance(one, Done) else (one,):
                    self._take(happening, at, desk, rendered)
            except Exception:
                log.exception("an entry of the log could not be written")

    def _take(self, happening: Happening, at: float, desk: Desk, rendered: float | None) -> None:
        if happening.lights or happening.master is not None:
            for told in self._coalescer.take(happening, at):
                self._write(told, at, desk)
            return
        for told in self._coalescer.told(at, everything=True):  # what came before stands before
            self._write(told, at, desk)
        self._write(happening, at, desk, rendered)

    def _write(self, happening: Happening, at: float, desk: Desk, rendered: float | None = None) -> None:
        self._n += 1
        self._kept.number(self._n)
        self._noted = [noted for noted in self._noted if noted[1] is not happening]
        data = dict(happening.data)
        if happening.whole_state:
            shown = at if rendered is None or happening.playback is not None else rendered
            try:
                data["state"] = recorded_state(state_of(desk, shown, happening.playback))
            except Exception:  # the rig may be another one by now; that it happened is written all the same
                log.exception("the state of an entry could not be made: %s", happening.text)
        entry = self._entry(self._n, at, happening, data)
        self._lines.append((entry.n, entry.at, entry.kind, entry.text))
        line, head = to_line(entry), self._writer.head
        match entry.kind, entry.what:
            case "engine", "start" | "resume":
                self._writer.head = (line,)
            case "take", "start":
                self._writer.head = (*head[:1], line)
            case "take", "end":
                self._writer.head = (*head[:2], line)
        self._keep(line)
        self._writer.put(line)

    def _note(self, happening: Happening, now: float) -> None:
        """Somebody said what stands nowhere but in the log: it is kept before they hear that it is done."""
        self._heard.append((now, happening))
        self._noted.append((now, happening))
        self._keep()

    def _keep(self, *lines: bytes) -> None:
        """Keeps what goes to the writer next, and what was noted and waits for its frame, by the numbers that
        it will have if nothing comes between."""
        noted = enumerate(self._noted, self._n + 1)
        self._kept.keep([*lines, *(to_line(self._entry(n, at, one, one.data)) for n, (at, one) in noted)])

    def _entry(self, n: int, at: float, happening: Happening, data: Mapping[str, Any]) -> Entry:
        wall = on_the_wall(at, self._wall, self._clock)
        text = clean(happening.text)
        return Entry(n, wall, _offset_s(wall), at, happening.kind, happening.what, text, data)

    def _numbered_on(self, playback: Playback) -> Playback:
        """No two takes of a setup get one number, whichever engine counted the ones before."""
        last = self._kept.latest_with(self.path, b'"takes":{')
        if last is None:
            return playback
        takes = last.data.get("takes")
        setup, number = last.data.get("setup"), last.data.get("number")
        if not isinstance(takes, dict) or not isinstance(setup, str) or not isinstance(number, int):
            return playback
        counted = tuple((name, count) for name, count in takes.items() if isinstance(count, int))
        return replace(playback, takes=counted, take=Take(setup, number, running=False, since=0.0))

    def _tell_left_out(self, desk: Desk, kept_at: float) -> None:
        """A take that was begun or ended as the engine before this one died is on the log all the same."""
        last = self._kept.latest_with(self.path, b'"kind":"take"')
        fresh = self._kept.latest_with(self.path, b'"kind":"engine","what":"start"')
        if last is None or fresh is None:
            return
        setup, number = last.data.get("setup"), last.data.get("number")
        take = desk.playback.take
        if take is None or not isinstance(setup, str) or not isinstance(number, int):
            return
        if fresh.n > last.n and (setup, number) == (take.setup, take.number):
            return  # it was cut short by an end of the engine, and counted on from
        for at, happening in left_out(desk.playback, desk.show, (last.what, setup, number), kept_at):
            self._write(happening, at, desk)

    def _writing(self, trouble: str) -> None:
        """The writer's thread says how it fares."""
        with contextlib.suppress(RuntimeError):  # the engine has ended
            self._call(self._fared, trouble)

    def _fared(self, trouble: str) -> None:
        self.state = Saved(ok=not trouble, error=trouble)
        lost = 0 if trouble else self._writer.take_given_up()
        if lost:
            self._heard.append((self._clock(), _lost(lost)))
        self._say(trouble or "the log is written again")


def _directly(function: Callable[..., object], *arguments: object) -> None:
    function(*arguments)


def _offset_s(wall: float) -> int:
    """How far the clock on the wall is ahead of UTC."""
    return time.localtime(wall).tm_gmtoff or 0


def _plays(playback: Playback) -> bool:
    """Whether something was taken up from an engine before."""
    lit = bool(playback.movement.goal.level.any())
    return lit or playback.cue is not None or playback.take is not None


def _beginning(desk: Desk, *, resumed: bool, died: bool) -> Happening:
    playback, show = desk.playback, desk.show
    data: dict[str, Any] = {"format": "onecrew-log", "version": 1, "boot": boot(), "pid": os.getpid()}
    if not resumed:
        text = "the engine starts" + (" after one that did not end" if died else "")
        return Happening("engine", "start", text, data)
    cue = show.cue(playback.cue)
    going = saying.cue(cue.number, cue.name) if cue is not None else "what was showing"
    if playback.take is not None and playback.take.running:
        data |= {"setup": playback.take.setup, "number": playback.take.number, "takes": dict(playback.takes)}
    return Happening("engine", "resume", f"the engine is back, {going} goes on", data, whole_state=True)


def _lost(count: int) -> Happening:
    text = f"{_entries(count)} found no room in memory and {_is(count)} lost"
    return Happening("engine", "log lost", text, {"lost": count})


def _lost_with_an_engine(count: int) -> Happening:
    text = f"{_entries(count)} {_is(count)} lost: an engine ended before the disk took {_them(count)}"
    return Happening("engine", "log lost", text, {"lost": count})


def _entries(count: int) -> str:
    return "one entry of the log" if count == 1 else f"{count} entries of the log"


def _them(count: int) -> str:
    return "it" if count == 1 else "them"


def _is(count: int) -> str:
    return "is" if count == 1 else "are"
