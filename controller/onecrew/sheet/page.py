"""Page: the look sheet as one HTML file that needs nothing else and prints on A4."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime
from types import MappingProxyType

from onecrew.colour.tolerance import SEEN_SIDE_BY_SIDE
from onecrew.language import saying
from onecrew.log.moment import Moment, kind_of
from onecrew.plan import saying as forecast
from onecrew.plan.forecast import Forecast
from onecrew.sheet.chromaticity import close, legend, whole
from onecrew.sheet.facts import (
    LampFacts,
    camera_facts,
    cautions,
    facts_of,
    mired_word,
    states,
    subject_of,
)
from onecrew.sheet.markup import Markup, el, joined
from onecrew.sheet.parts import (
    bar,
    dash_line,
    degrees,
    metres,
    modified,
    stops_words,
    swatch,
    table,
)
from onecrew.sheet.plan import plan
from onecrew.sheet.style import STYLE
from onecrew.show.show import Predicted, SetPiece

NOTHING_FROM_OUTSIDE = "default-src 'none'; style-src 'unsafe-inline'"
"""Content security policy: no script, no picture, no font, no request, whatever a name or a note says."""
EVENTS_SHOWN = 60
NO_PICTURES: Mapping[str, str] = MappingProxyType({})
ASSUMED = "assumed: "
"""How a remark of the forecast begins that is no finding."""


def page(moment: Moment, read: Sequence[Forecast] = (), pictures: Mapping[str, str] = NO_PICTURES) -> str:
    """The sheet as the text of an HTML file.

    ``read`` is what a meter would have read at the subject, ``pictures`` the small JPEGs (base64) of the
    match that the cue was found by.
    """
    facts = facts_of(moment)
    head = el(
        "head",
        el("meta", charset="utf-8"),
        el("meta", http_equiv="Content-Security-Policy", content=_policy(pictures)),
        el("meta", name="viewport", content="width=device-width, initial-scale=1"),
        el("title", f"{moment.heading}: {moment.title}"),
        el("style", Markup(STYLE)),
    )
    body = el("body", el("main", *_sections(moment, facts, read, pictures)))
    return f"<!DOCTYPE html>\n{el('html', head, body, lang='en')}\n"


def _policy(pictures: Mapping[str, str]) -> str:
    return f"{NOTHING_FROM_OUTSIDE}; img-src data:" if pictures else NOTHING_FROM_OUTSIDE


def when(moment: Moment) -> str:
    """The time on the wall there: '2026-01-05 14:02:11 (UTC+01:00)'; empty for what has no time."""
    if moment.at is None:
        return ""
    try:
        at = datetime.fromisoformat(moment.at)
        local = datetime.fromisoformat("2000-01-01T00:00" + moment.local).tzinfo
        return f"{at.astimezone(local):%Y-%m-%d %H:%M:%S} (UTC{moment.local})"
    except ValueError:
        return moment.at


# ── Sections ────────────────────────────────────────────────────────────────────────────────────────


def _sections(
    moment: Moment, facts: Sequence[LampFacts], read: Sequence[Forecast], pictures: Mapping[str, str]
) -> Iterator[Markup]:
    yield _head(moment)
    yield _light(facts)
    if moment.cue is not None and moment.cue.predicted is not None:
        yield _match(moment.cue.predicted, pictures)
    yield _room(moment, facts)
    yield from (_at_subject(each) for each in read if each.lamps)
    yield _slots(facts)
    yield _colour(moment, facts)
    yield _rig(moment, facts)
    if moment.events:
        yield _events(moment)
    yield _cautions(moment)
    source = "the show's cue" if moment.at is None else "what was sent to the lamps"
    yield el("footer", f"Made by onecrew from {source}.")


def _head(moment: Moment) -> Markup:
    take = moment.take
    parts = [
        el("p", "Look sheet", class_="eyebrow"),
        el("h1", moment.heading),
        el("p", title_of(moment), class_="subject"),
    ]
    at = when(moment)
    facts = [at] if at else ["As stored in the show"]
    if take is not None and take.length_s is not None:
        facts.append(f"ran {saying.seconds(take.length_s)}")
    if take is not None and take.clip:
        facts.append(f"clip {take.clip}")
    if take is not None and take.good is not None:
        facts.append("good" if take.good else "not good")
    parts.append(el("p", " · ".join(facts), class_="when"))
    notes = [moment.cue.note] if moment.cue is not None and moment.cue.note else []
    notes += list(take.notes) if take is not None else []
    parts += [el("p", note, class_="note") for note in notes if note.strip()]
    said = states(moment)
    if said:
        parts.append(el("ul", *(el("li", sentence) for sentence in said), class_="states"))
    return el("header", *parts)


def title_of(moment: Moment) -> str:
    """What the sheet is of, as a headline."""
    title = moment.title
    return title[:1].upper() + title[1:]


def _light(facts: Sequence[LampFacts]) -> Markup:
    head = ("", "lamp", "", "level", "output", "stops", "colour", "tint Duv", "to white balance")
    rows = [
        el(
            "tr",
            el("td", swatch(fact), class_="dot"),
            el("th", fact.id, el("span", fact.lamp.fixture.role, class_="role"), scope="row"),
            el("td", bar(fact), class_="bars"),
            el("td", saying.per_cent(fact.lamp.sent.level) if fact.lit else "off", class_="num"),
            el("td", saying.per_cent(fact.lamp.sent.output) if fact.lit else "", class_="num"),
            el("td", stops_words(fact.stops), class_="num"),
            el("td", fact.colour if fact.lit else "", class_="num"),
            el("td", fact.tint if fact.lit else "", class_="num"),
            el("td", mired_word(fact.mired_off) if fact.lit and fact.mired_off is not None else ""),
            class_=None if fact.lit else "off",
        )
        for fact in facts
    ]
    return el(
        "section",
        el("h2", "The light"),
        table(head, rows, "light", numbers=(3, 4, 5, 6, 7)),
        *_remarks(facts),
        el(
            "p",
            "Output is the share of the full light of its colour, stops the same below full; swatches are as "
            "the camera saw them.",
            class_="small",
        ),
    )


def _match(of: Predicted, pictures: Mapping[str, str]) -> Markup:
    """The reference that the cue was matched to, and how near it is predicted to come."""
    figures = [
        el(
            "figure",
            el("img", src=f"data:image/jpeg;base64,{data}", alt=name),
            el("figcaption", name),
        )
        for name, data in pictures.items()
    ]
    rows = [
        el(
            "tr",
            el("th", one.name, scope="row"),
            el("td", f"{one.stops:+.2f}".replace("-", "−"), class_="num"),
            el("td", f"{one.delta_e:.1f}", class_="num"),
        )
        for one in of.regions
    ]
    head = ("region", "stops", "ΔE2000")
    return el(
        "section",
        el("h2", "Match"),
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


def _room(moment: Moment, facts: Sequence[LampFacts]) -> Markup:
    drawn = plan(moment, facts)
    notes = [joined(el("dt", label), el("dd", said)) for label, said in camera_facts(moment)]
    camera = el("div", el("h2", "Camera"), el("dl", *notes), class_="side")
    if drawn is None:
        return el(
            "section",
            camera,
            el("p", "Nothing in the rig has a place yet, so there is no plan.", class_="small"),
        )
    lost = [fact.id for fact in facts if fact.lamp.fixture.place is None]
    left = el(
        "div",
        el("h2", "Plan"),
        drawn,
        el("p", f"Without a place: {', '.join(lost)}.", class_="small") if lost else Markup(""),
    )
    return el("section", left, camera, class_="two keep")


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
            *(el("td", text, class_="num") for text in forecast.row(lamp, read.units)[2:]),
            class_=None if lamp.output > 0.0 else "off",
        )
        for lamp in read.lamps
    ]
    head = (forecast.HEAD[0], *forecast.HEAD[2:])
    said = list(forecast.remarks(read))
    assumed = [one for one in said if one.startswith(ASSUMED)]
    return el(
        "section",
        el("h2", f"At {read.subject}, forecast"),
        el("dl", *(el("div", fact) for fact in facts), class_="across"),
        table(head, rows, "light tight", numbers=range(1, len(head))),
        el(
            "p",
            f"Worked out from the plan for {forecast.where(read)}, not metered. {forecast.HALF_A_STOP}",
            class_="small",
        ),
        el("ul", *(el("li", said) for said in said if said not in assumed), class_="states"),
        el("p", f"Assumed: {'; '.join(one.removeprefix(ASSUMED) for one in assumed)}.", class_="small")
        if assumed
        else Markup(""),
    )


def _colour(moment: Moment, facts: Sequence[LampFacts]) -> Markup:
    kinds = [el("li", dash_line(dash), el("span", name)) for dash, name in legend(moment)]
    said = el("p", "What each kind of lamp can give:", class_="small")
    gamuts = joined(said, el("ul", *kinds, class_="legend")) if kinds else Markup("")
    return el(
        "section",
        el("h2", "Chromaticity"),
        el(
            "div",
            el(
                "figure",
                close(moment, facts),
                el("figcaption", "The lamps as they were. A ring is a colour asked for and not reached."),
            ),
            el(
                "figure",
                whole(moment, facts),
                el("figcaption", "CIE 1976 u′v′ with the Planckian locus; the cross is the white balance."),
            ),
            class_="figures",
        ),
        gamuts,
        class_="keep",
    )


def _rig(moment: Moment, facts: Sequence[LampFacts]) -> Markup:
    subject = subject_of(moment)
    head = ["lamp", "fixture and mode", "address", "height"]
    head += [name for name, known in (("to subject", subject), ("to camera", moment.camera.place)) if known]
    rows = [_rig_row(moment, fact, head) for fact in facts]
    pieces = [el("li", el("b", piece.id), " ", ". ".join(_of_piece(piece))) for piece in moment.set_pieces]
    about = (
        "Distances run straight from lamp to subject and camera, or along the floor where a height is "
        "not known; "
        "degrees are the lamp's angle above the subject."
        if subject is not None
        else "For distances to the subject, place a set piece of the kind subject on the plan."
    )
    return el(
        "section",
        el("h2", "Rig"),
        table((*head, "modifiers", "note"), rows, "rig", numbers=range(2, len(head))),
        el("p", about, class_="small"),
        joined(el("h3", "Set pieces"), el("ul", *pieces, class_="remarks pieces")) if pieces else Markup(""),
    )


def _of_piece(piece: SetPiece) -> list[str]:
    return [said for said in (piece.kind if piece.kind != piece.id else "", piece.note) if said]


def _rig_row(moment: Moment, fact: LampFacts, head: Sequence[str]) -> Markup:
    fixture = fact.lamp.fixture
    kind = moment.kinds.get(kind_of(fixture))
    how = [fixture.mode]
    how += ["best-rendition"] if fixture.mixing == "best-rendition" else []
    how += ["even output"] if fixture.even else []
    how += ["segments share"] if fixture.sharing else []
    steep = f", {degrees(fact.above_subject_deg)}" if fact.above_subject_deg is not None else ""
    cells = [
        el("th", fact.id, scope="row"),
        el("td", fixture.profile if kind is None else kind.name, el("span", ", ".join(how), class_="role")),
        el("td", fact.address, class_="num"),
        el("td", metres(fact.height_m, moment.room.units), class_="num"),
    ]
    if "to subject" in head:
        cells.append(el("td", metres(fact.to_subject_m, moment.room.units) + steep, class_="num"))
    if "to camera" in head:
        cells.append(el("td", metres(fact.to_camera_m, moment.room.units), class_="num"))
    return el("tr", *cells, el("td", modified(fact)), el("td", fixture.note))


def _slots(facts: Sequence[LampFacts]) -> Markup:
    rows = [
        el(
            "tr",
            el("th", fact.id, scope="row"),
            el("td", fact.address, class_="num"),
            el(
                "td",
                *(
                    el("span", el("i", does), " ", " ".join(map(str, values)), class_="slot")
                    for does, values in fact.slots
                ),
                el("span", fact.segments, class_="role") if fact.segments else Markup(""),
            ),
        )
        for fact in facts
    ]
    return el(
        "section",
        el("h2", "Slots"),
        table(("lamp", "address", "channel values 0–255, coarse before fine"), rows, "slots", numbers=(1,)),
    )


def _events(moment: Moment) -> Markup:
    shown = moment.events[:EVENTS_SHOWN]
    rows = [
        el("tr", el("td", f"{event.after_s:+.2f} s", class_="num"), el("td", event.text)) for event in shown
    ]
    more = len(moment.events) - len(shown)
    return el(
        "section",
        el("h2", "During the take"),
        table(("after the start", "what happened"), rows, "events", numbers=(0,)),
        el("p", f"And {more} more; the log has them.", class_="small") if more else Markup(""),
    )


def _cautions(moment: Moment) -> Markup:
    return el(
        "section",
        el("h2", "Cautions"),
        el("ul", *(el("li", sentence) for sentence in cautions(moment))),
        class_="cautions keep",
    )
