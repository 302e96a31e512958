"""The keys of the Plan screen."""

from __future__ import annotations

from onecrew.tui.actions import Action, calls
from onecrew.tui.everywhere import usual

STEP_M = 0.1
TURN_DEG = 15.0
TILT_DEG = 5.0

PLAN: tuple[Action, ...] = (
    Action("next-thing", ("tab",), "Tab", "next", "Select the next thing", calls("choose", 1), 1),
    Action("previous-thing", ("shift+tab",), "Shift+Tab", "previous", "Select the previous thing",
           calls("choose", -1)),
    Action("move-up", ("up",), "↑", "move", "Move it 10 cm up the plan", calls("shift", 1, STEP_M)),
    Action("move-down", ("down",), "↓", "move", "Move it 10 cm down the plan", calls("shift", 1, -STEP_M)),
    Action("move-left", ("left",), "←", "move", "Move it 10 cm to the left",
           calls("shift", 0, -STEP_M), 2, group="← ↑ ↓ →"),
    Action("move-right", ("right",), "→", "move", "Move it 10 cm to the right", calls("shift", 0, STEP_M)),
    Action("wall-up", ("ctrl+up",), "Ctrl+↑", "to wall", "Put it to the upper wall", calls("to_wall", 1, 1)),
    Action("wall-down", ("ctrl+down",), "Ctrl+↓", "to wall", "Put it to the lower wall",
           calls("to_wall", 1, 0)),
    Action("wall-left", ("ctrl+left",), "Ctrl+←", "to wall", "Put it to the left wall",
           calls("to_wall", 0, 0)),
    Action("wall-right", ("ctrl+right",), "Ctrl+→", "to wall", "Put it to the right wall",
           calls("to_wall", 0, 1)),
    Action("turn-right", ("shift+right",), "Shift+→", "turn", "Turn it 15° clockwise",
           calls("turn", TURN_DEG), 5),
    Action("turn-left", ("shift+left",), "Shift+←", "turn back", "Turn it 15° anticlockwise",
           calls("turn", -TURN_DEG)),
    Action("tilt-up", ("shift+up",), "Shift+↑", "tilt", "Tilt it up by 5°", calls("tilt", TILT_DEG), 6),
    Action("tilt-down", ("shift+down",), "Shift+↓", "tilt down", "Tilt it down by 5°",
           calls("tilt", -TILT_DEG)),
    Action("raise", ("plus",), "+", "height", "Raise it by 10 cm", calls("lift", STEP_M), 7,
           group="+ -"),
    Action("lower", ("minus",), "-", "lower", "Lower it by 10 cm", calls("lift", -STEP_M)),
    Action("put-back", ("escape",), "Esc", "put back", "Put it back where it stood before this move",
           calls("put_back")),
    Action("add", ("a",), "a", "add", "Add a set piece: reflector, wall, subject, negative fill",
           calls("ask_piece"), 10),
    Action("edit", ("enter", "e"), "Enter", "edit", "Change a set piece, or the camera's settings",
           calls("edit"), 11),
    Action("forecast", ("y",), "y", "read", "Forecast what a light meter reads at the subjects",
           calls("ask_readings"), 3),
    Action("map", ("Z",), "Shift+Z", "map", "Map of light over the floor, or none", calls("show_map"), 4),
    Action("want", ("X",), "Shift+X", "want", "Type the reading wanted at the subject, get the levels",
           calls("ask_want"), 8),
    Action("type-place", ("j",), "j", "place", "Type its place, in metres or feet", calls("ask_at"), 9),
    Action("type-room", ("W",), "Shift+W", "room", "Type the room's size, surfaces, mains and units",
           calls("ask_room"), 12),
    Action("delete", ("x", "delete"), "x", "delete", "Delete a set piece", calls("delete_piece")),
    *usual(undo=13),
)  # fmt: skip
