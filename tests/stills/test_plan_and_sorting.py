"""What to take, and which file shows which still."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from onecrew.errors import Mistake
from onecrew.stills.guided import as_document, said
from onecrew.stills.run_plan import left_of, planned
from onecrew.stills.shotlist import Shot, shot_list
from onecrew.stills.sorting import Taken, sorted_into
from tests.stills.stage import PROFILES, the_rig

SHOW = the_rig()


def test_dark_first_then_each_lamp_warm_and_cool() -> None:
    shots = planned(SHOW.rig.fixtures, PROFILES)
    assert [(shot.lamp, shot.cct_k) for shot in shots[:3]] == [(None, None), ("key", 2700), ("key", 6500)]
    assert len(shots) == 1 + 2 * len(SHOW.rig.fixtures)
    assert all(2200 <= (shot.cct_k or 2200) <= 8000 for shot in shots)


def test_one_white_a_lamp_lies_in_the_middle() -> None:
    shots = planned(SHOW.rig.fixtures[:1], PROFILES, one_white=True)
    assert [shot.cct_k for shot in shots] == [None, 3800]


def test_a_ladder_steps_down_in_whole_stops() -> None:
    shots = planned(SHOW.rig.fixtures[:1], PROFILES, ladder="key")
    outputs = [shot.output for shot in shots if shot.cct_k == 6500]
    assert outputs == [2.0**-n for n in range(11)]


def test_what_is_left_of_a_run_that_was_stopped_is_what_its_list_does_not_have() -> None:
    shots = planned(SHOW.rig.fixtures, PROFILES, ladder="key")
    document = as_document([(shot, "2026-01-05T14:02:11") for shot in shots[:4]], None, None)
    taken = shot_list(json.loads(json.dumps(document))).shots
    assert left_of(shots, taken) == shots[4:]
    assert left_of(shots, []) == shots
    assert left_of(shots, shots) == []


def test_a_still_that_was_taken_with_less_light_is_not_left() -> None:
    shots = planned(SHOW.rig.fixtures, PROFILES)
    assert left_of(shots, [replace(shots[2], output=0.25)]) == [*shots[:2], *shots[3:]]


def test_a_lamp_of_one_colour_is_taken_once() -> None:
    shots = planned(the_rig({"desk": ("practical-dimmer", "8-bit", 0, 0)}).rig.fixtures, PROFILES)
    assert [(shot.lamp, shot.cct_k) for shot in shots] == [(None, None), ("desk", None)]


def test_shots_in_words() -> None:
    assert said(Shot("", None)) == "every lamp out"
    assert said(Shot("", "key", output=0.5, cct_k=2700)) == "key alone at 2700 K, 50 % of its light"


def test_the_list_that_is_written_can_be_read() -> None:
    shots = planned(SHOW.rig.fixtures, PROFILES)
    document = as_document(
        [(shot, f"2026-01-05T10:00:{n:02}+01:00") for n, shot in enumerate(shots)], "sRGB", 4300
    )
    for n, entry in enumerate(document["stills"]):
        entry["file"] = f"{n}.jpg"
    listed = shot_list(json.loads(json.dumps(document)))
    assert [(shot.lamp, shot.cct_k, shot.output) for shot in listed.shots] == [
        (shot.lamp, shot.cct_k, shot.output) for shot in shots
    ]
    assert (listed.curve, listed.white_balance_k) == ("sRGB", 4300)


def test_as_many_files_as_stills_go_by_their_order() -> None:
    files = [Taken("b", 200.0), Taken("a", 100.0), Taken("c", 300.0)]
    assert sorted_into(files, [0.0, 1.0, 2.0]) == ["a", "b", "c"]


def test_files_of_one_second_go_by_their_names() -> None:
    assert sorted_into([Taken("2", 1.0), Taken("1", 1.0)], [0.0, 0.2]) == ["1", "2"]


def test_too_few_files_are_refused() -> None:
    with pytest.raises(Mistake, match="there are 1 pictures for 2 stills"):
        sorted_into([Taken("a", 1.0)], [0.0, 1.0])


@given(
    st.lists(st.floats(2.0, 9.0), min_size=4, max_size=12),
    st.floats(-1e6, 1e6),
    st.lists(
        st.tuples(st.integers(0, 3), st.floats(0.25, 0.45)), min_size=1, max_size=2, unique_by=lambda x: x[0]
    ),
)
def test_a_camera_clock_that_is_off_and_a_picture_too_many(
    gaps: list[float], clock: float, extra: list[tuple[int, float]]
) -> None:
    """A picture taken within a gap, far from either end, is left out whatever the clock says."""
    shots = [sum(gaps[:n]) for n in range(len(gaps) + 1)]
    files = [Taken(f"still-{n:02}", clock + at + 0.3) for n, at in enumerate(shots)]
    files += [
        Taken(f"extra-{n}", clock + 0.3 + shots[n] + part * gaps[n]) for n, part in extra if n < len(gaps)
    ]
    assert sorted_into(files, shots) == [f"still-{n:02}" for n in range(len(shots))]


def test_times_that_fit_nothing_are_refused() -> None:
    files = [Taken(str(n), 5000.0 * n * n) for n in range(6)]
    with pytest.raises(Mistake, match="their times do not say which is which"):
        sorted_into(files, [0.0, 5.0, 10.0, 15.0, 20.0])
