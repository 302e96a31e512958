"""The lower half of the Shoot screen: the take, the clock, and the states that stop the light."""

from __future__ import annotations

from rich.cells import cell_len

from onecrew.show.snapshot import Snapshot
from onecrew.tui import theme, words
from onecrew.tui.drawing import block_digits
from onecrew.tui.drawing.canvas import Canvas, fit, fit_ends


def draw_take(canvas: Canvas, snapshot: Snapshot, rows: int, wall: float) -> None:
    """The take number, its setup, and whether the camera is rolling."""
    take = snapshot.take
    x = canvas.put(1, 0, "TAKE", theme.STRONG)
    if take is None:
        canvas.put(1, 1 + rows // 2, "none yet", theme.LABEL)
        canvas.put(1, rows + 1, fit("t starts one", canvas.width - 1), theme.LABEL)
        return
    said, space = f"setup {take.setup}", canvas.width - x - 1
    canvas.put(x + 1, 0, said if cell_len(said) <= space else fit_ends(take.setup, space), theme.LABEL)
    style = theme.WARN if take.running else theme.STRONG
    block_digits.put_number(canvas.part(1, 1, canvas.width - 1, rows), 0, 0, str(take.number), rows, style)
    if take.running:
        ran = f" {words.clock(wall - take.since)}" if take.since is not None else ""
        canvas.put(1, rows + 1, f"● ROLLING{ran}", theme.WARN)
    else:
        mark = {True: "cut · good", False: "cut · bad", None: "cut"}[take.good]
        canvas.put(1, rows + 1, mark, theme.LABEL)


def draw_clock(canvas: Canvas, snapshot: Snapshot, rows: int, seconds: float) -> None:
    """The countdown; without one, the time left of the fade or until the auto-follow."""
    digits = canvas.part(1, 1, canvas.width - 1, rows)
    if snapshot.countdown is not None:
        x = canvas.put(1, 0, "COUNTDOWN", theme.NOW)
        then = fit(f"to {snapshot.countdown.command}", canvas.width - x - 2)
        canvas.put(x + 1, 0, then, theme.STRONG)
        block_digits.put_number(digits, 0, 0, words.countdown(snapshot.countdown.left_s), rows, theme.NOW)
        canvas.put(1, rows + 1, "seconds · d cancels", theme.PLAIN)
    elif snapshot.fade is not None:
        canvas.put(1, 0, "FADE" if not snapshot.held else "FADE, held", theme.STRONG)
        block_digits.put_number(digits, 0, 0, words.countdown(snapshot.fade.left_s), rows, theme.STRONG)
        canvas.put(1, rows + 1, "seconds left", theme.LABEL)
    elif snapshot.auto_follow_left_s is not None:
        canvas.put(1, 0, "AUTO-FOLLOW", theme.STRONG)
        block_digits.put_number(digits, 0, 0, words.countdown(snapshot.auto_follow_left_s), rows, theme.NEXT)
        canvas.put(1, rows + 1, "seconds to the next cue", theme.LABEL)
    else:
        canvas.put(1, 0, "COUNTDOWN", theme.LABEL)
        canvas.put(1, 1 + rows // 2, "not running", theme.LABEL)
        canvas.put(1, rows + 1, fit(f"d starts {seconds:.0f} s", canvas.width - 1), theme.LABEL)


def draw_states(canvas: Canvas, said: list[tuple[str, str]]) -> int:
    """State words three rows high from the left; those that do not fit are written small. Returns columns."""
    left = [word for word, _ in said]
    x = 1
    small: list[str] = []
    while left:
        word, rest = left[0], left[1:] + small
        reserve = max((len(other) for other in rest), default=-4) + 4
        if canvas.height >= 3 and x + block_digits.word_width(word) + 2 + reserve <= canvas.width:
            x = block_digits.put_word(canvas, x, 0, word, theme.WARN) + 3
        else:
            small.append(word)
        left.pop(0)
    for row, word in enumerate(small[: canvas.height]):
        canvas.put(x, row, f" {word} ", theme.SHOUT)
    if small:
        x += max(len(word) for word in small) + 4
    return x if said else 0
