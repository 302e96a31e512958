"""Chromaticity: the CIE 1976 u′v′ diagram as SVG, with what the lamps can give and what they gave."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from onecrew.colour.adaptation import swatches
from onecrew.colour.cmf import matching_functions, wavelengths_nm
from onecrew.colour.limits import CCT_MAX_K, CCT_MIN_K
from onecrew.colour.locus import white_to_uv60
from onecrew.colour.spaces import uv60_to_uv76, xy_to_uv76, xyz_to_xy
from onecrew.log.recorded_state import Kind, RecordedState, kind_of
from onecrew.sheet.facts import LampFacts
from onecrew.sheet.labels import Box, Placer
from onecrew.sheet.markup import Markup, el
from onecrew.sheet.plan import GREY, HAIR, INK, WIDE

TEXT_MM = 2.5
DOT_MM = 1.5
TICKS_K = (1500, 2000, 2700, 3200, 4300, 5600, 6500, 10000)
DASHES = ("none", "1.6 0.9", "0.5 0.7", "2.6 0.8 0.5 0.8", "3.2 1.2", "1 0.4 0.3 0.4")
SPECTRUM = slice(20, 341, 5)
"""380 to 700 nm in steps of 5."""
CLOSEST_SPAN = 0.06
"""Least width of the part that is shown close, in u′."""
NEAR_MIRED = 12.0
"""A tick this near to the white balance goes without its name."""
MARGIN = 0.05
"""Room for names on both sides, in u′."""
APART = 0.0015
"""Δu′v′ from which asked and reached are drawn as two points."""
Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class View:
    """A part of the diagram on paper: its lowest u′ and highest v′, and millimetres for one unit."""

    u0: float
    v1: float
    per_unit: float
    width: float
    height: float

    def at(self, uv: Sequence[float]) -> Point:
        return (uv[0] - self.u0) * self.per_unit, (self.v1 - uv[1]) * self.per_unit

    def holds(self, uv: Sequence[float]) -> bool:
        x, y = self.at(uv)
        return 0.0 <= x <= self.width and 0.0 <= y <= self.height


def whole(recorded: RecordedState, facts: Sequence[LampFacts], width: float = 78.0) -> Markup:
    """The whole diagram, with the gamuts of every kind of lamp in the rig."""
    per_unit = width / 0.66
    view = View(-0.015, 0.63, per_unit, width, 0.645 * per_unit)
    parts = [
        *_spectrum(view, recorded),
        *_gamuts(view, recorded),
        _locus(view),
        *_ticks(view, recorded, TICKS_K, None),
        *_dots(view, recorded, facts, None),
    ]
    return _svg(view, "Chromaticity diagram, CIE 1976 u′v′", _axes(view, 0.1), parts)


def close(
    recorded: RecordedState, facts: Sequence[LampFacts], width: float = 96.0, height: float = 74.0
) -> Markup:
    """The part of the diagram where the lamps are, with their names."""
    view = _around(_points(recorded, facts), width, height)
    placer = Placer(Box(0.0, 0.0, view.width, view.height))
    for place in _points(recorded, facts):
        placer.point(*view.at(place), DOT_MM + 0.2)
    ticks = list(_ticks(view, recorded, TICKS_K, placer))
    parts = [*_spectrum(view, recorded), _locus(view), *ticks, *_dots(view, recorded, facts, placer)]
    axes = _axes(view, 0.02 if width / view.per_unit < 0.25 else 0.05)
    return _svg(view, "The lamps on the chromaticity diagram, close", axes, parts)


def legend(recorded: RecordedState) -> list[tuple[str, str]]:
    """How the gamut of each kind is drawn: (dash pattern, name of the kind)."""
    return [(dash, names) for dash, names, _ in _kinds(recorded)]


# ── The diagram ─────────────────────────────────────────────────────────────────────────────────────


def _around(points: Sequence[Sequence[float]], width: float, height: float) -> View:
    us, vs = [p[0] for p in points], [p[1] for p in points]
    across = max(max(us) - min(us) + MARGIN, (max(vs) - min(vs) + 0.03) * width / height, CLOSEST_SPAN)
    per_unit = width / across
    down = height / per_unit
    middle_u, middle_v = (max(us) + min(us)) / 2, (max(vs) + min(vs)) / 2
    return View(middle_u - across / 2, middle_v + down / 2, per_unit, width, height)


def _points(recorded: RecordedState, facts: Sequence[LampFacts]) -> list[Sequence[float]]:
    found = [_uv(fact.lamp.sent.xy) for fact in facts if fact.lit]
    return [*found, _white_balance(recorded)]


def _white_balance(recorded: RecordedState) -> list[float]:
    uv: list[float] = uv60_to_uv76(white_to_uv60(recorded.camera.white_balance_k)).tolist()
    return uv


def _uv(xy: Sequence[float]) -> list[float]:
    uv: list[float] = xy_to_uv76(np.asarray(xy, dtype=np.float64)).tolist()
    return uv


def _axes(view: View, step: float) -> Markup:
    lines = []
    first_u = int(np.ceil(view.u0 / step - 1e-9))
    for number in range(first_u, int((view.u0 + view.width / view.per_unit) / step) + 1):
        x, _ = view.at((number * step, 0.0))
        lines.append(el("line", x1=x, y1=0, x2=x, y2=view.height, stroke=HAIR, stroke_width=0.12))
        lines.append(_text(f"{number * step:.2g}", x, view.height + 3.1, "middle"))
    first_v = int(np.ceil((view.v1 - view.height / view.per_unit) / step - 1e-9))
    for number in range(first_v, int(view.v1 / step + 1e-9) + 1):
        _, y = view.at((0.0, number * step))
        lines.append(el("line", x1=0, y1=y, x2=view.width, y2=y, stroke=HAIR, stroke_width=0.12))
        lines.append(_text(f"{number * step:.2g}", -1.0, y + 0.9, "end"))
    lines.append(_text("u′", view.width, view.height + 5.6, "end", fill=INK))
    lines.append(_text("v′", -1.0, -1.2, "end", fill=INK))
    frame = el(
        "rect", x=0, y=0, width=view.width, height=view.height, fill="none", stroke=GREY, stroke_width=0.2
    )
    return el("g", *lines, frame)


def _spectrum(view: View, recorded: RecordedState) -> Iterator[Markup]:
    """The edge of all colours, each stretch in its own colour, and the purple line that closes it."""
    xy = xyz_to_xy(matching_functions()[SPECTRUM])
    uv = xy_to_uv76(xy).tolist()
    shades = swatches(xy, recorded.camera.white_balance_k)
    for one, other, shade in zip(uv[:-1], uv[1:], shades[:-1], strict=True):
        (ax, ay), (bx, by) = view.at(one), view.at(other)
        yield el("line", x1=ax, y1=ay, x2=bx, y2=by, stroke=shade, stroke_width=1.1, stroke_linecap="round")
    (ax, ay), (bx, by) = view.at(uv[0]), view.at(uv[-1])
    yield el("line", x1=ax, y1=ay, x2=bx, y2=by, stroke=GREY, stroke_width=0.3, stroke_dasharray="1 1")
    names = dict(zip(wavelengths_nm()[SPECTRUM].tolist(), uv, strict=True))
    for nm in (460, 480, 500, 520, 540, 560, 580, 600, 620):
        x, y = view.at(names[float(nm)])
        if view.holds(names[float(nm)]):
            yield _text(str(nm), x + (-2 if nm < 520 else 0.8), y - 1.4, "end" if nm < 520 else "start")


def _locus(view: View) -> Markup:
    kelvins = 1e6 / np.linspace(1e6 / CCT_MIN_K, 1e6 / CCT_MAX_K, 60)
    kelvins[0], kelvins[-1] = CCT_MIN_K, CCT_MAX_K
    path = [view.at(uv) for uv in uv60_to_uv76(white_to_uv60(kelvins)).tolist()]
    points = " ".join(f"{x:.2f},{y:.2f}" for x, y in path)
    return el("polyline", points=points, fill="none", stroke=INK, stroke_width=0.35)


def _ticks(
    view: View, recorded: RecordedState, kelvins: Sequence[int], placer: Placer | None
) -> Iterator[Markup]:
    """Whites along the locus, named if there is a placer, and the camera's white balance as a cross."""
    balance_k = recorded.camera.white_balance_k
    for kelvin in kelvins:
        ends = [uv60_to_uv76(white_to_uv60(float(kelvin), duv)).tolist() for duv in (-0.004, 0.004)]
        if not (view.holds(ends[0]) and view.holds(ends[1])):
            continue
        (ax, ay), (bx, by) = view.at(ends[0]), view.at(ends[1])
        yield el("line", x1=ax, y1=ay, x2=bx, y2=by, stroke=INK, stroke_width=0.2)
        if placer is not None and abs(1e6 / kelvin - 1e6 / balance_k) > NEAR_MIRED:
            said = f"{kelvin} K"
            label = placer.place(ax, ay, 0.9, WIDE * TEXT_MM * len(said), TEXT_MM)
            yield _text(said, label.x, label.box.y + 0.85 * TEXT_MM, label.anchor)
    x, y = view.at(_white_balance(recorded))
    yield el("path", d=f"M{x - 1.6:.2f} {y:.2f}h3.2M{x:.2f} {y - 1.6:.2f}v3.2", stroke=INK, stroke_width=0.35)


