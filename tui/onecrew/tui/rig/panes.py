"""Parts of the Rig screen: the patch, the map of a universe, the outputs, the sources heard."""

from __future__ import annotations

import string
from collections import Counter
from collections.abc import Sequence
from typing import Any, TypeAlias

from rich.style import Style

from onecrew.language.saying import counted
from onecrew.show.destination import port_address
from onecrew.show.show import Fixture, Show
from onecrew.show.snapshot import LightState, OutputState, Snapshot
from onecrew.tui import theme, words
from onecrew.tui.drawing.canvas import Canvas, fit, wrap
from onecrew.tui.rig.addresses import Kind, kind_called, map_of, menu_words, span_words, width_of

SIGNS = string.ascii_lowercase + string.ascii_uppercase + string.digits + "αβγδεζηθλμξπσφψωΓΔΘΛΞΠΣΦΨΩ"
"""Letters and digits, then those Greek ones that look like none of these."""
ONE_OF_MANY = "#"
SourceRow: TypeAlias = list[tuple[str, Style]]
"""Pieces of one line about a source, each in its style."""


def signs(fixtures: Sequence[Fixture]) -> list[str]:
    """The letter by which the map of its universe calls each fixture: no two of a universe share one, but
    those that come when every letter is taken."""
    seen: Counter[int] = Counter()
    found = []
    for fixture in fixtures:
        found.append(SIGNS[seen[fixture.universe] :][:1] or ONE_OF_MANY)
        seen[fixture.universe] += 1
    return found


def draw_patch(
    canvas: Canvas, show: Show, snapshot: Snapshot | None, kinds: Sequence[Kind], cursor: int, top: int
) -> None:
    """One line a fixture: its letter on the map, name, role, kind, address."""
    fixtures = show.rig.fixtures
    names = max(min(max(len(fixture.id) for fixture in fixtures), 16), 5)
    kind_width = 30 if canvas.width >= 110 else max(canvas.width - names - 44, 10)
    x_role, x_kind = names + 6, names + 18
    x_where = x_kind + kind_width + 1
    x_more = x_where + 16
    canvas.put(4, 0, "lamp", theme.LABEL)
    canvas.put(x_role, 0, "role", theme.LABEL)
    canvas.put(x_kind, 0, "profile and mode", theme.LABEL)
    canvas.put(x_where, 0, "univ. address", theme.LABEL)
    more = canvas.width > x_more + 24
    if more:
        canvas.put(x_more, 0, "modifiers and place", theme.LABEL)
    letters = signs(fixtures)
    for y, fixture in enumerate(fixtures[top : top + canvas.height - 1], 1):
        here = top + y - 1 == cursor
        canvas.target(0, y, canvas.width, "lamp", fixture.id)
        style = theme.NEXT if here else theme.PLAIN
        canvas.put(0, y, "▸" if here else " ", theme.NOW)
        canvas.put(2, y, letters[top + y - 1], theme.KEY)
        canvas.put(4, y, fit(fixture.id, names), style)
        canvas.put(x_role, y, fixture.role, style)
        canvas.put(x_kind, y, fit(f"{fixture.profile} {fixture.mode}", kind_width), style)
        unknown = width_of(fixture, kinds) is None and bool(kinds)
        canvas.put(
            x_where, y, f"{fixture.universe:>4}  {span_words(fixture, kinds)}{' ?' if unknown else ''}", style
        )
        pulsing = snapshot is not None and fixture.id in snapshot.identify
        said = "identify" if pulsing else _more(fixture)
        if more or pulsing:
            canvas.put(x_more, y, fit(said, canvas.width - x_more - 1), theme.NOW if pulsing else theme.LABEL)


def _more(fixture: Fixture) -> str:
    place = fixture.place
    said = [words.modifiers(fixture.modifiers)] if fixture.modifiers else []
    if place is not None:
        height = f", height {place.height_m:g} m" if place.height_m is not None else ""
        said.append(f"at {place.x_m:g}, {place.y_m:g} m{height}")
    return " · ".join(said)


def _readings(fixture: Fixture) -> str:
    """The calibration readings."""
    said = [
        f"{reading.asked_cct_k:.0f} → {reading.measured_cct_k:.0f} K {words.tint_short(reading.measured_duv)}"
        for reading in fixture.calibration
    ]
    return f"calibrated, asked → measured: {', '.join(said)}"


