"""Plan: the room from above, to scale, as SVG. Units of the drawing are millimetres on paper."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from onecrew.language import saying
from onecrew.language.places import say_length
from onecrew.log.recorded_state import RecordedState
from onecrew.log.text import clean
from onecrew.plan.assumed import ROOM_M, is_subject
from onecrew.sheet.facts import LampFacts, placed
from onecrew.sheet.labels import Box, Placer
from onecrew.sheet.markup import Markup, el, joined
from onecrew.show.photometry import Units
from onecrew.show.show import Place

SCALES = (20, 25, 30, 40, 50, 75, 100, 150, 200, 300, 500, 750, 1000, 1500, 2000)
"""The room that is drawn where nothing stands outside it."""
LAMP_MM = 2.1
TEXT_MM = 2.7
LONGEST = 26
"""Letters of a name on the plan."""
WIDE = 0.56
"""Mean width of a letter against the height of the type."""
BEAM_M = 1.15
BEAM_HALF_DEG = 24.0
INK, GREY, HAIR = "#1b1f27", "#6b7280", "#d7dbe0"


@dataclass(frozen=True, slots=True)
class Room:
    """What part of the room is drawn, in metres, and at which scale."""

    left_m: float
    bottom_m: float
    right_m: float
    top_m: float
    scale: int

    @property
    def width(self) -> float:
        return self.mm(self.right_m - self.left_m)

    @property
    def height(self) -> float:
        return self.mm(self.top_m - self.bottom_m)

    def mm(self, metres: float) -> float:
        """Millimetres on paper."""
        return 1000.0 * metres / self.scale

    def at(self, place: Place) -> tuple[float, float]:
        return self.mm(place.x_m - self.left_m), self.mm(self.top_m - place.y_m)


def room_of(
    places: Sequence[Place], paper_mm: float, width_m: float | None = None, depth_m: float | None = None
) -> Room:
    """The room that holds all places, in whole half metres, at the largest scale that fits the paper."""
    left = math.floor(2 * min([0.0, *(place.x_m for place in places)])) / 2
    bottom = math.floor(2 * min([0.0, *(place.y_m for place in places)])) / 2
    right = math.ceil(2 * max([width_m or ROOM_M, *(place.x_m for place in places)])) / 2
    top = math.ceil(2 * max([depth_m or ROOM_M, *(place.y_m for place in places)])) / 2
    longest = max(right - left, top - bottom)
    scale = next((s for s in SCALES if 1000.0 * longest / s <= paper_mm), SCALES[-1])
    return Room(left, bottom, right, top, scale)


def plan(recorded: RecordedState, facts: Sequence[LampFacts], paper_mm: float = 86.0) -> Markup | None:
    """The plan of the room; None where nothing has a place."""
    places = placed(recorded)
    if not places:
        return None
    room = room_of(places, paper_mm, recorded.room.width_m, recorded.room.depth_m)
    border = 0.6
    foot = 7.0
    placer = Placer(Box(0.0, 0.0, room.width, room.height))
    for place in places:
        placer.point(*room.at(place), LAMP_MM + 0.6)
    units = recorded.room.units
    lamps = el("g", *_lamps(room, facts, placer, units))  # the first to choose where their names stand
    camera = el("g", *_camera(room, recorded, placer))
    pieces = el("g", *_pieces(room, recorded, placer))
    beams = el("g", *_beams(room, facts))
    parts = [_grid(room), beams, pieces, camera, lamps, _scale_bar(room)]
    width, height = room.width + 2 * border, room.height + 2 * border + foot
    return el(
        "svg",
        el("title", f"Plan of the room, 1 to {room.scale}"),
        *parts,
        xmlns="http://www.w3.org/2000/svg",
        viewBox=f"{-border:g} {-border:g} {width:.2f} {height:.2f}",
        width=f"{width:.2f}mm",
        height=f"{height:.2f}mm",
        role="img",
        class_="plan",
    )


# ── What stands there ───────────────────────────────────────────────────────────────────────────────


def _grid(room: Room) -> Markup:
    lines = []
    for step in range(round(2 * (room.right_m - room.left_m)) + 1):
        x, whole = room.mm(step / 2), (2 * room.left_m + step) % 2 == 0
        lines.append(el("line", x1=x, y1=0, x2=x, y2=room.height, stroke=HAIR, stroke_width=_hair(whole)))
    for step in range(round(2 * (room.top_m - room.bottom_m)) + 1):
        y, whole = room.mm(step / 2), (2 * room.top_m - step) % 2 == 0
        lines.append(el("line", x1=0, y1=y, x2=room.width, y2=y, stroke=HAIR, stroke_width=_hair(whole)))
    edge = el(
        "rect", x=0, y=0, width=room.width, height=room.height, fill="none", stroke=INK, stroke_width=0.5
    )
    return el("g", *lines, edge)


def _hair(whole: bool) -> float:
    return 0.22 if whole else 0.1


def _beams(room: Room, facts: Sequence[LampFacts]) -> Iterator[Markup]:
    """Where light goes: the stronger, the denser; a lamp without an aim lights around itself."""
    reach = room.mm(BEAM_M)
    for fact in facts:
        place = fact.lamp.fixture.place
        if place is None or not fact.lit:
            continue
        x, y = room.at(place)
        dense = 0.18 + 0.5 * fact.lamp.sent.output**0.5
        colour = {"fill": fact.lamp.sent.swatch, "fill_opacity": dense, "stroke": GREY, "stroke_width": 0.12}
        if place.aim_deg is None:
            yield el("circle", cx=x, cy=y, r=0.55 * reach, **colour)
            continue
        ends = [
            (x + reach * math.sin(turn), y - reach * math.cos(turn))
            for turn in (math.radians(place.aim_deg + side * BEAM_HALF_DEG) for side in (-1, 1))
        ]
        (ax, ay), (bx, by) = ends
        d = f"M{x:.2f} {y:.2f}L{ax:.2f} {ay:.2f}A{reach:.2f} {reach:.2f} 0 0 1 {bx:.2f} {by:.2f}Z"
        yield el("path", d=d, **colour)


def _lamps(room: Room, facts: Sequence[LampFacts], placer: Placer, units: Units) -> Iterator[Markup]:
    for fact in facts:
        place = fact.lamp.fixture.place
        if place is None:
            continue
        x, y = room.at(place)
        if fact.lit:
            yield el(
                "circle", cx=x, cy=y, r=LAMP_MM, fill=fact.lamp.sent.swatch, stroke=INK, stroke_width=0.45
            )
        else:
            yield el("circle", cx=x, cy=y, r=LAMP_MM, fill="#fff", stroke=GREY, stroke_width=0.35)
            yield el("path", d=f"M{x - 1:.2f} {y - 1:.2f}l2 2m0 -2l-2 2", stroke=GREY, stroke_width=0.35)
        said = f"{saying.per_cent(fact.lamp.sent.level)} · {fact.colour}" if fact.lit else "off"
        if fact.lit and fact.mired_off is None:
            said = saying.per_cent(fact.lamp.sent.level)
        height = f"h {say_length(place.height_m, units)}" if place.height_m is not None else ""
        yield _label(placer, x, y, (fact.id, said, height), lit=fact.lit)


def _pieces(room: Room, recorded: RecordedState, placer: Placer) -> Iterator[Markup]:
    for piece in recorded.set_pieces:
        if piece.place is None:
            continue
        x, y = room.at(piece.place)
        if is_subject(piece):
            yield el("ellipse", cx=x, cy=y, rx=3.0, ry=1.5, fill="#fff", stroke=INK, stroke_width=0.4)
            yield el("circle", cx=x, cy=y, r=1.2, fill=INK)
        else:
            turn = f"rotate({piece.place.aim_deg or 0.0:g} {x:.2f} {y:.2f})"
            yield el(
                "rect", x=x - 2.2, y=y - 0.9, width=4.4, height=1.8, fill="#9aa1ab", stroke=INK,
                stroke_width=0.25, transform=turn,
            )  # fmt: skip
        yield _label(placer, x, y, (piece.id, piece.kind if piece.kind != piece.id else ""), lit=False)


def _camera(room: Room, recorded: RecordedState, placer: Placer) -> Iterator[Markup]:
    place = recorded.camera.place
    if place is None:
        return
    x, y = room.at(place)
    turn = f"rotate({place.aim_deg or 0.0:g} {x:.2f} {y:.2f})"
    body = f"M{x - 1.7:.2f} {y + 2.4:.2f}h3.4v-3.6h-3.4z M{x - 0.8:.2f} {y - 1.2:.2f}l-0.9 -1.9h3.4l-0.9 1.9z"
    yield el("path", d=body, fill=INK, transform=turn)
    if place.aim_deg is not None:
        yield el(
            "line", x1=x, y1=y - 4, x2=x, y2=y - room.mm(0.9), stroke=INK, stroke_width=0.25,
            stroke_dasharray="1 0.8", transform=turn,
        )  # fmt: skip
    height = f"h {say_length(place.height_m, recorded.room.units)}" if place.height_m is not None else ""
    yield _label(placer, x, y, ("camera", recorded.camera.lens, height), lit=False)


def _label(placer: Placer, x: float, y: float, lines: Sequence[str], *, lit: bool) -> Markup:
    shown = [_short(line) for line in lines if clean(line)]
    widest = max(len(line) for line in shown)
    placed = placer.place(x, y, LAMP_MM + 0.9, WIDE * TEXT_MM * widest, 1.18 * TEXT_MM * len(shown))
    leader = []
    if placed.far:
        end = placed.box.nearest(x, y)
        leader.append(
            el(
                "line",
                x1=x,
                y1=y,
                x2=end[0],
                y2=end[1],
                stroke=GREY,
                stroke_width=0.2,
                stroke_linecap="round",
            )
        )
    texts = [
        el(
            "text",
            line,
            x=placed.x,
            y=placed.box.y + 1.18 * TEXT_MM * number + 0.9 * TEXT_MM,
            text_anchor=placed.anchor,
            font_size=TEXT_MM,
            font_weight="600" if number == 0 else "400",
            fill=INK if number == 0 or lit else GREY,
        )
        for number, line in enumerate(shown)
    ]
    return el("g", *leader, *texts, class_="label")


def _short(line: str) -> str:
    """A line as much of which is shown as fits beside a point."""
    shown = clean(line)
    return shown if len(shown) <= LONGEST else f"{shown[: LONGEST - 1].rstrip()}…"


def _scale_bar(room: Room) -> Markup:
    y, metre = room.height + 3.4, room.mm(1.0)
    halves = [
        el("rect", x=0, y=y, width=metre / 2, height=1, fill=INK),
        el("rect", x=metre / 2, y=y, width=metre / 2, height=1, fill="#fff", stroke=INK, stroke_width=0.2),
    ]
    return joined(
        *halves,
        el("text", f"1 m ({say_length(1.0, 'feet')})", x=metre + 1.5, y=y + 1.7, font_size=TEXT_MM, fill=INK),
        el(
            "text", f"1 : {room.scale} when printed at 100 %", x=room.width, y=y + 1.7, font_size=TEXT_MM,
            fill=GREY, text_anchor="end",
        ),
    )  # fmt: skip