def _gamuts(view: View, recorded: RecordedState) -> Iterator[Markup]:
    for dash, _, gamut in _kinds(recorded):
        points = " ".join(f"{x:.2f},{y:.2f}" for x, y in (view.at(uv) for uv in gamut))
        yield el(
            "polygon" if len(gamut) > 2 else "polyline", points=points, fill="none", stroke=GREY,
            stroke_width=0.3, stroke_dasharray=None if dash == "none" else dash,
        )  # fmt: skip


def _kinds(recorded: RecordedState) -> list[tuple[str, str, tuple[Point, ...]]]:
    """(dash pattern, names, outline) of the kinds of lamp that can give more than one colour."""
    named: dict[tuple[Point, ...], dict[str, None]] = {}
    for lamp in recorded.lamps:
        kind: Kind | None = recorded.kinds.get(kind_of(lamp.fixture))
        if kind is not None and len(kind.gamut) > 1:
            named.setdefault(kind.gamut, {})[kind.name] = None
    return [
        (DASHES[number % len(DASHES)], ", ".join(names), gamut)
        for number, (gamut, names) in enumerate(named.items())
    ]


def _dots(
    view: View, recorded: RecordedState, facts: Sequence[LampFacts], placer: Placer | None
) -> Iterator[Markup]:
    """The lamps that were lit, with their names if there is a placer."""
    lit = [(fact, view.at(_uv(fact.lamp.sent.xy))) for fact in facts if fact.lit]
    for fact, (x, y) in lit:
        asked = _asked(fact)
        if placer is not None and asked is not None:
            ax, ay = view.at(asked)
            yield el(
                "line", x1=ax, y1=ay, x2=x, y2=y, stroke=INK, stroke_width=0.25, stroke_dasharray="0.8 0.6"
            )
            yield el("circle", cx=ax, cy=ay, r=0.9, fill="none", stroke=INK, stroke_width=0.3)
        yield el("circle", cx=x, cy=y, r=DOT_MM, fill=fact.lamp.sent.swatch, stroke=INK, stroke_width=0.35)
    if placer is None:
        return
    for fact, (x, y) in lit:
        yield from _named(placer, fact.id, x, y, INK, "600")
    said = f"camera {recorded.camera.white_balance_k:.0f} K"
    yield from _named(placer, said, *view.at(_white_balance(recorded)), GREY, "400")


