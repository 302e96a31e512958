"""The virtual room: pools of light on the plan, as bright as what arrives, in whole pictures at the end."""

from __future__ import annotations

import pytest

from onecrew.show.show import Place
from onecrew.tui.drawing.canvas import Canvas
from onecrew.tui.drawing.floor import FloorPicture, Pool
from tests.fakes import bakery

SHOW = bakery.show()


def pool(level: float, x_m: float = 1.0) -> Pool:
    return Pool("hood", level, "#ffd9a8", Place(x_m=x_m, y_m=2.0))


def drawn(picture: FloorPicture, pools: list[Pool], now: float) -> list[str]:
    canvas = Canvas(60, 24)
    picture.put_on(canvas, SHOW, pools, now)
    lines = []
    for row in canvas.rows():
        line = [" "] * 60
        for x, text, _ in row:
            line[x : x + len(text)] = text
        lines.append("".join(line))
    return lines


@pytest.mark.parametrize("level", [0.0, 0.02, 0.15, 0.5, 1.0])
def test_more_light_is_more_ink(level: float) -> None:
    def ink(rows: list[str]) -> int:
        return sum(" ·░▒▓".find(sign) for row in rows for sign in row if sign in "·░▒▓")

    less = ink(drawn(FloorPicture(), [pool(level * 0.5)], 0.0))
    more = ink(drawn(FloorPicture(), [pool(level)], 0.0))
    assert more > less if level else more == less == 0


def test_two_per_cent_is_seen() -> None:
    assert any("░" in row or "▒" in row for row in drawn(FloorPicture(), [pool(0.02)], 0.0))


def test_the_lamp_is_named_where_it_stands() -> None:
    rows = drawn(FloorPicture(), [pool(0.5)], 0.0)
    assert any("+hood" in row[:40] for row in rows)


def test_a_change_comes_in_over_a_few_paintings_and_is_whole_then() -> None:
    picture = FloorPicture()
    drawn(picture, [pool(0.5)], 0.0)
    changed = [pool(0.5, x_m=3.0)]
    assert drawn(picture, changed, 0.05) != drawn(FloorPicture(), changed, 0.0), "too soon for a new one"
    assert picture.stale
    for step in range(picture.PARTS):
        rows = drawn(picture, changed, 0.3 + step / 15)
    assert rows == drawn(FloorPicture(), changed, 0.0)
    assert not picture.stale


def test_another_size_is_drawn_at_once() -> None:
    picture = FloorPicture()
    drawn(picture, [pool(0.5)], 0.0)
    canvas = Canvas(30, 12)
    picture.put_on(canvas, SHOW, [pool(0.5)], 0.01)
    assert not picture.stale and any(row for row in canvas.rows())


@pytest.mark.parametrize("size", [(0, 0), (1, 1), (5, 2), (200, 3)])
def test_no_size_is_too_odd(size: tuple[int, int]) -> None:
    FloorPicture().put_on(Canvas(*size), SHOW, [pool(1.0), Pool("lamp", 0.5, "", None)], 0.0)
