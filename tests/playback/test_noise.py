"""Noise: the published generator, alike on every machine, and as even as it should be."""

from __future__ import annotations

import numpy as np

from onecrew.playback.effects import hash01


def test_it_is_splitmix64_for_the_seeds_of_stream_and_step_nought() -> None:
    # First outputs of SplitMix64 with seed 0, from memory of the generator's reference implementation.
    published = (0xE220A8397B1DCDAF, 0x6E789E6AA1B965F4, 0x06C45D188009454F)
    got = hash01(np.array([1, 2, 3]), [np.zeros(3, dtype=np.int64)], (0,))[0]
    assert got.tolist() == [(value >> 11) / 2**53 for value in published]


def test_it_fills_the_unit_evenly_in_every_direction() -> None:
    steps = np.arange(20_000)
    ones = np.ones_like(steps)
    for values in (
        hash01(ones, [steps], (1,))[0],
        hash01(steps, [ones], (1,))[0],
        hash01(ones, [-steps], (3,))[0],
    ):
        assert values.min() >= 0.0
        assert values.max() < 1.0
        counts = np.histogram(values, bins=20, range=(0.0, 1.0))[0]
        # Chi-squared with 19 degrees of freedom: above 43.8 once in a thousand (table of the distribution).
        assert ((counts - 1000.0) ** 2 / 1000.0).sum() < 43.8
        assert abs(np.corrcoef(values[:-1], values[1:])[0, 1]) < 0.03
