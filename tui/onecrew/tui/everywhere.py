"""What can be done on every screen: go and back for the clicker, the way to each screen, help, quitting."""

from __future__ import annotations

from onecrew.commands.running import Back, Blackout, Go
from onecrew.commands.session import Redo, Undo
from onecrew.tui.actions import Action, asks, opens, sends

SCREENS: tuple[Action, ...] = (
    # A clicker's start button sends F5: it must never lead away from the set.
    Action("shoot", ("f2", "f5"), "F2", "Shoot", "Shoot screen: now, next, countdown", opens("shoot")),
    Action("light", ("f3",), "F3", "Light", "Light screen: every lamp and its light", opens("light")),
    Action("rig", ("f4",), "F4", "Rig", "Rig screen: patch, addresses and outputs", opens("rig")),
    Action("log", ("f6",), "F6", "Log", "Log screen: takes and changes as they happen", opens("log")),
    Action("plan", ("f7",), "F7", "Plan", "Plan screen: the room from above", opens("plan")),
    Action("colour", ("f8",), "F8", "Colour", "Colour screen: the lamps on the chromaticity diagram",
           opens("colour")),
)  # fmt: skip
"""The way to each screen; the tabs of the header too."""

EVERYWHERE: tuple[Action, ...] = (
    Action("go", ("pagedown",), "PgDn", "go", "Go: run the next cue", sends(Go()), 1, always=True),
    Action("back", ("pageup",), "PgUp", "back", "Back: run the previous cue", sends(Back()), 2, always=True),
    *SCREENS,
    Action("scenes", ("f9",), "F9", "scenes", "Scenes of the show: open, add, rename or delete one",
           asks("list_scenes")),
    Action("undo", ("ctrl+z",), "Ctrl+Z", "undo", "Undo what was done last", sends(Undo())),
    Action("redo", ("ctrl+y",), "Ctrl+Y", "redo", "Redo what was undone", sends(Redo())),
    Action("theme", ("ctrl+t",), "Ctrl+T", "bright", "Colours for a bright room, or for a dark set again",
           asks("turn_theme")),
    Action("help", ("f1",), "F1", "all keys", "Every key of this screen", asks("open_help")),
    Action("palette", ("ctrl+p",), "Ctrl+P", "find", "Find any action, lamp, cue, scene or take",
           asks("open_palette")),
    Action("quit", ("ctrl+q", "ctrl+c"), "Ctrl+Q", "quit", "Quit, leaving the lights on or fading them out",
           asks("ask_quit")),
)  # fmt: skip


def usual(*, undo: int = 0, blackout: int = 0, leave: int = 0) -> tuple[Action, ...]:
    """What plain letters do on every screen; the numbers are their places in the footer."""
    return (
        Action("blackout", ("full_stop", "b"), ". or b", "blackout", "Blackout, or back from it",
               sends(Blackout()), blackout),
        Action("undo-here", ("u",), "u", "undo", "Undo what was done last", sends(Undo()), undo),
        Action("redo-here", ("U",), "Shift+U", "redo", "Redo what was undone", sends(Redo())),
        Action("cues", ("number_sign",), "#", "cues", "Cues: recall by number, change, copy, move, delete",
               asks("list_cues")),
        Action("help-here", ("question_mark",), "?", "keys", "Every key of this screen", asks("open_help")),
        Action("quit-here", ("q",), "q", "quit", "Quit, leaving the lights on or fading them out",
               asks("ask_quit"), leave),
    )  # fmt: skip
