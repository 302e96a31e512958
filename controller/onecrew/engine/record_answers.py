"""Answers about the record: the helper that reads the take log and the versions of a show.

Run as a module it is a helper of ``engine.helper``; ``engine.records`` has the questions. What needs the
whole desk to answer is in ``record_looks``, which is loaded only for that.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from importlib import import_module
from typing import Any

from onecrew.engine.helper import main
from onecrew.engine.record import Answer, Record
from onecrew.errors import Misuse
from onecrew.language import saying
from onecrew.log.exports import EXPORTS, FRAMES, Cut, exported, fps_of, name_at, sync_of
from onecrew.log.takes import Take
from onecrew.log.timecode import Rate, rate_of
from onecrew.show.scenes import scenes_of
from onecrew.show.show import Show
from onecrew.show.versions import kept_versions, version, what_changed

# ── Takes ───────────────────────────────────────────────────────────────────────────────────────────


def takes(record: Record) -> Answer:
    """Every take, oldest first."""
    return {
        "takes": [
            {
                **take.facts(),
                "id": take.start.entry.n,
                "clock": take.start.entry.local.strftime("%H:%M:%S"),
                "day": take.start.entry.local.strftime("%Y-%m-%d"),
            }
            for take in record.log.takes
        ]
    }


def export(record: Record) -> Answer:
    form = record.to.suffix.lower().removeprefix(".")
    if form not in EXPORTS:
        raise Misuse(f"{record.to} has no ending that says its form; end it in .{', .'.join(EXPORTS)}")
    log = record.log
    takes = log.takes
    if "take" in record.asked:
        takes = (record.take(log),)
    elif (setup := record.asked.get("setup")) is not None:
        takes = tuple(take for take in log.takes if take.setup == setup)
    entries = [timed for take in takes for timed in take.events]
    if not entries:
        raise Misuse("the log has no take to export yet")
    sync, rate = record.asked.get("sync"), None
    if form in FRAMES or sync is not None:
        rate = _rate(record, takes)
    sync_s = sync_of(sync, rate, takes[0].start.entry, "the start in the footage:")
    title = name_at(takes) or record.show.name
    return record.write(exported(form, Cut(log, entries, takes, title, rate, sync_s)))


def _rate(record: Record, takes: tuple[Take, ...]) -> Rate:
    fps = record.asked.get("fps") or fps_of(takes[0]) or record.show.camera.fps
    try:
        return rate_of(fps)
    except ValueError as error:
        raise Misuse(str(error)) from None


# ── Versions ────────────────────────────────────────────────────────────────────────────────────────


def versions(record: Record) -> Answer:
    """The kept versions, oldest first, each with what changed in it and whether it is what the desk has."""
    return {
        "versions": [
            {"number": one.number, "at": one.at, "changed": one.changed, "now": one.show == record.show}
            for one in kept_versions(record.path)
        ]
    }


def outlined(record: Record) -> Answer:
    """A version in words, and what bringing it back would change."""
    show = version(record.path, record.asked["number"])
    return {"changes": what_changed(record.show, show), "lines": list(_outline(show))}


def _outline(show: Show) -> Iterator[str]:
    yield show.name
    yield ""
    for lamp in show.rig.fixtures:
        yield f"{lamp.id}: {lamp.profile}/{lamp.mode} at {lamp.universe}.{lamp.address}"
    for scene in scenes_of(show):
        yield ""
        yield f"Scene {scene.name}"
        for cue in scene.cues:
            look = ", ".join(f"{name} {saying.said(light)}" for name, light in cue.look.items())
            yield f"{saying.cue(cue.number, cue.name)}: {look or 'black'}"


TOPICS: dict[str, Callable[[Record], Answer]] = {
    "takes": takes,
    "export": export,
    "versions": versions,
    "version": outlined,
}


def answer(question: dict[str, Any]) -> Answer:
    """The answer to a question of ``engine.records``; raises ``OnecrewError`` with a sentence."""
    known = TOPICS.get(question["topic"])
    if known is None:
        known = import_module("onecrew.engine.record_looks").TOPICS[question["topic"]]
    return known(Record(question))


if __name__ == "__main__":
    sys.exit(main(answer))
