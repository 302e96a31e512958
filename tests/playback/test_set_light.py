"""Changes by hand: absolute values, nudges, ratios kept, and what cannot be."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from onecrew.colour.locus_table import white_to_uv76_fast
from onecrew.colour.spaces import uv76_to_xy, xy_to_uv76
from onecrew.commands.light import SetLight
from onecrew.commands.running import Go, Recall
from onecrew.errors import Refused
from onecrew.playback.edits import edited
from onecrew.playback.render import look_of
from onecrew.show.light import Effect, White
from tests.colour.hues import uv76_to_hue
from tests.playback.stage import Stage, cue, stage

LAWS = {"lin": "linear", "sq": "square", "log": "log", "tab": "table"}


def lit(**levels: float) -> Stage:
    look = {name: {"level": level, "white": {"cct_k": 4000}} for name, level in levels.items()}
    return stage(LAWS, [cue("1", look), cue("2", {"lin": 1.0})]).do(0.0, Recall(cue="1", fade_s=0.0))


def test_what_is_not_named_stays() -> None:
    desk = lit(lin=0.5, sq=0.4).do(1.0, SetLight(fixtures=("lin",), level=0.7))
    frame = desk.frame(1.0)
    assert frame.level.tolist() == [0.7, 0.4, 0.0, 0.0]
    assert 1e6 / frame.mired[0] == pytest.approx(4000.0)
    assert edited(desk.playback, desk.compiled) == {"lin"}


def test_a_change_can_take_its_time() -> None:
    desk = lit(lin=0.2).do(1.0, SetLight(fixtures=("lin",), level=1.0, fade_s=2.0))
    assert desk.level(2.0, "lin") == pytest.approx(0.6)
    assert desk.level(3.0, "lin") == 1.0


def test_a_new_colour_leaves_a_running_fade_of_the_level_alone() -> None:
    desk = lit(lin=0.5).do(0.0, Go()).do(1.0, SetLight(fixtures=("lin",), cct_k=2800))
    assert desk.level(1.0, "lin") == pytest.approx(0.75)
    assert desk.level(2.0, "lin") == 1.0
    assert 1e6 / desk.frame(1.0).mired[0] == pytest.approx(2800.0)


def test_cct_keeps_the_tint_and_tint_keeps_the_cct() -> None:
    desk = (
        lit(lin=0.5)
        .do(1.0, SetLight(fixtures=("lin",), duv=0.004))
        .do(2.0, SetLight(fixtures=("lin",), cct_k=3000))
    )
    assert look_of(desk.playback, 2.0, desk.compiled)["lin"].white == White(cct_k=3000, duv=0.004)


def test_warmth_is_nudged_in_mired() -> None:
    desk = lit(lin=0.5).do(1.0, SetLight(fixtures=("lin",), mired_by=50.0, duv_by=-0.001))
    white = look_of(desk.playback, 1.0, desk.compiled)["lin"].white
    assert white is not None
    assert white.cct_k == pytest.approx(1e6 / 300.0)  # 4000 K is 250 mired
    assert white.duv == pytest.approx(-0.001)


@pytest.mark.parametrize("by", [-1000.0, 1000.0])
def test_nudges_stop_at_the_ends(by: float) -> None:
    desk = lit(lin=0.5)
    desk.do(1.0, SetLight(fixtures=("lin",), mired_by=by, duv_by=by / 1e4, level_by=by / 1000))
    light = look_of(desk.playback, 1.0, desk.compiled).get("lin")
    assert light is not None and light.white is not None
    assert light.white.cct_k == (25000.0 if by < 0 else 1000.0)
    assert abs(light.white.duv) == 0.05
    assert light.level == (0.0 if by < 0 else 1.0)


def test_a_colour_has_no_warmth_to_nudge() -> None:
    desk = lit(lin=0.5).do(1.0, SetLight(fixtures=("lin",), xy=(0.64, 0.33)))
    with pytest.raises(Refused, match="lin has a colour, not a white"):
        desk.do(2.0, SetLight(fixtures=("lin",), mired_by=10.0))
    desk.do(3.0, SetLight(fixtures=("lin",), cct_k=3200))
    assert desk.frame(3.0).white[0]


def test_nudges_count_from_what_shows_where_a_cue_fades() -> None:
    desk = lit(lin=0.5).do(0.0, Go()).do(1.0, SetLight(fixtures=("lin",), level_by=0.1))
    assert desk.level(1.0, "lin") == pytest.approx(0.85)  # 0.75 was showing
    assert desk.level(9.0, "lin") == pytest.approx(0.85)


def test_nudges_with_a_fade_add_up() -> None:
    desk = lit(lin=0.5)
    for step in range(4):
        desk.do(1.0 + step / 20, SetLight(fixtures=("lin",), level_by=0.05, fade_s=0.5))
    assert desk.level(3.0, "lin") == pytest.approx(0.7)


levels = st.floats(0.02, 1.0)


@settings(max_examples=80, deadline=None)
@given(levels, levels, levels, levels, st.floats(-6.0, 6.0))
def test_lamps_nudged_together_by_stops_keep_their_ratio(
    lin: float, sq: float, log: float, tab: float, stops: float
) -> None:
    desk = lit(lin=lin, sq=sq, log=log, tab=tab)
    before = desk.outputs((0.0,))[0]
    desk.do(1.0, SetLight(fixtures=tuple(LAWS), stops_by=stops))
    after = desk.outputs((1.0,))[0]
    moved = np.log2(after / before)
    # Ratio in stops = log2 of the quotient of outputs (definition); common to all, no further than asked.
    assert moved == pytest.approx(np.full(4, moved[0]), abs=1e-6)
    assert abs(moved[0]) <= abs(stops) + 1e-6
    if after.max() < 1.0 - 1e-9 and after[2] > 0.0011:
        assert moved[0] == pytest.approx(stops, abs=1e-6)


def test_stops_down_end_where_the_first_log_law_ends_and_no_lamp_goes_on_alone() -> None:
    desk = lit(lin=0.5, log=0.1)
    before = desk.outputs((0.0,))[0]
    desk.do(1.0, SetLight(fixtures=("lin", "log"), stops_by=-6.0))
    after = desk.outputs((1.0,))[0]
    # The end of the logarithmic curve, 0.1 %, is IEC 62386-102's; that the ratio stays is the definition.
    assert after[2] == pytest.approx(0.001, rel=1e-6)
    assert after[0] / before[0] == pytest.approx(0.001 / before[2], rel=1e-6)


def test_stops_down_end_where_the_darkest_of_several_log_laws_ends() -> None:
    look = {"one": {"level": 0.9}, "other": {"level": 0.5}}
    desk = stage({"one": "log", "other": "log"}, [cue("1", look)]).do(0.0, Recall(cue="1", fade_s=0.0))
    before = desk.outputs((0.0,))[0]
    desk.do(1.0, SetLight(fixtures=("one", "other"), stops_by=-9.0))
    after = desk.outputs((1.0,))[0]
    assert after[1] == pytest.approx(0.001, rel=1e-6)  # IEC 62386-102: the curve ends at 0.1 %
    assert after[0] / after[1] == pytest.approx(before[0] / before[1], rel=1e-6)


def test_one_stop_up_doubles_the_output() -> None:
    desk = lit(lin=0.2, sq=0.5).do(1.0, SetLight(fixtures=("lin", "sq"), stops_by=1.0))
    assert desk.level(1.0, "lin") == pytest.approx(0.4)
    assert desk.level(1.0, "sq") == pytest.approx(np.sqrt(0.5))


def test_stops_from_black_are_refused_and_black_lamps_among_lit_ones_stay_black() -> None:
    desk = lit(lin=0.2)
    with pytest.raises(Refused, match="at black"):
        desk.do(1.0, SetLight(fixtures=("sq",), stops_by=1.0))
    desk.do(1.0, SetLight(fixtures=("lin", "sq"), stops_by=1.0))
    assert desk.frame(1.0).level.tolist()[:2] == pytest.approx([0.4, 0.0])


def test_an_unknown_fixture_is_refused_and_nothing_changes() -> None:
    desk = lit(lin=0.2)
    before = desk.playback
    with pytest.raises(Refused, match=r"no fixture lamp .* lin, sq, log, tab"):
        desk.do(1.0, SetLight(fixtures=("lin", "lamp"), level=1.0))
    assert desk.playback is before


def test_an_effect_is_put_on_and_taken_off() -> None:
    flame = Effect(kind="flame", seed=5)
    desk = lit(lin=0.5).do(1.0, SetLight(fixtures=("lin",), effect=flame))
    assert look_of(desk.playback, 1.0, desk.compiled)["lin"].effect == flame
    assert desk.moving(1.0)
    desk.do(2.0, SetLight(fixtures=("lin",), effect="none"))
    assert look_of(desk.playback, 2.0, desk.compiled)["lin"].effect is None
    assert desk.level(2.0, "lin") == 0.5
    assert not desk.moving(2.0)


def test_going_to_another_cue_drops_edits() -> None:
    desk = lit(lin=0.5).do(1.0, SetLight(fixtures=("sq",), level=0.9)).do(2.0, Go())
    assert edited(desk.playback, desk.compiled) == set()
    assert desk.frame(9.0).level.tolist() == [1.0, 0.0, 0.0, 0.0]


@settings(max_examples=60, deadline=None)
@given(st.floats(0.0, 1.0), st.floats(1000.0, 25000.0), st.floats(-0.05, 0.05))
def test_what_was_set_is_what_would_be_stored(level: float, cct_k: float, duv: float) -> None:
    assume(level > 0.0)
    desk = lit(lin=0.5).do(1.0, SetLight(fixtures=("sq",), level=level, cct_k=cct_k, duv=duv))
    light = look_of(desk.playback, 1.0, desk.compiled)["sq"]
    assert light.level == level
    assert light.white == White(cct_k=cct_k, duv=duv)


def test_a_hue_lies_around_the_white_balance_of_the_camera() -> None:
    desk = lit(lin=0.5).do(1.0, SetLight(fixtures=("lin",), level=0.3, hue=(30.0, 0.8)))
    [light] = [light for light in desk.playback.asked if light.level == 0.3]
    assert light.white is None and light.xy is not None
    white = xy_to_uv76(uv76_to_xy(white_to_uv76_fast(1e6 / desk.compiled.camera_white_k, 0.0)))
    hue, saturation = uv76_to_hue(xy_to_uv76(light.xy), white)
    assert (float(hue), float(saturation)) == pytest.approx((30.0, 0.8), abs=1e-4)


@pytest.mark.parametrize("change", [{"level": 0.6}, {"level_by": 0.3}])
def test_lamps_keep_their_ratio_to_the_one_that_leads(change: dict[str, float]) -> None:
    """0.3 to 0.6 is a stop by the linear law; by the square law a stop is a factor of √2 in level."""
    desk = lit(lin=0.3, sq=0.5).do(1.0, SetLight(fixtures=("sq", "lin", "tab"), lead="lin", **change))
    assert desk.level(1.0, "lin") == pytest.approx(0.6)
    assert desk.level(1.0, "sq") == pytest.approx(0.5 * 2**0.5)
    assert desk.level(1.0, "tab") == 0.0


def test_the_leading_lamp_goes_where_it_was_sent_though_another_is_full_before() -> None:
    desk = lit(lin=0.3, tab=0.4, sq=0.9).do(1.0, SetLight(fixtures=("lin", "sq"), lead="lin", level=1.0))
    assert (desk.level(1.0, "lin"), desk.level(1.0, "sq")) == (1.0, pytest.approx(1.0))


@pytest.mark.parametrize(("lin", "level"), [(0.0, 0.4), (0.3, 0.0)])
def test_from_or_to_black_there_is_no_ratio(lin: float, level: float) -> None:
    desk = lit(lin=lin, sq=0.5).do(1.0, SetLight(fixtures=("lin", "sq"), lead="lin", level=level))
    assert (desk.level(1.0, "lin"), desk.level(1.0, "sq")) == (level, level)
