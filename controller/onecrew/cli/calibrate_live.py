"""The live half of ``onecrew calibrate``: the lamp goes there, the user types, the show keeps it."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Sequence
from functools import partial
from pathlib import Path

from onecrew.cli.calibrate_lamp import Lamp
from onecrew.cli.calibrate_result import count, facts, lines, name_of, stored
from onecrew.cli.calibrate_walk import HELP, Walk
from onecrew.cli.exits import DONE, FAILED, endings_are_interrupts
from onecrew.cli.keeping import keeping
from onecrew.cli.meter_file import as_lines
from onecrew.cli.parts import print_json, remark, typed_line
from onecrew.commands.stills import KEEP_EVERY_S, ShowStill
from onecrew.errors import Misuse, OnecrewError
from onecrew.fixtures.calibration_plan import Question
from onecrew.show.show import Fixture, Reading

Say = Callable[[str], None]


def walk_through(
    path: Path,
    fixture: Fixture,
    questions: Sequence[Question],
    remarks: Sequence[str],
    arguments: argparse.Namespace,
) -> int:
    """Asks the lamp for one white after the other and stores what the user types; returns the exit status."""

    say = partial(remark, arguments)
    walk = Walk(questions)
    with endings_are_interrupts(), keeping(path, KEEP_EVERY_S, ShowStill(off=True)) as keeper:
        lamp = Lamp(keeper, fixture.id)
        if keeper.started:
            say("no engine was running; one runs until this ends")
        for line in (*_opening(fixture, len(questions)), *remarks):
            say(line)
        try:
            _ask_all(walk, lamp, say)
            return _finish(walk.readings(), lamp, fixture.id, remarks, arguments, say)
        except (KeyboardInterrupt, OnecrewError):
            _keep_for_later(walk.readings(), say)
            raise


def _ask_all(walk: Walk, lamp: Lamp, say: Say) -> None:
    say(HELP)
    there: Question | None = None
    while not walk.over:
        if walk.question is not there:
            there = walk.question
            lamp.go(there)
        text = typed_line(_prompt(walk) if _by_hand() else "")
        if text is None:
            return
        try:
            before = walk.at
            remark = walk.hear(text)
            if walk.at == before + 1 and before in walk.answers and (moved := lamp.disturbed()):
                walk.at, there = before, None
                del walk.answers[before]
                remark = f"{moved}, so that reading is dropped; read it again"
        except Misuse as mistake:
            if not _by_hand():
                raise
            remark = str(mistake)
        if remark:
            say(remark)


def _finish(
    taken: tuple[Reading, ...],
    lamp: Lamp,
    name: str,
    remarks: Sequence[str],
    arguments: argparse.Namespace,
    say: Say,
) -> int:
    if not taken:
        say(f"no reading was taken; {name} is as it was")
        return FAILED
    if not arguments.json:
        say("\n".join(["", *lines(taken)]))
    if _by_hand() and not _yes(f"Store {count(len(taken))} in {name}? [Y/n] "):
        _keep_for_later(taken, say)
        return FAILED
    lamp.store(taken)
    if arguments.json:
        print_json(facts(name, taken, stored=True, remarks=remarks))
    else:
        say(stored(name, len(taken)))
    return DONE


# ── Small print ─────────────────────────────────────────────────────────────────────────────────────


def _opening(fixture: Fixture, whites: int) -> list[str]:
    place = f"universe {fixture.universe}, address {fixture.address}"
    older = f"; its {count(len(fixture.calibration))} will be replaced" if fixture.calibration else ""
    return [
        f"{fixture.id}: {fixture.profile}/{fixture.mode} at {place}, {whites} whites to read{older}.",
        "It goes to full at each of them, and the other lamps are dark meanwhile: look away from it.",
        "Let it warm up, and leave the meter where it is: the light is compared as well.",
    ]


def _prompt(walk: Walk) -> str:
    known = walk.answers.get(walk.at)
    was = "" if known is None else f"  (was {known.cct_k:g} K {known.duv:+g}, Enter keeps it)"
    return f"{walk.at + 1}/{len(walk.questions)}  {name_of(walk.question.asked)}{was}  > "


def _keep_for_later(taken: tuple[Reading, ...], say: Say) -> None:
    if taken:
        say("\nnothing was stored; as a file for --file, the readings so far are:\n")
        say(as_lines(taken).rstrip())


def _by_hand() -> bool:
    return sys.stdin is not None and sys.stdin.isatty()


def _yes(question: str) -> bool:
    for _ in range(3):
        answer = typed_line(question)
        if answer in ("", "y", "yes"):
            return True
        if answer in (None, "n", "no"):
            return False
    return False
