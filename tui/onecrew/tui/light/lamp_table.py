"""The lamps of the look, one a line, and the one under the cursor in full."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from rich.style import Style

from onecrew.language.saying import minus, per_cent
from onecrew.show.show import Fixture, Show
from onecrew.show.snapshot import LightState, Snapshot
from onecrew.tui import theme, words
from onecrew.tui.drawing.canvas import Canvas, fit, wrap

BAR_STOPS = 8
"""The level bar spans this many stops under full, so that the bottom of the range has space."""


@dataclass(frozen=True, slots=True)
class Column:
    """One column: its head, its width and what it says; the ones of the highest ``spare`` go first."""

    head: str
    width: int
    said: Callable[[Fixture, LightState], str]
    spare: int
    right: bool = False


def _white(_: Fixture, light: LightState) -> str:
    if light.white is not None:
        return words.cct(light.white.cct_k)
    return f"x {light.xy[0]:.3f}"


def _tint(_: Fixture, light: LightState) -> str:
    return words.tint_short(light.white.duv) if light.white is not None else f"y {light.xy[1]:.3f}"


def _target(_: Fixture, light: LightState) -> str:
    """The level that a fade goes to; an effect has none, it moves all the time."""
    going = light.effect is None and abs(light.goal_level - light.level) > 0.002
    return f"→ {words.level(light.goal_level)}" if going else ""


COLUMNS = (
    Column("role", 11, lambda f, _: f.role, 3),
    Column("level", 8, lambda _, s: words.level(s.level), 0, right=True),
    Column("stops", 8, lambda _, s: words.stops(s.output), 1, right=True),
    Column("white", 8, _white, 0, right=True),
    Column("tint", 9, _tint, 2, right=True),
    Column("target", 9, _target, 5, right=True),
    Column(" effect", 14, lambda _, s: f" {s.effect.kind}" if s.effect is not None else "", 6),
    Column("modifiers", 24, lambda f, _: words.modifiers(f.modifiers), 7),
)


def columns_for(width: int, shares: Mapping[str, str]) -> list[Column]:
    """The columns that fit beside name, bar, swatch and marks, the most useful kept.

    ``shares`` are the lamps' shares of the light at the subject, where the plan tells them.
    """
    chosen = list(COLUMNS)
    if shares:
        chosen.insert(-2, Column("share", 7, lambda f, _: shares.get(f.id, ""), 4, right=True))
    while chosen and sum(column.width for column in chosen) > width:
        chosen.remove(max(chosen, key=lambda column: column.spare))
    return chosen


def bar(output: float, width: int) -> str:
    """The output as a line in stops: full is full, each stop less takes an eighth of its length."""
    share = 1 + math.log2(output) / BAR_STOPS if output > 0 else 0.0
    halves = round(min(max(share, 0.0), 1.0) * width * 2)
    if output > 0:
        halves = max(halves, 1)  # something lit is never drawn as dark
    return "━" * (halves // 2) + "╸" * (halves % 2)


def ruler(width: int) -> str:
    """Stops under full along the bar's head: -8 … -4 … 0."""
    line = [" "] * width
    for stops in (8, 6, 4, 2):
        at = round(width * (1 - stops / BAR_STOPS))
        line[at : at + 2] = minus(f"{-stops}")
    return "".join(line)[: width - 2] + " 0"


def flags(name: str, light: LightState, snapshot: Snapshot) -> str:
    """What is out of the ordinary about one lamp, in words."""
    said = []
    if light.notes:
        said.append("! warning")
    if light.edited:
        said.append("* edited")
    if name in snapshot.solo:
        said.append("solo")
    elif snapshot.solo:
        said.append("off by solo")
    if name in snapshot.without:
        said.append("without")
    if name in snapshot.identify:
        said.append("identify")
    return ", ".join(said)


def sign(name: str, light: LightState, snapshot: Snapshot) -> str:
    """The same in four characters."""
    signs = ("!" if light.notes else "") + ("*" if light.edited else "")
    if name in snapshot.without or (snapshot.solo and name not in snapshot.solo):
        return f"{signs[:1]}out"
    if name in snapshot.solo:
        return "solo"
    return f"{signs}id" if name in snapshot.identify else signs


@dataclass(frozen=True, slots=True)
class _Layout:
    """What a line has: its name from column 4 on, the columns, the bar behind the level, the flags."""

    names: int
    columns: Sequence[Column]
    bar: int
    flags: int

    @property
    def left(self) -> int:
        return 5 + self.names


SWATCH = 4


def _layout(width: int, fixtures: Sequence[Fixture], shares: Mapping[str, str]) -> _Layout:
    names = max(min(max(len(fixture.id) for fixture in fixtures), 14), 6)
    flags_wide, rest = (22, 22) if width >= 110 else (4, 15)
    space = width - 5 - names - SWATCH - flags_wide
    columns = columns_for(space - rest, shares)
    return _Layout(names, columns, min(space - sum(c.width for c in columns) - 2, 34), flags_wide)


