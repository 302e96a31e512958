"""Moving: true while the frame changes by itself, false when the wire may rest."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from onecrew.commands.light import Identify, SetLight, Solo
from onecrew.commands.running import Blackout, Go, Master, Recall
from onecrew.playback.events import next_event
from onecrew.show.light import Effect
from tests.playback.stage import Stage, cue, same_frame, stage


def desk() -> Stage:
    cues = [cue("1", {"key": 0.4, "fill": 0.2}), cue("2", {"key": 0.9}, fade={"in_s": 1.0, "out_s": 3.0})]
    return stage(("key", "fill"), cues)


def test_a_fade_moves_until_its_longest_part_is_done() -> None:
    room = desk().do(0.0, Recall(cue="1", fade_s=0.0))
    assert not room.moving(0.0)
    room.do(1.0, Go())
    assert [room.moving(at) for at in (1.0, 2.0, 3.999, 4.0)] == [True, True, True, False]


def test_a_recall_of_what_shows_already_moves_nothing() -> None:
    room = desk().do(0.0, Recall(cue="1", fade_s=0.0)).do(1.0, Recall(cue="1"))
    assert not room.moving(1.0)


def test_short_fades_and_views_move_and_then_rest() -> None:
    room = desk().do(0.0, Recall(cue="1", fade_s=0.0))
    for at, command in ((1.0, Blackout()), (2.0, Blackout()), (3.0, Solo(fixtures=("key",))), (4.0, Solo())):
        room.do(at, command)
        assert room.moving(at)
        assert not room.moving(at + 0.5)
    room.do(5.0, Master(level=0.5))
    assert not room.moving(5.0)


def test_effects_and_identify_move_as_long_as_they_play() -> None:
    room = desk().do(0.0, Recall(cue="1", fade_s=0.0))
    room.do(1.0, SetLight(fixtures=("key",), effect=Effect(kind="flame")))
    assert room.moving(1e5)
    room.do(2e5, Recall(cue="2", fade_s=1.0))
    assert not room.moving(2e5 + 1.0)
    room.do(3e5, Identify(fixtures=("fill",)))
    assert room.moving(4e5)
    room.do(4e5, Identify())
    assert not room.moving(4e5 + 1.0)


def test_an_effect_on_a_lamp_at_black_moves_nothing() -> None:
    room = desk().do(0.0, SetLight(fixtures=("key",), effect=Effect(kind="flame")))
    assert not room.moving(1.0)


command: st.SearchStrategy[Any] = st.one_of(
    st.builds(Go),
    st.builds(Recall, cue=st.sampled_from(("1", "2")), fade_s=st.sampled_from((None, 0.0, 0.4))),
    st.builds(Blackout),
    st.builds(Solo, fixtures=st.sampled_from(((), ("key",)))),
    st.builds(SetLight, fixtures=st.just(("key",)), level=st.floats(0.0, 1.0), fade_s=st.just(0.3)),
)


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(st.floats(0.0, 1.0), command), min_size=1, max_size=6), st.floats(0.0, 20.0))
def test_what_does_not_move_stays_the_same_frame(steps: list[tuple[float, Any]], later: float) -> None:
    room, now = desk(), 0.0
    for wait_s, command in steps:
        now += wait_s
        if isinstance(command, Go) and room.playback.next is None:
            continue
        room.do(now, command)
    for at in (now, now + 0.1, now + 0.7, now + 2.5, now + 5.0):
        if not room.moving(at) and next_event(room.playback) is None:
            assert same_frame(room.frame(at), room.frame(at + later))
    assert not room.moving(now + 5.0)


def test_the_desk_that_was_only_opened_rests() -> None:
    assert not desk().moving(0.0)
    assert next_event(desk().playback) is None


@pytest.mark.parametrize("now", [0.0, 3.3, 1e6])
def test_the_same_moment_always_gives_the_same_frame(now: float) -> None:
    room = desk().do(now, Go())
    assert same_frame(room.frame(now + 0.7), room.frame(now + 0.7))
