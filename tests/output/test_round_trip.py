"""decode(encode(frame)) is what the report says, within half a step of every channel, for every mode."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from controller.colour.spaces import xy_to_uv76
from controller.documents.profile import Channel, Mode, Profile
from controller.documents.show import Fixture, Reading
from controller.output.decoder import Decoder, Seen
from controller.output.dimming import Law, law_of, output_of
from controller.output.encoder import Encoder, FixtureReport
from controller.playback.frame import Frame
from tests.fakes.profiles import all_profiles, colours, kinds, rig, whites

KINDS = kinds()
MIXINGS = [("brightest", False), ("brightest", True), ("truest", False), ("truest", True)]
levels = st.one_of(st.floats(0.0, 1.0), st.floats(0.0, 0.03))
frames = st.one_of(
    st.builds(
        lambda level, cct_k, duv: whites([level], [cct_k], duv),
        levels,
        st.floats(1000.0, 25000.0),
        st.floats(-0.05, 0.05),
    ),
    st.builds(
        lambda level, x, y: colours([level], [(x, y)]), levels, st.floats(0.1, 0.66), st.floats(0.05, 0.33)
    ),
)


@cache
def built(kind: tuple[str, str], mixing: str, even: bool) -> tuple[Fixture, Encoder, Decoder]:
    [lamp] = rig(kind, mixing=mixing, even=even)
    return lamp, Encoder([lamp], all_profiles()), Decoder([lamp], all_profiles())


def there_and_back(
    kind: tuple[str, str], frame: Frame, mixing: tuple[str, bool] = ("brightest", False)
) -> tuple[FixtureReport, Seen]:
    lamp, encoder, decoder = built(kind, *mixing)
    [report] = encoder.report(frame, 5600.0)
    [seen] = decoder.decode({lamp.universe: encoder.encode(frame)[0].tobytes()})
    return report, seen


def half_step(law: Law, bits: int, level: float) -> float:
    """The most that rounding to a slot can change the output around a level."""
    near = np.clip(level + np.array([-0.5, 0.0, 0.5]) / (2**bits - 1), 0.0, 1.0)
    darkest = 0.5 * float(output_of(1.0 / (2**bits - 1), law))
    return max(float(np.ptp(output_of(near, law))), darkest) + 1e-9


@pytest.mark.parametrize("kind", KINDS)
@settings(max_examples=12)
@given(frame=frames, mixing=st.sampled_from(MIXINGS))
def test_the_decoder_sees_what_the_report_tells(
    kind: tuple[str, str], frame: Frame, mixing: tuple[str, bool]
) -> None:
    profile = all_profiles()[kind[0]]
    mode = profile.mode(kind[1])
    assert mode is not None
    report, seen = there_and_back(kind, frame, mixing)
    if mode.emitters:
        agree_in_xyz(profile, mode, report, seen)
    else:
        agree_in_white(profile, mode, report, seen)


def agree_in_xyz(profile: Profile, mode: Mode, report: FixtureReport, seen: Seen) -> None:
    law = law_of(profile)
    flux = np.array([profile.emitters[name].flux for name in mode.emitters])
    slack, dimmed, dimmer_slack = np.zeros(3), 1.0, 0.0
    if mode.dimmer is not None:
        dimmed, dimmer_slack = report.output, half_step(law, mode.dimmer.bits, report.level)
    for channel in mode.channels:
        if channel.emitter is not None:
            drive = report.drives[channel.emitter]
            if mode.dimmer is not None:
                off = (0.5 / (2**channel.bits - 1)) * (dimmed + dimmer_slack) + drive * dimmer_slack
            else:
                off = around(law, channel, drive * report.output)
            slack += off * xyz(profile.emitters[channel.emitter].xy, profile.emitters[channel.emitter].flux)
    told, got = xyz(report.xy, report.light), xyz(seen.xy, seen.light)
    assert (np.abs(told - got) <= slack / flux.sum() + 1e-6).all()


def around(law: Law, channel: Channel, output: float) -> float:
    """``half_step`` around an output instead of a level, on the generous side."""
    steps = all_outputs(law, channel.bits)
    at = int(np.clip(np.searchsorted(steps, output), 1, len(steps) - 1))
    return float(steps[at] - steps[at - 1]) + 1e-9


@cache
def all_outputs(law: Law, bits: int) -> np.ndarray:
    return output_of(np.linspace(0.0, 1.0, 2**bits), law)


def agree_in_white(profile: Profile, mode: Mode, report: FixtureReport, seen: Seen) -> None:
    assert mode.dimmer is not None
    assert seen.output == pytest.approx(
        report.output, abs=2 * half_step(law_of(profile), mode.dimmer.bits, report.level)
    )
    if mode.cct is None:
        assert seen.xy == pytest.approx(report.xy, abs=1e-9)
        return
    assert report.white is not None and seen.cct_k is not None and seen.duv is not None
    assert mode.cct.cct is not None
    span_k = mode.cct.cct.coolest_k - mode.cct.cct.warmest_k
    assert seen.cct_k == pytest.approx(report.white.cct_k, abs=2 * span_k / 2**mode.cct.bits)
    tint_step = 0.05 / 2**mode.tint.bits if mode.tint is not None else 0.0
    assert seen.duv == pytest.approx(report.white.duv, abs=tint_step + 1e-6)


# By the log law an emitter has no light between black and 0.1 %: without a dimmer, faint parts of a mix go.
FINE = [kind for kind in KINDS if kind[1] in ("16-bit", "3-segment") and kind[0] != "log-rgb"]


@pytest.mark.parametrize("kind", FINE)
@settings(max_examples=12)
@given(
    level=st.floats(0.1, 1.0),
    cct_k=st.floats(2800.0, 6400.0),
    mixing=st.sampled_from(MIXINGS),
)
def test_at_16_bit_the_light_comes_back_as_it_was(
    kind: tuple[str, str], level: float, cct_k: float, mixing: tuple[str, bool]
) -> None:
    report, seen = there_and_back(kind, whites([level], [cct_k]), mixing)
    assert seen.level == pytest.approx(level, abs=2e-3)
    assert np.hypot(*(xy_to_uv76(seen.xy) - xy_to_uv76(report.xy))) <= 5e-4
    if report.off_by == 0.0:
        assert seen.cct_k == pytest.approx(cct_k, rel=2e-3)
        assert seen.duv == pytest.approx(0.0, abs=5e-4)


READINGS = (
    Reading(asked_cct_k=2800, measured_cct_k=2720, measured_duv=0.002, light=500),
    Reading(asked_cct_k=4000, measured_cct_k=4050, measured_duv=0.0, light=640),
    Reading(asked_cct_k=6000, measured_cct_k=6200, measured_duv=-0.002, light=700),
)


@pytest.mark.parametrize("profile", ["spot-six", "panel-rgbww", "panel-cct-tint", "cct-table"])
@pytest.mark.parametrize("mixing", MIXINGS)
@pytest.mark.parametrize("frame", [whites([0.4], [3300], 0.001), colours([0.4], [(0.36, 0.37)])])
def test_a_calibrated_lamp_is_seen_as_the_meter_sees_it(
    profile: str, mixing: tuple[str, bool], frame: Frame
) -> None:
    [lamp] = rig((profile, "16-bit"), mixing=mixing[0], even=mixing[1], calibration=READINGS)
    encoder, decoder = Encoder([lamp], all_profiles()), Decoder([lamp], all_profiles())
    [report] = encoder.report(frame, 5600.0)
    [seen] = decoder.decode({1: encoder.encode(frame)[0].tobytes()})
    assert seen.level == pytest.approx(0.4, abs=1e-3)
    assert seen.xy == pytest.approx(report.xy, abs=2e-4)
    assert report.off_by == 0.0


@settings(max_examples=80)
@given(st.sampled_from(KINDS), st.floats(0.0, 0.015), st.sampled_from(MIXINGS))
def test_black_is_black_and_nothing_else_is(
    kind: tuple[str, str], level: float, mixing: tuple[str, bool]
) -> None:
    report, seen = there_and_back(kind, whites([level], [4000.0]), mixing)
    if level >= 0.5 * report.darkest_level:
        assert seen.level > 0.0
    assert (seen.level == 0.0) == (seen.output == 0.0) == (seen.light == 0.0)
    if level == 0.0:
        assert seen.level == 0.0
    if seen.level == 0.0 and level > 0.0:
        assert any("darkest step" in note for note in report.notes)


def xyz(xy: tuple[float, float], light: float) -> np.ndarray:
    x, y = xy
    return light / y * np.array([x, y, 1.0 - x - y])