def draw_one(canvas: Canvas, fixture: Fixture, light: LightState | None, kinds: Sequence[Kind]) -> None:
    """The chosen lamp: what it is, and what its slots carry now."""
    kind = kind_called(kinds, fixture.profile, fixture.mode)
    x = canvas.put(1, 0, fixture.id, theme.NEXT)
    canvas.put(x + 1, 0, kind.name if kind is not None else fixture.profile, theme.STRONG)
    lines = [f"set its menu to {menu_words(fixture, kinds)}"]
    if kind is not None:
        lines.append("channels: " + ", ".join(kind.channels))
    if light is not None:
        values = (f"{fixture.address + index} = {value}" for index, value in enumerate(light.slots))
        lines.append("slots now: " + " · ".join(values))
    lines += [_more(fixture), fixture.note]
    if fixture.emitter_readings:
        names = dict.fromkeys(reading.emitter for reading in fixture.emitter_readings)
        lines.append(f"emitters as a meter read them: {', '.join(names)}")
    if fixture.calibration:
        lines.append(_readings(fixture))
    lines.append(kind.note if kind is not None else "")
    pieces = [piece for line in lines if line for piece in wrap(line, canvas.width - 2)]
    for y, line in enumerate(pieces, 1):
        canvas.put(1, y, line, theme.LABEL)


def map_rows(show: Show, kinds: Sequence[Kind], universe: int, width: int) -> int:
    """Rows that the map takes, its head included."""
    _, rows, rest = _map_lines(show, kinds, universe, width)
    return 1 + rows + (1 if rest else 0)


