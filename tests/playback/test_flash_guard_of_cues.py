"""The flash guard of cue chains and commands, judged by a counter written from WCAG 2.3.1 alone."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from onecrew.commands.light import SetLight, Solo, Without
from onecrew.commands.running import Blackout, Go, Master, Recall
from onecrew.commands.takes import TakeStart
from onecrew.playback.flash_guard import no_flashes, space_out
from tests.playback.flashes import changes_in_any_second, exposed_for, flashes_in_any_second
from tests.playback.stage import FloatArray, Stage, cue, stage

RATE_HZ = 60
LAMPS = {"a": "linear", "b": "square", "c": "log", "d": "table"}


def strobe(gap_s: float, cues: int, *, guard: bool = True, fade_s: float = 0.0) -> Stage:
    """A chain that turns the lamps on and off."""
    chain = [
        cue(
            str(number),
            dict.fromkeys(LAMPS, 1.0) if number % 2 else {},
            fade={"in_s": fade_s, "out_s": fade_s},
            auto_follow_s=gap_s if number < cues else None,
            flash_guard=guard,
        )
        for number in range(1, cues + 1)
    ]
    return stage(LAMPS, chain)


def watched(desk: Stage, start_s: float, span_s: float) -> FloatArray:
    light = desk.outputs(start_s + np.arange(int(span_s * RATE_HZ)) / RATE_HZ)
    return np.column_stack((light, light.mean(axis=1)))


def assert_calm(light: FloatArray) -> None:
    for picture in (light, exposed_for(light), np.minimum(1.0, 4.0 * exposed_for(light))):
        assert flashes_in_any_second(picture, RATE_HZ).max() < 3
        assert changes_in_any_second(picture, RATE_HZ).max() <= 5


@pytest.mark.parametrize("gap_s", [0.03, 0.05, 0.1, 0.125, 0.2, 0.25])
@pytest.mark.parametrize("fade_s", [0.0, 0.1])
def test_a_chain_that_would_strobe_does_not(gap_s: float, fade_s: float) -> None:
    assert_calm(watched(strobe(gap_s, 60, fade_s=fade_s).do(10.0, Go()), 10.0, 8.0))


def test_the_same_chain_strobes_where_the_guard_is_off() -> None:
    desk = strobe(0.1, 60, guard=False).do(10.0, Go())
    assert flashes_in_any_second(watched(desk, 10.0, 5.0), RATE_HZ).max() == 5


def test_a_guarded_chain_ends_where_it_was_sent_within_a_second() -> None:
    desk = strobe(0.05, 41).do(10.0, Go())  # 41 cues: the last turns everything on, two seconds in
    assert desk.frame(12.0 + 1.0).level.tolist() == [1.0] * 4
    assert not desk.moving(13.0)


def test_a_calm_chain_keeps_its_own_times_to_the_frame() -> None:
    desk = strobe(0.6, 8).do(10.0, Go())
    assert [desk.level(10.0 + 0.6 * step, "a") for step in range(8)] == [1.0, 0.0] * 4


def test_lamps_that_flash_in_turn_do_not_flash_the_room() -> None:
    names = [f"l{place}" for place in range(8)]
    chain = []
    for number in range(1, 33):
        look = {names[number // 2 % 8]: 1.0} if number % 2 else {}
        chain.append(cue(str(number), look, fade={"in_s": 0.0, "out_s": 0.0}, auto_follow_s=0.1))
    desk = stage(names, chain).do(10.0, Go())
    assert_calm(watched(desk, 10.0, 5.0))


def test_a_change_of_colour_between_saturated_colours_is_guarded_too() -> None:
    chain = [
        cue(
            str(number),
            {"a": {"level": 1.0, "xy": (0.68, 0.31) if number % 2 else (0.15, 0.06)}},
            fade={"in_s": 0.0, "out_s": 0.0},
            auto_follow_s=0.1,
        )
        for number in range(1, 41)
    ]
    desk = stage(("a",), chain).do(10.0, Go())
    u = np.array([desk.frame(10.0 + at / RATE_HZ).u for at in range(4 * RATE_HZ)])
    # Red flash: opposing changes of colour (WCAG 2.x glossary), here the swings of u′ scaled to 0–1.
    swing = (u - u.min()) / (u.max() - u.min()) * 0.79
    assert flashes_in_any_second(swing, RATE_HZ).max() < 3


def test_pressing_blackout_like_mad_does_not_flash() -> None:
    desk = stage(LAMPS, [cue("1", dict.fromkeys(LAMPS, 0.8))]).do(0.0, Recall(cue="1", fade_s=0.0))
    light = []
    for frame in range(6 * RATE_HZ):
        now = 10.0 + frame / RATE_HZ
        if frame < 4 * RATE_HZ and frame % 4 == 0:
            desk.do(now, Blackout())
        light.append(desk.compiled.laws.output(desk.frame(now).level))
    assert_calm(np.array(light))


@pytest.mark.parametrize("start", [1.0, 0.5, 0.01])
@pytest.mark.parametrize(("darker", "waits"), [(0.899, True), (0.901, False)])
def test_a_change_counts_from_a_tenth_of_the_brighter_state(start: float, darker: float, waits: bool) -> None:
    # WCAG 2.x glossary, general flash: "10% or more"; here of the brighter state, at any level.
    chain = [
        cue(str(number), {"a": start * (1.0 if number % 2 else darker)}, fade={"in_s": 0.0, "out_s": 0.0})
        for number in range(1, 7)
    ]
    desk = stage(("a",), chain).do(0.0, Recall(cue="1"))
    for step in range(5):
        desk.do(10.0 + 0.05 * step, Go())
    assert desk.level(10.3, "a") == start * (1.0 if waits else darker)
    assert desk.level(11.1, "a") == start * darker


@pytest.mark.parametrize(
    ("start", "goal", "counts"),
    [(0.901, 1.0, False), (0.899, 1.0, True), (1.0, 0.901, False), (1.0, 0.899, True)],
)
def test_up_or_down_it_is_the_brighter_state_that_is_asked(start: float, goal: float, counts: bool) -> None:
    no = np.zeros(1, dtype=np.bool_)
    seen, _ = space_out(
        no_flashes(1),
        10.0,
        shown=np.array([start]),
        goal=np.array([goal]),
        recoloured=no,
        crossing=no,
        turns_allowed=np.array([4]),
        guarded=True,
    )
    assert (seen.turns[-1, 0] == 10.0) == counts


@pytest.mark.parametrize(("goal", "begun"), [((0.0, 0.0), [2, 0, 2]), ((0.0, 1.0), [2, 1, 0])])
def test_a_change_under_another_counts_twice_of_its_lamp_and_of_the_mean_where_that_moves(
    goal: tuple[float, float], begun: list[int]
) -> None:
    seen, _ = space_out(
        no_flashes(2),
        10.0,
        shown=np.array([1.0, 0.0]),
        goal=np.array(goal),
        recoloured=np.zeros(2, dtype=np.bool_),
        crossing=np.array([True, False]),
        turns_allowed=np.array([4, 4]),
        guarded=True,
    )
    assert (seen.turns == 10.0).sum(axis=0).tolist() == begun


def test_where_an_effect_plays_a_chain_changes_the_level_once_a_second() -> None:
    flame = {"kind": "flame", "rate": 1.0, "depth": 0.0, "seed": 1}
    chain = [
        cue(
            str(number),
            {"a": {"level": 1.0 if number % 2 else 0.5, "effect": flame}},
            fade={"in_s": 0.0, "out_s": 0.0},
        )
        for number in range(1, 4)
    ]
    desk = stage(("a",), chain).do(0.0, Recall(cue="1", fade_s=0.0))
    desk.do(10.0, Go())
    assert desk.level(10.0, "a") == 0.5
    desk.do(10.2, Go())
    assert desk.level(10.99, "a") == 0.5
    assert desk.level(11.0, "a") == 1.0


@pytest.mark.parametrize("gap_s", [0.2, 0.25, 0.5])
@pytest.mark.parametrize("kind", ["television", "flame", "lightning", "failing-tube"])
def test_no_seed_of_an_effect_in_a_chain_flashes(kind: str, gap_s: float) -> None:
    lamps = [f"l{seed}" for seed in range(40)]
    chain = [
        cue(
            str(number),
            {
                lamp: {
                    "level": 1.0 if number % 2 else 0.5,
                    "effect": {"kind": kind, "rate": 4.0, "depth": 1.0, "seed": seed},
                }
                for seed, lamp in enumerate(lamps)
            },
            fade={"in_s": 0.0, "out_s": 0.0},
            auto_follow_s=gap_s,
        )
        for number in range(1, 25)
    ]
    desk = stage(lamps, chain).do(10.0, TakeStart(chain_from="1"))
    light = desk.outputs(10.0 + np.arange(6 * RATE_HZ) / RATE_HZ)
    assert flashes_in_any_second(exposed_for(light), RATE_HZ).max() < 3


level = st.sampled_from((0.0, 0.05, 0.3, 0.6, 1.0))
times = st.sampled_from((0.0, 0.05, 0.2, 0.6, 1.5))
gaps = st.sampled_from((0.02, 0.08, 0.11, 0.19, 0.3, 0.5))
effect = st.fixed_dictionaries(
    {
        "kind": st.sampled_from(("television", "flame", "headlights", "lightning", "failing-tube")),
        "rate": st.sampled_from((0.5, 1.0, 4.0)),
        "depth": st.sampled_from((0.3, 1.0)),
        "seed": st.integers(0, 3),
    }
)


def chains(light: st.SearchStrategy[Any]) -> st.SearchStrategy[list[dict[str, Any]]]:
    """Chains of cues by the dozen, each running the next in a fraction of a second."""
    recipe = st.tuples(
        st.dictionaries(st.sampled_from(tuple(LAMPS)), light, max_size=4),
        times,
        times,
        st.sampled_from(("linear", "ease", "stops")),
        st.sampled_from((0.0, 0.0, 0.07)),
        gaps,
    )
    return st.lists(recipe, min_size=6, max_size=30).map(
        lambda recipes: [
            cue(
                str(number),
                look,
                fade={"in_s": in_s, "out_s": out_s, "curve": curve},
                delay_s=delay_s,
                auto_follow_s=auto_follow_s,
            )
            for number, (look, in_s, out_s, curve, delay_s, auto_follow_s) in enumerate(recipes, start=1)
        ]
    )


@settings(max_examples=40, deadline=None)
@given(chains(level))
def test_no_chain_of_cues_flashes_any_lamp(chain: list[dict[str, Any]]) -> None:
    desk = stage(LAMPS, chain).do(10.0, TakeStart(chain_from="1"))
    light = watched(desk, 10.0, 5.0)[:, : len(LAMPS)]
    for picture in (light, exposed_for(light)):
        assert flashes_in_any_second(picture, RATE_HZ).max() < 3


@settings(max_examples=25, deadline=None)
@given(chains(level | st.fixed_dictionaries({"level": level, "effect": effect})))
def test_no_chain_of_cues_with_effects_flashes_any_lamp(chain: list[dict[str, Any]]) -> None:
    desk = stage(LAMPS, chain).do(10.0, TakeStart(chain_from="1"))
    light = watched(desk, 10.0, 6.0)[:, : len(LAMPS)]
    for picture in (light, exposed_for(light)):
        assert flashes_in_any_second(picture, RATE_HZ).max() < 3


@settings(max_examples=30, deadline=None)
@given(
    st.lists(
        st.tuples(
            st.sampled_from((0.0, 0.02, 0.05, 0.12, 0.3)),
            st.one_of(
                st.builds(Blackout),
                st.builds(Recall, cue=st.sampled_from(("1", "2")), fade_s=st.sampled_from((None, 0.0))),
                st.builds(Solo, fixtures=st.sampled_from(((), ("a",), ("b", "c")))),
                st.builds(Without, fixtures=st.sampled_from(((), ("b",), ("a", "c")))),
            ),
        ),
        min_size=10,
        max_size=50,
    )
)
def test_hands_all_over_the_desk_stay_within_the_three_that_are_allowed(
    presses: list[tuple[float, Any]],
) -> None:
    cues = [
        cue("1", dict.fromkeys(LAMPS, 0.9), fade={"in_s": 0.1, "out_s": 0.1}),
        cue("2", {"a": 0.2, "c": 0.1}),
    ]
    desk, now = stage(LAMPS, cues), 10.0
    light = []
    for wait_s, command in presses:
        for _ in range(round(wait_s * RATE_HZ)):
            now += 1.0 / RATE_HZ
            light.append(desk.compiled.laws.output(desk.frame(now).level))
        desk.do(now, command)
    light += list(desk.outputs(now + np.arange(2 * RATE_HZ) / RATE_HZ))
    for picture in (np.array(light), exposed_for(np.array(light))):
        assert flashes_in_any_second(picture, RATE_HZ).max() <= 3


def test_blackout_never_waits() -> None:
    desk = stage(LAMPS, [cue("1", dict.fromkeys(LAMPS, 0.8))]).do(0.0, Recall(cue="1", fade_s=0.0))
    for step in range(9):
        desk.do(10.0 + 0.02 * step, Solo(fixtures=("a",) if step % 2 else ()))
    desk.do(10.2, Blackout(on=True))
    assert not desk.frame(10.6).level.any()


def test_a_hand_on_a_level_or_the_master_is_obeyed_at_once() -> None:
    desk = stage(("a",), [cue("1", {"a": 0.1})]).do(0.0, Recall(cue="1", fade_s=0.0))
    for step in range(40):
        now = 10.0 + step / 20
        desk.do(now, SetLight(fixtures=("a",), level=0.9 if step % 2 else 0.2))
        assert desk.level(now, "a") == (0.9 if step % 2 else 0.2)
        desk.do(now, Master(level=0.5), Master(level=1.0))
        assert desk.level(now, "a") == (0.9 if step % 2 else 0.2)


def test_holding_a_nudge_key_down_is_not_slowed() -> None:
    desk = stage(("a",), [cue("1", {"a": 0.1})]).do(0.0, Recall(cue="1", fade_s=0.0))
    for step in range(1, 31):
        desk.do(10.0 + step / 30, SetLight(fixtures=("a",), level_by=0.02))
        assert desk.level(10.0 + step / 30, "a") == pytest.approx(0.1 + 0.02 * step)


def test_colours_that_nobody_sees_do_not_hold_up_the_light() -> None:
    desk = stage(("key",), [cue("1", {}), cue("2", {"key": 1.0})]).do(0.0, Recall(cue="1", fade_s=0.0))
    for turn in range(6):
        xy = (0.64, 0.33) if turn % 2 else (0.15, 0.06)
        desk.do(1.0 + turn / 20, SetLight(fixtures=("key",), xy=xy))
    assert desk.do(1.3, Recall(cue="2", fade_s=0.0)).level(1.3, "key") == 1.0


def test_after_a_blackout_all_lamps_come_back_together_when_the_last_one_may() -> None:
    """One of twelve has used up its changes; what it does is under a tenth of the light of all."""
    look = dict.fromkeys(("key", *(f"fill-{n}" for n in range(11))), 0.8)
    desk = stage(tuple(look), [cue("1", look)]).do(0.0, Recall(cue="1", fade_s=0.0))
    for turn in range(6):
        desk.do(10.0 + turn / 20, SetLight(fixtures=("key",), level=0.8 * (turn % 2)))
    desk.do(10.35, Blackout(on=True)).do(10.75, Blackout(on=False))
    levels = desk.levels(10.75 + np.arange(120) / 50)
    assert (levels == levels[:, :1]).all()
    assert levels[:15].max() == 0.0 and levels[-1].min() == 0.8
