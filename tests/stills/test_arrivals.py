"""Pictures that come into a folder: whole ones, each still once, and what clips in them."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from onecrew.errors import Trouble
from onecrew.stills.arrivals import MOST_TRIES, Arrival, Folder
from onecrew.stills.regions import region_said

FACE = region_said("face=30,20,30,20")


def picture(path: Path, brightest: int = 120) -> bytes:
    codes = np.random.default_rng(3).integers(2, 60, (80, 120, 3), dtype=np.uint8)
    codes[20:40, 30:60] = brightest
    Image.fromarray(codes).save(path)
    return path.read_bytes()


def test_a_picture_counts_once_it_has_stopped_growing(tmp_path: Path) -> None:
    whole = picture(tmp_path / "before.png")
    folder = Folder(tmp_path)
    path = tmp_path / "a.png"
    path.write_bytes(whole[:2000])
    assert [folder.look() for _ in range(4)] == [None] * 4
    path.write_bytes(whole)
    assert folder.look() is None
    assert folder.look() == Arrival("a.png", "")
    assert folder.look() is None


def test_a_file_that_never_becomes_a_picture_is_named_once(tmp_path: Path) -> None:
    folder = Folder(tmp_path)
    (tmp_path / "a.jpg").write_text("hello")
    found = [one for _ in range(MOST_TRIES + 9) if (one := folder.look()) is not None]
    assert [one.name for one in found] == ["a.jpg"] and "a.jpg is not a picture" in found[0].unreadable
    picture(tmp_path / "a.png")
    folder.look()
    assert folder.look() == Arrival("a.png", "")


def test_a_picture_that_is_passed_over_counts_for_nothing(tmp_path: Path) -> None:
    folder = Folder(tmp_path)
    picture(tmp_path / "a.png")
    picture(tmp_path / "b.png")
    folder.look()
    assert folder.look() == Arrival("a.png", "")
    folder.pass_over()
    picture(tmp_path / "c.png")
    folder.look()
    assert folder.look() == Arrival("c.png", "")
    assert folder.fresh() == []


def test_a_raw_file_and_its_jpeg_are_one_still_and_other_files_none(tmp_path: Path) -> None:
    folder = Folder(tmp_path)
    picture(tmp_path / "a.jpg")
    (tmp_path / "a.dng").write_bytes(b"not whole yet")
    (tmp_path / "notes.txt").write_text("left")
    found = [folder.look() for _ in range(6)]
    assert [one for one in found if one is not None] == [Arrival("a.jpg", "")]


def test_the_marked_region_that_clips_is_named(tmp_path: Path) -> None:
    folder = Folder(tmp_path, (region_said("wall=0,50,20,20"), FACE))
    picture(tmp_path / "a.png", 255)
    folder.look()
    assert folder.look() == Arrival("a.png", "face")
    picture(tmp_path / "b.png", 200)
    folder.look()
    assert folder.look() == Arrival("b.png", "")


def test_a_folder_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(Trouble, match="there is no folder"):
        Folder(tmp_path / "none")
