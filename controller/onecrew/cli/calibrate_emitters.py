"""``onecrew calibrate --emitters``: what a meter reads of each emitter alone, into the show."""

from __future__ import annotations

import argparse
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from onecrew.cli.calibrate_live import Run
from onecrew.cli.calibrate_result import stored
from onecrew.cli.document import carry_out, current_show, fixture_called
from onecrew.cli.exits import FAILED
from onecrew.cli.meter_file import emitter_lines, read_emitter_lines
from onecrew.cli.parts import answer, table
from onecrew.commands.rig import PutFixture
from onecrew.errors import Misuse
from onecrew.fixtures.calibration_walk import EmitterStep, Walk, emitter_readings
from onecrew.fixtures.emitter_plan import USUAL_LEVELS, emitters_to_ask
from onecrew.fixtures.emitter_result import facts, read_by_emitters, replaced, sentences
from onecrew.language import reading
from onecrew.language.saying import figure
from onecrew.playback.measured import at_full
from onecrew.show.json_reading import decode, read_bytes
from onecrew.show.profiles import load_profiles

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
        after = read_by_emitters(fixture, taken)
        found = facts(after, profiles, remarks=[*remarks, *replaced(fixture)])
        carry_out(path, [PutFixture(fixture=after)])
        return answer(arguments, {**found, "check": None}, [*lines(found), stored(fixture.id, len(taken))])
    walk = Walk([EmitterStep(one) for one in questions], arguments.repeats)
    run = Run(path, fixture, profiles, arguments)

    def as_file() -> str:
        return emitter_lines(emitter_readings(walk))

    older = fixture.emitter_readings
    with run.lamp(walk, "lights of its emitters", older, replaced(fixture), as_file) as lamp:
        with run.raising(lamp, [one.slots for one in questions]) as bring:
            run.ask_all(walk, bring, lamp.disturbed)
        taken = emitter_readings(walk)
        if not at_full(taken):
            return run.nothing_taken()
        after = read_by_emitters(fixture, taken)
        found = facts(after, profiles, remarks=[*walk.remarks(), *replaced(fixture)])
        run.say_result(["", *lines(found)])
        checked = run.check(lamp, after)
        if not run.kept(checked, len(taken), as_file):
            return FAILED
        lamp.store(emitter_readings=taken, calibration=())
        return run.finish(found, checked, len(taken))


def lines(found: Mapping[str, Any]) -> list[str]:
    """The same as a table and sentences."""
    cells = [["emitter", "level", "x", "y", "light", "off", "stops"]]
    for one in found["emitters"]:
        stops = "" if one["stops"] is None else f"{one['stops']:+.2f}"
        x, y = one["xy"]
        cells.append(
            [
                one["emitter"], f"{100 * one['level']:.3g} %", f"{x:.4f}", f"{y:.4f}",
                figure(one["light"], 4), f"{one['off_by']:.4f}", stops,
            ]
        )  # fmt: skip
    columns = "off: from the profile's colour, in u′v′; stops: light against the other emitters"
    return [*table(cells, right=frozenset(range(1, 7))), "", columns, *sentences(found)]


def _levels(text: str) -> list[float]:
    levels = [reading.level(part) for part in text.split(",")]
    if any(level <= 0.0 for level in levels):
        raise Misuse("--levels are above 0, as 100%,20%")
    if len(levels) > MOST_LEVELS:
        raise Misuse(f"--levels names {len(levels)} levels; {MOST_LEVELS} are enough for any lamp")
    return levels
