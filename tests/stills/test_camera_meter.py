"""The camera as the meter: a lamp comes nearer to another on cameras that the program does not know."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from onecrew.errors import Mistake
from onecrew.show.show import Fixture, Reading
from onecrew.stills.camera_meter import Card, Difference, differences, never_worse
from onecrew.stills.grey_card import MIDDLE, Metered, card_in, clipped, metered
from onecrew.stills.kit import Lamp
from onecrew.stills.shotlist import read_shot_list, shot_list
from onecrew.stills.stack import read_plate
from onecrew.stills.transfer import Curve, curve_called
from onecrew.stills.views import View
from tests.stills.cards import WHITES_K, Camera, FloatArray, Sample, invented, published, shots
from tests.stills.stage import PROFILES, Recorder

SRGB = curve_called("sRGB")
ASKS = [*((k, 0.0) for k in WHITES_K), (4300.0, -0.01), (4300.0, 0.01)]
BETWEEN = [(k, 0.0) for k in (2700.0, 2950.0, 3700.0, 4300.0, 4900.0, 5600.0, 6200.0)]
KINDS = (
    ("panel-rgbww", "16-bit"),
    ("spot-six", "16-bit"),
    ("tube-rgbww-8", "16-bit"),
    ("bulb-rgbww", "8-bit"),
)


def look(gamma: float, bend: float) -> Curve:
    """A camera's own look around sRGB: another contrast, and shoulders (own arithmetic)."""

    def encode(light: object) -> FloatArray:
        stops = np.log(np.maximum(np.asarray(light, dtype=float), 1e-6) / 0.18)
        return np.asarray(SRGB.encode(0.18 * np.exp(gamma * stops + bend * stops**2 * (np.abs(stops) < 3.0))))

    return Curve("look", SRGB.decode, encode)


