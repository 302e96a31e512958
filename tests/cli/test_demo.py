"""The demo without screens: engine, packets, virtual room and verdict, with the example's cues made short."""

from __future__ import annotations

import os
import re
from collections.abc import Callable
from pathlib import Path

import pytest

from onecrew.cli import demo
from onecrew.engine.endpoint import running_engines
from onecrew.show.profile import Profile
from onecrew.show.show import Fade, Show
from tests.cli.conftest import Ended

Run = Callable[..., Ended]
REAL_EXAMPLE = demo.example


def short_example(profiles: dict[str, Profile]) -> Show:
    """Three cues of the example, one with an effect, and quick fades."""
    show = REAL_EXAMPLE(profiles)
    quick = {"fade": Fade(in_s=0.1, out_s=0.1), "delay_s": 0.0}
    cues = [cue.model_copy(update=quick) for cue in show.cues if cue.number in ("1", "3", "5")]
    return show.model_copy(update={"cues": tuple(cues)})


@pytest.fixture
def temporary(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Where the demo makes its folder, so that it can be looked for afterwards."""
    folder = tmp_path / "temporary"
    folder.mkdir()
    monkeypatch.setattr("tempfile.tempdir", str(folder))
    monkeypatch.setattr(demo, "example", short_example)
    return folder


def nothing_is_left(temporary: Path) -> bool:
    states = list(Path(os.environ["XDG_STATE_HOME"]).rglob("*.live"))
    return not list(temporary.iterdir()) and not list(running_engines()) and not states


def test_what_the_room_saw_is_what_the_cues_say(onecrew: Run, temporary: Path) -> None:
    ended = onecrew("demo", "--headless")
    assert (ended.status, ended.err) == (0, "")
    assert "18 lights compared, 0 not as their cue says, 0 bad packets" in ended.out
    third = ended.out.split("cue 3")[1]
    street = next(line for line in third.splitlines() if line.split()[:1] == ["street"])
    assert street.split()[:9] == ["street", "18.00", "%", "6200", "K", "+0.0010", "18.00", "%", "6200"]
    assert "flame within" in third
    assert nothing_is_left(temporary)


def test_light_that_is_not_what_the_cues_say_is_found(
    onecrew: Run, temporary: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    copy_of = demo.copy_of

    def dimmed_copy(show: Show, room: object) -> object:
        """The engine gets another first cue than the one compared with."""
        first = show.cues[0]
        hood = first.look["hood"].model_copy(update={"level": first.look["hood"].level - 0.01})
        other = first.model_copy(update={"look": {**first.look, "hood": hood}})
        return copy_of(show.model_copy(update={"cues": (other, *show.cues[1:])}), room)  # type: ignore[arg-type]

    monkeypatch.setattr(demo, "copy_of", dimmed_copy)
    ended = onecrew("demo", "--headless")
    assert ended.status == 1
    assert "18 lights compared, 1 not as their cue says" in ended.out
    found = re.search(r"hood .* LEVEL OFF by ([\d.]+) %", ended.out)
    assert found and float(found[1]) == pytest.approx(1.0, abs=0.002)
    assert nothing_is_left(temporary)


def test_an_engine_that_cannot_start_is_its_sentence_and_leaves_nothing(
    onecrew: Run, temporary: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def spoilt(profiles: dict[str, Profile]) -> Show:
        show = short_example(profiles)
        lost = show.rig.fixtures[0].model_copy(update={"profile": "no-such-profile"})
        return show.model_copy(update={"rig": show.rig.model_copy(update={"fixtures": (lost,)}), "cues": ()})

    monkeypatch.setattr(demo, "example", spoilt)
    monkeypatch.setattr("onecrew.cli.demo_room.DemoRoom._watch", _no_room)
    ended = onecrew("demo", "--headless")
    assert ended.status == 1
    assert "no-such-profile" in ended.err
    assert "Traceback" not in ended.err
    assert not list(temporary.iterdir())


async def _no_room(room: object) -> None:
    """The room opens and sees nothing."""
