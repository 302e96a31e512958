"""The upper half of the Shoot screen: the clap sticks that fill as a fade runs, now and next."""

from __future__ import annotations

from rich.cells import cell_len
from rich.style import Style

from onecrew.show.show import Show
from onecrew.show.snapshot import Snapshot
from onecrew.tui import theme, words
from onecrew.tui.drawing import block_digits
from onecrew.tui.drawing.canvas import Canvas, fit

STRIPE = "▟██▛  "
OPEN = "  ╱   "


def draw_sticks(canvas: Canvas, snapshot: Snapshot) -> None:
    """The clap sticks: solid as far as the fade has run, thin lines where it has not."""
    progress = snapshot.fade.progress if snapshot.fade is not None else 0.0
    done = round(canvas.width * min(max(progress, 0.0), 1.0))
    for y in range(canvas.height):
        shift = 2 * (canvas.height - 1 - y)
        solid, thin = _pattern(STRIPE, canvas.width, shift), _pattern(OPEN, canvas.width, shift)
        canvas.put(0, y, solid[:done], theme.NOW)
        canvas.put(done, y, thin[done:], theme.LINE)


def _pattern(piece: str, width: int, shift: int) -> str:
    return (piece * (width // len(piece) + 2))[shift : shift + width]


def draw_now(
    canvas: Canvas, snapshot: Snapshot, show: Show | None, note: str, rows: int, first: str = ""
) -> None:
    """The cue that shows, its name, and what it is doing; ``first`` stands before all of that."""
    x = canvas.put(1, 0, "NOW", theme.NOW)
    if show is not None and show.other_scenes:
        canvas.put(x + 2, 0, fit(show.scene, canvas.width - x - 3).rstrip(), theme.LABEL)
    name = snapshot.cue_name if snapshot.cue is not None else "no cue yet"
    _draw_cue(canvas, snapshot.cue or "--", name, rows, theme.NOW)
    said, style = doing(snapshot)
    if not said:
        said, style = (note, theme.STRONG) if note else ("steady", theme.LABEL)
    if first:
        said, style = f"{first} · {said}", theme.WARN
    canvas.put(1, canvas.height - 1, fit(said, canvas.width - 2), style)


def _draw_cue(canvas: Canvas, number: str, name: str, rows: int, style: Style) -> None:
    """Number and name: beside it in block letters where the canvas is wide, below it otherwise."""
    end = block_digits.put_number(canvas.part(1, 1, canvas.width - 2, rows), 0, 0, number, rows, style)
    if canvas.height > rows + 2:
        canvas.put(1, rows + 1, fit(name, canvas.width - 2), theme.STRONG)
    else:
        block_digits.put_text(canvas.part(end + 4, 1, canvas.width - end - 5, rows), name, theme.STRONG)


def doing(snapshot: Snapshot) -> tuple[str, Style]:
    """What the light is doing, in one line; empty while it is steady."""
    fade = snapshot.fade
    if fade is not None and snapshot.held:
        return f"held at {fade.progress * 100:.0f} % of the fade", theme.WARN
    if fade is not None:
        return f"fading {fade.progress * 100:.0f} %, {words.seconds(fade.left_s)} left", theme.PLAIN
    solo = [f"solo: {', '.join(snapshot.solo)}"] if snapshot.solo else []
    without = [f"without: {', '.join(snapshot.without)}"] if snapshot.without else []
    master = [f"master {words.level(snapshot.master)}"] if snapshot.master < words.FULL else []
    kept = snapshot.kept_edits.get(snapshot.cue or "", ())
    offer = [f"edits kept of {', '.join(kept)}: Shift+K on F3"] if kept else []
    return " · ".join([*solo, *without, *master, *words.states(snapshot), *offer]), theme.WARN


def draw_next(canvas: Canvas, snapshot: Snapshot, show: Show | None, rows: int) -> None:
    """The cue that go will run, its name, and its times."""
    x = canvas.put(1, 0, "NEXT", theme.NEXT)
    canvas.put(x + 2, 0, "Page Down", theme.LABEL)
    if snapshot.next is None:
        known = show is not None and show.cues
        said = "none: this is the last cue" if known else "no cues yet: patch on F4, build a look on F3"
        canvas.put(1, 1 + rows // 2, fit(said, canvas.width - 1), theme.LABEL)
        return
    _draw_cue(canvas, snapshot.next, snapshot.next_name, rows, theme.NEXT)
    cue = show.cue(snapshot.next) if show is not None else None
    said, style = (words.times(cue) if cue is not None else ""), theme.LABEL
    if snapshot.auto_follow_left_s is not None:
        said, style = f"auto-follow in {words.seconds(snapshot.auto_follow_left_s)}, {said}", theme.NEXT
    while cell_len(said) > canvas.width - 2 and ", " in said:
        said = said.rpartition(", ")[0]  # the first parts are the ones to know
    canvas.put(1, canvas.height - 1, fit(said, canvas.width - 2), style)
