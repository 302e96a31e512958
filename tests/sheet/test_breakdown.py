"""Breakdown chains, played through the playback: what stands at the end of each step is what was promised."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from onecrew.commands.cues import PutCue
from onecrew.commands.running import Recall
from onecrew.commands.scenes import NewScene
from onecrew.commands.session import Undo
from onecrew.commands.table import apply_edit
from onecrew.engine.desk import Desk
from onecrew.errors import Refused
from onecrew.sheet.breakdown import ORDER, Breakdown, Pace, breakdown, pace_of
from onecrew.show.check import check_show
from onecrew.show.numbers import free_run, next_number
from onecrew.show.scenes import scenes_of
from onecrew.show.show import Cue, Show
from tests.sheet.sheets import bakery, profiles


def cue(number: str) -> Cue:
    found = bakery().cue(number)
    assert found is not None
    return found


def with_chains(made: Breakdown) -> Show:
    show = bakery()
    for one in made.cues:
        show = apply_edit(show, PutCue(cue=one), profiles())
    return show


def lit_at_the_end_of_each_step(show: Show, first: str, steps: int, pace: Pace) -> list[set[str]]:
    """Runs a chain by recalling its first cue and nothing else."""
    desk = Desk(show, profiles(), 0.0)
    desk.carry_out(Recall(cue=first), 0.0)
    found = []
    for step in range(steps):
        now = (step + 1) * pace.step_s - 0.01
        desk.advance(now)
        frame = desk.frame(now)
        found.append(
            {name for name, level in zip(desk.compiled.ids, frame.level.tolist(), strict=True) if level > 0}
        )
    return found


def test_lamps_come_in_the_order_of_their_roles() -> None:
    made = breakdown(bakery(), cue("3"))
    added = [one.name.split("+ ")[1] for one in made.build[1:]]
    roles = {fixture.id: fixture.role for fixture in bakery().rig.fixtures}
    assert [roles[lamp] for lamp in added] == ["ambience", "key", "practical", "edge", "background"]
    assert list(ORDER).index("ambience") < list(ORDER).index("key")


def test_the_build_runs_by_itself_lamp_by_lamp_from_black() -> None:
    pace = Pace(1.0, 2.0)
    made = breakdown(bakery(), cue("3"), pace=pace)
    steps = lit_at_the_end_of_each_step(with_chains(made), made.build[0].number, len(made.build), pace)
    assert steps[0] == set()
    for before, after in pairwise(steps):
        assert before < after and len(after - before) == 1
    assert steps[-1] == {"tone", "window", "pendant", "edge", "oven"}


def test_each_lamp_goes_away_from_the_finished_look_and_comes_back() -> None:
    pace = Pace(1.0, 2.0)
    made = breakdown(bakery(), cue("3"), pace=pace)
    steps = lit_at_the_end_of_each_step(with_chains(made), made.away[0].number, len(made.away), pace)
    whole = {"tone", "window", "pendant", "edge", "oven"}
    assert steps[0::2] == [whole] * 6
    assert [whole - step for step in steps[1::2]] == [{"tone"}, {"window"}, {"pendant"}, {"edge"}, {"oven"}]


def test_the_finished_look_is_the_look_of_the_cue() -> None:
    made = breakdown(bakery(), cue("4"))
    assert made.build[-1].look == {n: light for n, light in cue("4").look.items() if light.level > 0}
    assert made.away[0].look == made.build[-1].look


def test_a_given_order_comes_first() -> None:
    made = breakdown(bakery(), cue("3"), ["oven", "edge"])
    assert [one.name.split("+ ")[1] for one in made.build[1:]] == [
        "oven",
        "edge",
        "tone",
        "window",
        "pendant",
    ]
    by_role = breakdown(bakery(), cue("3"), ["practical"])
    assert by_role.build[1].name.endswith("+ pendant")


def test_the_chains_disturb_nothing() -> None:
    show = with_chains(breakdown(bakery(), cue("3")))
    assert show.cues[: len(bakery().cues)] == bakery().cues
    assert check_show(show, profiles()) == []
    chains = show.cues[len(bakery().cues) :]
    assert [one.number for one in chains if one.auto_follow_s is None] == ["106", "211"]
    assert all(one.shortcut is None for one in chains)


@pytest.mark.parametrize(
    ("number", "order", "said"),
    [("6", [], "lights no lamp"), ("3", ["windw"], "perhaps window was meant"), ("3", ["sun"], "roles are")],
)
def test_what_cannot_be_broken_down_is_told(number: str, order: list[str], said: str) -> None:
    with pytest.raises(Refused, match=said):
        breakdown(bakery(), cue(number), order)


# ── A film as long as a take ────────────────────────────────────────────────────────────────────────


@given(st.floats(6.0, 3600.0))
def test_the_build_lasts_as_long_as_the_take(length_s: float) -> None:
    pace = pace_of(length_s, cue("3"), 5)
    assert 6 * pace.step_s == pytest.approx(length_s, abs=0.061)  # a hundredth of a second a step
    assert 0.0 < pace.fade_s <= pace.step_s / 2 + 0.01


def test_a_take_that_is_too_short_is_refused() -> None:
    with pytest.raises(Refused, match="too short for black and 5 lamps"):
        pace_of(5.0, cue("3"), 5)


def test_the_chains_are_a_scene_and_one_step_of_undo() -> None:
    desk = Desk(bakery(), profiles(), 0.0)
    made = breakdown(bakery(), cue("3"))
    desk.carry_out(NewScene(name="Breakdown 3", cues=made.cues), 0.0)
    assert check_show(desk.show, profiles()) == []
    assert (desk.show.scene, desk.show.cues) == ("Breakdown 3", made.cues)
    assert bakery().cues in [scene.cues for scene in scenes_of(desk.show)]
    desk.carry_out(Undo(), 1.0)
    assert desk.show == bakery()


# ── Numbers ─────────────────────────────────────────────────────────────────────────────────────────


def numbered(*numbers: str, follow: str = "") -> Show:
    cues = tuple(Cue(number=n, auto_follow_s=1.0 if n == follow else None) for n in numbers)
    return Show(name="x", cues=cues)


@pytest.mark.parametrize(
    ("numbers", "follow", "number"),
    [
        ((), "", "1"),
        (("1", "2", "3"), "", "4"),
        (("1", "2.5"), "", "3"),
        (("10", "20", "30"), "", "31"),
        (("1", "2", "101", "102"), "", "3"),
        (("1", "2", "101", "102"), "2", "103"),
    ],
)
def test_the_next_number(numbers: tuple[str, ...], follow: str, number: str) -> None:
    assert next_number(numbered(*numbers, follow=follow)) == number


def test_numbers_that_are_not_there_are_told() -> None:
    with pytest.raises(Refused):
        next_number(numbered("9999"))
    with pytest.raises(Refused):
        next_number(numbered("3", follow="3"))
    with pytest.raises(Refused, match="do not fit"):
        free_run(numbered("9990"), 5)
    with pytest.raises(Refused, match="comes after"):
        free_run(numbered("1", "50"), 5, 20)


def test_a_run_of_numbers_stands_behind_all_others() -> None:
    assert free_run(numbered("1", "6"), 3) == ["101", "102", "103"]
    assert free_run(numbered("1", "250.5"), 2) == ["301", "302"]
    assert free_run(numbered("1"), 2, 40) == ["40", "41"]
