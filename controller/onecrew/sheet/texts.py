"""Texts: the look sheet as Markdown, and its lamps as a table for a spreadsheet."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator, Sequence

from onecrew.language import saying
from onecrew.log.logtable import cell
from onecrew.log.recorded_state import RecordedState, kind_of
from onecrew.log.text import clean
from onecrew.plan import saying as forecast
from onecrew.plan.forecast import Forecast, LampReading
from onecrew.sheet.facts import LampFacts, camera_facts, cautions, facts_of, modifiers, states
from onecrew.sheet.page import title_of, when
from onecrew.sheet.parts import EVENTS_HEAD, LIGHT_HEAD, light_words, metres

CSV_HEAD = (
    "lamp", "role", "profile", "mode", "universe", "address", "level", "output", "stops", "cct_k", "duv",
    "x", "y", "off_by", "mired_off", "effect", "slots", "height_m", "to_subject_m", "to_camera_m",
    "modifiers", "stops_with_modifiers", "note", "lux_to_lamp", "lux_to_camera", "share", "stops_to_key",
)  # fmt: skip
_ACTIVE = re.compile(r"([\\`*_{}\[\]<>()#+!|~])")


def markdown(recorded: RecordedState, read: Sequence[Forecast] = ()) -> str:
    """The sheet as Markdown (with tables). Text from people is escaped, so that it shows as written.

    ``read`` is what a meter would have read at the subject.
    """
    return "\n".join(_lines(recorded, facts_of(recorded), read)) + "\n"


def lamps_csv(recorded: RecordedState, read: Sequence[Forecast] = ()) -> str:
    """A row for each lamp, numbers plain, as CSV (RFC 4180) with a head line.

    The last columns are the forecast at the first subject; a figure that is not known stays empty.
    """
    lamps = {lamp.id: lamp for lamp in read[0].lamps} if read else {}
    sheet = io.StringIO(newline="")
    table = csv.writer(sheet)
    table.writerow(CSV_HEAD)
    for fact in facts_of(recorded):
        table.writerow(_row(fact, lamps.get(fact.id)))
    return sheet.getvalue()


def _row(fact: LampFacts, read: LampReading | None) -> list[object]:
    fixture, sent = fact.lamp.fixture, fact.lamp.sent
    white = sent.white
    return [
        cell(fixture.id), fixture.role, fixture.profile, fixture.mode, fixture.universe, fixture.address,
        _number(sent.level, 5), _number(sent.output, 6), _number(fact.stops, 3),
        _number(white.cct_k if white else None, 1), _number(white.duv if white else None, 5),
        _number(sent.xy[0], 5), _number(sent.xy[1], 5), _number(sent.off_by, 5), _number(fact.mired_off, 2),
        cell(fact.effect), " ".join(map(str, sent.slots)), _number(fact.height_m, 3),
        _number(fact.to_subject_m, 3), _number(fact.to_camera_m, 3), cell(modifiers(fact.lamp)),
        _number(fact.stops_with_modifiers, 3), cell(fixture.note),
        *(_number(lux if read is not None and read.known else None, 3)
          for lux in ((read.lamp_lux, read.camera_lux) if read is not None else (None, None))),
        _number(read.share if read is not None else None, 4),
        _number(read.to_key if read is not None else None, 3),
    ]  # fmt: skip


def _number(value: float | None, places: int) -> str:
    return "" if value is None else f"{value:.{places}f}"


# ── Markdown ────────────────────────────────────────────────────────────────────────────────────────


def _lines(recorded: RecordedState, facts: Sequence[LampFacts], read: Sequence[Forecast]) -> Iterator[str]:
    yield from _head(recorded)
    yield from ("", "## The light", "", *_light(facts))
    yield from ("", "## Camera", "")
    yield from (f"- {label}: {_safe(said)}" for label, said in camera_facts(recorded))
    for each in read:
        if each.lamps:
            yield from _at_subject(each)
    yield from ("", "## Rig", "", *_rig(recorded, facts))
    yield from ("", "## Slots", "")
    yield from _table(
        ("lamp", "address", "channel values"),
        [(fact.id, fact.address, _channels(fact)) for fact in facts],
    )
    if recorded.events:
        yield from ("", "## During the take", "")
        yield from _table(
            EVENTS_HEAD, [(saying.minus(f"{event.after_s:+.2f} s"), event.text) for event in recorded.events]
        )
    yield from ("", "## Cautions", "")
    yield from (f"- {_safe(sentence)}" for sentence in cautions(recorded))


def _head(recorded: RecordedState) -> Iterator[str]:
    """What it is of, when that was, and what held for the whole room."""
    yield f"# {_safe(recorded.heading)}"
    yield ""
    yield f"**{_safe(title_of(recorded))}**"
    at = when(recorded)
    yield f"  \n{_safe(at) if at else 'As stored in the show'}"
    for note in (recorded.cue.note if recorded.cue else "", *(recorded.take.notes if recorded.take else ())):
        if note.strip():
            yield f"\n> {_safe(note)}"
    if recorded.cue is not None and (of := recorded.cue.predicted) is not None:
        yield f"\nMatched to {_safe(of.reference)}: {_safe(saying.predicted(of))}."
    if said := states(recorded):
        yield from ("", *(f"- {_safe(sentence)}" for sentence in said))


def _light(facts: Sequence[LampFacts]) -> Iterator[str]:
    rows = [(fact.id, fact.lamp.fixture.role, *light_words(fact)) for fact in facts]
    yield from _table(("lamp", "role", *LIGHT_HEAD), rows)
    for fact in facts:
        for remark in ([fact.effect] if fact.effect else []) + list(fact.lamp.sent.notes):
            yield f"\n- **{_safe(fact.id)}** {_safe(remark)}"


def _rig(recorded: RecordedState, facts: Sequence[LampFacts]) -> Iterator[str]:
    yield from _table(
        ("lamp", "fixture", "mode", "address", "height", "to subject", "to camera", "modifiers", "note"),
        [_rig_row(recorded, fact) for fact in facts],
    )
    if recorded.set_pieces:
        yield from ("", "### Set pieces", "")
        yield from (
            f"- **{_safe(piece.id)}** {_safe(piece.kind)}{'. ' + _safe(piece.note) if piece.note else ''}"
            for piece in recorded.set_pieces
        )


def _at_subject(read: Forecast) -> Iterator[str]:
    yield from ("", f"## At {_safe(read.subject)}, forecast", "")
    yield f"Worked out from the plan for {_safe(forecast.where(read))}, not metered. {forecast.HALF_A_STOP}"
    yield ""
    yield from (f"- {_safe(' '.join(filter(None, each)))}" for each in forecast.readings(read))
    yield from (f"- {_safe(said)}" for said in forecast.ratios(read))
    yield ""
    yield from _table(forecast.HEAD, [forecast.row(lamp, read.units) for lamp in read.lamps])
    yield ""
    yield from (f"- {_safe(said)}" for said in forecast.remarks(read))


def _rig_row(recorded: RecordedState, fact: LampFacts) -> tuple[str, ...]:
    fixture = fact.lamp.fixture
    kind = recorded.kinds.get(kind_of(fixture))
    name = kind.name if kind is not None else fixture.profile
    lengths = (fact.height_m, fact.to_subject_m, fact.to_camera_m)
    said = (metres(length, recorded.room.units) for length in lengths)
    return (fact.id, name, fixture.mode, fact.address, *said, modifiers(fact.lamp), fixture.note)


def _channels(fact: LampFacts) -> str:
    said = ", ".join(f"{does} {' '.join(map(str, values))}" for does, values in fact.slots)
    return f"{said} ({fact.segments})" if fact.segments else said


def _table(head: Sequence[str], rows: Sequence[Sequence[str]]) -> Iterator[str]:
    yield "| " + " | ".join(head) + " |"
    yield "|" + " --- |" * len(head)
    for row in rows:
        yield "| " + " | ".join(_safe(text) for text in row) + " |"


def _safe(text: str) -> str:
    """Text that Markdown shows as it is."""
    shown = _ACTIVE.sub(r"\\\1", clean(text)).replace("&", "&amp;")
    return shown.replace("://", ":&#47;/").replace("www.", "www&#46;")
