"""Frames one after the other: what an encoder kept from the frame before is never seen."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from controller.output.encoder import Encoder
from controller.playback.frame import Frame
from tests.fakes.profiles import all_profiles, kinds, rig, whites

RIG = rig(*kinds()[:8])
N = len(RIG)


def start() -> Frame:
    return whites([0.5] * N, [3200.0] * N)


changes = st.lists(
    st.tuples(
        st.sampled_from(["level", "mired", "duv", "white"]),
        st.integers(0, N - 1),
        st.floats(0.0, 1.0),
    ),
    max_size=6,
)


@settings(max_examples=60)
@given(changes)
def test_every_frame_is_what_a_fresh_encoder_makes_of_it(steps: list[tuple[str, int, float]]) -> None:
    encoder, frame = Encoder(RIG, all_profiles()), start()
    encoder.encode(frame)
    for name, lamp, share in steps:
        values = getattr(frame, name).copy()
        values[lamp] = {
            "level": share,
            "mired": 100 + 400 * share,
            "duv": 0.02 * share,
            "white": share > 0.5,
        }[name]
        frame = replace(frame, **{name: values})
        fresh = Encoder(RIG, all_profiles()).encode(frame)
        np.testing.assert_array_equal(encoder.encode(frame), fresh)


def test_what_was_returned_stays_as_it_was() -> None:
    encoder, frame = Encoder(RIG, all_profiles()), start()
    first = encoder.encode(frame)
    kept = first.copy()
    encoder.encode(replace(frame, level=np.zeros(N)))
    np.testing.assert_array_equal(first, kept)


def test_a_frame_whose_arrays_are_written_over_counts_as_new() -> None:
    encoder, frame = Encoder(RIG, all_profiles()), start()
    encoder.encode(frame)
    frame.level[:] = 0.25
    np.testing.assert_array_equal(encoder.encode(frame), Encoder(RIG, all_profiles()).encode(frame))


def test_a_frame_that_failed_leaves_nothing_behind(monkeypatch: pytest.MonkeyPatch) -> None:
    encoder, frame = Encoder(RIG, all_profiles()), start()
    encoder.encode(frame)
    brighter = replace(frame, level=np.ones(N))
    last = encoder._groups[-1]

    def fail(_targets: object) -> None:
        raise RuntimeError("a bug")

    with monkeypatch.context() as broken:
        broken.setattr(type(last), "slots", lambda self, targets: fail(targets))
        with pytest.raises(RuntimeError):
            encoder.encode(brighter)
    np.testing.assert_array_equal(encoder.encode(frame), Encoder(RIG, all_profiles()).encode(frame))
