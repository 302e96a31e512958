"""What must outlive the engine, while the disk or somebody else is in the way."""

from __future__ import annotations

import asyncio
import json
from collections.abc import Iterator
from hashlib import sha256
from pathlib import Path

import pytest

from onecrew.commands.light import SetLight
from onecrew.commands.session import Rename
from onecrew.engine import persistence as module
from onecrew.engine.endpoint import Files
from onecrew.engine.persistence import BACK_IN_ROOM, OUT_OF_ROOM, Persistence
from onecrew.errors import Trouble
from onecrew.show.profiles import ProfileLibrary, load_profiles
from onecrew.show.save import ShowFile
from onecrew.show.snapshot import Saved
from tests.engine.test_undo import SHOW


@pytest.fixture(scope="module")
def profiles() -> ProfileLibrary:
    return load_profiles()


@pytest.fixture
def files(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Files]:
    monkeypatch.setattr(module, "LOOK_S", 0.001)
    show = tmp_path / "show.json"
    ShowFile(show).save(SHOW)
    yield Files(show, *(tmp_path / name for name in ("endpoint", "lock", "live", "log")))


@pytest.mark.parametrize("section", ["playback", "show"])
def test_what_found_no_room_is_kept_as_soon_as_there_is_some(
    section: str, files: Files, profiles: ProfileLibrary, monkeypatch: pytest.MonkeyPatch
) -> None:
    said: list[str] = []
    before = Persistence(files, said.append, lambda _: None)
    desk = before.resume(profiles, 0.0).desk
    before.keep(desk, 0.0)
    with monkeypatch.context() as full:
        full.setattr(getattr(before.live, section), "write", lambda content: False)
        desk.carry_out(Rename(name="Later"), 1.0)
        desk.carry_out(SetLight(fixtures=("window",), level=0.3), 1.0)
        before.keep(desk, 1.0)
    before.keep(desk, 2.0)
    assert said == [OUT_OF_ROOM, BACK_IN_ROOM]
    after = Persistence(files, said.append, lambda _: None).resume(profiles, 3.0).desk
    assert (after.show.name, after.playback.edited_look()["window"].level) == ("Later", 0.3)


def test_a_show_that_could_not_be_saved_at_the_end_waits_for_the_next_engine_and_its_light_does_not(
    files: Files, profiles: ProfileLibrary, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object) -> str:
        raise Trouble("the disk is full")

    async def scene() -> str:
        before = Persistence(files, lambda _: None, lambda _: None)
        desk = before.resume(profiles, 0.0).desk
        desk.carry_out(Rename(name="Later"), 1.0)
        desk.carry_out(SetLight(fixtures=("window",), level=0.3), 1.0)
        before.keep(desk, 1.0)
        before.save(desk.show)
        return await before.finish()

    with monkeypatch.context() as disk:
        disk.setattr(ShowFile, "save", full)
        disk.setattr(module, "SAVE_AT_END_S", 0.05)
        assert asyncio.run(scene()) == "the disk is full"
    found = Persistence(files, lambda _: None, lambda _: None).resume(profiles, 2.0)
    assert (found.desk.show.name, found.unsaved, found.kept_at) == ("Later", True, None)
    assert found.desk.playback.edited_look()["window"].level == 0.0


def test_the_same_show_written_another_way_is_no_change_by_somebody_else(
    files: Files, profiles: ProfileLibrary
) -> None:
    heard: list[Saved] = []

    async def scene() -> None:
        persistence = Persistence(files, lambda _: None, heard.append)
        persistence.keep(persistence.resume(profiles, 0.0).desk, 0.0)
        files.show.write_text(json.dumps(json.loads(files.show.read_text())))
        digest = sha256(files.show.read_bytes()).hexdigest()
        watching = asyncio.get_running_loop().create_task(persistence.watch())
        while persistence._file.digest != digest and not heard:
            await asyncio.sleep(0.001)
        watching.cancel()
        await persistence.hand_over()

    asyncio.run(asyncio.wait_for(scene(), 20))
    assert heard == []
