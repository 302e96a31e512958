"""The list of stills and the marked regions, read leniently, with a sentence for what makes no sense."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from onecrew.errors import Mistake
from onecrew.stills.regions import block_means, cells, region_said, regions_of
from onecrew.stills.shotlist import shot_list


def test_a_list_as_documented() -> None:
    listed = shot_list(
        {
            "white_balance_k": 4300,
            "curve": "sRGB",
            "stills": [{"file": "a.jpg", "lamp": None}, {"file": "b.jpg", "lamp": "key", "cct_k": 2700}],
        }
    )
    assert listed.curve == "sRGB" and listed.white_balance_k == 4300
    dark, key = listed.shots
    assert dark.lamp is None and key.lamp == "key"
    assert (key.output, key.cct_k, key.duv) == (1.0, 2700.0, 0.0)


def test_a_bare_list_with_other_words_for_the_same() -> None:
    [shot] = shot_list([{"name": "a.jpg", "fixture": "key", "level": 0.5, "kelvin": 3200}]).shots
    assert (shot.file, shot.lamp, shot.level, shot.cct_k) == ("a.jpg", "key", 0.5, 3200.0)


@pytest.mark.parametrize("dark", [None, "", "dark", "None"])
def test_dark_however_it_is_said(dark: str | None) -> None:
    assert shot_list([{"file": "a.jpg", "lamp": dark}]).shots[0].lamp is None


@pytest.mark.parametrize(
    ("document", "says"),
    [
        ({}, "has no stills"),
        ([], "has no stills"),
        ("text", "has no stills"),
        ([{"lamp": "key"}], "still 1: it names no file"),
        ([{"file": "a", "lamp": 5}], "still 1: the lamp is no name"),
        ([{"file": "a", "lamp": "key", "output": 2}], "output is '2'; give a number from 0 to 1"),
        ([{"file": "a", "lamp": "key", "cct_k": "warm"}], "cct_k is 'warm'"),
        ([{"file": "a"}] * 500, "400 are the most"),
        ({"stills": [{"file": "a"}], "white_balance_k": True}, "white_balance_k is 'True'"),
    ],
)
def test_what_is_no_list_is_one_sentence(document: Any, says: str) -> None:
    with pytest.raises(Mistake, match=says):
        shot_list(document)


def test_a_region_of_the_command_line() -> None:
    one = region_said("face=1,2,3,4:5,6,7,8")
    assert (one.name, one.own, one.reference, one.weight) == ("face", (1, 2, 3, 4), (5, 6, 7, 8), 2.0)
    assert region_said("wall=1,2,3,4").reference == (1, 2, 3, 4)
    assert region_said("wall=1,2,3,4").weight == 1.0


@pytest.mark.parametrize(
    "document",
    [
        {"regions": [{"name": "a", "own": [1, 2, 3, 4], "reference": [5, 6, 7, 8]}]},
        [{"name": "a", "present": [1, 2, 3, 4], "target": [5, 6, 7, 8]}],
        {"a": {"own": {"x": 1, "y": 2, "w": 3, "h": 4}, "reference": [5, 6, 7, 8]}},
        [{"name": "a", "x": 1, "y": 2, "w": 3, "h": 4, "reference": [5, 6, 7, 8]}],
    ],
)
def test_regions_from_json(document: Any) -> None:
    [one] = regions_of(document, "file")
    assert (one.name, one.own, one.reference) == ("a", (1, 2, 3, 4), (5, 6, 7, 8))


def test_regions_by_name_alone() -> None:
    assert [one.name for one in regions_of({"a": [1, 2, 3, 4], "b": [1, 2, 3, 4]}, "file")] == ["a", "b"]


@pytest.mark.parametrize(
    ("document", "says"),
    [
        ([], "lists 0 regions"),
        ([{"name": "a"}], "has no place"),
        ([{"name": "a", "own": [1, 2, 3]}], "is no rectangle"),
        ([{"name": "a", "own": [1, 2, 0, 4]}], "has no area"),
        ([{"name": "a", "own": [1, 2, 3, 4], "weight": -1}], "the weight is '-1'"),
    ],
)
def test_what_is_no_region_is_one_sentence(document: Any, says: str) -> None:
    with pytest.raises(Mistake, match=says):
        regions_of(document, "file")


@pytest.mark.parametrize("text", ["face", "=1,2,3,4", "face=1,2,3", "face=a,b,c,d", "face=nan,0,1,1"])
def test_what_is_no_region_on_the_command_line(text: str) -> None:
    with pytest.raises(Mistake):
        region_said(text)


def test_pixels_and_fractions() -> None:
    assert cells((20, 10, 40, 20), (100, 50), 2, "a", "it") == (slice(5, 15), slice(10, 30))
    assert cells((0.1, 0.2, 0.2, 0.4), (100, 50), 2, "a", "it") == (slice(10, 30), slice(10, 30))
    with pytest.raises(Mistake, match="lies outside the stills, of 200 × 100 pixels"):
        cells((500, 0, 10, 10), (100, 50), 2, "a", "the stills")


def test_block_means_are_means_of_blocks() -> None:
    picture = np.random.default_rng(2).random((25, 37, 3))
    means = block_means(picture)
    assert means.shape == (2 * 3, 3)
    np.testing.assert_allclose(means[4], picture[10:20, 10:20].mean(axis=(0, 1)))
    valid = (picture[:, :, 0] > 0.5).astype(float)
    expected = picture[:10, :10][valid[:10, :10] > 0].mean(axis=0)
    np.testing.assert_allclose(block_means(picture, valid)[0], expected)
