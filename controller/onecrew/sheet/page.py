"""Page: the look sheet as one HTML file that needs nothing else and prints on A4."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime
from types import MappingProxyType

from onecrew.colour.tolerance import SEEN_SIDE_BY_SIDE
from onecrew.language import saying
from onecrew.log.recorded_state import RecordedState, kind_of
from onecrew.plan import saying as forecast
from onecrew.plan.forecast import Forecast
from onecrew.sheet.chromaticity import close, legend, whole
from onecrew.sheet.facts import LampFacts, camera_facts, cautions, facts_of, states, subject_of
from onecrew.sheet.markup import Markup, el, joined
from onecrew.sheet.parts import (
    EVENTS_HEAD,
    LIGHT_HEAD,
    bar,
    dash_line,
    degrees,
    document,
    figure,
    light_words,
    listing,
    metres,
    modified,
    num,
    section,
    small,
    swatch,
    table,
)
from onecrew.sheet.plan import plan
from onecrew.show.show import Predicted

EVENTS_SHOWN = 60
NO_PICTURES: Mapping[str, str] = MappingProxyType({})
ASSUMED = "assumed: "
"""How a remark of the forecast begins that is no finding."""


def page(
    recorded: RecordedState, read: Sequence[Forecast] = (), pictures: Mapping[str, str] = NO_PICTURES
) -> str:
    """The sheet as the text of an HTML file.

    ``read`` is what a meter would have read at the subject, ``pictures`` the small JPEGs (base64) of the
    match that the cue was found by.
    """
    parts = _sections(recorded, facts_of(recorded), read, pictures)
    return document(f"{recorded.heading}: {recorded.title}", parts, pictures=bool(pictures))


def when(recorded: RecordedState) -> str:
    """The time on the wall there: '2026-01-05 14:02:11 (UTC+01:00)'; empty for what has no time."""
    if recorded.at is None:
        return ""
    try:
        at = datetime.fromisoformat(recorded.at)
        local = datetime.fromisoformat("2000-01-01T00:00" + recorded.local).tzinfo
        return f"{at.astimezone(local):%Y-%m-%d %H:%M:%S} (UTC{recorded.local})"
    except ValueError:
        return recorded.at


# ── Sections ────────────────────────────────────────────────────────────────────────────────────────


def _sections(
    recorded: RecordedState, facts: Sequence[LampFacts], read: Sequence[Forecast], pictures: Mapping[str, str]
) -> Iterator[Markup]:
    yield _head(recorded)
    yield _light(facts)
    if recorded.cue is not None and recorded.cue.predicted is not None:
        yield _match(recorded.cue.predicted, pictures)
    yield _room(recorded, facts)
    yield from (_at_subject(each) for each in read if each.lamps)
    yield _slots(facts)
    yield _colour(recorded, facts)
    yield _rig(recorded, facts)
    if recorded.events:
        yield _events(recorded)
    yield _cautions(recorded)
    source = "the show's cue" if recorded.at is None else "what was sent to the lamps"
    yield el("footer", f"Made by onecrew from {source}.")


def _head(recorded: RecordedState) -> Markup:
    take = recorded.take
    parts = [
        el("p", "Look sheet", class_="eyebrow"),
        el("h1", recorded.heading),
        el("p", title_of(recorded), class_="subject"),
    ]
    at = when(recorded)
    facts = [at] if at else ["As stored in the show"]
    if take is not None and take.length_s is not None:
        facts.append(f"ran {saying.seconds(take.length_s)}")
    if take is not None and take.clip:
        facts.append(f"clip {take.clip}")
    if take is not None and take.good is not None:
        facts.append("good" if take.good else "bad")
    parts.append(el("p", " · ".join(facts), class_="when"))
    notes = [recorded.cue.note] if recorded.cue is not None and recorded.cue.note else []
    notes += list(take.notes) if take is not None else []
    parts += [el("p", note, class_="note") for note in notes if note.strip()]
    if said := states(recorded):
        parts.append(listing(said, "states"))
    return el("header", *parts)


def title_of(recorded: RecordedState) -> str:
    """What the sheet is of, as a headline."""
    title = recorded.title
    return title[:1].upper() + title[1:]


def _light(facts: Sequence[LampFacts]) -> Markup:
    head = ("", "lamp", "", *LIGHT_HEAD)
    rows = [
        el(
            "tr",
            el("td", swatch(fact), class_="dot"),
            el("th", fact.id, el("span", fact.lamp.fixture.role, class_="role"), scope="row"),
            el("td", bar(fact), class_="bars"),
            *map(num, numbers),
            el("td", white_balance),
            class_=None if fact.lit else "off",
        )
        for fact in facts
        for *numbers, white_balance in (light_words(fact),)
    ]
    about = (
        "Output is the share of the full light of its colour, stops the same below full; swatches are as "
        "the camera saw them."
    )
    return section(
        "The light", table(head, rows, "light", numbers=(3, 4, 5, 6, 7)), *_remarks(facts), small(about)
    )


def _match(of: Predicted, pictures: Mapping[str, str]) -> Markup:
    """The reference that the cue was matched to, and how near it is predicted to come."""
    figures = [
        figure(el("img", src=f"data:image/jpeg;base64,{data}", alt=name), name)
        for name, data in pictures.items()
    ]
    rows = [
        el(
            "tr",
            el("th", one.name, scope="row"),
            num(saying.minus(f"{one.stops:+.2f}")),
            num(f"{one.delta_e:.1f}"),
        )
        for one in of.regions
    ]
    head = ("region", "stops", "ΔE2000")
    return section(
        "Match",
        el("p", f"Matched to {of.reference}: {saying.predicted(of) or 'nothing is predicted'}."),
        el("div", *figures, class_="figures match") if figures else Markup(""),
        table(head, rows, "match", numbers=(1, 2)) if rows else Markup(""),
        class_="keep",
    )


def _remarks(facts: Sequence[LampFacts]) -> Iterator[Markup]:
    """Effects, clamps and colours out of reach."""
    said = []
    for fact in facts:
        if fact.effect:
            said.append((fact.id, fact.effect))
        if fact.lit and fact.lamp.sent.off_by >= SEEN_SIDE_BY_SIDE and not fact.lamp.sent.notes:
            missed = f"the colour reached is Δu′v′ {fact.lamp.sent.off_by:.4f} from the one asked for"
            said.append((fact.id, missed))
        said += [(fact.id, note) for note in fact.lamp.sent.notes]
    if said:
        yield el("ul", *(el("li", el("b", name), " ", text) for name, text in said), class_="remarks")


def _room(recorded: RecordedState, facts: Sequence[LampFacts]) -> Markup:
    drawn = plan(recorded, facts)
    notes = [joined(el("dt", label), el("dd", said)) for label, said in camera_facts(recorded)]
    camera = el("div", el("h2", "Camera"), el("dl", *notes), class_="side")
    if drawn is None:
        return el("section", camera, small("Nothing in the rig has a place yet, so there is no plan."))
    lost = [fact.id for fact in facts if fact.lamp.fixture.place is None]
    without = small(f"Without a place: {', '.join(lost)}.") if lost else Markup("")
    return el("section", el("div", el("h2", "Plan"), drawn, without), camera, class_="two keep")


def _at_subject(read: Forecast) -> Markup:
    """What a meter would have read, as worked out from the plan."""
    facts = [
        joined(el("dt", what), el("dd", f"{lux}{', ' if stops else ''}{stops}"))
        for what, lux, stops in forecast.readings(read)
    ]
    facts += [joined(el("dt", "ratio"), el("dd", said)) for said in forecast.ratios(read)]
    rows = [
        el(
            "tr",
            el("th", lamp.id, el("span", lamp.role, class_="role"), scope="row"),
            *map(num, forecast.row(lamp, read.units)[2:]),
            class_=None if lamp.output > 0.0 else "off",
        )
        for lamp in read.lamps
    ]
    head = (forecast.HEAD[0], *forecast.HEAD[2:])
    said = list(forecast.remarks(read))
    assumed = [one for one in said if one.startswith(ASSUMED)]
    return section(
        f"At {read.subject}, forecast",
        el("dl", *(el("div", fact) for fact in facts), class_="across"),
        table(head, rows, "light tight", numbers=range(1, len(head))),
        small(f"Worked out from the plan for {forecast.where(read)}, not metered. {forecast.HALF_A_STOP}"),
        listing((one for one in said if one not in assumed), "states"),
        small(f"Assumed: {'; '.join(one.removeprefix(ASSUMED) for one in assumed)}.")
        if assumed
        else Markup(""),
    )


def _colour(recorded: RecordedState, facts: Sequence[LampFacts]) -> Markup:
    kinds = [el("li", dash_line(dash), el("span", name)) for dash, name in legend(recorded)]
    said = small("What each kind of lamp can give:")
    gamuts = joined(said, el("ul", *kinds, class_="legend")) if kinds else Markup("")
    near = "The lamps as they were. A ring is a colour asked for and not reached."
    far = "CIE 1976 u′v′ with the Planckian locus; the cross is the white balance."
    figures = (figure(close(recorded, facts), near), figure(whole(recorded, facts), far))
    return section("Chromaticity", el("div", *figures, class_="figures"), gamuts, class_="keep")


def _rig(recorded: RecordedState, facts: Sequence[LampFacts]) -> Markup:
    subject = subject_of(recorded)
    head = ["lamp", "fixture and mode", "address", "height"]
    head += [name for name, known in (("to subject", subject), ("to camera", recorded.camera.place)) if known]
    rows = [_rig_row(recorded, fact, head) for fact in facts]
    pieces = [
        el("li", el("b", piece.id), " ", ". ".join(filter(None, (kind, piece.note))))
        for piece, kind in ((one, one.kind if one.kind != one.id else "") for one in recorded.set_pieces)
    ]
    about = (
        "Distances run straight from lamp to subject and camera, or along the floor where a height is not "
        "known; degrees are the lamp's angle above the subject."
        if subject is not None
        else "For distances to the subject, place a set piece of the kind subject on the plan."
    )
    return section(
        "Rig",
        table((*head, "modifiers", "note"), rows, "rig", numbers=range(2, len(head))),
        small(about),
        joined(el("h3", "Set pieces"), el("ul", *pieces, class_="remarks pieces")) if pieces else Markup(""),
    )


def _rig_row(recorded: RecordedState, fact: LampFacts, head: Sequence[str]) -> Markup:
    fixture = fact.lamp.fixture
    kind = recorded.kinds.get(kind_of(fixture))
    how = [fixture.mode]
    how += ["best-rendition"] if fixture.mixing == "best-rendition" else []
    how += ["even output"] if fixture.even else []
    how += ["segments share"] if fixture.sharing else []
    steep = f", {degrees(fact.above_subject_deg)}" if fact.above_subject_deg is not None else ""
    cells = [
        el("th", fact.id, scope="row"),
        el("td", fixture.profile if kind is None else kind.name, el("span", ", ".join(how), class_="role")),
        num(fact.address),
        num(metres(fact.height_m, recorded.room.units)),
    ]
    if "to subject" in head:
        cells.append(num(metres(fact.to_subject_m, recorded.room.units) + steep))
    if "to camera" in head:
        cells.append(num(metres(fact.to_camera_m, recorded.room.units)))
    return el("tr", *cells, el("td", modified(fact)), el("td", fixture.note))


def _slots(facts: Sequence[LampFacts]) -> Markup:
    rows = []
    for fact in facts:
        channels = [
            el("span", el("i", does), " ", " ".join(map(str, values)), class_="slot")
            for does, values in fact.slots
        ]
        segments = el("span", fact.segments, class_="role") if fact.segments else Markup("")
        cells = num(fact.address), el("td", *channels, segments)
        rows.append(el("tr", el("th", fact.id, scope="row"), *cells))
    head = ("lamp", "address", "channel values 0–255, coarse before fine")
    return section("Slots", table(head, rows, "slots", numbers=(1,)))


def _events(recorded: RecordedState) -> Markup:
    shown = recorded.events[:EVENTS_SHOWN]
    rows = [el("tr", num(saying.minus(f"{event.after_s:+.2f} s")), el("td", event.text)) for event in shown]
    more = len(recorded.events) - len(shown)
    return section(
        "During the take",
        table(EVENTS_HEAD, rows, "events", numbers=(0,)),
        small(f"And {more} more; the log has them.") if more else Markup(""),
    )


def _cautions(recorded: RecordedState) -> Markup:
    return section("Cautions", listing(cautions(recorded)), class_="cautions keep")
