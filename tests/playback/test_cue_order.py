"""Go, back, recall: which cue runs, which is next, and what is refused."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from onecrew.commands.light import SetLight
from onecrew.commands.running import Back, Go, Recall
from onecrew.errors import Refused
from tests.playback.stage import Stage, cue, stage


def desk_of(*numbers: str) -> Stage:
    return stage(("key",), [cue(number, {"key": 0.5}) for number in numbers])


def test_it_opens_black_before_the_first_cue() -> None:
    desk = desk_of("1", "2")
    assert (desk.playback.cue, desk.playback.next) == (None, "1")
    assert not desk.frame(0.0).level.any()
    assert not desk.moving(0.0)


def test_go_runs_through_the_cues_in_the_order_of_their_numbers() -> None:
    desk = desk_of("10", "2", "2.10", "2.5")
    seen = []
    for now in range(4):
        desk.do(float(now), Go())
        seen.append((desk.playback.cue, desk.playback.next))
    assert seen == [("2", "2.5"), ("2.5", "2.10"), ("2.10", "10"), ("10", None)]


def test_go_past_the_last_cue_is_refused_and_changes_nothing() -> None:
    desk = desk_of("1").do(0.0, Go())
    before = desk.playback
    with pytest.raises(Refused, match="cue 1 is the last"):
        desk.do(1.0, Go())
    assert desk.playback is before


def test_back_runs_the_cue_before_and_is_refused_before_the_first() -> None:
    desk = desk_of("1", "2")
    with pytest.raises(Refused, match="no cue has run yet"):
        desk.do(0.0, Back())
    desk.do(0.0, Go(), Go(), Back())
    assert (desk.playback.cue, desk.playback.next) == ("1", "2")
    with pytest.raises(Refused, match="cue 1 is the first"):
        desk.do(1.0, Back())


def test_after_a_recall_the_next_cue_is_the_one_after_it() -> None:
    desk = desk_of("1", "2", "3", "4").do(0.0, Recall(cue="3"))
    assert (desk.playback.cue, desk.playback.next) == ("3", "4")


def test_a_recall_of_no_cue_is_refused_and_names_those_there_are() -> None:
    with pytest.raises(Refused, match=r"no cue 7 .* has 1, 2"):
        desk_of("1", "2").do(0.0, Recall(cue="7"))


def test_go_without_any_cue_says_what_to_do() -> None:
    with pytest.raises(Refused, match="this scene has no cues yet"):
        stage(("key",), []).do(0.0, Go())


looks = st.fixed_dictionaries({name: st.floats(0.0, 1.0) for name in ("a", "b", "c")})


@given(looks, looks, st.lists(st.sampled_from(("1", "2")), max_size=4))
def test_a_recall_depends_on_nothing_that_came_before(
    one: dict[str, float], other: dict[str, float], before: list[str]
) -> None:
    cues = [cue("1", one), cue("2", other), cue("3", {"a": 0.25, "b": 0.75})]
    desk = stage(("a", "b", "c"), cues)
    now = 0.0
    for number in before:
        desk.do(now, Recall(cue=number), SetLight(fixtures=("c",), level=0.9))
        now += 0.7
    desk.do(now, Recall(cue="3"))
    assert desk.frame(now + 2.0).level.tolist() == [0.25, 0.75, 0.0]
