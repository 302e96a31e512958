"""What ``onecrew match`` is given: stills with their list, and the reference in linear light."""

from __future__ import annotations

import argparse
from dataclasses import dataclass
from pathlib import Path

from onecrew.cli.document import current_show
from onecrew.errors import Misuse, Trouble
from onecrew.language.reading import kelvin, stops
from onecrew.show.profiles import load_profiles
from onecrew.show.show import Show
from onecrew.stills.match import balanced, refuse_other_size
from onecrew.stills.regions import Region, marked
from onecrew.stills.run import Run, read_run, still_in
from onecrew.stills.shotlist import ShotList, read_shot_list
from onecrew.stills.stack import Plate, read_plate
from onecrew.stills.transfer import curve_called


@dataclass(frozen=True, slots=True)
class Inputs:
    """All that a match is worked out from."""

    show: Show
    stills: Run
    reference: Plate
    regions: tuple[Region, ...]
    exposure: float | None
    """Stops by which the reference is brighter; None where that is to be found."""
    own: bool | None
    """Whether the reference shows the room of the stills; None where that is to be found."""
    notes: tuple[str, ...]
    """What was done on the way, in sentences."""
    result: Plate | None = None
    """The still of an earlier result, which a second round corrects."""


def read_inputs(arguments: argparse.Namespace, path: Path) -> Inputs:
    """Reads what the words name; raises ``Misuse`` and ``Trouble`` with a sentence."""
    show = current_show(path)
    regions = marked(arguments.regions, arguments.region)
    listed = list_in(arguments.stills, arguments.list)
    if not regions and not arguments.page:
        refuse_other_size(arguments.reference, still_in(arguments.stills, listed.shots[0].file))
    stills = read_run(show, load_profiles(beside=path), arguments.stills, listed, arguments.curve)
    reference, notes = _reference(arguments, stills)
    exposure = None if arguments.exposure is None else stops(arguments.exposure, "--exposure")
    own = True if arguments.own else False if arguments.foreign else None
    result = None if arguments.result is None else read_plate(arguments.result, stills.curve)
    return Inputs(show, stills, reference, regions, exposure, own, tuple(notes), result)


def list_in(folder: Path, said: Path | None) -> ShotList:
    """Return the list of a folder of stills: the one that is said, or the one JSON file there."""
    if not folder.is_dir():
        raise Trouble(f"there is no folder {folder} with stills")
    if said is not None:
        return read_shot_list(said)
    here = sorted(folder.glob("*.json"))
    if len(here) != 1:
        have = ", ".join(one.name for one in here) or "none"
        raise Misuse(f"say with --list which JSON file lists the stills; {folder} has {have}")
    return read_shot_list(here[0])


def _reference(arguments: argparse.Namespace, stills: Run) -> tuple[Plate, list[str]]:
    """The reference in linear light, balanced as the stills are."""
    reference, notes = _read_reference(arguments, stills)
    if arguments.reference_white is None:
        return reference, notes
    of_k = kelvin(arguments.reference_white, "--reference-white")
    to_k = stills.white_balance_k
    if to_k is None:
        raise Misuse(
            "the list does not say the white balance of the stills, which --reference-white is held against; "
            'add "white_balance_k" to it'
        )
    notes.append(f"the reference was balanced for {of_k:.0f} K and is read as one for {to_k:.0f} K")
    return balanced(reference, of_k, to_k), notes


def _read_reference(arguments: argparse.Namespace, stills: Run) -> tuple[Plate, list[str]]:
    """The reference in linear light; one of another size was not taken by the stills' log curve."""
    if arguments.reference_curve is not None:
        return read_plate(arguments.reference, curve_called(arguments.reference_curve)), []
    reference = read_plate(arguments.reference, stills.curve)
    other = arguments.foreign or (reference.size, reference.factor) != (stills.size, stills.factor)
    if other and (stills.curve.is_log or stills.curve.name == "ladder"):
        note = f"the reference was read as sRGB, the stills as {stills.curve.name}"
        return read_plate(arguments.reference, curve_called("sRGB")), [
            f"{note}; --reference-curve says another"
        ]
    return reference, []
