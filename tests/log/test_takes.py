"""A whole log in order: times on one line, takes with their ends, notes and verdicts."""

from __future__ import annotations

from typing import Any

import pytest

from onecrew.errors import Trouble
from onecrew.log.takes import put_in_order
from tests.log.logs import Scribe, an_evening


def test_takes_have_start_end_verdict_and_notes() -> None:
    log = an_evening().log()
    first, second = log.takes
    assert (first.setup, first.number, first.good, first.notes) == ("12A", 1, False, ["door"])
    assert (second.setup, second.number, second.good, second.notes) == ("12A", 2, True, ["use this one"])
    assert first.length_s == pytest.approx(10.0)
    assert second.length_s == pytest.approx(10.0)
    assert first.cue == "cue 2 Before dawn"
    assert [timed.entry.kind for timed in first.events] == ["take", "cue", "take"]


def test_the_clock_on_the_wall_may_jump_without_touching_lengths() -> None:
    scribe = an_evening()
    jumped = [e if i < 3 else e.__class__(e.n, e.at + 7200, *_rest(e)) for i, e in enumerate(scribe.entries)]
    assert put_in_order(jumped).takes[0].length_s == pytest.approx(10.0)


def _rest(entry: object) -> list[Any]:
    return [getattr(entry, name) for name in ("offset_s", "mono", "kind", "what", "text", "data")]


def test_after_a_restart_of_the_machine_the_wall_counts() -> None:
    scribe = Scribe(boot="one", mono=50_000.0)
    scribe.engine("start")
    scribe.boot, scribe.mono, scribe.t = "two", -95.0, 100.0
    scribe.engine("start")
    scribe.t = 130.0
    scribe.note("x")
    assert [timed.t for timed in scribe.log().entries] == pytest.approx([0.0, 100.0, 130.0])


def test_a_take_goes_on_when_its_engine_is_started_again() -> None:
    scribe = Scribe()
    scribe.start("1", 1)
    scribe.t = 5.0
    scribe.engine("resume", setup="1", number=1)
    scribe.t = 9.0
    scribe.end("1", 1, good=True)
    [take] = scribe.log().takes
    assert (take.length_s, take.good, len(take.events)) == (pytest.approx(9.0), True, 3)


def test_a_take_whose_start_was_lost_begins_where_its_engine_came_back() -> None:
    scribe = Scribe()
    scribe.engine("start")
    scribe.t = 3.0
    scribe.engine("resume", setup="1", number=4, state={"show": "x"})
    scribe.t = 5.0
    scribe.end("1", 4)
    [take] = scribe.log().takes
    assert (take.number, take.length_s) == (4, pytest.approx(2.0))


@pytest.mark.parametrize("how", ["start", "resume", "take"])
def test_a_take_that_nobody_ended_is_cut_short(how: str) -> None:
    scribe = Scribe()
    scribe.start("1", 1)
    scribe.t = 5.0
    if how == "take":
        scribe.start("1", 2)
    else:
        scribe.engine(how)
    first = scribe.log().takes[0]
    assert first.cut_short and first.end is None and len(first.events) == 1


def test_takes_are_found_by_number_and_setup_the_latest_first() -> None:
    scribe = an_evening()
    scribe.t = 70.0
    scribe.start("13", 1)
    log = scribe.log()
    assert log.take(1, None).setup == "13"
    assert log.take(1, "12A").number == 1
    assert log.take(None, "12A").number == 2
    assert log.take(None, None).setup == "13"


@pytest.mark.parametrize(
    ("number", "setup", "said"), [(9, None, "take 9"), (3, "12A", "take 3 of setup 12A")]
)
def test_a_take_that_is_not_there_is_told_with_those_that_are(number: int, setup: str, said: str) -> None:
    with pytest.raises(Trouble, match=f"no {said}; the latest are 12A/1, 12A/2"):
        an_evening().log().take(number, setup)


def test_a_log_without_takes_says_so() -> None:
    with pytest.raises(Trouble, match="no takes yet"):
        put_in_order([]).take(None, None)


def test_a_take_without_what_was_sent_says_so() -> None:
    scribe = Scribe()
    scribe.start("1", 1)
    with pytest.raises(Trouble, match="does not hold what was sent"):
        scribe.log().takes[0].recorded_state()


def test_the_moment_of_a_take_knows_what_happened_after_it() -> None:
    recorded = an_evening().log().takes[0].recorded_state()
    assert recorded.at == "2026-01-05T14:02:21.000Z" and recorded.local == "+01:00"
    assert [(event.after_s, event.kind) for event in recorded.events] == [(4.5, "cue"), (10.0, "take")]
    assert recorded.take is not None and recorded.take.notes == ("door",)
    assert recorded.title == "take 1 of setup 12A, cue 2 Before dawn"


def test_a_take_that_begins_in_black_is_shown_with_its_light() -> None:
    def state(level: float) -> dict[str, object]:
        lamp = {"fixture": {"id": "hood"}, "sent": {"level": level}}
        return {"format": "onecrew-sheet", "version": 1, "fade": None, "lamps": [lamp]}

    scribe = Scribe()
    scribe.start("12A", 1, **state(0.0))
    scribe.t = 4.0
    scribe.add("take", "stands", "stands", state=state(0.13))
    take = scribe.log().takes[0]
    assert take._when(None) is take.events[1]
    dark = Scribe()
    dark.start("12A", 1, **state(0.0))
    assert dark.log().takes[0]._when(None) is not None  # a black take is a black sheet


def test_a_take_is_shown_as_its_first_look_that_stood_still() -> None:
    scribe = Scribe()
    scribe.engine("start")
    fading = {"show": "The Night Baker", "fade": {"progress": 0.0, "left_s": 4.0}}
    scribe.start("1", 1, cue={"number": "2"}, **fading)
    for t, number in ((4.0, "2"), (9.0, "3")):
        scribe.t = t
        state = {
            "format": "onecrew-sheet",
            "version": 1,
            "show": "The Night Baker",
            "cue": {"number": number},
        }
        scribe.add("take", "stands", "stands", setup="1", number=1, state=state)
    scribe.t = 12.0
    scribe.end("1", 1)
    take = scribe.log().take(1, "1")
    shown = [take.recorded_state(at_s) for at_s in (None, 0.0, 3.9, 4.0, 8.0, 100.0)]
    assert [recorded.cue.number if recorded.cue else "" for recorded in shown] == [
        "2",
        "2",
        "2",
        "2",
        "2",
        "3",
    ]
    assert [recorded.fade is None for recorded in shown] == [True, False, False, True, True, True]
    assert [one.text for one in shown[0].events] == ["take 1 of setup 1 ends"]
    assert (take.cue, take.length_s) == ("cue 2", 12.0)


def test_hostile_entries_make_no_crash() -> None:
    scribe = Scribe()
    scribe.add("take", "start", "x", setup=5, number="a")
    scribe.add("take", "end", "x", setup=None, number=None, good="yes", note=7)
    scribe.add("engine", "resume", "x", boot=9, setup=[], number={})
    scribe.add("note", "take", "x", setup={}, number=[], note=None)
    scribe.start("1", 1, lamps=7)
    log = scribe.log()
    assert len(log.takes) == 1
    with pytest.raises(Trouble):
        log.takes[0].recorded_state()
