"""Answers about a grey card: the helper that reads its pictures.

Run as a module it is a helper of ``engine.helper``; ``engine.grey_cards`` has the question.
"""

from __future__ import annotations

import sys
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from onecrew.engine.grey_cards import Card
from onecrew.engine.helper import main
from onecrew.engine.queries import lamp_in
from onecrew.fixtures.calibration_words import closing_lines, errors
from onecrew.show.profile import Profile
from onecrew.show.profiles import load_profiles
from onecrew.show.show import Fixture, Show
from onecrew.stills.arrivals import pictures_in
from onecrew.stills.card_run import as_listed, card_seen, closing_shots, first_shots, keep_list, named
from onecrew.stills.card_words import NOTHING_SURE, summary, with_the_check
from onecrew.stills.grey_card import MIDDLE, closing_check, metered
from onecrew.stills.guided import as_entry
from onecrew.stills.regions import Box, region_said
from onecrew.stills.run import still_in
from onecrew.stills.shotlist import Shot, ShotList, shot_list
from onecrew.stills.transfer import curve_called

Answer = dict[str, Any]


def answer(question: dict[str, Any]) -> Answer:
    """``{"stills"}`` to take; of a picture ``{"clipped", "light"}``; of the stills ``{"lines", "readings",
    "taken"}`` with the ``stills`` of the closing check, and after that ``{"lines", "worse", "readings"}``."""
    show, card = Show.model_validate(question["show"]), Card.model_validate(question["asked"])
    fixture, other = lamp_in(show, card.fixture), lamp_in(show, card.like)
    profiles = load_profiles(beside=Path(question["path"]))
    box = region_said(f"card={card.place}").own if card.place else MIDDLE
    if card.curve:
        curve_called(card.curve)
    folder = Path(card.folder)
    if card.look is not None:
        clipped, light = card_seen(still_in(folder, card.look), box, card.curve)
        return {"clipped": clipped, "light": light}
    if not card.stills:
        return {"stills": [as_entry(shot) for shot in first_shots(fixture, other, profiles)]}
    run = _Run(fixture, other, profiles, folder, box, card)
    return run.checked() if card.closing else run.found(show)


class _Run:
    """The stills of a run, and what they say."""

    def __init__(
        self,
        fixture: Fixture,
        other: Fixture,
        profiles: Mapping[str, Profile],
        folder: Path,
        box: Box,
        card: Card,
    ) -> None:
        self._lamps = (fixture, other, profiles)
        self._folder, self._box, self._card = folder, box, card
        self._curve = card.curve or None

    def found(self, show: Show) -> Answer:
        """What the first stills say; their list is kept beside them."""
        fixture, other, profiles = self._lamps
        shots = self._named(self._card.stills)
        taken = as_listed(fixture, profiles, shots)
        kept = keep_list(self._folder, taken, self._curve, show.camera.white_balance_k)
        what = metered(*self._lamps, self._folder, ShotList(taken), self._box, self._curve)
        before = errors([one.off_by for one in what.differences]) or {}
        after = errors([one.expected for one in what.differences]) or {}
        lines = [*summary(other.id, before, after, what.stops), *what.notes]
        readings = what.readings if what.worth_keeping else ()
        closing = closing_shots(*self._lamps, readings, what.stops) if readings else ()
        return {
            "lines": [*lines, *([] if readings else [NOTHING_SURE]), f"which picture is which: {kept.name}"],
            "readings": [one.model_dump(mode="json") for one in readings],
            "taken": [as_entry(shot) for shot in taken],
            "stills": [as_entry(shot) for shot in closing],
        }

    def checked(self) -> Answer:
        """What the closing check says."""
        fixture, _, profiles = self._lamps
        taken = self._named(self._card.stills)
        more = as_listed(fixture, profiles, self._named(self._card.closing, taken))
        listed = ShotList((*taken, *more))
        readings = self._card.readings
        found, what = closing_check(*self._lamps, readings, self._folder, listed, self._box, self._curve)
        after = errors([one.expected for one in what.differences]) or {}
        return {
            "lines": [*closing_lines(found), *with_the_check(after)],
            "worse": found.worse,
            "readings": [one.model_dump(mode="json") for one in what.readings],
        }

    def _named(self, entries: tuple[dict[str, Any], ...], others: tuple[Shot, ...] = ()) -> tuple[Shot, ...]:
        """Stills with their pictures: those without have them among what came and is no other's."""
        had = {Path(name).stem for name in self._card.before} | {Path(shot.file).stem for shot in others}
        came = {file.stem: file for file in reversed(pictures_in(self._folder)) if file.stem not in had}
        taken = [str(entry.get("taken", "")) for entry in entries]
        shots = shot_list({"stills": list(entries)}).shots
        return tuple(shot for shot, _ in named(list(zip(shots, taken, strict=True)), came.values()))


if __name__ == "__main__":
    sys.exit(main(answer))
