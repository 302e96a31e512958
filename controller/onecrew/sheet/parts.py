"""Parts of the page and ways of saying numbers that several of its sections have."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from onecrew.language import saying
from onecrew.language.places import say_length
from onecrew.sheet.facts import LampFacts, mired_word, modifiers
from onecrew.sheet.markup import Markup, el
from onecrew.sheet.style import STYLE
from onecrew.show.photometry import Units

NOTHING_FROM_OUTSIDE = "default-src 'none'; style-src 'unsafe-inline'"
"""Content security policy: no script, no picture, no font, no request, whatever a name or a note says."""


def document(title: str, parts: Iterable[Markup], style: str = STYLE, *, pictures: bool = False) -> str:
    """The text of an HTML file that needs nothing else; pictures may stand in it as data."""
    head = el(
        "head",
        el("meta", charset="utf-8"),
        el(
            "meta",
            http_equiv="Content-Security-Policy",
            content=NOTHING_FROM_OUTSIDE + ("; img-src data:" if pictures else ""),
        ),
        el("meta", name="viewport", content="width=device-width, initial-scale=1"),
        el("title", title),
        el("style", Markup(style)),
    )
    return f"<!DOCTYPE html>\n{el('html', head, el('body', el('main', *parts)), lang='en')}\n"


def section(title: str, *inside: Markup, class_: str | None = None) -> Markup:
    return el("section", el("h2", title), *inside, class_=class_)


def small(text: str) -> Markup:
    return el("p", text, class_="small")


def num(text: str) -> Markup:
    """A cell with a number."""
    return el("td", text, class_="num")


def figure(inside: Markup, caption: str) -> Markup:
    return el("figure", inside, el("figcaption", caption))


def listing(said: Iterable[str], class_: str | None = None) -> Markup:
    return el("ul", *(el("li", one) for one in said), class_=class_)


def table(
    head: Sequence[str], rows: Sequence[Markup], name: str | None = None, numbers: Sequence[int] = ()
) -> Markup:
    """A table whose columns ``numbers`` stand to the right."""
    cells = [
        el("th", label, scope="col", class_="num" if column in numbers else None) if label else el("td")
        for column, label in enumerate(head)
    ]
    return el("table", el("thead", el("tr", *cells)), el("tbody", *rows), class_=name)


def swatch(fact: LampFacts) -> Markup:
    """The colour as a dot, white for a lamp that was dark."""
    colour = fact.lamp.sent.swatch if fact.lit else "#ffffff"
    circle = el("circle", cx=6, cy=6, r=5.2, fill=colour, stroke="#6b7280", stroke_width=0.7)
    words_ = f"colour {colour}" if fact.lit else "off"
    return el("svg", el("title", words_), circle, viewBox="0 0 12 12", width="12", height="12", role="img")


def bar(fact: LampFacts) -> Markup:
    """The level as a bar, for the eye."""
    if not fact.lit:
        return Markup("")
    return el(
        "svg",
        el("rect", x=0, y=0, width=40, height=4, fill="#e8eaee"),
        el("rect", x=0, y=0, width=40 * fact.lamp.sent.level, height=4, fill="#3b4250"),
        viewBox="0 0 40 4", width="40", height="4", class_="bar", aria_hidden="true",
    )  # fmt: skip


def dash_line(dash: str) -> Markup:
    """A piece of line, to explain a dash pattern."""
    line = el(
        "line", x1=0, y1=3, x2=26, y2=3, stroke="#6b7280", stroke_width=1,
        stroke_dasharray=None if dash == "none" else " ".join(f"{3 * float(d):g}" for d in dash.split()),
    )  # fmt: skip
    return el("svg", line, viewBox="0 0 26 6", width="26", height="6", aria_hidden="true")


LIGHT_HEAD = ("level", "output", "stops", "colour", "tint Duv", "to white balance")
EVENTS_HEAD = ("after the start", "what happened")


def light_words(fact: LampFacts) -> tuple[str, ...]:
    """What a lamp gave, in the columns of ``LIGHT_HEAD``."""
    if not fact.lit:
        return ("off", "", stops_words(fact.stops), "", "", "")
    sent = fact.lamp.sent
    shares = (saying.per_cent(sent.level), saying.per_cent(sent.output))
    balance = "" if fact.mired_off is None else mired_word(fact.mired_off)
    return (*shares, stops_words(fact.stops), fact.colour, saying.minus(fact.tint), balance)


def stops_words(stops: float | None) -> str:
    """Stops below full: '−2.7', 'full'; empty for a lamp that is dark."""
    if stops is None:
        return ""
    return "full" if abs(stops) < 0.05 else saying.minus(f"{stops:+.1f}")


def degrees(value: float) -> str:
    """An angle with its sign: '+11°', '−33°'."""
    return saying.minus(f"{value:+.0f}°")


def metres(value: float | None, units: Units) -> str:
    """A length in metres as it is shown, nothing for one that is not known."""
    return "" if value is None else say_length(value, units)


def modified(fact: LampFacts) -> str:
    """What stands before the lamp, and what all of it takes."""
    said = modifiers(fact.lamp)
    if fact.stops is None or fact.stops_with_modifiers == fact.stops:
        return said
    return f"{said}; {stops_words(fact.stops_with_modifiers)} st in all"
