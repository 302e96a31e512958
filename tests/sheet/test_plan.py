"""The plan is to scale: distances on paper times the scale are distances in the room."""

from __future__ import annotations

import math
import re
from xml.etree import ElementTree

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from onecrew.log.recorded_state import Lamp, RecordedState
from onecrew.sheet.facts import facts_of
from onecrew.sheet.labels import Box, Placer
from onecrew.sheet.plan import LAMP_MM, plan, room_of
from onecrew.show.show import Place
from tests.sheet.sheets import hostile, ovens_on

SVG = "{http://www.w3.org/2000/svg}"


def drawing(recorded: RecordedState, paper_mm: float = 110.0) -> ElementTree.Element:
    drawn = plan(recorded, facts_of(recorded), paper_mm)
    assert drawn is not None
    return ElementTree.fromstring(drawn)


def scale_of(svg: ElementTree.Element) -> int:
    match = re.search(r"1 : (\d+)", " ".join(svg.itertext()))
    assert match is not None
    return int(match[1])


def lamp_spots(svg: ElementTree.Element) -> list[tuple[float, float]]:
    found = [c for c in svg.iter(f"{SVG}circle") if c.get("r") == f"{LAMP_MM:g}"]
    return [(float(c.get("cx", "")), float(c.get("cy", ""))) for c in found]


def test_a_millimetre_of_the_drawing_is_a_millimetre_of_paper() -> None:
    svg = drawing(ovens_on())
    _, _, width, height = (float(number) for number in svg.get("viewBox", "").split())
    assert svg.get("width") == f"{width:.2f}mm" and svg.get("height") == f"{height:.2f}mm"
    assert width <= 112.0


def test_lamps_stand_where_they_stand_in_the_room() -> None:
    svg = drawing(ovens_on())
    scale = scale_of(svg)
    places = [lamp.fixture.place for lamp in ovens_on().lamps if lamp.fixture.place is not None]
    spots = lamp_spots(svg)
    assert len(spots) == len(places)
    for one, a in zip(places, spots, strict=True):
        for other, b in zip(places, spots, strict=True):
            metres = math.hypot(one.x_m - other.x_m, one.y_m - other.y_m)
            assert math.dist(a, b) * scale / 1000 == pytest.approx(metres, abs=0.001 * scale / 40)


def test_up_on_the_plan_is_up_on_paper() -> None:
    spots = lamp_spots(drawing(ovens_on()))
    window, tone = spots[0], spots[2]  # y 3.4 m and y 0.5 m
    assert window[1] < tone[1]


def test_the_scale_bar_is_a_metre_long() -> None:
    svg = drawing(ovens_on())
    bars = [r for r in svg.iter(f"{SVG}rect") if r.get("height") == "1"]
    assert sum(float(r.get("width", "")) for r in bars) * scale_of(svg) / 1000 == pytest.approx(1.0)


def test_a_beam_points_where_the_lamp_is_aimed() -> None:
    # aim_deg is clockwise from the top of the plan: 135° is down to the right, as window's is.
    svg = drawing(ovens_on())
    path = next(p for p in svg.iter(f"{SVG}path") if p.get("fill-opacity"))
    numbers = [float(n) for n in re.findall(r"-?\d+\.?\d*", path.get("d", ""))]
    (x, y), (ax, ay), (bx, by) = numbers[0:2], numbers[2:4], numbers[-2:]
    turn = math.degrees(math.atan2((ax + bx) / 2 - x, y - (ay + by) / 2)) % 360
    assert turn == pytest.approx(135.0, abs=0.5)


PLACES = st.lists(
    st.builds(Place, x_m=st.floats(-50, 50), y_m=st.floats(-50, 50), height_m=st.none() | st.floats(0, 20)),
    min_size=1,
    max_size=6,
)


@given(places=PLACES)
@settings(max_examples=50)
def test_everything_is_on_the_paper_wherever_it_stands(places: list[Place]) -> None:
    room = room_of(places, 110.0)
    assert max(room.width, room.height) <= 110.0
    for place in places:
        x, y = room.at(place)
        assert -1e-6 <= x <= room.width + 1e-6 and -1e-6 <= y <= room.height + 1e-6


def test_without_places_there_is_no_plan() -> None:
    recorded = ovens_on()
    bare = tuple(
        Lamp(fixture=lamp.fixture.model_copy(update={"place": None}), light=lamp.light, sent=lamp.sent)
        for lamp in recorded.lamps
    )
    camera = recorded.camera.model_copy(update={"place": None})
    empty = recorded.model_copy(update={"lamps": bare, "set_pieces": (), "camera": camera})
    assert plan(empty, facts_of(empty)) is None


def test_hostile_names_stay_text() -> None:
    svg = drawing(hostile())
    assert all(element.tag.removeprefix(SVG) not in ("script", "a", "image") for element in svg.iter())


def test_labels_keep_out_of_each_other_s_way() -> None:
    placer = Placer(Box(0, 0, 100, 100))
    spots = [(20.0 + 12 * column, 30.0 + 12 * row) for column in range(4) for row in range(3)]
    for x, y in spots:
        placer.point(x, y, 1.0)
    boxes = [placer.place(x, y, 1.5, 8.0, 3.0).box for x, y in spots]
    for index, box in enumerate(boxes):
        assert all(box.overlap(other) == 0.0 for other in boxes[:index])
        assert box.outside(placer.frame) == pytest.approx(0.0)


def test_a_room_whose_size_is_known_is_drawn_whole() -> None:
    room = room_of([Place(x_m=1.0, y_m=1.0)], 110.0, 5.5, 3.0)
    assert (room.right_m, room.top_m) == (5.5, 3.0)
