"""The flash guard of effects, judged by a counter written from WCAG 2.3.1 alone."""

from __future__ import annotations

from functools import lru_cache
from typing import get_args

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from onecrew.commands.running import Recall
from onecrew.playback.effects import KINDS as EFFECT_CODES
from onecrew.playback.effects import Effects, effect_at
from onecrew.show.light import Effect
from tests.playback.flashes import changes_in_any_second, exposed_for, flashes_in_any_second
from tests.playback.stage import FloatArray, cue, stage

KINDS = get_args(Effect.model_fields["kind"].annotation)
LAWS = ("linear", "square", "log", "table")
RATE_HZ = 50
SPAN_S = 12
LAMPS = 60


@lru_cache(maxsize=16)
def outputs(kind: str, guard: bool) -> FloatArray:
    """Outputs (samples, lamps) of lamps with one kind of effect at many rates, depths and seeds."""
    random = np.random.default_rng(20_230_501)
    rates = np.concatenate((np.full(20, 4.0), np.full(10, 1.0), random.uniform(0.05, 4.0, 30)))
    depths = np.where(random.random(LAMPS) < 0.6, 1.0, random.uniform(0.05, 1.0, LAMPS))
    seeds = random.integers(0, 2**31, LAMPS)
    lamps = {f"l{place}": LAWS[place % 4] for place in range(LAMPS)}
    look = {
        name: {
            "level": (1.0, 0.9, 0.3)[place % 3],
            "effect": {"kind": kind, "rate": rates[place], "depth": depths[place], "seed": int(seeds[place])},
        }
        for place, name in enumerate(lamps)
    }
    desk = stage(lamps, [cue("1", look, flash_guard=guard)]).do(0.0, Recall(cue="1", fade_s=0.0))
    return desk.outputs(np.arange(SPAN_S * RATE_HZ) / RATE_HZ)


@pytest.mark.parametrize("kind", KINDS)
def test_a_guarded_effect_keeps_under_three_flashes_in_any_second(kind: str) -> None:
    light = outputs(kind, True)
    # Against full light, and as cameras set for the lamp and brighter would show it: exposure hides nothing.
    shown = exposed_for(light)
    for picture in (light, shown, np.minimum(1.0, 3.0 * shown), np.minimum(1.0, 12.0 * shown)):
        changes = changes_in_any_second(picture, RATE_HZ)
        assert (changes // 2).max() < 3
        assert changes.max() <= 5  # not even on the way to a third
    # The effect is there all the same: it takes half of the light, somewhere.
    assert shown.min() < 0.5


@pytest.mark.parametrize("kind", ["television", "flame", "lightning", "failing-tube"])
def test_without_the_guard_the_same_effect_flashes(kind: str) -> None:
    assert flashes_in_any_second(exposed_for(outputs(kind, False)), RATE_HZ).max() >= 4


@pytest.mark.parametrize("kind", KINDS)
def test_two_lamps_with_one_effect_and_other_seeds_keep_to_it_together(kind: str) -> None:
    light = exposed_for(outputs(kind, True)[:, :20])  # all at rate 4
    pairs = light[:, :10] + light[:, 10:]
    assert flashes_in_any_second(exposed_for(pairs), RATE_HZ).max() < 3


def test_a_room_of_all_effects_stays_within_the_three_that_are_allowed() -> None:
    light = np.stack([exposed_for(outputs(kind, True)) for kind in KINDS])
    weights = np.random.default_rng(4).uniform(0.1, 1.0, (5, 1, LAMPS))
    assert flashes_in_any_second(exposed_for((light * weights).sum(axis=0)), RATE_HZ).max() <= 3


seeds = st.integers(0, 2**31 - 1)


@settings(max_examples=60, deadline=None)
@given(
    kind=st.sampled_from(KINDS),
    rate=st.floats(0.01, 4.0),
    depth=st.floats(0.0, 1.0),
    seeds=st.lists(seeds, min_size=8, max_size=8),
    start_s=st.floats(0.0, 1e5),
)
def test_no_rate_depth_or_seed_gets_past_the_guard(
    kind: str, rate: float, depth: float, seeds: list[int], start_s: float
) -> None:
    n = len(seeds)
    effects = Effects(
        np.full(n, EFFECT_CODES[kind], dtype=np.int8), np.full(n, rate), np.full(n, depth), np.array(seeds)
    )
    times = start_s + np.arange(5 * RATE_HZ) / RATE_HZ
    light = np.array(
        [1.0 - effect_at(np.full(n, time), effects, np.ones(n, dtype=bool)).dip for time in times]
    )
    assert light.min() >= 1.0 - depth - 0.06 - 1e-12
    assert light.max() <= 1.0
    assert changes_in_any_second(exposed_for(light), RATE_HZ).max() <= 5


def test_the_counter_counts() -> None:
    time = np.arange(2 * RATE_HZ) / RATE_HZ
    square = (np.floor(time * 8.0) % 2)[:, None]  # 4 Hz
    assert flashes_in_any_second(square, RATE_HZ)[0] == 4
    assert flashes_in_any_second(0.5 + 0.04 * square, RATE_HZ)[0] == 0  # under 10 %
    assert flashes_in_any_second(0.85 + 0.15 * square, RATE_HZ)[0] == 0  # the darker state is above 0.80
    assert flashes_in_any_second((np.floor(time * 2.0) % 2)[:, None], RATE_HZ)[0] == 1
