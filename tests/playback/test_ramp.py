"""A ramp: where it begins, where it ends, and each lamp of it by itself."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from onecrew.playback.state import rest

level = st.floats(0.0, 1.0)


@given(level, level, st.floats(-1e6, 1e6), st.floats(0.0, 60.0))
def test_from_its_end_on_a_ramp_is_exactly_at_its_goal(
    start: float, goal: float, begin: float, span_s: float
) -> None:
    ramp = rest(start).to(goal, begin, begin, span_s)
    assert ramp.at(ramp.settled_at) == goal
    assert ramp.settled_at == ramp.end.max()


@given(level, level, st.floats(0.1, 60.0))
def test_lamps_that_end_before_the_last_are_exactly_at_their_goals(
    start: float, goal: float, span_s: float
) -> None:
    # The second lamp leaves later, so the ramp as a whole still runs when the first has arrived.
    begin = np.array([10.0, 10.0 + 2.0 * span_s])
    ramp = rest([start, 0.0]).to([goal, 1.0], 10.0, begin, span_s)
    for now in (ramp.end[0], np.nextafter(ramp.end[0], np.inf)):
        assert now < ramp.settled_at
        assert ramp.at(float(now))[0] == goal


def test_before_its_end_a_ramp_is_on_its_way() -> None:
    ramp = rest(0.0).to(1.0, 5.0, 6.0, 2.0)
    assert [float(ramp.at(now)) for now in (5.0, 6.0, 6.5, 7.0, 8.0)] == [0.0, 0.0, 0.25, 0.5, 1.0]
    assert float(ramp.at(np.nextafter(8.0, 0.0))) < 1.0
