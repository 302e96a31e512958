"""Looks on record: look sheets, and what a take gives back to the show as a cue or a breakdown."""

from __future__ import annotations

from collections.abc import Callable

from onecrew.engine.record import Answer, Record
from onecrew.engine.recorded_state import plain
from onecrew.engine.sheets import check_ending, recorded_state_of_cue, sheet_of
from onecrew.errors import Refused
from onecrew.language.names import cues_elsewhere, no_cue
from onecrew.log.logfile import log_path
from onecrew.log.recorded_state import RecordedState, kind_of, parse_recorded_state
from onecrew.sheet.breakdown import Pace, breakdown, lamps_in_order, pace_of, scene_name
from onecrew.sheet.restore import Restoration, restore
from onecrew.show.numbers import next_number
from onecrew.show.scenes import scene_with_cue


def sheet(record: Record) -> Answer:
    check_ending(record.to)
    recorded = _recorded_state(record)
    return record.write(
        sheet_of(recorded, record.to.suffix.lower(), record.profiles, log_path(record.path))
    ) | {"of": recorded.title}


def _recorded_state(record: Record) -> RecordedState:
    if "take" in record.asked:
        return record.take(record.log).recorded_state()
    if (cue := record.asked.get("cue")) is not None:
        return recorded_state_of_cue(scene_with_cue(record.show, cue), record.profiles, cue)
    return parse_recorded_state(record.recorded, "what the engine sends")


def restored(record: Record) -> Answer:
    """The cue that has the look of a take, under the next free number, and what is not as it was."""
    made = restore(record.take(record.log).recorded_state(), record.show, next_number(record.show))
    return {"cue": plain(made.cue), "said": list(_otherwise(made))}


def _otherwise(made: Restoration) -> list[str]:
    """A sentence on each lamp that is not as it was."""
    said = [f"{one.id} is not in the rig" for one in made.of("missing")]
    said += [f"{one.id} was {kind_of(one.lamp.fixture)} then" for one in made.of("changed")]
    if made.unknown:
        said.append(f"lamps that were not there stay dark: {', '.join(made.unknown)}")
    return said


def broken_down(record: Record) -> Answer:
    """The scene of chains that build a take's look and take its lamps away, as long as the take."""
    take = record.take(record.log)
    cue = take.recorded_state().cue
    if cue is None:
        raise Refused("the first still look of the take is of no cue: restore it as one, and break that down")
    found = record.show.cue(cue.number)
    if found is None:
        raise Refused(no_cue(cue.number, record.show.cues, cues_elsewhere(record.show)))
    pace, as_long = Pace(), False
    lamps = lamps_in_order(record.show, found, ())
    if take.length_s is not None:
        try:
            pace, as_long = pace_of(take.length_s, found, len(lamps)), True
        except Refused:
            as_long = False  # it is too short for that: the usual pace
    made = breakdown(record.show, found, (), pace)
    return {
        "scene": scene_name(record.show, found),
        "cues": [plain(one) for one in made.cues],
        "step_s": pace.step_s,
        "as_long": as_long,
        "build": made.build[0].number,
        "away": made.away[0].number,
    }


TOPICS: dict[str, Callable[[Record], Answer]] = {
    "sheet": sheet,
    "restore": restored,
    "breakdown": broken_down,
}
