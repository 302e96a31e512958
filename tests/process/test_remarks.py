"""Remarks for every window: the last one counts, what is old does not come back, the same again is news."""

from __future__ import annotations

from typing import Any

from onecrew.language.saying import NO_CHANGE
from tests.process.sandbox import Sandbox


def left_with_edits(sandbox: Sandbox) -> dict[str, Any]:
    """Cue 2 runs while cue 1 has edits: the playback's own remark says so, and stands."""
    sandbox.engine()
    sandbox.tell(kind="recall", cue="1", fade_s=0.0)
    sandbox.tell(kind="set", fixtures=["window"], level=0.3)
    sandbox.tell(kind="recall", cue="2", fade_s=0.0)
    return sandbox.wait_status(lambda status: "are kept with cue 1" in status["message"])


def test_undo_says_what_it_took_back_whatever_was_said_before(sandbox: Sandbox) -> None:
    said = left_with_edits(sandbox)["said"]
    sandbox.tell(kind="undo")
    status = sandbox.wait_status(lambda status: status["message"].startswith("undone: "))
    assert status["said"] > said


def test_an_old_remark_does_not_come_back_when_a_newer_one_is_over(sandbox: Sandbox) -> None:
    left_with_edits(sandbox)
    sandbox.tell(kind="undo")
    sandbox.wait_status(lambda status: status["message"].startswith("undone: "))
    sandbox.tell(kind="set", fixtures=["window"], level=0.4)
    sandbox.tell(kind="recall", cue="2", fade_s=0.0)
    sandbox.wait_status(lambda status: "are kept with cue 1" in status["message"])
    sandbox.tell(kind="set", fixtures=["window"], level=0.2)
    sandbox.wait_status(lambda status: status["message"] == "")


def test_the_same_sentence_again_is_another_remark(sandbox: Sandbox) -> None:
    sandbox.engine()
    for level in (0.1, 0.3):
        sandbox.tell(kind="set", fixtures=["window"], level=level)
        sandbox.tell(kind="note", text="clap")
    before = sandbox.wait_status(lambda status: status["message"] == "clap")["said"]
    sandbox.tell(kind="note", text="clap")
    sandbox.wait_status(lambda status: status["message"] == "clap" and status["said"] == before + 1)


def test_a_command_that_changes_nothing_says_so_since_undo_would_take_back_something_else(
    sandbox: Sandbox,
) -> None:
    sandbox.engine()
    sandbox.tell(kind="recall", cue="1", fade_s=0.0)
    commands: tuple[dict[str, Any], ...] = (
        {"kind": "rename", "name": "Two lamps"},
        {"kind": "store", "cue": "1", "replace": True},
        {
            "kind": "set-in-cues",
            "cues": ["2"],
            "change": {"kind": "set", "fixtures": ["window"], "level": 1.0},
        },
    )
    for command in commands:
        assert not sandbox.tell(**command), command
    assert sandbox.tell(kind="rename", name="Three")
    assert sandbox.tell(kind="undo")


def test_the_command_line_hears_that_nothing_has_changed(sandbox: Sandbox) -> None:
    sandbox.engine()
    assert sandbox.run("send", "rename", "Three").stdout == "rename Three\n"
    assert sandbox.run("send", "rename", "Three").stdout == f"rename Three\n{NO_CHANGE}\n"


def test_a_cue_that_has_a_light_already_shows_it_and_undo_brings_the_edit_back(sandbox: Sandbox) -> None:
    sandbox.engine()
    sandbox.tell(kind="recall", cue="1", fade_s=0.0)
    sandbox.tell(kind="set", fixtures=["window"], level=0.3)
    sandbox.tell(kind="rename", name="Between")  # so that the two changes of the window are two steps
    stored = {"kind": "set", "fixtures": ["window"], "level": 0.5}
    assert sandbox.tell(kind="set-in-cues", cues=["1"], change=stored)
    assert sandbox.wait_status()["lights"]["window"]["goal_level"] == 0.5
    sandbox.tell(kind="undo")
    assert sandbox.wait_status()["lights"]["window"]["goal_level"] == 0.3


def test_a_change_that_comes_to_nothing_with_an_earlier_one_is_no_change_of_nothing(sandbox: Sandbox) -> None:
    sandbox.engine()
    sandbox.tell(kind="recall", cue="1", fade_s=0.0)
    sandbox.tell(kind="set", fixtures=["window"], level=0.3)
    sandbox.tell(kind="master", level=0.9)
    stored = {"kind": "set", "fixtures": ["window"], "level": 0.5}
    assert sandbox.tell(kind="set-in-cues", cues=["1"], change=stored)  # the light that the cue has
    assert sandbox.wait_status()["lights"]["window"]["goal_level"] == 0.5
