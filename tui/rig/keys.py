"""The keys of the Rig screen."""

from __future__ import annotations

from controller.documents.commands import Blackout, Redo, Undo
from tui.actions import Action, asks_help, asks_quit, calls
from tui.everywhere import sends

RIG: tuple[Action, ...] = (
    Action("lamp-up", ("up",), "↑", "lamp", "Choose the lamp above", calls("move", -1)),
    Action("lamp-down", ("down",), "↓", "lamp", "Choose the lamp below", calls("move", 1)),
    Action("add", ("a",), "a", "add lamp", "Add a lamp: find its kind, name it, take the address offered",
           calls("add"), 1),
    Action("edit", ("enter", "e"), "Enter", "edit", "Change role, mode or address", calls("edit"), 2),
    Action("remove", ("x", "delete"), "x", "remove", "Take the lamp out of the rig", calls("take_out"), 3),
    Action("identify", ("i",), "i", "identify", "Let the lamp breathe gently, or stop", calls("identify"), 4),
    Action("modifiers", ("m",), "m", "modifiers", "What stands before the lamp", calls("ask_modifiers"), 5),
    Action("place", ("p",), "p", "place", "Where the lamp stands and aims", calls("ask_place"), 6),
    Action("outputs", ("o",), "o", "outputs", "Where this universe goes", calls("ask_destinations"), 7),
    Action("priority", ("O",), "Shift+O", "priority", "sACN priority and steady rate", calls("ask_priority")),
    Action("camera", ("c",), "c", "camera", "Camera settings, white balance too", calls("ask_camera"), 8),
    Action("rename", ("n",), "n", "name show", "Name the show", calls("ask_name")),
    Action("undo-here", ("u",), "u", "undo", "Undo the last change of the show", sends(Undo()), 9),
    Action("redo-here", ("U",), "Shift+U", "redo", "Redo what was undone", sends(Redo())),
    Action("blackout", ("full_stop", "b"), ". or b", "blackout", "Blackout and back", sends(Blackout())),
    Action("help-here", ("question_mark",), "?", "keys", "Every key of this screen", asks_help),
    Action("quit-here", ("q",), "q", "quit", "Quit, leaving the lights on or fading them out", asks_quit),
)  # fmt: skip
