"""Taking: a guided run of stills at the command line, by what is typed, by the clock, or by the pictures."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from dataclasses import replace

from onecrew.cli.keeping import Keeper
from onecrew.cli.lines import Lines
from onecrew.cli.parts import typed_line
from onecrew.errors import OnecrewError
from onecrew.stills.arrivals import Folder
from onecrew.stills.guided import SETTLE_S, Guided, Phase
from onecrew.stills.shotlist import taken_now
from onecrew.terminal import write_over

HELP = "Enter when it is taken; again, less (one stop less light), back, skip, done"
WORDS = {"": "next", "done": "stop"}
TICK_S = 0.25


def take(
    run: Guided,
    keeper: Keeper,
    folder: Folder | None,
    lines: Lines | None = None,
    note: Callable[[Guided], None] = lambda _: None,
) -> Guided:
    """Go through a run with what is typed, or by the clock, or by the pictures that come.

    ``lines``: typed as well as by the pictures; from the first still that Enter takes on, pictures that come
    do not count, since one may be late and then be taken for the next. ``note`` gets the run after each
    light.
    """
    by_hand = run.wait_s is None and folder is None
    begun = False
    while (light := run.light) is not None:
        if folder is not None and run.by_picture:
            folder.pass_over()  # a second picture of the light before is not taken for one of this
        keeper.keep(light, light.model_copy(update={"again": True}))
        if not begun:
            begun = True
            said = HELP if by_hand or lines is not None else "Ctrl-C ends the run."
            say(f"{len(run.shots)} stills. {said}")
        run = _by_hand(run, keeper) if by_hand else _by_itself(run, keeper, folder, lines)
        note(run)
    return run


def say(text: str) -> None:
    print(text, file=sys.stderr, flush=True)


def _by_hand(run: Guided, keeper: Keeper) -> Guided:
    """The run after what was typed for the still that shows."""
    time.sleep(max(run.since + SETTLE_S - time.monotonic(), 0.0))
    while True:
        typed = typed_line(f"{run.words}  > ")
        word = "stop" if typed is None else WORDS.get(typed, typed)
        if word != "stop" and keeper.failed is not None:
            say(f"{keeper.failed}; the still that was called for last is taken again")
            return run.pressed("again", time.monotonic(), taken_now())
        try:
            return run.pressed(word, max(time.monotonic(), run.since + SETTLE_S), taken_now())
        except ValueError:
            say(HELP)


def _by_itself(run: Guided, keeper: Keeper, folder: Folder | None, lines: Lines | None) -> Guided:
    """The run at its next light: a countdown is over, a picture came, or something was typed."""
    light, words, shown = run.light, run.words, ""
    while run.light == light:
        now = time.monotonic()
        if keeper.failed is not None:
            return _taken_up(run, keeper.failed, lines)
        run = run.passed(now, taken_now())
        arrival = folder.look() if folder is not None and run.light == light and _by_picture(run) else None
        if arrival is not None and arrival.unreadable:
            say(f"\n{arrival.unreadable}; the still is not taken yet")
            shown = ""
        elif arrival is not None:
            run = run.arrived(arrival.name, arrival.clipped, now, taken_now(), arrival.light)
            write_over(f"{words}  {arrival.name}: {run.remark or 'taken'}")
            continue
        shown = _show(run, now, lines, shown)
        if lines is None or lines.ended:
            time.sleep(TICK_S)
        elif (typed := lines.next(TICK_S)) is not None:
            run, shown = _typed(run, typed), ""
            if run.light != light:
                return run
            if not typed:
                say("the light is on its way; Enter once more when the still is taken")
    say("")
    return run


def _by_picture(run: Guided) -> bool:
    return run.by_picture or run.wait_s is not None


def _show(run: Guided, now: float, lines: Lines | None, shown: str) -> str:
    """Write where the run stands, where that is another line than before; return the line."""
    phase = run.phase(now)
    words = f"{phase.value}, or Enter" if phase is Phase.PICTURE and lines is not None else phase.value
    line = f"in {run.left_s(now):3.0f} s" if phase is Phase.COUNTING else words
    if line != shown:
        write_over(f"{run.words}  {line}")
    return line


def _typed(run: Guided, word: str) -> Guided:
    try:
        after = run.pressed(WORDS.get(word, word), time.monotonic(), taken_now())
    except ValueError:
        say(HELP)
        return run
    return replace(after, by_picture=False) if word == "" and after.at != run.at else after


def _taken_up(run: Guided, failed: OnecrewError, lines: Lines | None) -> Guided:
    """The run at the still that something else took the light from, once Enter asks for it."""
    if lines is None or lines.ask(f"\n{failed}; Enter shows the still again  > ") is None:
        raise failed
    return run.pressed("again", time.monotonic(), taken_now())
