"""The keys of the Shoot screen; their characters are those that no cue may have as its key."""

from __future__ import annotations

from onecrew.commands.models import Go, Hold, Lock
from onecrew.tui.actions import Action, calls
from onecrew.tui.everywhere import sends, usual

MASTER_STEP = 0.05

SHOOT: tuple[Action, ...] = (
    Action("space", ("space",), "Space", "go", "Go: run the next cue, as Page Down does", sends(Go())),
    Action("hold", ("h",), "h", "hold", "Hold every fade and effect, or let go", sends(Hold()), 4),
    Action("lock", ("l",), "l", "lock", "Lock the light for a second pass, or unlock it", sends(Lock()), 5),
    Action("countdown", ("c",), "c", "countdown", "Count down, or cancel it", calls("toggle_countdown"), 6),
    Action("countdown-to", ("C",), "Shift+C", "countdown to…", "Count down otherwise, or to something else",
           calls("ask_countdown")),
    Action("take", ("t",), "t", "take", "Camera rolls: start a take, or end it", calls("toggle_take"), 7),
    Action("good", ("g",), "g", "good", "End the take and mark it good", calls("end_take", True), 8),
    Action("no-good", ("G",), "Shift+G", "no good", "End the take and mark it no good",
           calls("end_take", False)),
    Action("setup", ("T",), "Shift+T", "new setup", "A take in a new setup, or of a run of cues",
           calls("ask_setup")),
    Action("note", ("n",), "n", "note", "Write a note on the last take", calls("ask_note"), 9),
    Action("master-up", ("plus",), "+", "master", "Master up 5 %", calls("move_master", MASTER_STEP)),
    Action("master-down", ("minus",), "-", "master", "Master down 5 %", calls("move_master", -MASTER_STEP)),
    *usual(undo=10, blackout=3, leave=11),
)  # fmt: skip
