"""Page of a match: reference and prediction, what each lamp is to do, and what cannot be reached. One HTML
file."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from onecrew.language.saying import minus, per_cent, tint
from onecrew.sheet.markup import Markup, el
from onecrew.sheet.parts import document, figure, listing, num, section, small, table
from onecrew.sheet.style import STYLE
from onecrew.stills.regions import Region
from onecrew.stills.result import LampResult, Match
from onecrew.stills.run import Run
from onecrew.stills.show_picture import data_url, jpeg

_MORE_STYLE = ".pair img { width: 100%; display: block; } .pair figure { margin: 0 0 4mm; }"


def match_page(show: str, match: Match, run: Run, regions: Sequence[Region]) -> str:
    """Return the page as the text of an HTML file that needs nothing else."""
    parts = _sections(show, match, run, regions)
    return document(f"{show}: match", parts, STYLE + _MORE_STYLE, pictures=True)


def _sections(show: str, match: Match, run: Run, regions: Sequence[Region]) -> Iterator[Markup]:
    subject = "A frame of this room" if match.own else "A frame of another room"
    exposure = f"Expose {minus(f'{match.exposure_stops:+.2f}')} stops against the stills."
    if match.delta_e is not None:
        exposure += f" Median ΔE2000 over the frame {match.delta_e:.2f}."
    there = [(one.name, one.reference) for one in regions]
    here = [(one.name, one.own) for one in regions]
    factor = max(1, run.factor)
    yield el("header", el("p", show, class_="eyebrow"), el("h1", "Match"), el("p", subject, class_="subject"))
    yield el(
        "section",
        _figure("Reference", jpeg(match.reference, there, factor)),
        _figure("Prediction", jpeg(match.predicted, here, factor)),
        class_="pair",
    )
    yield section("Lamps", _lamps(match.lamps), small(exposure))
    if match.regions:
        rows = [
            el(
                "tr",
                el("th", one.name),
                num(minus(f"{one.stops:+.2f}")),
                num(f"{one.delta_e:.1f}"),
                el("td", one.note),
            )
            for one in match.regions
        ]
        yield section("Regions", table(("", "stops", "ΔE2000", ""), rows))
    if match.notes:
        yield section("Notes", listing(match.notes, "remarks"))


def _figure(caption: str, picture: bytes) -> Markup:
    return figure(el("img", src=data_url(picture), alt=caption), caption)


def _lamps(lamps: Sequence[LampResult]) -> Markup:
    rows = []
    for lamp in lamps:
        white = "" if lamp.cct_k is None else f"{lamp.cct_k:.0f} K {minus(tint(lamp.duv or 0.0))}".rstrip()
        sure = f"within {max(lamp.stops_error, 0.01):.2f} stop" if lamp.sure else "not sure"
        shares = (num(per_cent(share)) for share in (lamp.level, lamp.output))
        rows.append(el("tr", el("th", lamp.id), *shares, el("td", white), el("td", sure)))
    return table(("", "level", "output", "white", ""), rows)
