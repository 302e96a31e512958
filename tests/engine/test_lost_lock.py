"""A show that another engine has as well, as its file was put in the place: said each time, and its end."""

from __future__ import annotations

import asyncio
from collections.abc import Iterator
from pathlib import Path

import pytest

from onecrew.engine import persistence as module
from onecrew.engine.endpoint import Files
from onecrew.engine.persistence import HELD_AGAIN, Persistence
from onecrew.errors import Trouble
from onecrew.show.hold import Hold
from onecrew.show.profiles import load_profiles
from onecrew.show.save import ShowFile
from onecrew.show.show import Show


@pytest.fixture
def files(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Files]:
    monkeypatch.setattr(module, "LOOK_S", 0.001)
    show = tmp_path / "show.json"
    ShowFile(show).save(Show(name="Mine"))
    yield Files(show, *(tmp_path / name for name in ("endpoint", "lock", "live", "log")))


def test_a_lost_lock_is_said_each_time_and_taken_again_when_the_other_is_gone(files: Files) -> None:
    said: list[str] = []

    async def next_said() -> str:
        while not said:
            await asyncio.sleep(0.001)
        return said.pop(0)

    async def scene() -> None:
        hold = Hold(files.show)
        persistence = Persistence(files, said.append, lambda _: None, hold)
        persistence.resume(load_profiles(), 0.0)
        watching = asyncio.get_running_loop().create_task(persistence.watch())
        for name in ("one", "two"):
            other = files.show.with_name(name)
            other.write_bytes(files.show.read_bytes())
            held = Hold(other)
            other.replace(files.show)
            assert "is held by an engine" in await next_said()
            held.release()
            assert await next_said() == HELD_AGAIN
            with pytest.raises(Trouble, match="is held"):
                Hold(files.show)
        watching.cancel()
        await persistence.hand_over()
        hold.release()
        assert said == []

    asyncio.run(asyncio.wait_for(scene(), 20))


def test_what_a_save_left_that_was_cut_short_is_gone_at_the_next_start(files: Files) -> None:
    left = [
        files.show.with_name(".show.json.saving"),
        files.show.with_name(".show.json.versions") / "v.saving",
    ]
    for path in left:
        path.write_text("half a sh")
    persistence = Persistence(files, lambda _: None, lambda _: None)
    persistence.resume(load_profiles(), 0.0)
    assert not [path for path in left if path.exists()]
    assert ShowFile(files.show).load({}).name == "Mine"
