"""Solo and without: one lamp alone, or taken away, with nothing stored changed."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from onecrew.commands.command import PlaybackCommand
from onecrew.commands.light import Solo, Without
from onecrew.commands.running import Back, Go, Recall
from onecrew.commands.takes import TakeStart
from onecrew.errors import Refused
from onecrew.playback.edits import PART_FADE_S, edited
from onecrew.playback.render import look_of
from tests.playback.stage import Stage, cue, stage

NAMES = ("key", "fill", "edge")


def lit() -> Stage:
    cues = [cue("1", {"key": 0.8, "fill": 0.4, "edge": 0.2}), cue("2", dict.fromkeys(NAMES, 0.6))]
    return stage(NAMES, cues).do(0.0, Recall(cue="1", fade_s=0.0))


def test_solo_shows_these_lamps_alone_and_ends_with_none() -> None:
    desk = lit().do(1.0, Solo(fixtures=("fill",)))
    assert desk.level(1.0 + PART_FADE_S / 2, "key") == pytest.approx(0.4)
    assert desk.frame(2.0).level.tolist() == [0.0, 0.4, 0.0]
    assert desk.do(3.0, Solo()).frame(4.0).level.tolist() == [0.8, 0.4, 0.2]


def test_without_takes_these_lamps_away() -> None:
    desk = lit().do(1.0, Without(fixtures=("key",)))
    assert desk.frame(2.0).level.tolist() == [0.0, 0.4, 0.2]
    assert desk.do(3.0, Without()).frame(4.0).level.tolist() == [0.8, 0.4, 0.2]


@pytest.mark.parametrize(
    "command", [Go(), Back(), Recall(cue="2"), Recall(cue="2", fade_s=1.0), TakeStart(chain_from="2")]
)
def test_they_end_as_a_cue_runs_and_what_they_hid_comes_up_with_it(command: PlaybackCommand) -> None:
    cues = [cue("0.5", dict.fromkeys(NAMES, 0.6)), *(one.model_dump() for one in lit().show.cues)]
    desk = stage(NAMES, cues).do(0.0, Recall(cue="1", fade_s=0.0))
    desk.do(1.0, Solo(fixtures=("fill", "edge")), Without(fixtures=("edge",))).do(2.0, command)
    half = 0.5 if isinstance(command, Recall) and command.fade_s else 1.0
    assert desk.frame(2.0).level.tolist() == [0.0, 0.4, 0.0]
    assert desk.frame(2.0 + half).level.tolist() == pytest.approx([0.3, 0.5, 0.3])
    assert desk.frame(9.0).level.tolist() == [0.6, 0.6, 0.6]
    assert (desk.playback.solo, desk.playback.without) == ((), ())


def test_a_cue_that_waits_out_its_delay_leaves_them_until_then() -> None:
    cues = [cue("1", {"key": 0.8, "fill": 0.4}), cue("2", dict.fromkeys(NAMES, 0.6), delay_s=3.0)]
    desk = stage(NAMES, cues).do(0.0, Recall(cue="1", fade_s=0.0), Solo(fixtures=("fill",))).do(1.0, Go())
    assert desk.frame(3.9).level.tolist() == [0.0, 0.4, 0.0]
    assert desk.frame(6.0).level.tolist() == [0.6, 0.6, 0.6]


def test_effects_go_on_through_the_end_of_a_solo_as_they_were() -> None:
    flame = {"level": 0.8, "effect": {"kind": "flame", "seed": 5}}
    one, other = (stage(NAMES, [cue("1", {"key": flame}), cue("2", {"key": flame})]) for _ in range(2))
    for desk in (one, other):
        desk.do(0.0, Recall(cue="1", fade_s=0.0))
    one.do(1.0, Solo(fixtures=("key",))).do(5.0, Go())
    other.do(5.0, Go())
    for now in (5.0, 5.5, 6.25, 8.0):
        assert one.frame(now).level == pytest.approx(other.frame(now).level)


def test_an_unknown_fixture_is_refused() -> None:
    with pytest.raises(Refused, match="no fixture lamp"):
        lit().do(1.0, Solo(fixtures=("lamp",)))


names = st.lists(st.sampled_from(NAMES), max_size=3).map(tuple)


@given(st.lists(st.tuples(names, names), max_size=4))
def test_nothing_stored_or_edited_changes(views: list[tuple[tuple[str, ...], tuple[str, ...]]]) -> None:
    desk = lit()
    before = look_of(desk.playback, 0.0, desk.compiled)
    now = 1.0
    for solo, without in views:
        desk.do(now, Solo(fixtures=solo), Without(fixtures=without))
        now += 0.1
    assert look_of(desk.playback, now, desk.compiled) == before
    assert edited(desk.playback, desk.compiled) == set()
    assert desk.do(now, Solo(), Without()).frame(now + 2.0).level.tolist() == [0.8, 0.4, 0.2]


def test_an_effect_that_is_coming_in_goes_on_as_a_cue_ends_a_solo() -> None:
    flame = {"level": 0.8, "effect": {"kind": "flame", "depth": 1.0, "seed": 7}}
    fade = {"in_s": 8.0, "out_s": 8.0}
    cues = [cue("1", {"key": 0.8}), cue("2", {"key": flame}, fade=fade), cue("3", {"key": 0.8}, fade=fade)]
    desk = stage(("key", "fill"), cues).do(0.0, Recall(cue="1", fade_s=0.0), Solo(fixtures=("key",)))
    desk.do(10.0, Recall(cue="2")).do(10.0, Solo(fixtures=("key",)))
    for now in (11.0, 11.7, 12.4):
        before = desk.level(now, "key")
        assert desk.do(now, Solo(fixtures=("key",)), Recall(cue="3")).level(now, "key") == pytest.approx(
            before
        )
