"""Revert and compare: back to the stored look of the cue, for good or for a look."""

from __future__ import annotations

import pytest

from onecrew.commands.light import Compare, Revert, SetLight
from onecrew.commands.running import Go, Hold, Recall
from onecrew.errors import Refused
from onecrew.playback.edits import SHORT_FADE_S, edited
from onecrew.playback.render import look_of
from tests.playback.stage import Stage, cue, stage


def edited_desk() -> Stage:
    look = {"key": {"level": 0.5, "white": {"cct_k": 4000}}, "fill": 0.2}
    desk = stage(("key", "fill"), [cue("1", look), cue("2", {})]).do(0.0, Recall(cue="1", fade_s=0.0))
    return desk.do(
        1.0, SetLight(fixtures=("key", "fill"), level=0.9), SetLight(fixtures=("key",), cct_k=2000)
    )


def test_revert_drops_all_edits_by_a_short_fade() -> None:
    desk = edited_desk().do(2.0, Revert())
    assert desk.level(2.0, "key") == 0.9
    assert desk.level(2.0 + SHORT_FADE_S / 2, "key") == pytest.approx(0.7)
    frame = desk.frame(2.0 + SHORT_FADE_S)
    assert frame.level.tolist() == [0.5, 0.2]
    assert 1e6 / frame.mired[0] == pytest.approx(4000.0)
    assert edited(desk.playback, desk.compiled) == set()


def test_revert_of_one_fixture_leaves_the_others_edited() -> None:
    desk = edited_desk().do(2.0, Revert(fixtures=("fill",)))
    assert desk.frame(3.0).level.tolist() == [0.9, 0.2]
    assert edited(desk.playback, desk.compiled) == {"key"}


def test_compare_shows_the_stored_look_and_comes_back() -> None:
    desk = edited_desk().do(2.0, Compare())
    assert desk.playback.comparing
    assert desk.frame(3.0).level.tolist() == [0.5, 0.2]
    assert edited(desk.playback, desk.compiled) == {"key", "fill"}
    assert look_of(desk.playback, 3.0, desk.compiled)["key"].level == 0.9  # what Store would store
    desk.do(4.0, Compare())
    frame = desk.frame(5.0)
    assert frame.level.tolist() == [0.9, 0.9]
    assert 1e6 / frame.mired[0] == pytest.approx(2000.0)
    assert edited(desk.playback, desk.compiled) == {"key", "fill"}


def test_a_change_by_hand_ends_the_comparison_first() -> None:
    desk = edited_desk().do(2.0, Compare()).do(3.0, SetLight(fixtures=("fill",), level=0.1))
    assert not desk.playback.comparing
    assert desk.frame(4.0).level.tolist() == [0.9, 0.1]


def test_another_cue_ends_the_comparison_and_drops_the_edits() -> None:
    desk = edited_desk().do(2.0, Compare()).do(3.0, Go())
    assert not desk.playback.comparing
    assert desk.frame(9.0).level.tolist() == [0.0, 0.0]


def test_while_held_it_shows_at_once() -> None:
    desk = edited_desk().do(2.0, Hold(), Compare())
    assert desk.frame(2.0).level.tolist() == [0.5, 0.2]


def test_without_a_cue_there_is_nothing_to_go_back_to() -> None:
    desk = stage(("key",), [cue("1", {})]).do(0.0, SetLight(fixtures=("key",), level=0.5))
    for command in (Revert(), Compare()):
        with pytest.raises(Refused, match="no cue is showing"):
            desk.do(1.0, command)
    assert desk.level(2.0, "key") == 0.5
    assert edited(desk.playback, desk.compiled) == {"key"}
