"""What an engine finds when it starts: the look as it was, and the newest show that anybody was promised."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from onecrew.commands.command import PlaybackCommand
from onecrew.commands.light import SetLight
from onecrew.commands.running import Lock, Recall
from onecrew.commands.session import Rename, Undo
from onecrew.commands.takes import TakeStart
from onecrew.engine import resume
from onecrew.engine.desk import Desk
from onecrew.engine.endpoint import Files
from onecrew.engine.persistence import Persistence
from onecrew.errors import OnecrewError, Trouble
from onecrew.show.dump import dump_show
from onecrew.show.load import load_show
from onecrew.show.profiles import ProfileLibrary, load_profiles
from onecrew.show.save import ShowFile, versions_of
from tests.fakes.documents import document
from tests.process.sandbox import SHOW

FADE_S = 10.0


@pytest.fixture(scope="module")
def profiles() -> ProfileLibrary:
    return load_profiles()


@pytest.fixture
def files(tmp_path: Path, profiles: ProfileLibrary) -> Files:
    show = tmp_path / "show.json"
    show.write_text(json.dumps(document(SHOW)))
    show.write_text(dump_show(load_show(show, profiles)))
    return Files(show, *(tmp_path / f"show.{kind}" for kind in ("endpoint", "lock", "live", "log")))


def keeper(files: Files) -> Persistence:
    return Persistence(files, lambda _: None, lambda _: None)


def killed_in_a_fade(files: Files, profiles: ProfileLibrary, now: float) -> Desk:
    """An engine that began a fade at ``now`` and kept that; it is gone without a word."""
    before = keeper(files)
    desk = before.resume(profiles, now).desk
    desk.carry_out(Recall(cue="2", fade_s=FADE_S), now)
    before.keep(desk, now)
    return desk


def level(desk: Desk, now: float) -> float:
    return float(desk.frame(now).level[0])


def test_on_the_same_run_of_the_machine_a_fade_is_where_it_would_be(
    files: Files, profiles: ProfileLibrary
) -> None:
    gone = killed_in_a_fade(files, profiles, 100.0)
    desk = keeper(files).resume(profiles, 104.0).desk
    assert 0.0 < level(desk, 104.0) < 1.0
    assert level(desk, 104.0) == level(gone, 104.0)


def test_when_the_last_frame_left_is_known_on_the_same_run_of_the_machine(
    files: Files, profiles: ProfileLibrary, monkeypatch: pytest.MonkeyPatch
) -> None:
    killed_in_a_fade(files, profiles, 100.0)
    assert keeper(files).resume(profiles, 104.0).sent_at is None
    keeper(files).live.sent_at = 101.5
    assert keeper(files).resume(profiles, 104.0).sent_at == 101.5
    monkeypatch.setattr(resume, "boot", lambda: "another run of this machine")
    assert keeper(files).resume(profiles, 104.0).sent_at is None


@pytest.mark.parametrize("now", [3.0, 104.0], ids=["an earlier clock", "a later clock"])
def test_after_a_restart_of_the_machine_a_fade_goes_on_from_where_it_was(
    files: Files, profiles: ProfileLibrary, monkeypatch: pytest.MonkeyPatch, now: float
) -> None:
    """The machine's clock counts from another moment then, and may by chance stand later than it did."""
    gone = killed_in_a_fade(files, profiles, 100.0)
    monkeypatch.setattr(resume, "boot", lambda: "another run of this machine")
    found = keeper(files).resume(profiles, now)
    desk = found.desk
    assert found.kept_at == now
    assert level(desk, now) == level(gone, 100.0) == 0.0
    assert level(desk, now + 4.0) == pytest.approx(level(gone, 104.0))
    assert level(desk, now + FADE_S) == 1.0