def _named(placer: Placer, said: str, x: float, y: float, fill: str, weight: str) -> Iterator[Markup]:
    label = placer.place(x, y, DOT_MM + 0.8, WIDE * TEXT_MM * len(said), TEXT_MM)
    if label.far:
        end = label.box.nearest(x, y)
        yield el("line", x1=x, y1=y, x2=end[0], y2=end[1], stroke=GREY, stroke_width=0.18)
    yield _text(said, label.x, label.box.y + 0.85 * TEXT_MM, label.anchor, fill=fill, weight=weight)


def _asked(fact: LampFacts) -> list[float] | None:
    """The colour asked for, where the lamp missed it by more than a point's width."""
    light = fact.lamp.light
    if fact.lamp.sent.off_by < APART:
        return None
    if light.white is not None:
        uv: list[float] = uv60_to_uv76(white_to_uv60(light.white.cct_k, light.white.duv)).tolist()
        return uv
    return _uv(light.xy) if light.xy is not None else None


def _text(said: str, x: float, y: float, anchor: str, *, fill: str = GREY, weight: str = "400") -> Markup:
    return el("text", said, x=x, y=y, text_anchor=anchor, font_size=TEXT_MM, fill=fill, font_weight=weight)


def _svg(view: View, title: str, axes: Markup, parts: Sequence[Markup]) -> Markup:
    left, above, below = 7.5, 4.0, 6.5
    width, height = view.width + left + 1.0, view.height + above + below
    name = "frame-" + "".join(c for c in title.lower() if c.isascii() and c.isalpha())[:24]
    clip = el("clipPath", el("rect", x=0, y=0, width=view.width, height=view.height), id=name)
    return el(
        "svg", el("title", title), el("defs", clip), axes, el("g", *parts, clip_path=f"url(#{name})"),
        xmlns="http://www.w3.org/2000/svg", viewBox=f"{-left:g} {-above:g} {width:.2f} {height:.2f}",
        width=f"{width:.2f}mm", height=f"{height:.2f}mm", role="img", class_="chroma",
    )  # fmt: skip
