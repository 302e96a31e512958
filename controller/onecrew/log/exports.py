"""Exports for the edit: entries and takes of a log as markers, captions or a table. Pure."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from onecrew.errors import Misuse, Trouble
from onecrew.log.captions import captions_of, sub_rip, web_vtt
from onecrew.log.cut import TOLD, clip_of, clips_of_takes
from onecrew.log.edl import edit_list
from onecrew.log.entries import Entry
from onecrew.log.logtable import as_csv
from onecrew.log.takes import Log, Take, Timed
from onecrew.log.timecode import Rate, frame_of, seconds_of
from onecrew.log.timeline import timeline

EXPORTS = {
    "csv": "a table",
    "vtt": "captions, WebVTT",
    "srt": "captions, SubRip",
    "edl": "markers, edit decision list",
    "otio": "markers, OpenTimelineIO",
}
FRAMES = frozenset({"edl", "otio"})
"""Exports that count frames, and so need a rate."""


@dataclass(frozen=True, slots=True)
class Cut:
    """What of a log is exported; the first take (else the first entry) is at ``sync_s`` of the footage."""

    log: Log
    entries: Sequence[Timed]
    takes: Sequence[Take]
    title: str
    rate: Rate | None
    sync_s: float = 0.0
    kinds: tuple[str, ...] = ()
    """Kinds of entries; none for those that the form is used for."""


def exported(form: str, cut: Cut) -> str:
    """The text of a file of this form of ``EXPORTS``. ``Misuse`` where there is nothing to export."""
    if not cut.entries:
        raise Misuse("nothing in the log is left to export; ask for less")
    zero = (cut.takes[0].start if cut.takes else cut.entries[0]).t
    if form == "csv":
        shown = [timed for timed in cut.entries if not cut.kinds or timed.entry.kind in cut.kinds]
        return as_csv(shown, cut.log.takes, cut.rate, zero, cut.sync_s)
    kinds = cut.kinds or TOLD
    if cut.takes:
        clips = clips_of_takes(cut.takes, kinds, zero, cut.sync_s)
    else:
        shown = [timed for timed in cut.entries if timed.entry.kind in kinds]
        clips = [clip_of(shown, cut.title, zero, cut.sync_s)]
    if form in FRAMES:
        assert cut.rate is not None  # asked for whenever frames are counted
        return (edit_list if form == "edl" else timeline)(clips, cut.title, cut.rate)
    captions = captions_of(clips)
    return web_vtt(captions, cut.title) if form == "vtt" else sub_rip(captions)


def fps_of(take: Take) -> float | None:
    """The frame rate of the camera notes at a take; None where they do not say."""
    try:
        return take.recorded_state().camera.fps
    except Trouble:
        return None


def name_at(takes: Sequence[Take]) -> str:
    """What the show was called at the first take; empty where the log does not say."""
    state = takes[0].start.entry.data.get("state") if takes else None
    name = state.get("show") if isinstance(state, dict) else None
    return name if isinstance(name, str) else ""


def sync_of(said: str | None, rate: Rate | None, start: Entry, what: str) -> float:
    """Where the take's start is in the footage, in seconds, said as timecode, seconds or clock.

    ``what`` names it in ``Misuse``.
    """
    if said is None:
        return 0.0
    if said.lower() == "clock":
        if rate is not None and rate.fps.denominator != 1 and not rate.drop:
            raise Misuse(
                f"timecode at {rate} does not keep to the clock; give the timecode of the take's start"
            )
        local = start.local
        return (local - local.replace(hour=0, minute=0, second=0, microsecond=0)).total_seconds()
    plain = re.fullmatch(r"(\d+(?:\.\d+)?)\s*s?", said.strip().lower(), re.ASCII)
    if plain and float(plain[1]) < 86400.0:
        return float(plain[1])
    assert rate is not None  # asked for whenever there is a --sync
    try:
        return seconds_of(frame_of(said, rate), rate)
    except ValueError as error:
        raise Misuse(f"{what} {error}") from None
