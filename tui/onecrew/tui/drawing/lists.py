"""Beside now and next: the lamps with their light, and the cues with their shortcuts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from rich.cells import cell_len

from onecrew.show.show import Cue, Show
from onecrew.show.snapshot import Snapshot
from onecrew.tui import theme, words
from onecrew.tui.drawing.canvas import Canvas, fit

WORDY = 76
"""From this many columns the cues are listed with their times, if all of them fit."""


@dataclass(frozen=True, slots=True)
class LampLine:
    """One lamp in one line."""

    id: str
    level: str
    colour: str
    swatch: str
    mark: str = ""

    @property
    def dark(self) -> bool:
        return self.level == "0 %"


def lamp_lines(snapshot: Snapshot, show: Show | None) -> list[LampLine]:
    """The lamps as the engine says they are: the lit ones first, in rig order."""
    order = [fixture.id for fixture in show.rig.fixtures] if show is not None else list(snapshot.lights)
    lines: list[LampLine] = []
    for name in order:
        light = snapshot.lights.get(name)
        if light is None:
            continue
        mark = "!" if light.notes else "*" if light.edited else ""
        colour = words.colour(light.white, light.xy) if light.level > 0 else ""
        lines.append(LampLine(name, words.level(light.level), colour, light.swatch, mark))
    return sorted(lines, key=lambda line: line.dark)


def seen_lines(seen: Sequence[Any]) -> list[LampLine]:
    """The lamps as a receiver on the network sees them: the lit ones first."""
    lines: list[LampLine] = []
    for lamp in seen:
        cct_k, xy = getattr(lamp, "cct_k", None), getattr(lamp, "xy", None)
        colour = ""
        if lamp.level > 0 and cct_k is not None:
            colour = words.cct(cct_k)
        elif lamp.level > 0 and xy is not None:
            colour = f"xy {xy[0]:.3f} {xy[1]:.3f}"
        lines.append(LampLine(lamp.id, words.level(lamp.level), colour, getattr(lamp, "swatch", "") or ""))
    return sorted(lines, key=lambda line: line.dark)


def draw_lamps(canvas: Canvas, title: str, lines: list[LampLine]) -> None:
    """One line a lamp: name, level, swatch and colour; the last line counts those that do not fit."""
    canvas.put(1, 0, fit(title, canvas.width - 1), theme.STRONG)
    space = canvas.height - 1
    shown = lines if len(lines) <= space else lines[: max(space - 1, 0)]
    name_width = max(min(max((len(line.id) for line in lines), default=0), canvas.width - 18), 4)
    for y, line in enumerate(shown, 1):
        style = theme.LABEL if line.dark else theme.PLAIN
        canvas.target(0, y, canvas.width, "lamp", line.id)
        x = canvas.put(1, y, fit(line.id + line.mark, name_width + 1), style)
        x = canvas.put(x, y, f"{line.level:>6} ", style)
        if line.swatch and not line.dark:
            canvas.put(x, y, "██", theme.swatch_style(line.swatch))
        room_for_colour = canvas.width - x - 3
        canvas.put(x + 3, y, line.colour if cell_len(line.colour) <= room_for_colour else "coloured", style)
    if len(shown) < len(lines):
        canvas.put(1, space, f"and {len(lines) - len(shown)} more: F3", theme.LABEL)


def draw_cues(canvas: Canvas, show: Show, snapshot: Snapshot) -> None:
    """The cues with their shortcuts, in columns; around the present one where space is short."""
    cues = show.cues
    if not cues:
        canvas.put(1, 0, words.NO_CUES, theme.LABEL)
        return
    if canvas.width >= WORDY and len(cues) <= canvas.height:
        _draw_with_times(canvas, cues, snapshot)
        return
    longest = max(cell_len(_name(cue)) for cue in cues) + 6
    width = min(max(longest, 18), max(canvas.width - 1, 1))
    columns = max((canvas.width - 1) // width, 1)
    space = columns * canvas.height
    start = 0
    if len(cues) > space:
        space -= 1
        at = next((i for i, cue in enumerate(cues) if cue.number == snapshot.cue), 0)
        start = min(max(at - space // 3, 0), len(cues) - space)
    for index, cue in enumerate(cues[start : start + space]):
        column, row = divmod(index, canvas.height)
        _draw_cue(canvas.part(1 + column * width, row, width - 1, 1), cue, snapshot)
    if len(cues) > space:
        canvas.put(1 + (columns - 1) * width + 4, canvas.height - 1, f"{len(cues) - space} more", theme.LABEL)


def _draw_with_times(canvas: Canvas, cues: Sequence[Cue], snapshot: Snapshot) -> None:
    """One line a cue, with its times and its note."""
    names = min(max(cell_len(_name(cue)) for cue in cues) + 6, canvas.width // 2)
    for row, cue in enumerate(cues):
        _draw_cue(canvas.part(1, row, names, 1), cue, snapshot)
        said = words.times(cue) + (f" · {cue.note}" if cue.note else "")
        canvas.put(names + 2, row, fit(said, canvas.width - names - 3).rstrip(), theme.LABEL)


def _draw_cue(canvas: Canvas, cue: Cue, snapshot: Snapshot) -> None:
    """Whether it is now or next, its shortcut, its name."""
    now, following = cue.number == snapshot.cue, cue.number == snapshot.next
    style = theme.NOW if now else theme.NEXT if following else theme.PLAIN
    canvas.target(0, 0, canvas.width, "cue", cue.number)
    canvas.put(0, 0, "▸" if now else "›" if following else " ", style)
    canvas.put(2, 0, cue.shortcut or "·", theme.KEY if cue.shortcut else theme.LABEL)
    canvas.put(4, 0, fit(_name(cue), canvas.width - 4).rstrip(), style)


def _name(cue: Cue) -> str:
    return cue.name if cue.shortcut == cue.number and cue.name else f"{cue.number} {cue.name}".rstrip()
