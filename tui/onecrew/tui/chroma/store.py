"""The charts and gamuts that the engine knows, asked once and kept for every screen that draws them."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, Any

from onecrew.tui.chroma.diagram import Charts, Spot, Uv, uv_of

if TYPE_CHECKING:
    from onecrew.tui.app import OnecrewApp

Gamut = tuple[tuple[Uv, ...], tuple[float, float] | None]
NOTHING: Gamut = ((), None)


class ChartStore:
    """Locus, daylight and the gamut of each lamp, for the present version of the show."""

    def __init__(self, desk: OnecrewApp) -> None:
        self._desk = desk
        self._charts: Charts | None = None
        self._gamuts: dict[str, Gamut] = {}
        self._revision = -1

    @property
    def charts(self) -> Charts:
        """The lines of the diagram; empty until the engine has answered."""
        if self._charts is None:
            self._charts = Charts()
            self._desk.fetch("locus", self._have_charts, quiet=True)
        return self._charts

    def _have_charts(self, answer: dict[str, Any]) -> None:
        self._charts = Charts.of(answer)
        self._desk.pace.ask()

    def forget(self) -> None:
        """Ask again for what was never answered, after the engine has come back."""
        if self._charts is not None and not self._charts.planck:
            self._charts = None
        self._gamuts = {name: gamut for name, gamut in self._gamuts.items() if gamut is not NOTHING}

    def gamut(self, name: str) -> Gamut:
        """(outline in u′v′, range of whites in kelvin or None) of a lamp; empty until it is known."""
        snapshot = self._desk.snapshot
        revision = snapshot.revision if snapshot is not None else 0
        if revision != self._revision:
            self._revision, self._gamuts = revision, {}
        if name not in self._gamuts:
            self._gamuts[name] = NOTHING
            self._desk.fetch("gamut", partial(self._have_gamut, name, revision), quiet=True, fixture=name)
        return self._gamuts[name]

    def _have_gamut(self, name: str, revision: int, answer: dict[str, Any]) -> None:
        if revision == self._revision:
            white = answer.get("white")
            outline = tuple((float(u), float(v)) for u, v in answer.get("uv", ()))
            self._gamuts[name] = outline, ((float(white[0]), float(white[1])) if white else None)
            self._desk.pace.ask()

    def spots(self, chosen: str | None) -> list[Spot]:
        """Every lamp as it stands on the diagram."""
        snapshot = self._desk.snapshot
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
