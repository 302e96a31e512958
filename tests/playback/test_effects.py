"""Effects: repeatable, bounded, and faded from one to the other."""

from __future__ import annotations

from typing import Any, get_args

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from onecrew.commands.light import SetLight
from onecrew.commands.running import Go, Recall
from onecrew.playback.compiled_show import DARK
from onecrew.playback.effects import KINDS, effect_at, effects_of
from onecrew.show.light import Effect
from tests.playback.stage import FloatArray, cue, stage

NAMES = get_args(Effect.model_fields["kind"].annotation)


def lamp(kind: str, level: float = 0.8, **fields: Any) -> dict[str, Any]:
    return {"level": level, "white": {"cct_k": 3000}, "effect": {"kind": kind, "depth": 1.0, **fields}}


def multipliers(effect: Effect, times: FloatArray, guarded: bool = True) -> FloatArray:
    light = DARK.model_copy(update={"level": 1.0, "effect": effect})
    effects = effects_of([light] * len(times))
    return 1.0 - effect_at(times, effects, np.full(len(times), guarded)).dip


def test_every_kind_of_the_documents_is_known() -> None:
    assert set(KINDS) == set(NAMES)


# The sum of the light at 600 moments of a minute with seed 42. Computed once by this program and kept, so
# that no machine and no release lights a second pass otherwise than the first.
KEPT = {
    "television": 292.514826,
    "flame": 368.424868,
    "headlights": 58.483338,
    "lightning": 7.60357,
    "failing-tube": 454.699387,
}


@pytest.mark.parametrize("kind", NAMES)
def test_a_seed_gives_the_same_light_for_ever(kind: str) -> None:
    effect = Effect(kind=kind, depth=1.0, seed=42)
    assert multipliers(effect, np.arange(600) / 10).sum() == pytest.approx(KEPT[kind], abs=1e-6)


@pytest.mark.parametrize("kind", NAMES)
def test_other_seeds_give_other_light(kind: str) -> None:
    times = np.arange(600, dtype=np.float64) / 10
    one, other = (multipliers(Effect(kind=kind, depth=1.0, seed=seed), times) for seed in (1, 2))
    assert np.abs(one - other).max() > 0.2


@pytest.mark.parametrize("kind", ["television", "lightning", "failing-tube", "flame", "headlights"])
def test_a_higher_rate_changes_the_light_more_often(kind: str) -> None:
    times = np.arange(6000, dtype=np.float64) / 50
    slow, fast = (
        np.abs(np.diff(multipliers(Effect(kind=kind, depth=1.0, rate=rate, seed=3), times))).sum()
        for rate in (0.25, 2.0)
    )
    assert fast > 1.5 * slow


@settings(max_examples=100, deadline=None)
@given(
    kind=st.sampled_from(NAMES),
    rate=st.floats(0.01, 4.0),
    depth=st.floats(0.0, 1.0),
    seed=st.integers(0, 2**31 - 1),
    level=st.floats(0.0, 1.0),
    law=st.sampled_from(("linear", "square", "log", "table")),
    now=st.floats(0.0, 1e5),
    guard=st.booleans(),
)
def test_an_effect_only_takes_light_away_and_no_more_than_its_depth(
    kind: str, rate: float, depth: float, seed: int, level: float, law: str, now: float, guard: bool
) -> None:
    look = {"key": {"level": level, "effect": {"kind": kind, "rate": rate, "depth": depth, "seed": seed}}}
    desk = stage({"key": law}, [cue("1", look, flash_guard=guard)]).do(0.0, Recall(cue="1", fade_s=0.0))
    frame = desk.frame(now)
    assert 0.0 <= frame.level[0] <= level + 1e-12
    full = desk.compiled.laws.output(np.array([level]))[0]
    ripple = 0.06 if guard else 0.25
    assert desk.compiled.laws.output(frame.level)[0] >= full * (1.0 - depth) * (1.0 - ripple) - 1e-9
    assert 40.0 <= frame.mired[0] <= 1000.0
    assert abs(frame.duv[0]) <= 0.05


def test_no_depth_is_no_effect_bit_for_bit() -> None:
    for kind in NAMES:
        look = {"key": {"level": 0.37, "effect": {"kind": kind, "depth": 0.0}}}
        desk = stage({"key": "table"}, [cue("1", look)]).do(0.0, Recall(cue="1", fade_s=0.0))
        assert desk.level(7.7, "key") == 0.37


def test_an_effect_that_both_cues_have_goes_on_without_a_break() -> None:
    cues = [cue("1", {"oven": lamp("flame")}), cue("2", {"oven": lamp("flame"), "key": 0.5})]
    desk = stage(("oven", "key"), cues).do(0.0, Recall(cue="1", fade_s=0.0))
    alone = stage(("oven", "key"), cues).do(0.0, Recall(cue="1", fade_s=0.0))
    desk.do(3.0, Go())
    for now in (3.0, 3.7, 4.4, 5.1, 8.0):
        assert desk.level(now, "oven") == pytest.approx(alone.level(now, "oven"), abs=1e-9)


def test_one_effect_gives_way_to_another_over_the_fade() -> None:
    cues = [cue("1", {"oven": lamp("flame")}), cue("2", {"oven": lamp("television")})]
    desk = stage(("oven",), cues).do(0.0, Recall(cue="1", fade_s=0.0)).do(3.0, Go())
    flame = multipliers(Effect(kind="flame", depth=1.0), np.array([3.0, 4.0]))
    picture = multipliers(Effect(kind="television", depth=1.0), np.array([1.0, 4.0]))
    assert desk.level(3.0, "oven") == pytest.approx(0.8 * flame[0], abs=1e-6)
    assert desk.level(4.0, "oven") == pytest.approx(0.8 * (flame[1] + picture[0]) / 2, abs=1e-6)
    assert desk.level(7.0, "oven") == pytest.approx(0.8 * picture[1], abs=1e-6)


def test_a_lamp_goes_from_its_effect_to_plain_light_exactly() -> None:
    cues = [cue("1", {"oven": lamp("flame")}), cue("2", {"oven": {"level": 0.8, "white": {"cct_k": 3000}}})]
    desk = stage(("oven",), cues).do(0.0, Recall(cue="1", fade_s=0.0)).do(3.0, Go())
    assert desk.level(5.0, "oven") == 0.8
    assert 1e6 / desk.frame(5.0).mired[0] == pytest.approx(3000.0)
    assert not desk.moving(5.0)


def test_a_colour_sways_with_its_effect_and_comes_back() -> None:
    look = {"oven": {"level": 0.8, "xy": (0.6, 0.35), "effect": {"kind": "flame", "depth": 1.0}}}
    desk = stage(("oven",), [cue("1", look)]).do(0.0, Recall(cue="1", fade_s=0.0))
    u = np.array([desk.frame(now).u[0] for now in range(10)])
    assert 0.005 < np.ptp(u) < 0.1
    desk.do(10.0, SetLight(fixtures=("oven",), effect="none"))
    plain = desk.frame(10.0)
    assert (plain.u[0], plain.v[0]) == (
        desk.playback.movement.goal.colour[2, 0],
        desk.playback.movement.goal.colour[3, 0],
    )
