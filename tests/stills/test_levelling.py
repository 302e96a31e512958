"""A card as bright under one lamp as under the other: what the run does with the light of its pictures."""

from __future__ import annotations

import pytest

from onecrew.stills.guided import Guided, as_entry, guided
from onecrew.stills.shotlist import Shot, shot_list

PROMISED = {"hood": (0.8, 1.0, 0.6), "sky": (0.5, 0.9, 0.9)}
"""By lamp: light that its profile promises at three whites."""
KELVINS = (2700.0, 4300.0, 5600.0)


def shots() -> list[Shot]:
    pairs = [
        Shot("", name, cct_k=k, promised=PROMISED[name][n])
        for n, k in enumerate(KELVINS)
        for name in ("hood", "sky")
    ]
    return [Shot("", None), *pairs]


def room(run: Guided, gains: dict[str, float]) -> Guided:
    """The run to its end in a room where each lamp gives the card so much for what its profile promises."""
    for n in range(20):
        if run.over:
            break
        shot = run.shots[run.at]
        light = 0.001 if shot.lamp is None else gains[shot.lamp] * shot.output * shot.promised
        run = run.arrived(f"{n}.png", "", float(n), "t", light)
    return run


def lights(run: Guided, gains: dict[str, float]) -> list[float]:
    return [gains[shot.lamp] * shot.output * shot.promised for shot in run.shots if shot.lamp is not None]


@pytest.mark.parametrize(("brighter", "gains"), [("sky", (0.2, 0.7)), ("hood", (0.6, 0.3))])
def test_the_brighter_lamp_is_lowered_and_its_first_still_taken_once_more(
    brighter: str, gains: tuple[float, float]
) -> None:
    by_lamp = dict(zip(("hood", "sky"), gains, strict=True))
    run = room(guided(shots(), 0.0, by_picture=True), by_lamp)
    assert len(run.result) == 8 and [shot.lamp for shot in run.shots[:4]] == [None, "hood", "sky", brighter]
    assert run.shots[3].cct_k == 2700.0 and run.shots[3].file == "3.png"
    first, second, *rest = lights(run, by_lamp)
    assert rest[0] == pytest.approx(min(first, second)), "the first white has both lamps at one light"
    most = [min(by_lamp[name] * PROMISED[name][n] for name in by_lamp) for n in (1, 2)]
    assert rest[1:] == pytest.approx([most[0], most[0], most[1], most[1]]), "and so has each further one"


def test_lamps_that_are_as_bright_already_need_no_still_more() -> None:
    run = room(guided(shots(), 0.0, by_picture=True), {"hood": 0.25, "sky": 0.41})
    assert len(run.shots) == 7
    assert lights(run, {"hood": 0.25, "sky": 0.41})[2:] == pytest.approx([0.25, 0.25, 0.15, 0.15])


def test_a_still_that_had_to_be_darker_has_its_white_as_dark_under_the_other_lamp() -> None:
    gains = {"hood": 0.25, "sky": 0.41}
    run = guided(shots(), 0.0, by_picture=True)
    for n in range(3):
        run = run.arrived(f"{n}.png", "", float(n), "t", (0.001, *lights(run, gains))[n])
    run = run.arrived("3.png", "the card", 3.0, "t", 0.2)
    run = run.arrived("4.png", "", 4.0, "t", lights(run, gains)[2])
    assert lights(run, gains)[3] == pytest.approx(lights(run, gains)[2])
    assert lights(run, gains)[4:] == pytest.approx([0.15, 0.15]), "the others are not"


def test_a_lamp_is_lowered_by_three_stops_at_most() -> None:
    run = room(guided(shots(), 0.0, by_picture=True), {"hood": 0.9, "sky": 0.01})
    assert min(shot.output for shot in run.shots) == 0.125


def test_pictures_whose_light_nobody_told_change_no_output() -> None:
    run = guided(shots(), 0.0, by_picture=True)
    for n in range(7):
        run = run.arrived(f"{n}.png", "", float(n), "t")
    assert run.over and {shot.output for shot in run.shots} == {1.0}


def test_what_is_promised_survives_the_entry() -> None:
    shot = Shot("a.png", "sky", 0.5, cct_k=4300.0, promised=0.25)
    assert shot_list({"stills": [as_entry(shot)]}).shots == (shot,)
