"""Floods put together: nothing between first and last is lost, no lamp is logged more than twice a second."""

from __future__ import annotations

from itertools import pairwise

from hypothesis import given, settings
from hypothesis import strategies as st

from onecrew.log.coalesce import SPAN_S, Coalescer
from onecrew.log.happenings import Happening, changed
from onecrew.show.light import Light

STEPS = st.lists(
    st.tuples(st.floats(0.001, 1.5), st.sampled_from([("a",), ("b",), ("a", "b")]), st.floats(0.0, 1.0)),
    min_size=1,
    max_size=40,
)


@given(steps=STEPS)
@settings(max_examples=60)
def test_each_lamp_is_told_from_where_it_was_told_before(
    steps: list[tuple[float, tuple[str, ...], float]],
) -> None:
    coalescer = Coalescer()
    now, at = 0.0, {"a": Light(level=0.0), "b": Light(level=0.0)}
    told: list[tuple[float, Happening]] = []
    for wait, lamps, level in steps:
        until = now + wait
        while coalescer.due() <= until:
            now = coalescer.due()
            told += [(now, happening) for happening in coalescer.told(now)]
        now = until
        lights = {lamp: (at[lamp], Light(level=level)) for lamp in lamps}
        at |= {lamp: new for lamp, (_, new) in lights.items()}
        told += [(now, happening) for happening in coalescer.take(changed(lights, "set", 0.0), now)]
    told += [(now, happening) for happening in coalescer.told(now, everything=True)]
    assert coalescer.due() == float("inf")
    for lamp in ("a", "b"):
        mine = [(when, happening.lights[lamp]) for when, happening in told if lamp in happening.lights]
        if mine:
            assert mine[0][1][0].level == 0.0 and mine[-1][1][1] == at[lamp]
        for (before, (_, went)), (after, (came, _)) in pairwise(mine):
            assert came == went
            assert after - before >= SPAN_S - 1e-9 or after == now  # at the end everything is logged
