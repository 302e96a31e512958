"""Which stills of a grey card are taken: what the lamp is told, past the readings that it has."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from onecrew.errors import Mistake
from onecrew.fixtures.describe import describe_lights
from onecrew.show.light import Light, White
from onecrew.show.show import Fixture, Reading
from onecrew.stills.card_run import as_listed, closing_shots, first_shots, named
from onecrew.stills.guided import as_entry, guided
from onecrew.stills.shotlist import Shot, shot_list
from tests.stills.stage import PROFILES


def lamp(name: str, kind: str, **fields: object) -> Fixture:
    fixture = Fixture(id=name, profile=kind, mode="16-bit", universe=1, address=1, role="key")
    return fixture.model_copy(update=fields)


OFF = tuple(
    Reading(asked_cct_k=k, measured_cct_k=0.97 * k, measured_duv=0.003, light=1.0 - k / 2e4)
    for k in (2700.0, 3200.0, 4300.0, 5600.0, 6500.0)
)
SKY, HOOD = lamp("sky", "panel-rgbww"), lamp("hood", "spot-six")


def slots(fixture: Fixture, cct_k: float, duv: float = 0.0) -> tuple[int, ...]:
    light = Light(level=1.0, white=White(cct_k=cct_k, duv=duv))
    return describe_lights(fixture, PROFILES, [light])[0].slots


def test_a_dark_one_and_then_white_by_white_the_other_and_the_lamp() -> None:
    shots = first_shots(SKY, HOOD, PROFILES)
    assert [shot.lamp for shot in shots[:5]] == [None, "hood", "sky", "hood", "sky"]
    assert [(shot.cct_k, shot.duv) for shot in shots[1::2]] == [
        (shot.cct_k, shot.duv) for shot in shots[2::2]
    ]
    assert {shot.cct_k for shot in shots[1:]} >= {2700.0, 3200.0, 4300.0, 5600.0, 6500.0}
    assert {round(shot.duv, 3) for shot in shots[1:]} == {-0.01, 0.0, 0.01}


def test_whites_that_the_other_lamp_does_not_give_are_left_out() -> None:
    shots = first_shots(SKY, lamp("hood", "panel-bicolour"), PROFILES)
    assert 0.01 not in {shot.duv for shot in shots}, "it has no tint"
    assert 2000.0 not in {shot.cct_k for shot in shots}, "and begins at 2700 K"
    with pytest.raises(Mistake, match="hood gives hardly a white that sky gives"):
        first_shots(SKY, Fixture(id="hood", profile="practical-dimmer", mode="8-bit", universe=1, address=1,
                                 role="key"), PROFILES)  # fmt: skip
    with pytest.raises(Mistake, match="hood has no tint of its own"):
        first_shots(lamp("hood", "panel-bicolour"), SKY, PROFILES)


@pytest.mark.parametrize("even", [False, True])
def test_the_lamp_is_lit_as_if_it_had_no_readings(even: bool) -> None:
    read = lamp("sky", "panel-rgbww", calibration=OFF, even=even)
    for shot in first_shots(read, HOOD, PROFILES)[2::2]:
        assert shot.told is not None and shot.cct_k is not None
        if not even:  # it dims, too
            assert slots(read, *shot.told) == pytest.approx(slots(SKY, shot.cct_k, shot.duv), abs=2)
        light = guided([shot], 0.0).light
        assert light is not None and (light.cct_k, light.duv) == shot.told


def test_what_even_output_takes_is_on_the_list() -> None:
    read = lamp("sky", "panel-rgbww", calibration=OFF, even=True)
    shots = first_shots(read, HOOD, PROFILES)
    listed = as_listed(read, PROFILES, shots)
    assert [shot.output for shot in listed[1::2]] == [1.0] * len(shots[1::2]), "the other one is as it is"
    assert min(shot.output for shot in listed[2::2]) < 0.9
    assert as_listed(SKY, PROFILES, shots) == shots


def test_the_closing_check_shows_what_the_corrected_lamp_will_send() -> None:
    """Between the readings, under the other lamp, the lamp as it was and as it is corrected."""
    shots = closing_shots(SKY, HOOD, PROFILES, OFF)
    assert [(shot.lamp, shot.how) for shot in shots[:3]] == [
        ("hood", ""), ("sky", "as it was"), ("sky", "corrected")
    ]  # fmt: skip
    for other, was, corrected in zip(shots[::3], shots[1::3], shots[2::3], strict=True):
        assert other.cct_k == was.cct_k == corrected.cct_k and other.cct_k is not None
        assert other.cct_k not in {one.asked_cct_k for one in OFF}
        assert was.told is None and corrected.told is not None
        after = SKY.model_copy(update={"calibration": OFF})
        assert slots(SKY, *corrected.told) == pytest.approx(slots(after, other.cct_k), abs=2)
    assert guided(shots, 0.0).pressed("skip", 1.0, "").pressed("skip", 2.0, "").words.endswith(", corrected")


def test_a_still_survives_its_entry() -> None:
    shot = Shot("a.png", "sky", 0.5, cct_k=4300.0, duv=0.01, told=(4250.0, 0.008), how="corrected")
    assert shot_list({"stills": [as_entry(shot)]}).shots == (shot,)


def test_pictures_are_named_in_the_order_of_their_times_beside_those_that_came(tmp_path: Path) -> None:
    for n, name in enumerate(("c.jpg", "b.jpg", "x.jpg")):
        (tmp_path / name).write_bytes(b"no picture")
        os.utime(tmp_path / name, (1000.0 + n, 1000.0 + n))
    taken = [
        (Shot(file, "sky"), f"2026-01-05T10:00:{n:02}+00:00") for n, file in enumerate(("x.jpg", "", ""))
    ]
    files = list(tmp_path.iterdir())
    assert [shot.file for shot, _ in named(taken, files)] == ["x.jpg", "c.jpg", "b.jpg"]
    with pytest.raises(Mistake, match="there are 1 pictures for 2 stills"):
        named(taken, [file for file in files if file.name != "b.jpg"])