def draw_sheet(
    canvas: Canvas,
    show: Show,
    snapshot: Snapshot,
    cursor: int,
    selected: frozenset[str],
    top: int,
    shares: Mapping[str, str],
) -> None:
    """Heads and one line a lamp, from lamp ``top`` on."""
    fixtures = show.rig.fixtures
    layout = _layout(canvas.width, fixtures, shares)
    canvas.put(4, 0, "lamp", theme.LABEL)
    x = layout.left
    for column in layout.columns:
        x = _cell(canvas, x, 0, column, column.head, theme.LABEL)
        if column.head == "level":
            canvas.put(x + 1, 0, ruler(layout.bar), theme.LABEL)
            x += layout.bar + 2
    for y, fixture in enumerate(fixtures[top : top + canvas.height - 1], 1):
        light = snapshot.lights.get(fixture.id)
        canvas.target(0, y, canvas.width, "lamp", fixture.id)
        canvas.target(1, y, 3, "mark", fixture.id)
        if light is None:
            canvas.put(4, y, f"{fixture.id}  no data yet", theme.LABEL)
            continue
        here, marked = top + y - 1 == cursor, fixture.id in selected
        canvas.put(0, y, "▸" if here else " ", theme.NOW)
        canvas.put(2, y, "●" if marked else "○", theme.NOW if marked else theme.LABEL)
        x = _draw_line(canvas, y, layout, fixture, light, here=here)
        said = (flags if layout.flags > 4 else sign)(fixture.id, light, snapshot)
        canvas.put(x, y, fit(said, layout.flags), theme.WARN if light.notes else theme.NOW)


def _draw_line(
    canvas: Canvas, y: int, layout: _Layout, fixture: Fixture, light: LightState, *, here: bool
) -> int:
    """A lamp's name, columns, bar and swatch; returns the column after them."""
    style = theme.NEXT if here else theme.LABEL if light.level <= 0 else theme.PLAIN
    canvas.put(4, y, fit(fixture.id, layout.names), style)
    x = layout.left
    for column in layout.columns:
        x = _cell(canvas, x, y, column, column.said(fixture, light), style)
        if column.head == "level":
            drawn = bar(light.output, layout.bar)
            canvas.put(x + 1, y, drawn, theme.NEXT if here else theme.PLAIN)
            canvas.put(x + 1 + len(drawn), y, "┈" * (layout.bar - len(drawn)), theme.LINE)
            x += layout.bar + 2
    canvas.put(x + 1, y, "██" if light.level > 0 else "░░", theme.swatch_style(light.swatch))
    return x + SWATCH


def _cell(canvas: Canvas, x: int, y: int, column: Column, text: str, style: Style) -> int:
    shown = fit(text, column.width - 1)
    if column.right:
        shown = shown.rstrip().rjust(column.width - 1)
    canvas.put(x, y, shown, style)
    return x + column.width


LAWS = {
    "square": "a square law: the light is the level times itself",
    "log": "a log law (IEC 62386-102): it spreads the dark end",
    "table": "a curve of its own, from its profile",
}
"""What a lamp's dimmer makes of a level; where it is linear, a level is the light."""


def law_line(light: LightState, dimming: str) -> list[str]:
    """Why a level gives so much less light than its number: '20 % gives −8.0 st, 0.4 % of full: …'."""
    if dimming not in LAWS or not 0.0 < light.output < 0.9995:
        return []
    given = f"{words.stops(light.output)}, {per_cent(light.output)} of full light"
    return [f"{words.level(light.level)} gives {given}: this lamp dims by {LAWS[dimming]}"]


def lamp_lines(
    fixture: Fixture, light: LightState, snapshot: Snapshot, more: Sequence[str] = ()
) -> list[tuple[str, Style]]:
    """Everything about one lamp, the warnings first."""
    lines: list[tuple[str, Style]] = [(f"! {note}", theme.WARN) for note in light.notes]
    marks = flags(fixture.id, light, snapshot).removeprefix("! warning").removeprefix(", ")
    if marks:
        lines.append((marks, theme.NOW))
    said = "coloured" if light.white is None else words.colour(light.white, light.xy)
    if light.white is not None:
        said += f", tint {words.tint(light.white.duv)}"
    lines.append(
        (
            f"{words.level(light.level)}, {words.stops(light.output)}, "
            f"{said}; xy {light.xy[0]:.4f} {light.xy[1]:.4f}",
            theme.PLAIN,
        )
    )
    lines += [(line, theme.STRONG) for line in more]
    if light.effect is not None:
        effect = light.effect
        lines.append(
            (f"effect {effect.kind}, rate {effect.rate:g}, depth {words.level(effect.depth)}", theme.PLAIN)
        )
    if fixture.modifiers:
        taken = sum(modifier.stops for modifier in fixture.modifiers)
        less = f", together −{taken:.1f} st" if len(fixture.modifiers) > 1 and taken else ""
        lines.append((f"modifiers: {words.modifiers(fixture.modifiers)}{less}", theme.PLAIN))
    lines.append((f"slots {' '.join(str(slot) for slot in light.slots)}", theme.LABEL))
    lines.append(
        (
            f"{fixture.profile}, {fixture.mode}, universe {fixture.universe} address {fixture.address}",
            theme.LABEL,
        )
    )
    return lines


def draw_lamp(
    canvas: Canvas, fixture: Fixture, light: LightState, snapshot: Snapshot, more: Sequence[str] = ()
) -> int:
    """One lamp in full, ``more`` after what it gives; returns the rows taken."""
    x = canvas.put(1, 0, fixture.id, theme.NEXT)
    told = fixture.role + (f" · {fixture.note}" if fixture.note else "")
    canvas.put(x + 1, 0, fit(told, canvas.width - x - 2).rstrip(), theme.LABEL)
    lines = [
        (piece, style)
        for line, style in lamp_lines(fixture, light, snapshot, more)
        for piece in wrap(line, canvas.width - 2)
    ]
    for y, (line, style) in enumerate(lines[: canvas.height - 1], 1):
        canvas.put(1, y, line, style)
    return 1 + min(len(lines), canvas.height - 1)
