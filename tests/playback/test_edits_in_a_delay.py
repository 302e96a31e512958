"""Lamps changed by hand while a cue waits out its delay: obeyed until its light comes, and kept then."""

from __future__ import annotations

import pytest

from onecrew.commands.light import Compare, Edits, Revert, SetLight
from onecrew.commands.running import Hold, Recall
from onecrew.playback.codec import from_json, to_json
from onecrew.playback.edits import edited
from tests.playback.stage import Stage, cue, same_frame, stage

KEPT = "cue 2 has edits of {} that were not stored; they can be brought back"


def waiting() -> Stage:
    """Cue 1 shows; the light of cue 2 comes from 12 s to 14 s."""
    cues = [cue("1", {"key": 0.5, "fill": 0.2}), cue("2", {"key": 0.9, "fill": 0.8}, delay_s=2.0)]
    return stage(("key", "fill"), cues).do(0.0, Recall(cue="1", fade_s=0.0)).do(10.0, Recall(cue="2"))


def test_they_show_at_once_and_are_kept_with_the_cue_as_its_light_comes() -> None:
    desk = waiting().do(11.0, SetLight(fixtures=("fill",), level=0.55))
    assert desk.level(11.0, "fill") == 0.55
    assert desk.frame(13.0).level.tolist() == pytest.approx([0.7, 0.675])
    assert desk.playback.advice == KEPT.format("fill")
    assert desk.frame(14.0).level.tolist() == [0.9, 0.8]
    assert edited(desk.playback, desk.compiled) == set()
    desk.do(15.0, Edits())
    assert desk.frame(16.0).level.tolist() == [0.9, 0.55]


def test_a_nudge_in_the_fade_counts_from_what_shows_again() -> None:
    desk = waiting().do(11.0, SetLight(fixtures=("fill",), level=0.6))
    desk.do(13.0, SetLight(fixtures=("fill",), level_by=0.01))
    assert desk.level(15.0, "fill") == pytest.approx(0.71)


def test_a_comparison_ends_as_the_light_comes_and_the_edits_are_kept() -> None:
    desk = waiting().do(11.0, SetLight(fixtures=("fill",), level=0.55)).do(11.5, Compare(on=True))
    assert desk.frame(15.0).level.tolist() == [0.9, 0.8]
    assert not desk.playback.comparing
    assert desk.playback.advice == KEPT.format("fill")
    desk.do(16.0, Compare(on=False))
    assert desk.frame(17.0).level.tolist() == [0.9, 0.8]
    desk.do(18.0, Edits())
    assert desk.frame(19.0).level.tolist() == [0.9, 0.55]


def test_edits_that_the_cue_had_before_stay_beside_them() -> None:
    desk = waiting().do(20.0, SetLight(fixtures=("key",), level=0.3)).do(30.0, Recall(cue="1"))
    desk.do(40.0, Recall(cue="2")).do(41.0, SetLight(fixtures=("fill",), level=0.55))
    assert desk.frame(45.0).level.tolist() == [0.9, 0.8]
    assert desk.playback.advice == KEPT.format("key, fill")
    desk.do(46.0, Edits())
    assert desk.frame(47.0).level.tolist() == [0.3, 0.55]


def test_what_was_brought_back_in_the_delay_is_kept_again() -> None:
    desk = waiting().do(20.0, SetLight(fixtures=("key",), level=0.3)).do(30.0, Recall(cue="1"))
    desk.do(40.0, Recall(cue="2")).do(41.0, Edits())
    assert desk.level(41.5, "key") == 0.3
    assert desk.frame(45.0).level.tolist() == [0.9, 0.8]
    desk.do(46.0, Edits())
    assert desk.level(47.0, "key") == 0.3


def test_a_hand_that_took_its_change_back_has_nothing_kept() -> None:
    desk = waiting().do(11.0, SetLight(fixtures=("key",), level=0.6), SetLight(fixtures=("key",), level=0.5))
    desk.do(13.0, SetLight(fixtures=("key",), level_by=0.01))
    assert desk.playback.kept == ()
    assert desk.level(15.0, "key") == pytest.approx(0.71)


def test_a_hand_that_went_to_what_the_cue_has_leaves_nothing_to_keep() -> None:
    desk = waiting().do(
        11.0, SetLight(fixtures=("key", "fill"), level=0.9), SetLight(fixtures=("fill",), level=0.8)
    )
    desk.frame(15.0)
    assert (desk.playback.advice, desk.playback.kept) == ("", ())


def test_revert_goes_back_to_what_showed_and_the_delay_goes_on() -> None:
    desk = waiting().do(11.0, SetLight(fixtures=("fill",), level=0.55), Revert())
    assert desk.frame(11.9).level.tolist() == [0.5, 0.2]
    assert edited(desk.playback, desk.compiled) == set()
    assert desk.frame(13.0).level.tolist() == pytest.approx([0.7, 0.5])
    assert desk.playback.kept == ()


def test_revert_without_edits_changes_nothing() -> None:
    desk, plain = waiting().do(11.0, Revert()), waiting()
    for now in (11.3, 12.0, 13.0, 14.0):
        assert same_frame(desk.frame(now), plain.frame(now))


def test_edits_of_the_cue_before_are_what_shows_until_then() -> None:
    desk = waiting().do(20.0, Recall(cue="1", fade_s=0.0), SetLight(fixtures=("fill",), level=0.3))
    desk.do(30.0, Recall(cue="2")).do(30.5, SetLight(fixtures=("fill",), level=0.4)).do(31.0, Revert())
    assert desk.frame(31.9).level.tolist() == [0.5, 0.3]
    assert [number for number, _ in desk.playback.kept] == ["1"]


def test_a_comparison_shows_what_showed_before_the_edits() -> None:
    desk = waiting().do(11.0, SetLight(fixtures=("fill",), level=0.55), Compare(on=True))
    assert desk.frame(11.5).level.tolist() == [0.5, 0.2]
    desk.do(11.5, Compare(on=False))
    assert desk.frame(11.9).level.tolist() == [0.5, 0.55]


def test_an_engine_that_takes_over_goes_back_to_the_same() -> None:
    desk = waiting().do(11.0, SetLight(fixtures=("fill",), level=0.55))
    twin = Stage(desk.compiled, from_json(to_json(desk.playback), desk.compiled), desk.show)
    assert twin.do(11.5, Revert()).frame(11.9).level.tolist() == [0.5, 0.2]


def test_a_delay_without_edits_has_nothing_to_say() -> None:
    desk = waiting()
    desk.frame(15.0)
    assert (desk.playback.advice, desk.playback.kept) == ("", ())


def test_while_the_show_is_held_the_delay_waits_and_so_do_they() -> None:
    desk = waiting().do(10.5, Hold(on=True)).do(11.0, SetLight(fixtures=("fill",), level=0.55))
    assert desk.level(60.0, "fill") == 0.55
    desk.do(61.0, Hold(on=False))
    assert desk.level(70.0, "fill") == 0.8
    assert desk.playback.advice == KEPT.format("fill")
