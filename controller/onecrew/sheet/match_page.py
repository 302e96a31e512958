"""Page of a match: reference and prediction, what each lamp is to do, and what cannot be reached. One HTML
file."""

from __future__ import annotations

from collections.abc import Sequence

from onecrew.language.saying import per_cent, tint
from onecrew.sheet.markup import Markup, el, joined
from onecrew.sheet.page import NOTHING_FROM_OUTSIDE
from onecrew.sheet.style import STYLE
from onecrew.stills.regions import Region
from onecrew.stills.result import LampResult, Match
from onecrew.stills.run import Run
from onecrew.stills.show_picture import data_url, jpeg

_MORE_STYLE = ".pair img { width: 100%; display: block; } .pair figure { margin: 0 0 4mm; }"


def match_page(show: str, match: Match, run: Run, regions: Sequence[Region]) -> str:
    """Return the page as the text of an HTML file that needs nothing else."""
    head = el(
        "head",
        el("meta", charset="utf-8"),
        el("meta", http_equiv="Content-Security-Policy", content=f"{NOTHING_FROM_OUTSIDE}; img-src data:"),
        el("meta", name="viewport", content="width=device-width, initial-scale=1"),
        el("title", f"{show}: match"),
        el("style", Markup(STYLE + _MORE_STYLE)),
    )
    body = el("body", el("main", *_sections(show, match, run, regions)))
    return f"<!DOCTYPE html>\n{el('html', head, body, lang='en')}\n"


def _sections(show: str, match: Match, run: Run, regions: Sequence[Region]) -> list[Markup]:
    subject = "A frame of this room" if match.own else "A frame of another room"
    exposure = f"Expose {match.exposure_stops:+.2f} stops against the stills."
    if match.delta_e is not None:
        exposure += f" Median ΔE2000 over the frame {match.delta_e:.2f}."
    there = [(one.name, one.reference) for one in regions]
    here = [(one.name, one.own) for one in regions]
    factor = max(1, run.factor)
    sections = [
        el("header", el("p", show, class_="eyebrow"), el("h1", "Match"), el("p", subject, class_="subject")),
        el(
            "section",
            _figure("Reference", jpeg(match.reference, there, factor)),
            _figure("Prediction", jpeg(match.predicted, here, factor)),
            class_="pair",
        ),
        el("section", el("h2", "Lamps"), _lamps(match.lamps), el("p", exposure, class_="small")),
    ]
    if match.regions:
        rows = [
            el(
                "tr",
                el("th", one.name),
                el("td", f"{one.stops:+.2f}", class_="num"),
                el("td", f"{one.delta_e:.1f}", class_="num"),
                el("td", one.note),
            )
            for one in match.regions
        ]
        sections.append(el("section", el("h2", "Regions"), _table(("", "stops", "ΔE2000", ""), rows)))
    if match.notes:
        notes = [el("li", note) for note in match.notes]
        sections.append(el("section", el("h2", "Notes"), el("ul", *notes, class_="remarks")))
    return sections


def _figure(caption: str, picture: bytes) -> Markup:
    return el("figure", el("img", src=data_url(picture), alt=caption), el("figcaption", caption))


def _lamps(lamps: Sequence[LampResult]) -> Markup:
    rows = []
    for lamp in lamps:
        white = "" if lamp.cct_k is None else f"{lamp.cct_k:.0f} K {tint(lamp.duv or 0.0)}".rstrip()
        sure = f"within {max(lamp.stops_error, 0.01):.2f} stop" if lamp.sure else "not sure"
        rows.append(
            el(
                "tr",
                el("th", lamp.id),
                el("td", per_cent(lamp.level), class_="num"),
                el("td", per_cent(lamp.output), class_="num"),
                el("td", white),
                el("td", sure),
            )
        )
    return _table(("", "level", "output", "white", ""), rows)


def _table(heads: Sequence[str], rows: Sequence[Markup]) -> Markup:
    return el("table", el("thead", el("tr", *(el("th", head) for head in heads))), el("tbody", joined(*rows)))
