"""Layout of the Light screen."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Protocol

from rich.cells import cell_len
from rich.style import Style

from onecrew.language import saying
from onecrew.language.colours import NAMES as BY_NAME
from onecrew.language.light import NAMES, NUMBERS, Wanted, read_light
from onecrew.language.phrases import timed
from onecrew.show.show import Show
from onecrew.show.snapshot import LightState, Snapshot
from onecrew.tui import theme, words
from onecrew.tui.charts import ChartStore
from onecrew.tui.desk import Desk
from onecrew.tui.drawing.canvas import Canvas, CanvasWidget, fit, wrap
from onecrew.tui.drawing.diagram import Diagram
from onecrew.tui.drawing.lists import draw_cues
from onecrew.tui.light import ratio
from onecrew.tui.light.lamp_table import draw_lamp, draw_sheet, law_line
from onecrew.tui.light.rendition import Rendition
from onecrew.tui.readings import Readings

LETTERS_RAN = (
    "A name begins with Enter: the letters before this were keys. Esc, look at what they changed (u takes it "
    "back), then Enter and the name"
)
"""Said of the rest of a name, such as 'rcast': the o before it was solo, the v compare."""


class LightView(Protocol):
    """What the layout shows of its screen."""

    selected: frozenset[str]
    rendition: Rendition | None
    entry: str | None
    by_enter: bool
    readings: Readings

    @property
    def desk(self) -> Desk: ...
    @property
    def cursor(self) -> int: ...
    def meant(self) -> tuple[str, ...]: ...


class LightBody(CanvasWidget):
    """Head, lamps, the lamp under the cursor, cues, and the line that is typed."""

    def __init__(self, view: LightView) -> None:
        super().__init__()
        self.view = view
        self.diagram = Diagram()
        self.charts = ChartStore(lambda: view.desk)

    def draw_by_parts(self, canvas: Canvas) -> Iterator[None]:
        screen = self.view
        snapshot, show = screen.desk.snapshot, screen.desk.show
        if snapshot is None or show is None:
            canvas.put(1, 1, "Waiting for the engine…", theme.STRONG)
            return
        fixtures, cursor = show.rig.fixtures, screen.cursor
        self._head(canvas, screen)
        yield
        if not fixtures:
            canvas.put(1, 2, words.NO_LAMPS, theme.STRONG)
            return
        canvas = self._remarks(canvas, show, snapshot)
        height = canvas.height
        told = 8 if height >= 26 else 5
        listed = min(len(fixtures), max(height - 4 - told, 3))
        top = self.window.first(cursor, listed, len(fixtures))
        draw_sheet(
            canvas.part(0, 1, canvas.width, listed + 1),
            show,
            snapshot,
            cursor,
            screen.selected,
            top,
            screen.readings.shares(),
        )
        yield
        y = listed + 2
        hidden = len(fixtures) - listed
        canvas.rule(y)
        if hidden:
            canvas.put_right(y, f" {hidden} more lamps, ↑ ↓ ", theme.LABEL, margin=2)
        y += 1
        entry_rows = self._entry(canvas, screen)
        fixture = fixtures[cursor]
        light = snapshot.lights.get(fixture.id)
        rest = height - entry_rows - y
        plot = canvas.width - 64 if canvas.width >= 110 and rest >= 14 else 0
        left = canvas.width - plot
        if light is not None:
            more = self._more(screen, fixture.id, light)
            told_rows = draw_lamp(canvas.part(0, y, left, rest), fixture, light, snapshot, more)
            if rest - told_rows >= 4:
                self._cues(canvas.part(0, y + told_rows + 1, left, rest - told_rows - 1), show, snapshot)
        yield
        if plot:
            store = self.charts
            part = canvas.part(canvas.width - plot, y, plot, rest)
            outline = store.gamut(fixture.id)[0]
            self.diagram.put_on(part, store.charts, outline, store.spots(fixture.id), whole=False)
            yield

    def _remarks(self, canvas: Canvas, show: Show, snapshot: Snapshot) -> Canvas:
        """Edits that were kept and what a match promised, a row each; returns what is left below."""
        if kept := snapshot.kept_edits.get(snapshot.cue or ""):
            said = f"Edits of {', '.join(kept)} were not stored: "
            x = canvas.put(1, 1, fit(said, canvas.width - 26).rstrip(), theme.NEXT)
            x = canvas.put(x + 1, 1, "Shift+K", theme.KEY)
            canvas.target(1, 1, canvas.width, "action", "kept")
            canvas.put(x + 1, 1, "brings them back", theme.NEXT)
            canvas = canvas.part(0, 1, canvas.width, canvas.height - 1)
        cue = show.cue(snapshot.cue)
        if cue is not None and cue.predicted is not None:
            changed = any(light.edited for light in snapshot.lights.values())
            said = "changed since" if changed else saying.predicted(cue.predicted)
            matched = f"Matched to {cue.predicted.reference}: {said}"
            canvas.put(1, 1, fit(matched, canvas.width - 2), theme.NEXT)
            canvas = canvas.part(0, 1, canvas.width, canvas.height - 1)
        return canvas

    def _more(self, screen: LightView, name: str, light: LightState) -> list[str]:
        """What is known of a lamp besides its state: rendition, readings, dimming law."""
        known = screen.rendition
        more = list(known.lines) if known is not None and known.holds(name, light) else []
        more += screen.readings.lamp_lines(name)
        return more + law_line(light, self.charts.dimming(name))

    def _head(self, canvas: Canvas, screen: LightView) -> None:
        snapshot, show = screen.desk.snapshot, screen.desk.show
        assert snapshot is not None and show is not None
        x = canvas.put(1, 0, "NOW ", theme.NOW)
        cue = f"{snapshot.cue} {snapshot.cue_name}" if snapshot.cue is not None else "no cue"
        x = canvas.put(x, 0, fit(cue, 30).rstrip() if canvas.width < 100 else cue, theme.STRONG)
        said = ratio.said(show, snapshot, screen.readings)
        at = canvas.put_right(0, said, theme.STRONG, margin=1)
        if canvas.width >= 110 and snapshot.next is not None:
            x = canvas.put(x + 3, 0, "NEXT ", theme.NEXT)
            x = canvas.put(x, 0, fit(f"{snapshot.next} {snapshot.next_name}", 30).rstrip(), theme.STRONG)
        state = states(screen)
        if state:
            canvas.put(x + 2, 0, fit(state, at - x - 3).rstrip(), theme.WARN)

    def _cues(self, canvas: Canvas, show: Show, snapshot: Snapshot) -> None:
        """The cues that the look may be stored as."""
        of = f"CUES OF {show.scene}" if show.other_scenes else "CUES"
        x = canvas.put(1, 0, fit(of, canvas.width - 2).rstrip(), theme.STRONG)
        keys = "Shift+S stores the present look, # opens them"
        canvas.put(x + 1, 0, fit(keys, canvas.width - x - 2).rstrip(), theme.LABEL)
        draw_cues(canvas.part(0, 1, canvas.width, canvas.height - 2), show, snapshot)

    def _entry(self, canvas: Canvas, screen: LightView) -> int:
        """What can be typed, or the line that is typed and what it means, at the foot; returns its rows."""
        if screen.entry is None:
            who = f"{len(screen.selected)} selected · " if screen.selected else ""
            said, names = f"{who}type {NUMBERS}", f" · Enter, then {NAMES}"
            while len(said + names) > canvas.width - 2 and " · " in said:
                said = said.rpartition(" · ")[0]  # whole examples go; that names begin with Enter stays
            said += names
            canvas.put(1, canvas.height - 1, fit(said, canvas.width - 2), theme.LABEL)
            return 1
        meant, typed = screen.meant(), f"{screen.entry}▏"
        who = ", ".join(meant)
        if len(who) + len(typed) > canvas.width - 4:
            who = f"{len(meant)} lamps"
        said, style = _meaning(screen.entry, by_enter=screen.by_enter)
        at = 1 + cell_len(f"{who}: {typed}") + 2
        beside = at + cell_len(said) < canvas.width
        below = [] if beside else wrap(said, canvas.width - 4)
        y = canvas.height - 1 - len(below)
        x = canvas.put(1, y, f"{who}: ", theme.NEXT)
        canvas.put(x, y, typed, theme.STRONG)
        if beside:
            canvas.put(at, y, said, style)
        for row, line in enumerate(below, y + 1):
            canvas.put(3, row, line, style)
        return 1 + len(below)


def _meaning(typed: str, *, by_enter: bool) -> tuple[str, Style]:
    """What a typed line would do, or what is wrong with it."""
    try:
        wanted, fade_s = read_timed(typed)
    except ValueError as error:
        name = typed.partition(" ")[0].lower()
        if by_enter or not name.isalpha() or len(name) < 2 or any(one.startswith(name) for one in BY_NAME):
            return str(error), theme.LABEL
        return LETTERS_RAN, theme.WARN
    over = f" in {words.seconds(fade_s)}" if fade_s else ""
    return f"= {wanted.words()}{over} · Enter", theme.NOW


def read_timed(text: str) -> tuple[Wanted, float]:
    """(light, fade time in seconds) of a typed line such as '22 34 in 3s'; without a time, at once."""
    typed, fade_s = timed(text.split())
    return read_light(" ".join(typed)), fade_s or 0.0


def states(screen: LightView) -> str:
    """The states that change what the look gives; the loudest stand in the banner."""
    snapshot = screen.desk.snapshot
    assert snapshot is not None
    fading = [f"fading {snapshot.fade.progress * 100:.0f} %"] if snapshot.fade is not None else []
    return " · ".join([*fading, *words.states(snapshot)])
