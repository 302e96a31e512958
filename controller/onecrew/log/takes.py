"""Takes: a whole log put in order — when everything happened on one line of time, and which take it is of."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Any

from onecrew.errors import Trouble
from onecrew.language import saying
from onecrew.log.entries import Entry
from onecrew.log.recorded_state import RecordedState, parse_recorded_state

STANDS = ("take", "stands")
"""Kind and what of an entry that holds the state of a running take whose light has come to rest."""


@dataclass(frozen=True, slots=True)
class Timed:
    """An entry and its time, in seconds after the first entry of the log."""

    t: float
    entry: Entry


@dataclass(slots=True)
class Take:
    """One run of the camera. ``end`` is None for one that runs, or whose end was never heard of."""

    setup: str
    number: int
    start: Timed
    end: Timed | None = None
    events: list[Timed] = field(default_factory=list)
    """Everything from start to end, both included."""
    good: bool | None = None
    notes: list[str] = field(default_factory=list)
    clip: str = ""
    """Name of the camera's clip, the last that was given."""
    cut_short: bool = False
    """The engine was started anew before it ended."""

    @property
    def name(self) -> str:
        return saying.take(self.setup, self.number)

    @property
    def length_s(self) -> float | None:
        return self.end.t - self.start.t if self.end is not None else None

    @property
    def cue(self) -> str:
        """The cue of its look, in words."""
        at = self._when(None)
        cue = _state(at).get("cue") if at is not None else None
        return saying.cue(cue.get("number"), cue.get("name") or "") if isinstance(cue, dict) else "no cue"

    def facts(self) -> dict[str, Any]:
        """It as plain data: ``at`` is ISO 8601 in UTC, ``length_s`` None where its end is not known."""
        return {
            "setup": self.setup,
            "number": self.number,
            "at": self.start.entry.utc,
            "length_s": self.length_s,
            "cue": self.cue,
            "clip": self.clip,
            "good": self.good,
            "notes": self.notes,
            "cut_short": self.cut_short,
        }

    def recorded_state(self, at_s: float | None = None) -> RecordedState:
        """The first look that stood still and gave light, or the last state written up to ``at_s`` into it.

        Raises ``Trouble`` where the log does not hold it.
        """
        here = self._when(at_s)
        if here is None:
            raise Trouble(f"the log does not hold what was sent in {self.name}")
        happened = [
            {"after_s": max(0.0, timed.t - self.start.t), "kind": timed.entry.kind, "text": timed.entry.text}
            for timed in self.events[1:]
            if timed.entry.kind != "show" and (timed.entry.kind, timed.entry.what) != STANDS
        ]
        return parse_recorded_state(
            {
                **_state(here),
                "at": here.entry.utc,
                "local": here.entry.local_offset,
                "take": {
                    "setup": self.setup,
                    "number": self.number,
                    "good": self.good,
                    "clip": self.clip,
                    "notes": self.notes,
                    "length_s": self.length_s,
                },
                "events": happened,
            },
            f"the log's {self.name}",
        )

    def _when(self, at_s: float | None) -> Timed | None:
        """The entry whose state is asked for, None where there is none."""
        written = [timed for timed in self.events if _state(timed)]
        if at_s is not None:
            return next((one for one in reversed(written) if one.t - self.start.t <= at_s), None)
        still = [one for one in written if _state(one).get("fade") is None]
        lit = (one for one in still if _is_lit(_state(one)))
        return next(lit, next(iter(still or written), None))


def _state(timed: Timed) -> dict[str, Any]:
    state = timed.entry.data.get("state")
    return state if isinstance(state, dict) else {}


def _is_lit(state: dict[str, Any]) -> bool:
    """Whether any lamp gave light in a state, as far as the log says."""
    try:
        return any(lamp["sent"]["level"] > 0.0 for lamp in state.get("lamps", ()))
    except (KeyError, TypeError):
        return False


