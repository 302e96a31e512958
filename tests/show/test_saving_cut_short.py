"""However a save is cut short, the file is the old show or the new one, whole, and the next save works."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from onecrew.show.disk import Disk
from onecrew.show.load import load_show
from onecrew.show.save import ShowFile, newest_good_version, save_show
from onecrew.show.show import Show
from tests.show.shows import PROFILES, show_data


class PowerCut(BaseException):
    """The machine is off: nothing catches this, nothing tidies up."""


class CutDisk(Disk):
    """Goes off at the n-th step of writing: before it, or in the middle of it where it has a middle."""

    def __init__(self, steps: int, *, halfway: bool) -> None:
        self.left, self.halfway = steps, halfway
        self.done: list[str] = []

    def _step(self, name: str) -> bool:
        """Whether this step is the one that is cut."""
        self.left -= 1
        self.done.append(name)
        if self.left >= 0:
            return False
        if not self.halfway:
            raise PowerCut(name)
        return True

    def make_folder(self, folder: Path) -> None:
        cut = self._step("make_folder")
        super().make_folder(folder)
        if cut:
            raise PowerCut

    def remove(self, path: Path) -> None:
        cut = self._step("remove")
        super().remove(path)
        if cut:
            raise PowerCut

    def write(self, path: Path, content: bytes, like: Path | None = None) -> None:
        if self._step("write"):
            path.write_bytes(content[: len(content) // 2])
            raise PowerCut
        super().write(path, content, like)

    def replace(self, source: Path, target: Path) -> None:
        cut = self._step("replace")
        super().replace(source, target)
        if cut:
            raise PowerCut

    def sync_folder(self, folder: Path) -> None:
        cut = self._step("sync_folder")
        super().sync_folder(folder)
        if cut:
            raise PowerCut


def show(name: str) -> Show:
    return Show.model_validate(show_data(name=name))


def steps_of_a_save(folder: Path) -> list[str]:
    path = folder / "kitchen.json"
    save_show(show("Before"), path)
    disk = CutDisk(10_000, halfway=False)
    ShowFile(path, disk).save(show("After"))
    return disk.done


STEPS = 9
"""Steps of a save: two files, each removed, written, renamed and synced, and the folder of versions."""


def test_a_save_has_the_steps_that_are_cut_below(tmp_path: Path) -> None:
    steps = steps_of_a_save(tmp_path)
    assert len(steps) == STEPS
    assert steps == [
        "remove", "write", "replace", "sync_folder",
        "make_folder", "remove", "write", "replace", "sync_folder",
    ]  # fmt: skip


@pytest.mark.parametrize("halfway", [False, True], ids=["before", "halfway"])
@pytest.mark.parametrize("steps", range(STEPS))
def test_a_cut_at_any_step_leaves_a_whole_show(tmp_path: Path, steps: int, halfway: bool) -> None:
    path = tmp_path / "kitchen.json"
    save_show(show("Before"), path)
    with pytest.raises(PowerCut):
        ShowFile(path, CutDisk(steps, halfway=halfway)).save(show("After"))
    found = load_show(path, PROFILES)
    assert found in (show("Before"), show("After"))
    version = newest_good_version(path, PROFILES)
    assert version is not None and version[1] in (show("Before"), show("After"))
    save_show(show("Next"), path)
    assert load_show(path, PROFILES) == show("Next")
    left = [file.name for file in tmp_path.rglob("*") if file.name.endswith(".saving")]
    assert left == []


@pytest.mark.parametrize("halfway", [False, True], ids=["before", "halfway"])
@pytest.mark.parametrize("steps", range(STEPS))
def test_a_cut_in_the_first_save_of_all_leaves_no_half_show(
    tmp_path: Path, steps: int, halfway: bool
) -> None:
    path = tmp_path / "kitchen.json"
    with pytest.raises(PowerCut):
        ShowFile(path, CutDisk(steps, halfway=halfway)).save(show("First"))
    assert not path.exists() or load_show(path, PROFILES) == show("First")
    save_show(show("Next"), path)
    assert load_show(path, PROFILES) == show("Next")


ENDLESS = """
import sys
from pathlib import Path
from onecrew.show.new import new_show
from onecrew.show.save import ShowFile
file = ShowFile(Path(sys.argv[1]))
for number in range(100_000):
    file.save(new_show(f"{number} " + "x" * 60))
    print(number, flush=True)
"""


def test_a_process_killed_while_it_saves_leaves_a_whole_show(tmp_path: Path) -> None:
    path = tmp_path / "kitchen.json"
    root = Path(__file__).resolve().parents[2]
    for saves in (1, 4, 9):
        process = subprocess.Popen(
            [sys.executable, "-c", ENDLESS, str(path)], cwd=root, stdout=subprocess.PIPE, text=True
        )
        assert process.stdout is not None
        try:
            for _ in range(saves):
                assert process.stdout.readline()
        finally:
            process.kill()
            process.wait(timeout=30)
            process.stdout.close()
        assert int(load_show(path, PROFILES).name.split()[0]) >= saves - 1
