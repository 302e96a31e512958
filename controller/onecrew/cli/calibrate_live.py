"""The live half of ``onecrew calibrate``: the lamp goes there, the user types, the show keeps it."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from onecrew.cli.calibrate_lamp import Lamp
from onecrew.cli.calibrate_result import closing_facts, facts, lines, stored
from onecrew.cli.exits import FAILED, endings_are_interrupts
from onecrew.cli.keeping import keeping
from onecrew.cli.meter_file import as_lines
from onecrew.cli.parts import answer, remark, typed_line
from onecrew.cli.raised import Raised
from onecrew.commands.light import AGAIN_S, RaiseSlots
from onecrew.commands.stills import KEEP_EVERY_S, ShowStill
from onecrew.errors import Misuse, OnecrewError
from onecrew.fixtures.calibration_plan import Question
from onecrew.fixtures.calibration_walk import (
    WORDS,
    CheckStep,
    Walk,
    WhiteStep,
    check_remarks,
    white_readings,
    white_remarks,
)
from onecrew.fixtures.calibration_words import closing_lines
from onecrew.fixtures.closing_check import Closing, closing, to_show
from onecrew.fixtures.meter import Metered
from onecrew.language.saying import counted
from onecrew.show.profile import Profile
from onecrew.show.show import Fixture


def walk_through(
    path: Path,
    fixture: Fixture,
    profiles: Mapping[str, Profile],
    questions: Sequence[Question],
    remarks: Sequence[str],
    arguments: argparse.Namespace,
) -> int:
    """Asks the lamp for one white after the other and stores what the user types; returns the exit status."""
    walk = Walk([WhiteStep(one) for one in questions], arguments.repeats)
    run = Run(path, fixture, profiles, arguments)

    def as_file() -> str:
        return as_lines(white_readings(walk))

    with run.lamp(walk, "whites", fixture.calibration, remarks, as_file) as lamp:
        run.ask_all(walk, lambda at: lamp.go(questions[at]), lamp.disturbed)
        taken = white_readings(walk)
        if not taken:
            return run.nothing_taken()
        run.say_result(["", *lines(taken), *white_remarks(walk)])
        found = run.check(lamp, fixture.model_copy(update={"calibration": taken}))
        doubted = check_remarks(walk, found) if found is not None else []
        run.say_result(doubted)
        if not run.kept(found, len(taken), as_file):
            return FAILED
        lamp.store(calibration=taken)
        remarks = [*remarks, *white_remarks(walk), *doubted]
        return run.finish(facts(fixture.id, taken, stored=True, remarks=remarks), found, len(taken))


class Run:
    """One calibration by hand: what it says, asks, checks and stores."""

    def __init__(
        self, path: Path, fixture: Fixture, profiles: Mapping[str, Profile], arguments: argparse.Namespace
    ) -> None:
        self._path, self._fixture, self._profiles = path, fixture, profiles
        self._arguments = arguments

    def say_result(self, lines: Sequence[str]) -> None:
        if not self._arguments.json:
            self._say("\n".join(lines))

    @contextmanager
    def lamp(
        self,
        walk: Walk,
        what: str,
        older: Sequence[Any],
        remarks: Sequence[str],
        as_file: Callable[[], str],
    ) -> Iterator[Lamp]:
        """The lamp for itself, by the engine that runs or by one that runs as long as this does.

        Whatever ends this too early, the readings so far are printed as a file.
        """
        with endings_are_interrupts(), keeping(self._path, KEEP_EVERY_S, ShowStill(off=True)) as keeper:
            if keeper.started:
                self._say("no engine was running; one runs until this ends")
            for line in (*self._opening(what, len(walk.steps), len(older)), *remarks):
                self._say(line)
            try:
                self._say(walk.step.help + WORDS)
                yield Lamp(keeper, self._fixture.id)
            except (KeyboardInterrupt, OnecrewError):
                if walk.answers:
                    self._keep_for_later(as_file())
                raise

    def ask_all(self, walk: Walk, bring: Callable[[int], None], disturbed: Callable[[], str]) -> None:
        """Brings the lamp to one light after the other and hears what is read, to the end of the walk."""
        there = -1
        while not walk.over:
            if walk.at != there:
                there = walk.at
                bring(there)
            text = typed_line(walk.prompt if _by_hand() else "")
            if text is None:
                return
            try:
                heard, said = walk.taken, walk.receive(text)
                if walk.taken > heard and (moved := disturbed()):
                    walk.drop(there)
                    there = -1
                    said = f"{moved}, so that reading is dropped; read it again"
            except Misuse as mistake:
                if not _by_hand():
                    raise
                said = str(mistake)
            if said:
                self._say(said)

    @contextmanager
    def raising(self, lamp: Lamp, steps: Sequence[tuple[int, ...]]) -> Iterator[Callable[[int], None]]:
        """How to bring the lamp to some slots, which are raised by hand."""
        fixture = self._fixture
        lamp.out()
        with keeping(self._path, AGAIN_S, RaiseSlots()) as keeper:
            raised = Raised(keeper, fixture.universe, fixture.address, fixture.id)

            def bring(at: int) -> None:
                if lamp.disturbed():
                    raised.black()
                    lamp.out()
                raised.show(steps[at])

            yield bring

    def check(self, lamp: Lamp, after: Fixture) -> Closing | None:
        """The closing check of new readings; None where none was made."""
        shown = [] if self._arguments.no_check else to_show(self._fixture, after, self._profiles)
        if not shown:
            return None
        steps = [CheckStep(one, corrected) for one in shown for corrected in (False, True)]
        self._say(
            f"\nClosing check: {counted(len(shown), 'light')} not read so far, each as it was and "
            "corrected.\nType what the meter says, or done to leave the check out."
        )
        walk = Walk(steps)
        with self.raising(lamp, [step.slots for step in steps]) as bring:
            self.ask_all(walk, bring, lamp.disturbed)
        read = [one for _, one in walk.means() if isinstance(one, Metered)]
        return closing(shown, read[::2], read[1::2]) if len(read) == len(steps) else None

    def kept(self, found: Closing | None, readings: int, as_file: Callable[[], str]) -> bool:
        """Whether the readings are to be stored: where they made it worse only after a yes."""
        if found is not None:
            self.say_result(closing_lines(found))
        stays = to_be_stored(self._fixture.id, readings, worse=found is not None and found.worse)
        if not stays:
            self._keep_for_later(as_file())
        return stays

    def finish(self, facts: dict[str, Any], found: Closing | None, readings: int) -> int:
        """Says what was stored; returns the exit status."""
        said = [stored(self._fixture.id, readings)]
        return answer(self._arguments, {**facts, "check": closing_facts(found)}, said)

    def nothing_taken(self) -> int:
        self._say(f"no reading was taken; {self._fixture.id} is as it was")
        return FAILED

    def _say(self, text: str) -> None:
        remark(self._arguments, text)

    def _opening(self, what: str, lights: int, older: int) -> list[str]:
        fixture = self._fixture
        place = f"universe {fixture.universe}, address {fixture.address}"
        replaced = f"; its {counted(older, 'reading')} will be replaced" if older else ""
        return [
            f"{fixture.id}: {fixture.profile}/{fixture.mode} at {place}",
            f"{lights} {what} to read{replaced}.",
            "It goes to full at each of them, and the other lamps are dark meanwhile: look",
            "away from it. Let it warm up, and leave the meter where it is: the light is",
            "compared as well.",
        ]

    def _keep_for_later(self, text: str) -> None:
        self._say("\nnothing was stored; as a file for --file, the readings so far are:\n")
        self._say(text.rstrip())


def to_be_stored(
    name: str, readings: int, *, worse: bool, ask: Callable[[str], str | None] = typed_line
) -> bool:
    """Whether a person wants readings stored; without a terminal those that do not make it worse."""
    question = f"Store {counted(readings, 'reading')} in {name}"
    if worse:
        return _by_hand() and _yes(ask, f"{question} all the same? [y/N] ", usual="n")
    return not _by_hand() or _yes(ask, f"{question}? [Y/n] ", usual="y")


# ── Small print ─────────────────────────────────────────────────────────────────────────────────────


def _by_hand() -> bool:
    return sys.stdin is not None and sys.stdin.isatty()


def _yes(ask: Callable[[str], str | None], question: str, usual: str) -> bool:
    for _ in range(3):
        said = ask(question)
        if said in ("y", "yes", "n", "no", "", None):
            return (said or (usual if said == "" else "n"))[0] == "y"
    return False
