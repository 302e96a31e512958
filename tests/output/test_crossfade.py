"""A crossfade from tungsten to daylight stays on the locus, after rounding to slots."""

from __future__ import annotations

import numpy as np
import pytest

from controller.colour.locus import white_to_uv60
from controller.colour.spaces import xy_to_uv76
from controller.documents.commands import Recall
from controller.documents.light import Light, White
from controller.documents.show import Cue, Fade, Fixture, Rig, Show
from controller.output.decoder import Decoder
from controller.output.encoder import Encoder
from controller.playback.apply import apply
from controller.playback.render import render
from controller.playback.score import compile_score
from controller.playback.state import begin
from tests.fakes.profiles import all_profiles, rig, whites

# Planckian chromaticities (u′, v′): CIE 1931 2° colour-matching functions at 1 nm, c2 = 1.4388e-2 m·K.
# Computed with numpy; luxpy 1.12 and colour-science 0.4.7 agree in all printed digits.
LOCUS = {
    2800: (0.258211, 0.525394),
    3000: (0.250571, 0.521385),
    3200: (0.243988, 0.517321),
    4000: (0.225111, 0.501581),
    4300: (0.220161, 0.496140),
    5000: (0.211424, 0.484674),
    5600: (0.206099, 0.476195),
}
WITHIN = 5e-4
SIXTEEN_BIT = [
    ("spot-six", "16-bit", "brightest"),
    ("spot-six", "16-bit", "truest"),
    ("panel-rgbww", "16-bit", "brightest"),
    ("panel-rgbww", "16-bit", "truest"),
    ("tube-rgbww-8", "16-bit", "brightest"),
    ("tube-rgbww-8", "16-bit", "truest"),
    ("panel-cct-tint", "16-bit", "brightest"),
    ("cct-table", "16-bit", "brightest"),
    ("rgb", "16-bit", "brightest"),
    ("table-segments", "3-segment", "brightest"),
]


def sent(
    level: float, cct_k: list[float], *kind: str, **more: object
) -> tuple[list[Fixture], dict[int, bytes]]:
    """As many lamps of a kind as whites, one white each, and the slots that go out."""
    lamps = rig(*[(kind[0], kind[1])] * len(cct_k), mixing=kind[2], **more)
    encoder = Encoder(lamps, all_profiles())
    rows = encoder.encode(whites([level] * len(cct_k), cct_k))
    return list(lamps), {
        universe: row.tobytes() for universe, row in zip(encoder.universes, rows, strict=True)
    }


@pytest.mark.parametrize("kind", SIXTEEN_BIT)
@pytest.mark.parametrize("even", [False, True])
def test_a_crossfade_stays_on_the_locus(kind: tuple[str, str, str], even: bool) -> None:
    mired = np.linspace(1e6 / 2800, 1e6 / 5600, 133)  # three seconds at 44 Hz, linear in mired
    path = white_to_uv60(1e6 / mired) * (1.0, 1.5)
    uv = np.vstack((path, list(LOCUS.values())))
    for level in (0.1, 0.37, 1.0):
        lamps, slots = sent(level, [*(1e6 / mired), *LOCUS], *kind, even=even)
        seen = xy_to_uv76([lamp.xy for lamp in Decoder(lamps, all_profiles()).decode(slots)])
        assert np.hypot(*(seen - uv).T).max() <= WITHIN


@pytest.mark.parametrize("kind", SIXTEEN_BIT)
def test_no_slot_value_jumps_on_the_way(kind: tuple[str, str, str]) -> None:
    mired = np.linspace(1e6 / 2800, 1e6 / 5600, 1200)  # steps of 0.15 mired
    lamps, slots = sent(0.5, list(1e6 / mired), *kind)
    values = np.array([channel_values(lamp, slots[lamp.universe]) for lamp in lamps])
    assert np.ptp(values, axis=0).max() > 0.1 * 65535
    assert np.abs(np.diff(values, axis=0)).max() <= 0.01 * 65535


def channel_values(lamp: Fixture, slots: bytes) -> list[int]:
    """The 16-bit channels of a lamp's first block."""
    mode = all_profiles()[lamp.profile].mode(lamp.mode)
    assert mode is not None
    values, at = [], lamp.address - 1
    for channel in mode.channels:
        if channel.bits == 16:
            values.append(256 * slots[at] + slots[at + 1])
        at += channel.width
    return values


@pytest.mark.parametrize("curve", ["linear", "ease", "stops"])
def test_a_fade_that_is_played_stays_on_the_locus_and_ends_on_the_white(curve: str) -> None:
    lamps = rig(("spot-six", "16-bit"), ("panel-rgbww", "16-bit"), ("panel-cct-tint", "16-bit"))
    show = Show(
        name="fade",
        rig=Rig(fixtures=lamps),
        cues=(
            Cue(number="1", look={lamp.id: Light(level=0.15, white=White(cct_k=2800)) for lamp in lamps}),
            Cue(
                number="2",
                look={lamp.id: Light(level=1.0, white=White(cct_k=5600)) for lamp in lamps},
                fade=Fade(in_s=3.0, out_s=3.0, curve=curve),
            ),
        ),
    )
    score = compile_score(show, all_profiles())
    playback = apply(begin(score, 0.0), Recall(cue="1", fade_s=0.0), 0.0, score)
    playback = apply(playback, Recall(cue="2"), 10.0, score)
    encoder, decoder = Encoder(lamps, all_profiles()), Decoder(lamps, all_profiles())
    locus = white_to_uv60(1e6 / np.linspace(1e6 / 5600, 1e6 / 2800, 1801)) * (1.0, 1.5)
    for now in 10.0 + np.arange(0, 134, 3) / 44.0:
        slots = encoder.encode(render(playback, float(now), score))[0].tobytes()
        for one in decoder.decode({1: slots}):
            assert np.hypot(*(locus - xy_to_uv76(one.xy)).T).min() <= WITHIN
    end = decoder.decode({1: encoder.encode(render(playback, 13.0, score))[0].tobytes()})
    assert [one.level for one in end] == pytest.approx([1.0] * 3, abs=1e-4)
    assert [one.cct_k for one in end] == pytest.approx([5600.0] * 3, rel=1e-4)