@dataclass
class Trial:
    """Two lamps and a camera drawn by a seed, and the run of stills taken of them."""

    folder: Path
    seed: int
    noise: float = 0.01
    off: float = 1.0

    def __post_init__(self) -> None:
        rng = np.random.default_rng(self.seed)
        kinds = [KINDS[at] for at in rng.integers(len(KINDS), size=2)]
        lamps = [Sample.made(kind, rng, off) for kind, off in zip(kinds, (self.off, 0.5), strict=True)]
        self.lamps = {
            name: Sample(lamp.fixture.model_copy(update={"id": name}), lamp.emitters)
            for name, lamp in zip(("sky", "hood"), lamps, strict=True)
        }
        sensor = published()[self.seed // 3 % 2] if self.seed % 3 == 0 else invented(rng)
        self.camera = Camera.of(sensor, float(rng.choice([3200, 4300, 5600])), rng, rng.uniform(0.3, 1.0))
        curve = look(float(np.exp(rng.normal(0.0, 0.08))), float(rng.normal(0.0, 0.04)))
        self.recorder = Recorder(curve, noise=self.noise)
        self.falls = {name: float(0.18 * np.exp(rng.normal(0.0, 0.4))) for name in self.lamps}

    def read(self, **more: object) -> Metered:
        asks = dict.fromkeys(("hood", "sky"), ASKS)
        listed = shots(self.folder, self.lamps, self.camera, self.recorder, asks, self.falls)
        return self.metered(listed)

    def metered(self, listed: Path, **more: object) -> Metered:
        fixture, other = (self.lamps[name].fixture for name in ("sky", "hood"))
        return metered(fixture, other, PROFILES, self.folder, read_shot_list(listed))

    def apart(self, readings: tuple[Reading, ...] = ()) -> float:
        """Mean difference of the two on the camera, Δu′v′, over whites in and between those read."""
        seen = [
            self.camera.uv(self.lamps["sky"].power(*white, readings))
            - self.camera.uv(self.lamps["hood"].power(*white))
            for white in BETWEEN
        ]
        return float(np.hypot(*np.array(seen).T).mean())


@pytest.mark.parametrize(("as_bright", "left"), [(True, 0.25), (False, 0.35)])
def test_it_more_than_halves_what_is_seen_on_cameras_that_it_does_not_know_and_is_never_worse(
    as_bright: bool, left: float, tmp_path: Path
) -> None:
    """Every third camera is one of the two published sensors in colour-science, the rest are invented."""
    before, after = [], []
    for seed in range(12):
        trial = Trial(tmp_path, seed)
        if as_bright:
            trial.falls = dict.fromkeys(trial.falls, 0.18)
        found = trial.read()
        before.append(trial.apart())
        after.append(trial.apart(found.readings if found.worth_keeping else ()))
    assert all(b >= a for b, a in zip(before, after, strict=True)), (before, after)
    assert np.mean(after) < left * np.mean(before)
    assert np.mean(before) > 0.005


def test_noise_alone_does_not_pull_a_lamp_away(tmp_path: Path) -> None:
    """The two are one and the same lamp, and the stills are bad: what is stored moves it hardly at all."""
    for seed in range(6):
        trial = Trial(tmp_path, seed, noise=0.05)
        trial.lamps["sky"] = Sample(trial.lamps["hood"].fixture, trial.lamps["hood"].emitters)
        trial.lamps["sky"] = Sample(
            trial.lamps["sky"].fixture.model_copy(update={"id": "sky"}), trial.lamps["hood"].emitters
        )
        found = trial.read()
        assert trial.apart() == 0.0
        assert trial.apart(found.readings if found.worth_keeping else ()) < 0.0004


def test_a_difference_is_followed_by_a_step_at_most_and_that_is_said(tmp_path: Path) -> None:
    """The lamp has a green filter over it that nobody told of."""
    trial = Trial(tmp_path, 3, noise=0.002)
    lamp = trial.lamps["sky"]
    green = np.exp(-0.5 * ((np.arange(360, 831) - 540.0) / 60.0) ** 2) + 0.25
    emitters = {name: (shape * green, flux) for name, (shape, flux) in lamp.emitters.items()}
    trial.lamps["sky"] = Sample(lamp.fixture, emitters)
    found = trial.read()
    kept = [float(np.hypot(*one.kept)) for one in found.differences]
    assert max(kept) == pytest.approx(0.02) and max(one.off_by for one in found.differences) > 0.03
    assert any("go through the run once more when these readings are stored" in one for one in found.notes)
    assert trial.apart(found.readings) < trial.apart()


@given(
    off=st.tuples(st.floats(-0.05, 0.05), st.floats(-0.05, 0.05)),
    spread=st.tuples(st.floats(1e-4, 0.02), st.floats(1e-4, 0.02)),
    turn=st.floats(0.0, 3.2),
    missed=st.tuples(st.floats(-1.0, 1.0), st.floats(-1.0, 1.0)),
)
def test_what_is_kept_never_makes_worse_within_the_error(
    off: tuple[float, float], spread: tuple[float, float], turn: float, missed: tuple[float, float]
) -> None:
    """Off by e, measured as e + m with m within twice its standard error along each axis."""
    axes = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    wrong = axes @ (2.0 * np.array(missed) * np.array(spread))
    kept = never_worse(np.array(off) + wrong, axes @ np.diag(np.square(spread)) @ axes.T)
    assert np.hypot(*(np.array(off) - kept)) <= np.hypot(*off) + 1e-9


def cards(
    lamp: Sample, camera: Camera, curve: Curve, light: float, whites: list[tuple[float, float]]
) -> list[Card]:
    scale = light / camera.rgb(lamp.power(4300.0))[1]
    return [
        Card(
            1e6 / k,
            duv,
            np.log(SRGB.decode(curve.encode(scale * camera.rgb(lamp.power(k, duv))))),
            np.full(3, 1e-4),
        )
        for k, duv in whites
    ]  # fmt: skip


def test_two_stills_of_a_white_tell_the_bend_of_an_unknown_curve() -> None:
    """A card of half the light must not look like another white, as it does under a curve that bends."""
    rng = np.random.default_rng(1)
    lamp = Sample.made(KINDS[0], rng, 0.0)
    camera = Camera.of(published()[0], 5600.0, rng)
    curve = look(1.1, 0.08)
    bright = cards(lamp, camera, curve, 0.4, ASKS[:5])
    half = cards(lamp, camera, curve, 0.2, ASKS[:5])
    views = View(Lamp(lamp.fixture, PROFILES), 1), View(Lamp(lamp.fixture, PROFILES), 2)
    blind = differences(bright, half, views)
    told = differences([*bright, *half], half, views)
    assert max(np.hypot(*one.shift) for one in told) < 0.2 * max(np.hypot(*one.shift) for one in blind)
    assert max(np.hypot(*one.kept) for one in blind) < 0.5 * max(np.hypot(*one.shift) for one in blind)


def test_stills_that_say_nothing_are_left_out_and_named(tmp_path: Path) -> None:
    trial = Trial(tmp_path, 0)
    trial.falls["sky"] = 0.9
    found = trial.read()
    assert any("is clipped at the card" in note for note in found.notes)
    trial.falls["sky"] = 0.0003
    with pytest.raises(Mistake, match=r"no still shows the card under sky: .* too dark at the card"):
        trial.read()


def test_how_bright_the_lamp_is_beside_the_other_one(tmp_path: Path) -> None:
    """The card's light is set by hand; the profiles promise how much of it each lamp gives."""
    trial = Trial(tmp_path, 9, noise=0.002)
    trial.recorder = Recorder(SRGB, noise=0.002)
    trial.falls = {"sky": 0.3, "hood": 0.15}
    one = trial.read().stops
    trial.falls["sky"] = 0.15
    assert one - trial.read().stops == pytest.approx(1.0, abs=0.02)


@dataclass(frozen=True)
class InLight(Recorder):
    """A recorder in a room with other light, in every still alike."""

    other: tuple[float, float, float] = (0.02, 0.03, 0.06)

    def write(self, path: Path, light: FloatArray, shift: tuple[int, int] = (0, 0)) -> Path:
        return super().write(path, light + np.array(self.other), shift)


def test_other_light_is_taken_off_by_the_dark_still(tmp_path: Path) -> None:
    """Light adds up, so the lamp is off by as much as in a dark room."""
    dark, lit = Trial(tmp_path, 9), Trial(tmp_path, 9)
    dark.recorder, lit.recorder = Recorder(SRGB, noise=0.002), InLight(SRGB, noise=0.002)
    seen = [np.array([one.shift for one in trial.read().differences]) for trial in (dark, lit)]
    assert np.abs(seen[0] - seen[1]).mean() < 0.001


@pytest.mark.parametrize(
    "told",
    [
        {"even": True},
        {"calibration": (Reading(asked_cct_k=4300, measured_cct_k=4100, measured_duv=0.0, light=0.8),)},
    ],
)
def test_what_a_lamp_was_set_to_does_not_count_as_it_was_pictured_without(
    told: dict[str, object], tmp_path: Path
) -> None:
    trial = Trial(tmp_path, 9, noise=0.002)
    plain = trial.read()
    sky = trial.lamps["sky"]
    trial.lamps["sky"] = Sample(sky.fixture.model_copy(update=told), sky.emitters)
    again = trial.metered(tmp_path / "stills.json")
    assert again.readings == plain.readings and again.stops == plain.stops


def test_readings_of_a_lamp_that_is_as_bright_everywhere_promise_what_they_promised(tmp_path: Path) -> None:
    """How much brighter it is beside the other lamp at all whites alike is no fault of any white."""
    trial = Trial(tmp_path, 9, noise=0.002)
    trial.recorder = Recorder(SRGB, noise=0.002)
    trial.falls = {"sky": 0.3, "hood": 0.15}
    bright = trial.read().readings
    trial.falls = {"sky": 0.15, "hood": 0.15}
    for one, other in zip(bright, trial.read().readings, strict=True):
        assert one.light == pytest.approx(other.light, rel=0.05)


def test_a_card_brighter_under_one_lamp_is_said(tmp_path: Path) -> None:
    trial = Trial(tmp_path, 9, noise=0.002)
    trial.recorder = Recorder(SRGB, noise=0.002)
    trial.falls = {"sky": 0.4, "hood": 0.15}
    said = [note for note in trial.read().notes if "brighter" in note]
    assert len(said) == 1 and said[0].endswith("named with --curve, would be surer")
    assert float(said[0].split()[3]) == pytest.approx(np.log2(0.4 / 0.15), abs=0.25)
    assert "brighter under sky than under hood: stills with sky lowered" in said[0]
    trial.falls = {"sky": 0.15, "hood": 0.16}
    assert not any("brighter" in note for note in trial.read().notes)


def test_the_card_may_lie_elsewhere_and_must_lie_in_the_picture(tmp_path: Path) -> None:
    trial = Trial(tmp_path, 1)
    asks = dict.fromkeys(("hood", "sky"), ASKS[:3])
    listed = read_shot_list(shots(tmp_path, trial.lamps, trial.camera, trial.recorder, asks, trial.falls))
    fixture, other = (trial.lamps[name].fixture for name in ("sky", "hood"))
    here = metered(fixture, other, PROFILES, tmp_path, listed, (46.0, 36.0, 30.0, 20.0))
    there = metered(fixture, other, PROFILES, tmp_path, listed)
    assert np.allclose(here.differences[0].shift, there.differences[0].shift, atol=1e-3)
    with pytest.raises(Mistake, match="lies outside"):
        metered(fixture, other, PROFILES, tmp_path, listed, (300.0, 10.0, 20.0, 20.0))
    with pytest.raises(Mistake, match="say with --card where it lies"):
        metered(fixture, other, PROFILES, tmp_path, listed, (70.0, 20.0, 40.0, 40.0))


@pytest.mark.parametrize(
    ("kept", "beyond"), [((0.0, 0.0), False), ((0.0, 0.03), False), ((0.03, -0.09), True)]
)
def test_what_lies_too_far_from_white_is_said(kept: tuple[float, float], beyond: bool) -> None:
    """Whites end at |Duv| 0.05 (CIE 15:2004)."""
    one = Difference(232.6, 0.0, np.array(kept), np.eye(2) * 1e-8, np.array(kept))
    assert one.beyond_whites is beyond
    assert abs(one.read_as[1]) <= 0.05


@pytest.mark.parametrize("kind", [("panel-bicolour", "16-bit"), ("practical-dimmer", "8-bit")])
def test_a_lamp_without_a_tint_of_its_own_is_refused(kind: tuple[str, str], tmp_path: Path) -> None:
    fixture = Fixture(id="sky", profile=kind[0], mode=kind[1], universe=1, address=1, role="key")
    other = fixture.model_copy(update={"id": "fridge", "address": 20})
    with pytest.raises(Mistake, match=r"sky has no tint of its own|sky gives no white near"):
        metered(fixture, other, PROFILES, tmp_path, shot_list({"stills": [{"file": "a.png", "lamp": "sky"}]}))


@pytest.mark.parametrize(
    ("level", "top", "is_clipped"), [(0.6, 1.0, False), (1.3, 1.0, True), (1.3, 0.9, True)]
)
def test_a_bright_card_is_no_clipped_one(tmp_path: Path, level: float, top: float, is_clipped: bool) -> None:
    """It is the brightest thing in the picture, of one code but for its grain; a log curve clips at 0.9."""
    light = np.full((96, 128, 3), 0.001)
    light[34:62, 44:84] = level
    for curve in ("sRGB", "linear"):
        path = Recorder(curve_called(curve), noise=0.01, top=top).write(tmp_path / f"{curve}.png", light)
        assert clipped(card_in(read_plate(path, SRGB), MIDDLE)) is is_clipped
