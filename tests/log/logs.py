"""Logs to test with, made entry by entry."""

from __future__ import annotations

from typing import Any

from onecrew.log.entries import Entry
from onecrew.log.takes import Log, put_in_order

AT = 1767621731.0
"""2026-01-05 14:02:11 UTC."""


class Scribe:
    """Writes entries, one after the other; ``t`` is the time that the next one has."""

    def __init__(self, boot: str = "one", mono: float = 100.0) -> None:
        self.entries: list[Entry] = []
        self.t = 0.0
        self.mono = mono
        self.boot = boot

    def add(self, kind: str, what: str, text: str, **data: Any) -> Entry:
        n = len(self.entries) + 1
        entry = Entry(n, AT + self.t, 3600, self.mono + self.t, kind, what, text, data)
        self.entries.append(entry)
        return entry

    def engine(self, what: str, **data: Any) -> Entry:
        return self.add("engine", what, f"the engine: {what}", boot=self.boot, **data)

    def start(self, setup: str, number: int, **state: Any) -> Entry:
        text = f"take {number} of setup {setup} starts"
        data = {"state": {"format": "onecrew-sheet", "version": 1, **state}} if state else {}
        return self.add("take", "start", text, setup=setup, number=number, **data)

    def end(self, setup: str, number: int, good: bool | None = None, note: str = "") -> Entry:
        text = f"take {number} of setup {setup} ends"
        return self.add("take", "end", text, setup=setup, number=number, good=good, note=note)

    def cue(self, number: str, name: str, **look: Any) -> Entry:
        return self.add("cue", "go", f"go: cue {number} {name}, in 2 s", cue=number, name=name, look=look)

    def note(self, text: str, setup: str = "", number: int = 0) -> Entry:
        if setup:
            return self.add("note", "take", f"note: {text}", note=text, setup=setup, number=number)
        return self.add("note", "note", f"note: {text}", note=text)

    def clip(self, name: str, setup: str, number: int) -> Entry:
        return self.add("note", "clip", f"clip {name}", clip=name, setup=setup, number=number)

    def log(self) -> Log:
        return put_in_order(self.entries)


def an_evening(fps: float = 25.0) -> Scribe:
    """Two takes of setup 12A with cues and notes, the second one good."""
    state = {"show": "The Night Baker", "cue": {"number": "2", "name": "Before dawn"}, "camera": {"fps": fps}}
    scribe = Scribe()
    scribe.engine("start")
    scribe.t = 10.0
    scribe.start("12A", 1, **state)
    scribe.t = 14.5
    scribe.cue("3", "Ovens on", window={"level": 0.12, "white": {"cct_k": 5600.0}}, oven={"level": 0.35})
    scribe.t = 20.0
    scribe.end("12A", 1, good=False, note="door")
    scribe.t = 40.0
    scribe.start("12A", 2, **state)
    scribe.t = 41.0
    scribe.add("light", "set", "window 22 % 3400 K", lamps={})
    scribe.t = 41.001
    scribe.add("show", "store", "store cue 2 Before dawn")
    scribe.t = 50.0
    scribe.end("12A", 2, good=True)
    scribe.t = 55.0
    scribe.note("use this one", "12A", 2)
    scribe.t = 60.0
    scribe.note("lunch")
    return scribe
