"""Carry: the show is edited while it plays, and the light does not notice."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from onecrew.commands.countdown import Countdown
from onecrew.commands.light import Compare, Identify, Revert, SetLight, Solo
from onecrew.commands.running import Go, Recall
from onecrew.commands.takes import TakeStart
from onecrew.playback.codec import follow_numbers, leave_cues, rebase
from onecrew.playback.compiled_show import compile_show
from onecrew.playback.edits import edited
from onecrew.playback.events import next_event
from onecrew.playback.render import look_of
from onecrew.playback.state import Playback
from tests.playback.stage import PROFILES, Stage, cue, same_frame, show_of, stage

LAMPS = {"window": "linear", "pendant": "square", "oven": "log"}


def cues() -> list[dict[str, Any]]:
    flame = {"level": 0.6, "white": {"cct_k": 2000}, "effect": {"kind": "flame", "seed": 2}}
    return [
        cue("1", {"window": {"level": 0.4, "white": {"cct_k": 5600}}, "oven": flame}),
        cue("2", {"window": {"level": 0.9, "xy": (0.2, 0.1)}, "pendant": 0.5, "oven": flame}),
        cue("3", {}),
    ]


def fading() -> Stage:
    return stage(LAMPS, cues()).do(0.0, Recall(cue="1", fade_s=0.0)).do(10.0, Go())


def onto(desk: Stage, fixtures: Mapping[str, str], cues: Sequence[Mapping[str, Any]], now: float) -> Stage:
    show = show_of(fixtures, cues)
    compiled = compile_show(show, PROFILES)
    return Stage(compiled, rebase(desk.playback, desk.compiled, compiled), show)


@settings(max_examples=40, deadline=None)
@given(
    st.permutations(("window", "pendant", "oven", "edge", "tone")),
    st.floats(10.0, 13.0),
    st.floats(0.0, 3.0),
)
def test_lamps_keep_their_light_wherever_they_stand_now(order: list[str], at: float, later: float) -> None:
    desk = fading().do(10.5, Identify(fixtures=("pendant",)))
    laws = {**LAMPS, "edge": "table", "tone": "linear"}
    moved = onto(desk, {name: laws[name] for name in order}, cues(), at)
    one, other = desk.frame(at + later), moved.frame(at + later)
    for name, place in desk.compiled.index.items():
        there = moved.compiled.index[name]
        for field in ("level", "white", "mired", "duv", "u", "v"):
            assert getattr(other, field)[there] == getattr(one, field)[place]
    for name in ("edge", "tone"):
        assert other.level[moved.compiled.index[name]] == 0.0


def test_a_lamp_that_is_gone_is_gone_everywhere() -> None:
    desk = fading().do(11.0, Solo(fixtures=("oven", "window")), Identify(fixtures=("oven",)))
    rest = onto(desk, {"pendant": "square", "window": "linear"}, cues(), 11.0)
    assert (rest.playback.solo, rest.playback.identify) == (("window",), ())
    assert rest.frame(13.0).level.tolist() == [0.0, 0.9]
    rest.do(14.0, Solo())
    assert rest.frame(16.0).level.tolist() == [0.5, 0.9]


def test_an_edited_cue_changes_nothing_until_it_runs_again() -> None:
    desk = fading()
    new = [*cues()[:1], cue("2", {"window": 0.2})]
    other = onto(desk, LAMPS, new, 11.0)
    assert same_frame(other.frame(11.0), desk.frame(11.0))
    assert same_frame(other.frame(14.0), desk.frame(14.0))
    assert edited(other.playback, other.compiled) == set()
    assert other.playback.next is None
    assert other.do(15.0, Recall(cue="2")).frame(17.0).level.tolist() == [0.2, 0.0, 0.0]


def test_a_comparison_leaves_the_lamps_alone_that_nobody_edited() -> None:
    desk = fading().do(13.0, SetLight(fixtures=("pendant",), level=0.8))
    new = [cues()[0], cue("2", {"window": 0.2, "pendant": 0.5}), cues()[2]]
    other = onto(desk, LAMPS, new, 14.0).do(14.0, Compare())
    assert other.frame(15.0).level.tolist()[:2] == [0.9, 0.5]
    other.do(16.0, Compare())
    assert other.frame(17.0).level.tolist()[:2] == [0.9, 0.8]


def test_what_was_edited_and_is_stored_counts_as_stored() -> None:
    desk = fading().do(
        13.0, SetLight(fixtures=("pendant",), level=0.8), SetLight(fixtures=("window",), level=0.1)
    )
    assert edited(desk.playback, desk.compiled) == {"pendant", "window"}
    look = look_of(desk.playback, 13.0, desk.compiled)
    stored = cues()
    stored[1] = cue("2", {name: light.model_dump(exclude_none=True) for name, light in look.items()})
    other = onto(desk, LAMPS, stored, 13.0)
    assert edited(other.playback, other.compiled) == set()
    other.do(14.0, Revert())
    assert other.frame(16.0).level.tolist()[:2] == [0.1, 0.8]


def left() -> Stage:
    """Cue 1 shows; cue 2 has an edit of the pendant that was not stored, and comes by a countdown."""
    desk = fading().do(13.0, SetLight(fixtures=("pendant",), level=0.8)).do(14.0, Recall(cue="1"))
    return desk.do(15.0, Countdown(seconds=5.0, command=Recall(cue="2")))


def kept(playback: Playback) -> dict[str, list[str]]:
    return {number: [name for name, _ in edits] for number, edits in playback.kept}


def test_edits_and_a_countdown_follow_their_cue_to_its_new_number() -> None:
    desk = left()
    moved = compile_show(show_of(LAMPS, [cues()[0], {**cues()[1], "number": "2.5"}, cues()[2]]), PROFILES)
    playback = follow_numbers(desk.playback, desk.show.cues, moved)
    assert kept(playback) == {"2.5": ["pendant"]}
    assert playback.countdown is not None and playback.countdown.command == Recall(cue="2.5")
    chain = desk.do(16.0, Countdown(seconds=5.0, command=TakeStart(chain_from="2"))).playback
    counting = follow_numbers(chain, desk.show.cues, moved).countdown
    assert counting is not None and counting.command == TakeStart(chain_from="2.5")


def test_where_two_new_cues_are_like_the_old_one_neither_is_guessed() -> None:
    desk = left()
    alike = [{**cues()[1], "number": number} for number in ("2.5", "2.6")]
    moved = compile_show(show_of(LAMPS, [cues()[0], *alike, cues()[2]]), PROFILES)
    assert kept(follow_numbers(desk.playback, desk.show.cues, moved)) == {"2": ["pendant"]}


def test_edits_that_are_kept_stay_with_a_lamp_that_is_renamed() -> None:
    desk = left()
    renamed = {name.replace("pendant", "globe"): law for name, law in LAMPS.items()}
    new = compile_show(show_of(renamed, [cue("1", {}), cue("2", {})]), PROFILES)
    playback = rebase(desk.playback, desk.compiled, new, {"pendant": "globe"})
    assert kept(playback) == {"2": ["globe"]}


def test_a_scene_that_has_not_the_cue_that_ran_does_not_go_on_from_it() -> None:
    desk = stage(("key",), [cue("1", {"key": 1.0}, auto_follow_s=5.0), cue("2", {})]).do(0.0, Go())
    yard = compile_show(show_of({"key": "linear"}, [cue("20", {"key": 0.3})]), PROFILES)
    playback = leave_cues(rebase(desk.playback, desk.compiled, yard), yard)
    assert (playback.cue, playback.next, next_event(playback)) == (None, "20", None)


def test_the_next_cue_is_found_anew() -> None:
    desk = fading()
    assert desk.playback.next == "3"
    other = onto(desk, LAMPS, [*cues()[:2], cue("2.5", {}), cue("3", {})], 11.0)
    assert other.playback.next == "2.5"
    gone = onto(desk, LAMPS, [cues()[0], cues()[2]], 11.0)
    assert (gone.playback.cue, gone.playback.next) == ("2", "3")
    assert gone.do(12.0, Go()).playback.cue == "3"


def test_a_cue_that_waits_and_is_removed_does_not_come() -> None:
    desk = stage(("key",), [cue("1", {"key": 1.0}, delay_s=5.0)]).do(0.0, Go())
    other = onto(desk, {"key": "linear"}, [cue("2", {})], 1.0)
    assert next_event(other.playback) is None
    another = onto(other, {"key": "linear"}, [cue("1", {"key": 1.0}), cue("2", {})], 2.0)
    assert another.level(9.0, "key") == 0.0  # nobody ran the new one of its number


def test_where_a_cue_takes_the_number_of_a_deleted_one_that_shows_all_that_differs_is_an_edit() -> None:
    desk = fading().do(13.0, SetLight(fixtures=("pendant",), level=0.8))
    gone = onto(desk, LAMPS, [cues()[0], cues()[2]], 14.0)
    again = onto(gone, LAMPS, [cues()[0], cue("2", {"window": 0.2, "oven": cues()[1]["look"]["oven"]})], 15.0)
    assert edited(again.playback, again.compiled) == {"window", "pendant"}
    assert again.do(16.0, Revert()).frame(17.0).level.tolist()[:2] == [0.2, 0.0]


def test_a_comparison_survives_the_edit() -> None:
    desk = fading().do(13.0, SetLight(fixtures=("pendant",), level=0.8), Compare())
    other = onto(desk, {**LAMPS, "edge": "table"}, cues(), 14.0)
    assert other.playback.comparing
    other.do(15.0, Compare())
    assert other.level(16.0, "pendant") == 0.8
    assert edited(other.playback, other.compiled) == {"pendant"}


def test_another_dimming_law_bends_a_fade_in_stops_without_a_jump_of_its_ends() -> None:
    curve = [cue("1", {"key": 0.8}), cue("2", {"key": 0.1}, fade={"out_s": 4.0, "curve": "stops"})]
    desk = stage({"key": "linear"}, curve).do(0.0, Recall(cue="1", fade_s=0.0)).do(0.0, Go())
    other = onto(desk, {"key": "square"}, curve, 0.0)
    assert other.level(4.0, "key") == 0.1
    halfway = other.compiled.laws.output(np.array([other.level(2.0, "key")]))[0]
    assert halfway == pytest.approx(np.sqrt(0.8**2 * 0.1**2), rel=1e-6)  # the middle in stops
