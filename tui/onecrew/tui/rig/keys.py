"""The keys of the Rig screen."""

from __future__ import annotations

from onecrew.tui.actions import Action, calls
from onecrew.tui.everywhere import usual
from onecrew.tui.lamps import CHOOSE

RIG: tuple[Action, ...] = (
    *CHOOSE,
    Action("add", ("a",), "a", "add lamp", "Add a lamp: find its kind, name it, take the address offered",
           calls("add"), 1),
    Action("edit", ("enter", "e"), "Enter", "edit", "Change role, mode or address", calls("edit"), 2),
    Action("remove", ("x", "delete"), "x", "remove", "Take the lamp out of the rig", calls("take_out"), 3),
    Action("identify", ("i",), "i", "identify", "Let the lamp breathe gently, or stop", calls("identify"), 4),
    Action("modifiers", ("m",), "m", "modifiers", "What stands before the lamp", calls("ask_modifiers"), 5),
    Action("place", ("p",), "p", "place", "Where the lamp stands and aims", calls("ask_place"), 6),
    Action("outputs", ("o",), "o", "outputs", "Where this universe goes", calls("ask_destinations"), 7),
    Action("priority", ("O",), "Shift+O", "priority", "sACN priority and steady rate", calls("ask_priority")),
    Action("remotes", ("R",), "Shift+R", "remotes", "Who else may reach the engine: OSC, the phone page",
           calls("ask_remotes")),
    Action("phone", ("P",), "Shift+P", "phone", "Show the code that lets a phone run the show",
           calls("show_phone_code")),
    Action("camera", ("c",), "c", "camera", "Camera settings, white balance too", calls("ask_camera"), 8),
    Action("rename", ("n",), "n", "name show", "Name the show", calls("ask_name")),
    *usual(undo=9),
)  # fmt: skip
