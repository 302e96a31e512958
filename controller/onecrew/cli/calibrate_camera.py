"""``onecrew calibrate --like OTHER --folder``: a guided run of stills of a grey card, into readings."""

from __future__ import annotations

import argparse
import textwrap
import time
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from onecrew.cli.calibrate_lamp import Lamp
from onecrew.cli.calibrate_live import to_be_stored
from onecrew.cli.calibrate_result import closing_facts, stored
from onecrew.cli.calibrate_stills import box_of, card_facts, card_lines, pair_of
from onecrew.cli.document import current_show
from onecrew.cli.exits import DONE, FAILED, endings_are_interrupts
from onecrew.cli.keeping import Keeper, keeping
from onecrew.cli.lines import Lines
from onecrew.cli.parts import print_json, remark
from onecrew.cli.taking import say, take
from onecrew.commands.stills import KEEP_EVERY_S, ShowStill
from onecrew.errors import Mistake, Trouble
from onecrew.fixtures.calibration_words import closing_lines
from onecrew.fixtures.closing_check import Closing
from onecrew.show.profile import Profile
from onecrew.show.profiles import load_profiles
from onecrew.show.show import Fixture
from onecrew.stills.arrivals import Folder
from onecrew.stills.card_run import CardFolder, as_listed, closing_shots, first_shots, keep_list, named
from onecrew.stills.card_words import NOTHING_SURE, OPENING, with_the_check
from onecrew.stills.grey_card import Metered, closing_check, metered
from onecrew.stills.guided import guided
from onecrew.stills.regions import Box
from onecrew.stills.shotlist import Shot, ShotList
from onecrew.stills.transfer import curve_called


def by_guided_run(path: Path, arguments: argparse.Namespace) -> int:
    """Takes the stills, says what they find, and stores it after a closing check; returns the exit status."""
    show, profiles = current_show(path), load_profiles(beside=path)
    fixture, other = pair_of(show, arguments)
    shots = first_shots(fixture, other, profiles)
    if arguments.curve is not None:
        curve_called(arguments.curve)
    box = box_of(arguments)
    folder = CardFolder(arguments.folder, curve=arguments.curve or "sRGB", box=box)
    with endings_are_interrupts(), keeping(path, KEEP_EVERY_S, ShowStill(off=True)) as keeper:
        say(textwrap.fill(OPENING, 78))
        run = _CardRun(fixture, other, profiles, folder, keeper, arguments.curve)
        taken = run.take(shots)
        if not taken:
            say(f"no still was taken; {fixture.id} is as it was")
            return FAILED
        kept = keep_list(folder.path, taken, arguments.curve, show.camera.white_balance_k)
        say(f"wrote {kept}: which picture is which, for --stills")
        found = metered(fixture, other, profiles, folder.path, ShotList(taken), box, arguments.curve)
        facts = _facts(found, fixture, other)
        if not arguments.json:
            print("\n".join(card_lines(facts)), flush=True)
        if not found.worth_keeping:
            return _answer(arguments, {**facts, "check": None})
        check = None
        if not arguments.no_check and (closing := run.check(taken, found, box)) is not None:
            check, found = closing
            facts = _facts(found, fixture, other)
            remark(arguments, "\n".join((*closing_lines(check), *with_the_check(facts["after"]))))
        worse = check is not None and check.worse
        if not to_be_stored(fixture.id, len(found.readings), worse=worse, ask=run.lines.ask):
            say(f"nothing was stored; {fixture.id} is as it was")
            return FAILED
        Lamp(keeper, fixture.id).store(calibration=found.readings)
        said = stored(fixture.id, len(found.readings))
        return _answer(arguments, {**facts, "stored": True, "check": closing_facts(check)}, said)


class _CardRun:
    """Stills taken one light after the other, with the look back whenever none is taken."""

    def __init__(
        self,
        fixture: Fixture,
        other: Fixture,
        profiles: Mapping[str, Profile],
        folder: Folder,
        keeper: Keeper,
        curve: str | None,
    ) -> None:
        self._fixture, self._other, self._profiles = fixture, other, profiles
        self._folder, self._keeper, self._curve = folder, keeper, curve
        self.lines = Lines()

    def take(self, shots: Sequence[Shot]) -> tuple[Shot, ...]:
        """The stills as a list has them, each with its picture."""
        run = guided(shots, time.monotonic(), by_picture=True)
        run = take(run, self._keeper, self._folder, self.lines)
        self._keeper.drop()
        self._keeper.send(ShowStill(off=True))
        found = self._with_pictures(run.result)
        return as_listed(self._fixture, self._profiles, [shot for shot, _ in found])

    def check(self, taken: Sequence[Shot], found: Metered, box: Box) -> tuple[Closing, Metered] | None:
        """The closing check of new readings, and what all stills say; None where none was taken."""
        shots = closing_shots(self._fixture, self._other, self._profiles, found.readings, found.stops)
        if not shots:
            return None
        say("\nClosing check: whites not taken so far, under both lamps. done leaves it out.")
        more = self.take(shots)
        if len(more) < len(shots):
            return None
        listed = ShotList((*taken, *more))
        lamps = self._fixture, self._other, self._profiles
        return closing_check(*lamps, found.readings, self._folder.path, listed, box, self._curve)

    def _with_pictures(self, taken: list[tuple[Shot, str]]) -> list[tuple[Shot, str]]:
        while missing := sum(not shot.file for shot, _ in taken):
            said = f"The light is back. Copy the pictures of {missing} stills into {self._folder.path}, then"
            if self.lines.ask(f"{said} Enter  > ") is None:
                raise Trouble(
                    f"{missing} stills have no picture in {self._folder.path}, so nothing was stored"
                )
            try:
                taken = named(taken, self._folder.fresh())
            except Mistake as mistake:
                say(str(mistake))
        return taken


def _facts(found: Metered, fixture: Fixture, other: Fixture) -> dict[str, Any]:
    remarks = [*found.notes, *([] if found.worth_keeping else [NOTHING_SURE])]
    expected = [one.expected for one in found.differences]
    facts = card_facts(found, expected, stored=False, remarks=remarks)
    return {"fixture": fixture.id, "like": other.id, **facts}


def _answer(arguments: argparse.Namespace, facts: Mapping[str, Any], said: str = "") -> int:
    if arguments.json:
        print_json(facts)
    elif said:
        print(said)
    return DONE