def test_where_the_system_does_not_name_its_runs_a_clock_that_stands_earlier_tells_of_a_restart(
    files: Files, profiles: ProfileLibrary, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(resume, "boot", lambda: "")
    gone = killed_in_a_fade(files, profiles, 100.0)
    desk = keeper(files).resume(profiles, 99.0).desk
    assert level(desk, 103.0) == pytest.approx(level(gone, 104.0))


def renamed(files: Files, profiles: ProfileLibrary, name: str) -> None:
    before = keeper(files)
    desk = before.resume(profiles, 1.0).desk
    before.keep(desk, 1.0)
    desk.carry_out(Rename(name=name), 2.0)
    before.keep(desk, 2.0)


def test_a_change_that_never_reached_the_file_is_back(files: Files, profiles: ProfileLibrary) -> None:
    renamed(files, profiles, "Kept")
    found = keeper(files).resume(profiles, 3.0)
    assert (found.desk.show.name, found.unsaved) == ("Kept", True)
    assert "not saved" in found.remark


def test_and_again_when_the_engine_that_took_it_up_dies_at_once(
    files: Files, profiles: ProfileLibrary
) -> None:
    renamed(files, profiles, "Kept")
    after = keeper(files)
    after.keep(after.resume(profiles, 3.0).desk, 3.0)
    assert keeper(files).resume(profiles, 4.0).desk.show.name == "Kept"


def test_a_file_that_holds_what_was_kept_needs_no_save(files: Files, profiles: ProfileLibrary) -> None:
    before = keeper(files)
    before.keep(before.resume(profiles, 1.0).desk, 1.0)
    found = keeper(files).resume(profiles, 2.0)
    assert (found.unsaved, found.remark) == (False, "")


def test_a_file_that_somebody_else_changed_since_then_is_taken_as_it_is(
    files: Files, profiles: ProfileLibrary
) -> None:
    renamed(files, profiles, "Kept")
    files.show.write_text(files.show.read_text().replace("Two lamps", "By hand"))
    found = keeper(files).resume(profiles, 3.0)
    assert found.desk.show.name == "By hand"
    assert "is a version now" in found.remark
    (version,) = versions_of(files.show)
    assert load_show(version, profiles).name == "Kept"  # what was promised is not lost either


@pytest.mark.parametrize("command", [Lock(on=True), TakeStart()])
def test_under_a_lock_and_in_a_take_the_show_in_memory_goes_on_and_the_file_waits(
    files: Files, profiles: ProfileLibrary, command: PlaybackCommand
) -> None:
    before = keeper(files)
    desk = before.resume(profiles, 1.0).desk
    before.keep(desk, 1.0)
    desk.carry_out(Rename(name="Kept"), 2.0)
    desk.carry_out(command, 2.0)
    before.keep(desk, 2.0)
    files.show.write_text(files.show.read_text().replace("Two lamps", "By hand"))
    by_hand = files.show.read_text()
    for _ in range(2):  # a second death changes nothing in that
        file = ShowFile(files.show)
        found = resume.resume(file, keeper(files).live, profiles, 3.0)
        assert (found.desk.show.name, found.unsaved) == ("Kept", True)
        with pytest.raises(Trouble, match="changed by another program and is not overwritten"):
            file.save(found.desk.show)
        outside = file.outside()
        assert outside is not None and outside.show is not None and outside.show.name == "By hand"
        after = keeper(files)
        after.keep(after.resume(profiles, 3.0).desk, 3.0)
        assert files.show.read_text() == by_hand
    assert outside is not None
    file.accept(outside)
    file.save(found.desk.show)
    assert load_show(files.show, profiles).name == "Kept"


def test_for_a_file_that_no_longer_reads_the_show_in_memory_goes_on(
    files: Files, profiles: ProfileLibrary
) -> None:
    renamed(files, profiles, "Kept")
    files.show.write_text("{")
    found = keeper(files).resume(profiles, 3.0)
    assert (found.desk.show.name, found.unsaved) == ("Kept", True)
    assert "cannot be read" in found.remark


def test_without_anything_kept_an_unreadable_file_is_said(files: Files, profiles: ProfileLibrary) -> None:
    files.show.write_text("{")
    with pytest.raises(OnecrewError):
        keeper(files).resume(profiles, 1.0)


@pytest.mark.parametrize("resumes", [True, False])
def test_what_was_done_last_can_be_taken_back_after_a_kill(
    files: Files, profiles: ProfileLibrary, resumes: bool
) -> None:
    before = keeper(files)
    desk = before.resume(profiles, 0.0).desk
    desk.carry_out(Recall(cue="2", fade_s=0.0), 0.0)
    shown = desk.playback.edited_look()
    desk.carry_out(SetLight(fixtures=("window",), level=0.07), 5.0)
    before.keep(desk, 5.0)
    if not resumes:
        before.live.playback.clear()  # as an engine that ends does
    after = keeper(files).resume(profiles, 9.0).desk
    if not resumes:
        assert after.undo_words == ""
        return
    assert after.undo_words == desk.undo_words
    after.carry_out(Undo(), 10.0)
    assert after.playback.edited_look() == shown


@pytest.mark.parametrize("kept", [{}, {"playback": 7}, {"playback": {"take": [1]}}])
def test_what_played_and_makes_no_sense_leaves_the_show_and_a_sentence(
    files: Files, profiles: ProfileLibrary, kept: dict[str, Any]
) -> None:
    before = keeper(files)
    before.keep(before.resume(profiles, 1.0).desk, 1.0)
    before.live.playback.write({"now": 1.0, **kept})
    found = keeper(files).resume(profiles, 2.0)
    assert found.desk.show.name == "Two lamps"
    assert "what was playing could not be resumed" in found.remark
