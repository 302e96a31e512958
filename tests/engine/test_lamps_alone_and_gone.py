"""A lamp that shows alone leaves the rig: the others come back, nobody stands in the dark."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from onecrew.commands.command import Command
from onecrew.commands.light import SetLight, Solo, Without
from onecrew.commands.rig import RemoveFixture
from onecrew.commands.running import Recall
from onecrew.commands.session import Redo, Undo
from onecrew.commands.stills import ShowStill
from onecrew.engine.desk import Desk
from onecrew.engine.endpoint import Files
from onecrew.engine.persistence import Persistence
from onecrew.playback.edits import PART_FADE_S, edited
from onecrew.show.dump import dump_show
from onecrew.show.profiles import load_profiles
from onecrew.show.show import Show
from tests.fakes.documents import document
from tests.process.sandbox import SHOW

START = Show.model_validate_json(json.dumps(SHOW))
PROFILES = load_profiles()
PENDANT = 0.2


def desk(*commands: Command) -> Desk:
    one = Desk(START, PROFILES, 0.0)
    for command in (Recall(cue="1", fade_s=0.0), *commands):
        one.carry_out(command, 1.0)
    return one


def pendant(one: Desk, now: float) -> float:
    return float(one.frame(now).level[one.compiled.index["pendant"]])


def test_a_solo_whose_lamp_is_removed_ends_as_by_a_command() -> None:
    one = desk(Solo(fixtures=("window",)))
    assert pendant(one, 2.0) == 0.0
    one.carry_out(RemoveFixture(id="window"), 2.0)
    assert one.moving(2.0)
    assert pendant(one, 2.0 + PART_FADE_S / 2) == pytest.approx(PENDANT / 2)
    assert pendant(one, 3.0) == PENDANT


def test_what_is_left_out_besides_stays_out() -> None:
    one = desk(Solo(fixtures=("window",)), Without(fixtures=("pendant",)))
    one.carry_out(RemoveFixture(id="window"), 2.0)
    assert pendant(one, 3.0) == 0.0
    one.carry_out(Without(), 4.0)
    assert pendant(one, 5.0) == PENDANT


def test_so_it_ends_where_the_removal_is_done_again() -> None:
    one = desk(RemoveFixture(id="window"), Undo(), Solo(fixtures=("window",)))
    one.carry_out(Redo(), 2.0)
    assert pendant(one, 3.0) == PENDANT


def test_so_it_ends_where_the_file_has_lost_the_lamp_while_no_engine_ran(tmp_path: Path) -> None:
    path = tmp_path / "show.json"
    path.write_text(dump_show(START))
    files = Files(path, *(tmp_path / f"show.{kind}" for kind in ("endpoint", "lock", "live", "log")))
    before = Persistence(files, lambda _: None, lambda _: None)
    one = before.resume(PROFILES, 0.0).desk
    one.carry_out(Recall(cue="1", fade_s=0.0), 1.0)
    one.carry_out(Solo(fixtures=("window",)), 1.0)
    before.keep(one, 2.0)
    data = json.loads(json.dumps(SHOW))
    data["rig"]["fixtures"] = data["rig"]["fixtures"][1:]
    for cue in data["cues"]:
        cue["look"].pop("window", None)
    path.write_text(json.dumps(document(data)))
    after = Persistence(files, lambda _: None, lambda _: None).resume(PROFILES, 3.0).desk
    assert after.playback.ids == ("pendant",)
    assert pendant(after, 4.0) == PENDANT


def test_a_still_whose_lamp_is_removed_is_over() -> None:
    one = desk(ShowStill(fixture="window"))
    assert pendant(one, 1.0) == 0.0
    one.carry_out(RemoveFixture(id="window"), 1.5)
    assert pendant(one, 1.5) == PENDANT


def test_a_still_of_no_lamp_goes_on_without_the_one_that_is_removed() -> None:
    one = desk(ShowStill())
    one.carry_out(RemoveFixture(id="window"), 1.5)
    assert pendant(one, 1.5) == 0.0


def test_a_lamp_whose_removal_is_undone_has_its_light_again() -> None:
    one = desk(SetLight(fixtures=("window",), level=0.3))
    was = one.playback.edited_look()
    one.carry_out(RemoveFixture(id="window"), 2.0)
    for undone in (3.0, 5.0):
        one.carry_out(Undo(), undone)
        assert one.playback.edited_look() == was
        assert edited(one.playback, one.compiled) == {"window"}
        assert float(one.frame(undone + 1.0).level[one.compiled.index["window"]]) == 0.3
        one.carry_out(Redo(), undone + 1.0)
        assert "window" not in one.playback.edited_look()


def test_a_fade_goes_on_while_a_lamp_goes_and_comes_back() -> None:
    one = desk(Recall(cue="2", fade_s=10.0))
    alone = pendant(desk(Recall(cue="2", fade_s=10.0)), 6.0)
    for at, command in enumerate((RemoveFixture(id="window"), Undo(), Redo(), Undo())):
        one.carry_out(command, 2.0 + at)
    assert pendant(one, 6.0) == pytest.approx(alone)
