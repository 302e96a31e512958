"""A run of stills as a person takes it: keys, countdown, pictures that come; no lamp and no clock."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from onecrew.stills.guided import KEYS, SETTLE_S, SHUTTER_S, Guided, Phase, as_document, guided
from onecrew.stills.shotlist import Shot, shot_list

SHOTS = (Shot("", None), Shot("", "key", cct_k=2700.0), Shot("", "key", cct_k=6500.0), Shot("", "bulb"))


class Driven:
    """A run and its clock."""

    def __init__(self, **how: Any) -> None:
        self.now = 100.0
        self.run = guided(SHOTS, self.now, **how)

    def later(self, seconds: float) -> Driven:
        for _ in range(round(seconds / 0.1)):
            self.now += 0.1
            self.run = self.run.passed(self.now, f"{self.now:.1f}")
        return self

    def press(self, *keys: str) -> Driven:
        for key in keys:
            self.later(SETTLE_S + 0.1)
            self.run = self.run.pressed(key, self.now, f"{self.now:.1f}")
        return self

    def files(self) -> list[tuple[str, str | None, float]]:
        return [(shot.file, shot.lamp, shot.output) for shot, _ in self.run.result]

    @property
    def phase(self) -> Phase:
        return self.run.phase(self.now)


def test_the_clicker_takes_one_after_the_other() -> None:
    driven = Driven()
    seen = []
    while (light := driven.run.light) is not None:
        seen.append((light.fixture, light.output, light.cct_k))
        driven.press("next")
    assert seen == [(None, 1.0, None), ("key", 1.0, 2700.0), ("key", 1.0, 6500.0), ("bulb", 1.0, None)]
    assert driven.run.over and len(driven.run.result) == 4
    assert driven.run.words == "4 of 4 stills are taken"


def test_a_key_waits_until_the_light_stands() -> None:
    driven = Driven()
    assert driven.phase is Phase.SETTLING
    early = driven.run.pressed("next", driven.now + SETTLE_S - 0.01, "")
    assert early.at == 0 and not early.result


def test_back_takes_it_again_and_skip_leaves_it_out() -> None:
    driven = Driven().press("next", "next", "back")
    assert driven.run.at == 1 and [shot.lamp for shot, _ in driven.run.result] == [None]
    driven.press("skip", "next", "skip")
    assert [(s.lamp, s.cct_k) for s, _ in driven.run.result] == [(None, None), ("key", 6500.0)]
    assert Driven().press("back").run.at == 0


def test_less_is_a_stop_and_leaves_darkness_alone() -> None:
    driven = Driven().press("less")
    assert driven.run.shots == SHOTS
    driven.press("next", "less", "less")
    light = driven.run.light
    assert light is not None and light.output == 0.25
    driven.press(*["less"] * 20, "next", "stop")
    assert driven.files()[1][2] == 2.0**-12


def test_stop_keeps_what_was_taken() -> None:
    driven = Driven().press("next", "next", "stop", "next", "back")
    assert driven.run.over and driven.run.light is None and len(driven.run.result) == 2


def test_a_countdown_takes_each_and_leaves_the_shutter_its_time() -> None:
    driven = Driven(wait_s=3.0)
    assert driven.run.left_s(driven.now) == 3.0
    driven.later(SETTLE_S + 1.0)
    assert driven.phase is Phase.COUNTING and driven.run.left_s(driven.now) == pytest.approx(2.0, abs=0.15)
    driven.later(2.2)
    assert driven.phase is Phase.OPEN and driven.run.at == 0 and len(driven.run.result) == 1
    driven.later(SHUTTER_S)
    assert driven.run.at == 1
    driven.press("again")
    assert driven.run.at == 1 and driven.run.left_s(driven.now) == 3.0
    driven.later(4 * (SETTLE_S + 3.0 + SHUTTER_S + 0.2))
    assert driven.run.over and len(driven.run.result) == 4


def test_again_while_the_shutter_is_open_takes_it_anew() -> None:
    driven = Driven(wait_s=1.0).later(SETTLE_S + 1.2)
    assert driven.phase is Phase.OPEN and len(driven.run.result) == 1
    driven.run = driven.run.pressed("again", driven.now, "")
    assert driven.run.at == 0 and not driven.run.result and driven.run.left_s(driven.now) == 1.0


def test_a_countdown_stands_while_the_light_is_somewhere_else() -> None:
    driven = Driven(wait_s=3.0).later(1.0)
    driven.run = driven.run.halted("a cue ran")
    assert driven.run.light is None and driven.phase is Phase.PAUSED
    driven.later(30.0)
    assert driven.run.at == 0 and not driven.run.result
    driven.press("less")
    assert driven.run.paused == "a cue ran"
    driven.press("next")
    assert driven.run.at == 0 and driven.run.light is not None and driven.run.left_s(driven.now) == 3.0


def test_a_picture_takes_its_still_and_one_that_clips_is_asked_for_again() -> None:
    driven = Driven(by_picture=True).later(5.0)
    assert driven.phase is Phase.PICTURE and driven.run.at == 0
    for file, clipped in (("1.jpg", "face"), ("2.jpg", ""), ("3.jpg", "face"), ("4.jpg", "")):
        driven.later(1.0)
        driven.run = driven.run.arrived(file, clipped, driven.now, "12:00")
    # The dark still has nothing to lower; the key's first was lowered by a stop, and its second not.
    assert driven.files() == [("1.jpg", None, 1.0), ("2.jpg", "key", 1.0), ("4.jpg", "key", 0.5)]
    assert driven.run.remark == "" and driven.run.shots[driven.run.at].lamp == "bulb"


def test_a_still_that_is_taken_again_by_a_key_forgets_its_picture() -> None:
    driven = Driven(by_picture=True).later(1.0)
    driven.run = driven.run.arrived("1.jpg", "", driven.now, "12:00")
    driven.press("back", "next")
    assert driven.files() == [("", None, 1.0)]


def test_what_clips_is_said() -> None:
    driven = Driven(by_picture=True).press("next")
    driven.run = driven.run.arrived("7.jpg", "cheek", driven.now, "")
    assert driven.run.remark == "cheek is clipped in 7.jpg: once more at 50 %"


def test_with_pictures_and_a_countdown_the_picture_decides() -> None:
    driven = Driven(by_picture=True, wait_s=2.0).later(20.0)
    assert driven.run.at == 0 and not driven.run.result and driven.phase is Phase.PICTURE


def test_the_list_is_read_back() -> None:
    driven = Driven().press("next", "next", "skip", "less", "next")
    shots = shot_list({**as_document(driven.run.result, "S-Log3", 4300.0)})
    assert (shots.curve, shots.white_balance_k) == ("S-Log3", 4300.0)
    assert [(s.lamp, s.output, s.cct_k) for s in shots.shots] == [
        (None, 1.0, None),
        ("key", 1.0, 2700.0),
        ("bulb", 0.5, None),
    ]


presses = st.one_of(
    st.tuples(st.just("press"), st.sampled_from(KEYS)),
    st.tuples(st.just("picture"), st.sampled_from(("", "face"))),
    st.tuples(st.just("wait"), st.floats(0.0, 6.0)),
    st.tuples(st.just("halt"), st.just("")),
)


@given(st.lists(presses, max_size=30), st.sampled_from((None, 0.0, 2.0)), st.booleans())
def test_whatever_happens_it_stays_a_run(
    steps: list[tuple[str, Any]], wait_s: float | None, by_picture: bool
) -> None:
    run: Guided = guided(SHOTS, 0.0, wait_s, by_picture=by_picture)
    now = 0.0
    for what, how in steps:
        match what:
            case "press":
                run = run.pressed(how, now, "t")
            case "picture":
                run = run.arrived("f", how, now, "t")
            case "halt":
                run = run.halted("gone")
            case _:
                now += how
                run = run.passed(now, "t")
        assert 0 <= run.at <= len(SHOTS) and len(run.shots) == len(run.taken) == len(SHOTS)
        assert [(a.lamp, a.cct_k) for a in run.shots] == [(b.lamp, b.cct_k) for b in SHOTS]
        assert all(0.0 < shot.output <= 1.0 for shot in run.shots)
        assert (run.light is None) == (run.over or bool(run.paused))
        assert not run.over or run.phase(now) is Phase.OVER
