"""A map of light in characters: a shade for each stop, and the figure itself every metre or so."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from onecrew.tui import theme
from onecrew.tui.drawing.canvas import Canvas
from onecrew.tui.drawing.floor import Frame

if TYPE_CHECKING:
    from onecrew.plan.light_map import LightMap

SHADES = ((0.0, "█"), (-1.0, "▓"), (-2.0, "▒"), (-3.0, "░"), (-4.0, ":"), (-5.0, "·"))
"""The least stops of each shade; below the last it stays dark."""
LEGEND = "· −5  : −4  ░ −3  ▒ −2  ▓ −1  █ 0  "
APART = (10, 4)
"""Columns and rows from one figure to the next."""


def stops_of(light: LightMap, nominal_lux: float, x_m: float, y_m: float) -> float:
    """Stops against ``nominal_lux`` at a place; −inf in the dark."""
    share = light.at(x_m, y_m) / nominal_lux
    return math.log2(share) if share > 1e-6 else -math.inf


def shade(stops: float) -> str:
    return next((sign for least, sign in SHADES if stops >= least), " ")


def draw_light(
    canvas: Canvas, frame: Frame, light: LightMap, nominal_lux: float, room: tuple[float, float]
) -> None:
    """Shades and figures over the floor of a room ``room`` metres wide and deep."""
    left, top = frame.at(0.0, room[1])
    right, bottom = frame.at(room[0], 0.0)
    for row in range(max(top + 1, 0), min(bottom, canvas.height)):
        line = "".join(
            shade(stops_of(light, nominal_lux, *frame.metres(column, row)))
            for column in range(left + 1, right)
        )
        canvas.put(left + 1, row, line, theme.LINE)
    for row in range(top + APART[1] // 2, bottom, APART[1]):
        for column in range(left + APART[0] // 2, right - 4, APART[0]):
            stops = stops_of(light, nominal_lux, *frame.metres(column + 2, row))
            said = "dark" if math.isinf(stops) else f"{'−' if stops < 0 else '+'}{abs(stops):.1f}"
            canvas.put(column, row, f" {said} ", theme.PLAIN)
