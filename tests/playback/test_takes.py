"""Takes: numbered within a setup; a chain replays frame for frame."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import ValidationError

from onecrew.commands.command import PlaybackCommand
from onecrew.commands.light import Identify, SetLight, Solo, Without
from onecrew.commands.running import Hold, Recall
from onecrew.commands.takes import TakeEnd, TakeStart
from onecrew.errors import Refused
from tests.playback.stage import Stage, cue, same_frame, stage


def bakery() -> Stage:
    tv = {"level": 0.6, "white": {"cct_k": 6500}, "effect": {"kind": "television", "seed": 11, "rate": 2.0}}
    flame = {"level": 0.5, "white": {"cct_k": 1900}, "effect": {"kind": "flame", "seed": 4}}
    cues = [
        cue("1", {"window": {"level": 0.3, "white": {"cct_k": 5600}}, "oven": flame}),
        cue(
            "2",
            {"window": {"level": 0.8, "white": {"cct_k": 3200}}, "oven": flame, "van": tv},
            auto_follow_s=3.0,
        ),
        cue("3", {"window": {"level": 0.1, "xy": (0.2, 0.1)}, "oven": flame}, delay_s=0.5, auto_follow_s=2.5),
        cue("4", {"van": {"level": 1.0, "effect": {"kind": "headlights", "seed": 2}}}),
    ]
    return stage({"window": "linear", "oven": "square", "van": "log"}, cues)


def test_takes_are_numbered_within_their_setup() -> None:
    desk = bakery()
    seen = []
    for setup in (None, None, "close on the oven", None, "1", None):
        desk.do(0.0, TakeStart(setup=setup))
        take = desk.playback.take
        assert take is not None and take.running
        seen.append((take.setup, take.number))
        desk.do(1.0, TakeEnd(good=True, note="kept"))
    assert seen == [
        ("1", 1),
        ("1", 2),
        ("close on the oven", 1),
        ("close on the oven", 2),
        ("1", 3),
        ("1", 4),
    ]
    take = desk.playback.take
    assert take is not None and (take.running, take.good, take.note) == (False, True, "kept")


def test_one_take_at_a_time() -> None:
    desk = bakery()
    with pytest.raises(Refused, match="no take is running"):
        desk.do(0.0, TakeEnd())
    desk.do(0.0, TakeStart())
    with pytest.raises(Refused, match="take 1 of setup 1 is still running"):
        desk.do(1.0, TakeStart())


def test_a_chain_from_no_cue_is_refused_and_no_take_starts() -> None:
    desk = bakery()
    with pytest.raises(Refused, match="no cue 9"):
        desk.do(0.0, TakeStart(chain_from="9"))
    assert desk.playback.take is None


def test_a_take_fades_from_what_shows_into_its_chain_and_runs_it_at_its_own_times() -> None:
    desk = bakery().do(0.0, Recall(cue="4", fade_s=0.0)).do(9.0, SetLight(fixtures=("window",), level=0.4))
    desk.do(100.0, TakeStart(chain_from="2"))
    assert [desk.level(at, "window") for at in (100.0, 101.0, 102.0)] == [0.4, pytest.approx(0.6), 0.8]
    assert desk.frame(103.0) and desk.playback.cue == "3"
    assert desk.frame(105.5) and desk.playback.cue == "4"


def test_a_take_never_goes_through_a_cue_that_was_not_asked_for() -> None:
    """Cue 1 lights the oven, cue 3 does not: from the one into the other nothing else may show."""
    desk = bakery().do(0.0, Recall(cue="1", fade_s=0.0)).do(9.0, TakeStart(chain_from="4"))
    oven = desk.levels(9.0 + frame / 50 for frame in range(130))[:, desk.compiled.index["oven"]]
    assert (np.diff(oven) <= 0.02).all()  # its flame, on the way down
    assert oven[-1] == 0.0


@pytest.mark.parametrize("number", ["1", "2", "3"])
def test_a_take_from_black_opens_in_black(number: str) -> None:
    desk = bakery().do(0.0, Recall(cue="4", fade_s=0.0))
    desk.do(9.0, TakeStart(chain_from=number, from_black=True))
    assert not desk.frame(9.0).level.any()
    assert desk.playback.cue == number


def test_effects_begin_with_the_chain_even_those_that_played_already() -> None:
    """From the same light two passes are the same, however long the flame burnt before."""
    passes = []
    for start in (64.0, 2048.0):
        desk = bakery().do(0.0, Recall(cue="1", fade_s=0.0)).do(start, TakeStart(chain_from="3"))
        passes.append([desk.frame(start + 3.0 + frame / 25) for frame in range(60)])
    assert all(same_frame(one, other) for one, other in zip(*passes, strict=True))


def test_black_without_a_chain_is_no_command() -> None:
    with pytest.raises(ValidationError, match="say from which cue"):
        TakeStart(from_black=True)


def test_the_end_of_a_take_leaves_the_light_alone() -> None:
    one, other = bakery().do(0.0, TakeStart(chain_from="2")), bakery().do(0.0, TakeStart(chain_from="2"))
    other.do(1.0, TakeEnd())
    assert same_frame(one.frame(4.0), other.frame(4.0))


anything: st.SearchStrategy[PlaybackCommand] = st.one_of(
    st.builds(Recall, cue=st.sampled_from(("1", "2", "3", "4"))),
    st.builds(SetLight, fixtures=st.just(("oven",)), level=st.floats(0.0, 1.0)),
    st.builds(SetLight, fixtures=st.just(("window",)), xy=st.just((0.3, 0.5)), fade_s=st.just(9.0)),
    st.builds(Hold),
    st.builds(Solo, fixtures=st.just(("oven",))),
    st.builds(Without, fixtures=st.just(("window",))),
    st.builds(Identify, fixtures=st.just(("oven",))),
)


@settings(max_examples=40, deadline=None)
@given(
    before=st.lists(st.tuples(st.floats(0.0, 3.0), anything), max_size=5),
    start=st.floats(0.0, 1e6),
    seconds=st.lists(st.floats(0.0, 12.0), min_size=1, max_size=8),
)
def test_from_black_a_chain_is_the_same_frame_for_frame_whatever_came_before(
    before: list[tuple[float, PlaybackCommand]], start: float, seconds: list[float]
) -> None:
    first = bakery().do(0.0, TakeStart(chain_from="2", from_black=True))
    second, now = bakery(), 0.0
    for wait_s, command in before:
        now += wait_s
        second.do(now, command)
    start += now
    second.do(start, TakeStart(chain_from="2", from_black=True))
    for at in sorted(seconds):
        one, other = first.frame(at), second.frame(start + at)
        # Seconds since boot carry rounding of their own; what is left of it is far below a 16-bit step.
        for name in ("level", "mired", "duv", "u", "v"):
            # A microsecond of clock, at the steepest stroke of an effect.
            assert getattr(one, name) == pytest.approx(getattr(other, name), rel=1e-5, abs=1e-5)
        assert (one.white == other.white).all()


def test_at_whole_frames_the_replay_is_equal_bit_for_bit() -> None:
    desk = bakery()
    passes = []
    for start in (64.0, 2048.0):
        desk.do(start, TakeStart(chain_from="2", from_black=True))
        passes.append([desk.frame(start + frame / 25) for frame in range(250)])
        desk.do(start + 30.0, TakeEnd(), SetLight(fixtures=("van",), level=0.3))
    assert all(same_frame(one, other) for one, other in zip(*passes, strict=True))


def test_setups_that_look_alike_are_one_and_its_takes_go_on() -> None:
    desk, seen = bakery(), []
    for setup in ("Caf\u00e9", "Cafe\u0301", " caf\u00e9 ", "   ", "B"):
        desk.do(0.0, TakeStart(setup=setup))
        assert desk.playback.take is not None
        seen.append((desk.playback.take.setup, desk.playback.take.number))
        desk.do(0.0, TakeEnd())
    assert seen == [("Caf\u00e9", 1), ("Caf\u00e9", 2), ("Caf\u00e9", 3), ("Caf\u00e9", 4), ("B", 1)]
