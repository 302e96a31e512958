"""``onecrew calibrate --emitters``: what a meter reads of each emitter alone, into the show."""

from __future__ import annotations

import argparse
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np

from onecrew.cli.calibrate_live import Run
from onecrew.cli.calibrate_result import stored
from onecrew.cli.document import carry_out, current_show, fixture_called
from onecrew.cli.exits import FAILED
from onecrew.cli.meter_file import emitter_lines, read_emitter_lines
from onecrew.cli.parts import answer, table
from onecrew.commands.rig import PutFixture
from onecrew.errors import Misuse
from onecrew.fixtures.calibration_walk import EmitterStep, Walk, emitter_readings
from onecrew.fixtures.emitter_plan import USUAL_LEVELS, emitter_doubts, emitters_to_ask, gains, off_profile
from onecrew.language import reading
from onecrew.language.saying import counted
from onecrew.playback.measured import SAME_LIGHT, at_full, response
from onecrew.show.json_reading import decode, read_bytes
from onecrew.show.profile import Profile
from onecrew.show.profiles import load_profiles
from onecrew.show.show import NO_READINGS, EmitterReading, Fixture

MOST_LEVELS = 6


def by_emitters(path: Path, arguments: argparse.Namespace) -> int:
    """Reads the emitters of a lamp one by one, from a file or live; returns the exit status."""
    profiles = load_profiles(beside=path)
    fixture = fixture_called(current_show(path), arguments.fixture)
    levels = USUAL_LEVELS if arguments.levels is None else _levels(arguments.levels)
    questions = emitters_to_ask(fixture, profiles, levels)
    if arguments.file is not None:
        names = list(dict.fromkeys(one.emitter for one in questions))
        text = decode(read_bytes(arguments.file), str(arguments.file))
        taken, remarks = read_emitter_lines(text, str(arguments.file), names)
        after = _read(fixture, taken)
        found = facts(after, profiles, stored=True, remarks=[*remarks, *_replaced(fixture)])
        carry_out(path, [PutFixture(fixture=after)])
        return answer(arguments, {**found, "check": None}, [*lines(found), stored(fixture.id, len(taken))])
    walk = Walk([EmitterStep(one) for one in questions], arguments.repeats)
    run = Run(path, fixture, profiles, arguments)

    def as_file() -> str:
        return emitter_lines(emitter_readings(walk))

    older = fixture.emitter_readings
    with run.lamp(walk, "lights of its emitters", older, _replaced(fixture), as_file) as lamp:
        with run.raising(lamp, [one.slots for one in questions]) as bring:
            run.ask_all(walk, bring, lamp.disturbed)
        taken = emitter_readings(walk)
        if not at_full(taken):
            return run.nothing_taken()
        after = _read(fixture, taken)
        found = facts(after, profiles, stored=True, remarks=[*walk.remarks(), *_replaced(fixture)])
        run.say_result(["", *lines(found)])
        checked = run.check(lamp, after)
        if not run.kept(checked, len(taken), as_file):
            return FAILED
        lamp.store(emitter_readings=taken, calibration=())
        return run.finish(found, checked, len(taken))


def facts(
    after: Fixture, profiles: Mapping[str, Profile], *, stored: bool, remarks: Sequence[str]
) -> dict[str, Any]:
    """What the readings of a lamp's emitters say; ``response`` in stops against the profile's law."""
    profile = profiles[after.profile]
    stops = gains(after.emitter_readings, profile)
    means = {level: float(np.mean(list(by.values()))) for level, by in response(after, profile).items()}
    dims = [
        {"level": level, "stops": mean / np.log(2.0), "kept": abs(mean) > SAME_LIGHT}
        for level, mean in means.items()
    ]
    return {
        "fixture": after.id,
        "stored": stored,
        "emitters": [
            {
                **one.model_dump(mode="json"),
                "off_by": off_profile(one, profile),
                "stops": stops.get(one.emitter) if one.level == 1.0 else None,
            }
            for one in after.emitter_readings
        ],
        "response": dims,
        "remarks": [*remarks, *emitter_doubts(after, profile)],
    }


def lines(found: Mapping[str, Any]) -> list[str]:
    """The same as a table and sentences."""
    cells = [["emitter", "level", "x", "y", "light", "off", "stops"]]
    for one in found["emitters"]:
        stops = "" if one["stops"] is None else f"{one['stops']:+.2f}"
        x, y = one["xy"]
        cells.append(
            [
                one["emitter"], f"{100 * one['level']:.3g} %", f"{x:.4f}", f"{y:.4f}",
                f"{one['light']:.4g}", f"{one['off_by']:.4f}", stops,
            ]
        )  # fmt: skip
    said = ["off: from the profile's colour, in u′v′; stops: light against the other emitters"]
    for one in found["response"]:
        kept = "corrected" if one["kept"] else "as the profile says"
        said.append(f"at {100 * one['level']:.3g} %: {one['stops']:+.2f} stops against full: {kept}")
    return [*table(cells, right=frozenset(range(1, 7))), "", *said, *found["remarks"]]


def _read(fixture: Fixture, taken: tuple[EmitterReading, ...]) -> Fixture:
    return fixture.model_copy(update={**NO_READINGS, "emitter_readings": taken})


def _replaced(fixture: Fixture) -> list[str]:
    if not fixture.calibration:
        return []
    return [
        f"its {counted(len(fixture.calibration), 'reading')} of whites were of the lamp before and are "
        "dropped with this"
    ]


def _levels(text: str) -> list[float]:
    levels = [reading.level(part) for part in text.split(",")]
    if any(level <= 0.0 for level in levels):
        raise Misuse("--levels are above 0, as 100%,20%")
    if len(levels) > MOST_LEVELS:
        raise Misuse(f"--levels names {len(levels)} levels; {MOST_LEVELS} are enough for any lamp")
    return levels