@dataclass(frozen=True, slots=True)
class Log:
    """A whole log in order."""

    entries: tuple[Timed, ...]
    takes: tuple[Take, ...]

    def take(self, number: int | None, setup: str | None) -> Take:
        """The latest take of this number (None: of any) in this setup (None: in any). Raises ``Trouble``."""
        found = [
            take
            for take in self.takes
            if (number is None or take.number == number) and (setup is None or take.setup == setup)
        ]
        if found:
            return found[-1]
        if not self.takes:
            raise Trouble("the log has no takes yet; `onecrew send take start` begins one")
        have = ", ".join(dict.fromkeys(f"{take.setup}/{take.number}" for take in self.takes[-12:]))
        asked = "" if number is None else f"take {number}"
        asked += "" if setup is None else f" of setup {setup}" if asked else f"take of setup {setup}"
        raise Trouble(f"the log has no {asked or 'such take'}; the latest are {have} (setup/take)")


def put_in_order(entries: Iterable[Entry]) -> Log:
    """The log of these entries, as they stand in the file.

    Times come from the monotonic clock while the machine ran through; across a restart of the machine, or
    where the clock went backwards, from the clock on the wall.
    """
    timed: list[Timed] = []
    takes: list[Take] = []
    running: Take | None = None
    t, boot, last = 0.0, "", None
    for entry in entries:
        fresh = entry.data.get("boot") if entry.kind == "engine" else None
        same = not isinstance(fresh, str) or fresh == boot
        boot = fresh if isinstance(fresh, str) else boot
        if last is not None:
            by_mono = entry.mono - last.mono
            t += by_mono if same and by_mono >= -1.0 else max(0.0, entry.at - last.at)
        last = entry
        here = Timed(t, entry)
        timed.append(here)
        if running is not None:
            running.events.append(here)
        running = _follow(here, running, takes)
        if entry.kind == "note" and entry.what == "take":
            _note(entry, takes)
        if entry.kind == "note" and entry.what == "clip":
            _clip(entry, takes)
        if entry.kind == "note" and entry.what == "record":
            _record(entry, takes)
    return Log(tuple(timed), tuple(takes))


def _follow(here: Timed, running: Take | None, takes: list[Take]) -> Take | None:
    """The take that runs after this entry."""
    entry = here.entry
    setup, number = entry.data.get("setup"), entry.data.get("number")
    same = running is not None and (running.setup, running.number) == (setup, number)
    anew = entry.kind == "engine" and entry.what == "start"
    resumed = entry.kind == "engine" and entry.what == "resume" and not same
    starts = entry.kind == "take" and entry.what == "start"
    if running is not None and (anew or resumed or starts):
        running.events.pop()
        running.cut_short = True
        running = None
    if (starts or resumed) and isinstance(setup, str) and isinstance(number, int):
        takes.append(Take(setup, number, here, events=[here]))
        return takes[-1]
    if entry.kind == "take" and entry.what == "end" and running is not None:
        running.end = here
        running.good = entry.data.get("good") if isinstance(entry.data.get("good"), bool) else None
        note = entry.data.get("note")
        if isinstance(note, str) and note.strip():
            running.notes.append(note)
        return None
    return running


def _note(entry: Entry, takes: Sequence[Take]) -> None:
    take = _meant(entry, takes)
    if take is not None:
        take.notes.append(str(entry.data.get("note", "")))


def _clip(entry: Entry, takes: Sequence[Take]) -> None:
    take, name = _meant(entry, takes), entry.data.get("clip")
    if take is not None and isinstance(name, str):
        take.clip = name


def _record(entry: Entry, takes: Sequence[Take]) -> None:
    """What is on record of a take from now on: verdict, clip and notes, as far as they are said."""
    take = _meant(entry, takes)
    if take is None:
        return
    _clip(entry, takes)
    good, notes = entry.data.get("good", take.good), entry.data.get("notes", take.notes)
    take.good = good if isinstance(good, bool) else None
    take.notes = [note for note in notes if isinstance(note, str)] if isinstance(notes, list) else take.notes


def _meant(entry: Entry, takes: Sequence[Take]) -> Take | None:
    """The latest take of the setup and number that an entry names."""
    named = (entry.data.get("setup"), entry.data.get("number"))
    return next((take for take in reversed(takes) if (take.setup, take.number) == named), None)