def _map_lines(
    show: Show, kinds: Sequence[Kind], universe: int, width: int
) -> tuple[list[int | None], int, int]:
    """(owner of each slot, rows to draw, first address of the free rest or 0)."""
    slots = map_of(show.rig.fixtures, kinds, universe)
    per_row = _per_row(width)
    last = max((address for address, owner in enumerate(slots, 1) if owner is not None), default=1)
    rows = -(-last // per_row)
    rest = rows * per_row + 1
    return slots, rows, rest if rest <= len(slots) else 0


def _per_row(width: int) -> int:
    return 64 if width >= 71 else 48


def draw_map(canvas: Canvas, show: Show, kinds: Sequence[Kind], universe: int, chosen: int) -> None:
    """The slots of a universe, each with the letter of the fixture that takes it; the free rest in a line."""
    slots, rows, rest = _map_lines(show, kinds, universe, canvas.width)
    used = sum(owner is not None for owner in slots)
    x = canvas.put(1, 0, f"UNIVERSE {universe}", theme.STRONG)
    canvas.put(
        x + 2, 0, fit(f"{used} of 512 slots taken, by the lamps' letters", canvas.width - x - 3), theme.LABEL
    )
    per_row, letters = _per_row(canvas.width), signs(show.rig.fixtures)
    for row in range(rows):
        canvas.put(0, row + 1, f"{row * per_row + 1:>4}", theme.LABEL)
        line = slots[row * per_row : (row + 1) * per_row]
        start = 0
        while start < len(line):
            end = start
            while end < len(line) and line[end] == line[start]:
                end += 1
            owner = line[start]
            text = ("·" if owner is None else letters[owner]) * (end - start)
            style = theme.LINE if owner is None else theme.CHOSEN if owner == chosen else theme.PLAIN
            canvas.put(6 + start, row + 1, text, style)
            start = end
    if rest:
        canvas.put(6, rows + 1, f"{rest}–512 free", theme.LABEL)


def output_lines(snapshot: Snapshot | None, width: int) -> list[tuple[str, Style]]:
    """What is wrong with files and standby, then each destination with its health, the worst first."""
    if snapshot is None:
        return []
    standby = snapshot.standby.error if snapshot.standby is not None else ""
    wrong = (("show", snapshot.saved.error), ("log", snapshot.logged.error), ("standby", standby))
    said = [f"{name}: {error}" for name, error in wrong if error]
    lines = [(line, theme.WARN) for text in said for line in wrap(text, width - 2)]
    for state in sorted(snapshot.outputs, key=lambda state: (state.state != "failing", not state.error)):
        style = theme.PLAIN if state.state == "ok" and not state.error else theme.WARN
        lines += [(line, style) for line in _output_lines(state, width)]
    return lines or [("none yet: a universe is sent once it has a lamp", theme.PLAIN)]


def _output_lines(state: OutputState, width: int) -> list[str]:
    """A destination and its health; what is wrong with it goes below where the line is too short."""
    said = f"{state.state}, {state.sent} sent" + (f", {state.errors} errors" if state.errors else "")
    where = f"universe {state.universe} → {state.to} {state.protocol}"
    whole = f"{where}  {said}" + (f": {state.error}" if state.error else "")
    if len(whole) <= width - 2:
        return [whole]
    head = f"{fit(where, min(len(where), width - len(said) - 4))}  {said}"
    return [head, *(f"  {line}" for line in wrap(state.error, width - 4) if line)]


def draw_outputs(canvas: Canvas, lines: Sequence[tuple[str, Style]]) -> None:
    """The outputs under their head."""
    canvas.put(1, 0, "OUTPUTS", theme.STRONG)
    canvas.put(10, 0, "p changes them", theme.LABEL)
    for y, (line, style) in enumerate(lines, 1):
        canvas.put(1, y, line, style)


def node_lines(answer: dict[str, Any]) -> list[str]:
    """The Art-Net nodes that answered, or why none can; none where the show sends no Art-Net."""
    if "nodes" not in answer:
        return []
    if answer["nodes_note"]:
        return [f"Art-Net nodes: {answer['nodes_note']}"]
    lines = []
    for node in answer["nodes"]:
        outputs = ", ".join(map(str, node["outputs"])) or "none"
        lines.append(f"node {node['name'] or 'without a name'} {node['address']} · port-address {outputs}")
    return lines or ["no Art-Net node answers where this show is sent"]


def source_rows(show: Show, answer: dict[str, Any] | None, width: int) -> list[SourceRow]:
    """Every source heard, and whether it conflicts with this show; then the Art-Net nodes that answered."""
    if answer is None:
        return [[("waiting for the engine", theme.LABEL)]]
    # A source that conflicts with this show comes first: the list may be cut.
    sources = sorted(
        answer.get("sources", ()), key=lambda source: (bool(source.get("ours")), -int(source["priority"]))
    )
    rows = [row for source in sources for row in _source_rows(show, source, width - 2)]
    if not sources:
        quiet = "no other source" if answer.get("listening", True) else "not listening"
        rows = [[(line, theme.LABEL)] for line in wrap(str(answer.get("note", "")) or quiet, width - 2)]
    return rows + [[(line, theme.PLAIN)] for text in node_lines(answer) for line in wrap(text, width - 2)]


def _source_rows(show: Show, source: dict[str, Any], width: int) -> list[SourceRow]:
    """One source; where the line is too short for what it means for this show, that comes first."""
    artnet = show.output.artnet
    sent = artnet.universes.items() if artnet is not None else ()
    by_artnet = source.get("protocol") == "artnet"
    ours = (
        {port_address(int(universe), one.port_address) for universe, one in sent}
        if by_artnet
        else {fixture.universe for fixture in show.rig.fixtures}
    )
    same = not source.get("ours") and source["universe"] in ours
    above = 0 if by_artnet else int(source["priority"]) - show.output.sacn.priority
    sends = f"universe {source['universe']} priority {source['priority']}"
    if by_artnet:
        sends = f"port-address {source['universe']}"
    text = f"{source['name']} {source['address']} · {sends}"
    said = "(this show)" if source.get("ours") else ""
    if same:
        said = "! in control: higher priority" if above > 0 else "! conflicts: same universe"
        said = said if above >= 0 else "stands by: lower priority"
    style = theme.WARN if same and above >= 0 else theme.LABEL
    if not said or len(text) + 1 + len(said) <= width:
        return [[(text, theme.PLAIN), (f" {said}", style)]]
    first, *others = wrap(f"{said}: {text}" if same else f"{text} {said}", width)
    style = style if same else theme.PLAIN
    return [[(first, style)], *([(f"  {line}", style)] for line in others)]


def draw_sources(canvas: Canvas, rows: Sequence[SourceRow]) -> None:
    """The sources under their head."""
    canvas.put(1, 0, "SOURCES ON THE NETWORK", theme.STRONG)
    for y, row in enumerate(rows, 1):
        x = 1
        for text, style in row:
            x = canvas.put(x, y, text, style)


def draw_remotes(canvas: Canvas, show: Show, snapshot: Snapshot) -> int:
    """OSC and the phone page: where they listen, or why they do not; returns the rows taken."""
    canvas.put(1, 0, "REMOTES", theme.STRONG)
    canvas.put(10, 0, "Shift+L changes them, Shift+P pairs a phone", theme.LABEL)
    wanted, state = show.remote, snapshot.remote
    count = state.page.phones
    phones = f", {counted(count, 'phone')}" if count else ""
    remotes = (
        ("OSC", wanted.osc.listen if wanted.osc is not None else "", state.osc.error),
        ("phone page", wanted.page.listen + phones if wanted.page is not None else "", state.page.error),
    )
    y = 1
    for name, at, error in remotes:
        said = error or (f"at {at}" if at else "off")
        style = theme.WARN if error else theme.PLAIN if at else theme.LABEL
        for line in wrap(f"{name} {said}", canvas.width - 2):
            canvas.put(1, y, line, style)
            y += 1
    return y
