"""The charts and gamuts that the engine knows, asked once and kept for every screen that draws them."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import Any

from onecrew.tui.desk import Desk
from onecrew.tui.drawing.diagram import Charts, Spot, Uv, uv_of

Gamut = tuple[tuple[Uv, ...], tuple[float, float] | None]
NOTHING: Gamut = ((), None)


class ChartStore:
    """Locus, daylight and the gamut of each lamp, for the present version of the show."""

    def __init__(self, desk: Callable[[], Desk]) -> None:
        """``desk()`` is the desk; a screen has none before it is shown."""
        self._desk = desk
        self._charts: Charts | None = None
        self._gamuts: dict[str, Gamut] = {}
        self._dimming: dict[str, str] = {}
        self._of = (-1, -1)
        """The revision of the show, and the link to the engine, that they were asked in."""

    @property
    def charts(self) -> Charts:
        """The lines of the diagram; empty until the engine has answered."""
        self._renew()
        if self._charts is None:
            self._charts = Charts()
            self._desk().fetch("locus", self._have_charts, quiet=True)
        return self._charts

    def _have_charts(self, answer: dict[str, Any]) -> None:
        self._charts = Charts.of(answer)
        self._desk().repaint()

    def _renew(self) -> None:
        """Drop the gamuts of another revision, and what was never answered before the engine came back."""
        snapshot = self._desk().snapshot
        of = (snapshot.revision if snapshot is not None else 0, self._desk().links)
        if of != self._of:
            self._of, self._gamuts = of, {}
            if self._charts is not None and not self._charts.planck:
                self._charts = None

    def gamut(self, name: str) -> Gamut:
        """(outline in u′v′, range of whites in kelvin or None) of a lamp; empty until it is known."""
        self._renew()
        if name not in self._gamuts:
            self._gamuts[name] = NOTHING
            self._desk().fetch("gamut", partial(self._have_gamut, name, self._of), quiet=True, fixture=name)
        return self._gamuts[name]

    def dimming(self, name: str) -> str:
        """The dimming law of a lamp; empty until it is known."""
        self.gamut(name)
        return self._dimming.get(name, "")

    def _have_gamut(self, name: str, of: tuple[int, int], answer: dict[str, Any]) -> None:
        if of == self._of:
            white = answer.get("white")
            self._dimming[name] = str(answer.get("dimming", ""))
            outline = tuple((float(u), float(v)) for u, v in answer.get("uv", ()))
            self._gamuts[name] = outline, ((float(white[0]), float(white[1])) if white else None)
            self._desk().repaint()

    def spots(self, chosen: str | None) -> list[Spot]:
        """Every lamp as it stands on the diagram."""
        snapshot = self._desk().snapshot
        if snapshot is None:
            return []
        return [
            Spot(
                id=name,
                uv=uv_of(light.xy),
                goal=uv_of(light.goal_xy) if light.goal_xy is not None else None,
                chosen=name == chosen,
                lit=light.level > 0,
            )
            for name, light in snapshot.lights.items()
        ]
