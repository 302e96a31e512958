"""The keys of the Shoot screen; a cue whose shortcut is one of their characters cannot be recalled by it."""

from __future__ import annotations

from onecrew.commands.running import Go, Hold, Lock
from onecrew.tui import takes
from onecrew.tui.actions import Action, calls, sends
from onecrew.tui.everywhere import usual

MASTER_STEP = 0.05

SHOOT: tuple[Action, ...] = (
    Action("space", ("space",), "Space", "go", "Go: run the next cue, as Page Down does", sends(Go())),
    Action("hold", ("h",), "h", "hold", "Hold every fade and effect, or release them", sends(Hold()), 4),
    Action("lock", ("l",), "l", "lock", "Lock the light for a second pass, or unlock it", sends(Lock()), 5),
    Action("countdown", ("d",), "d", "countdown", "Start the countdown, or cancel it",
           calls("toggle_countdown"), 6),
    Action("countdown-to", ("D",), "Shift+D", "set countdown", "Set the countdown: seconds, and what then",
           calls("ask_countdown")),
    Action("take", ("t",), "t", "take", "Start a take, or end it", calls("toggle_take"), 7),
    Action("good", ("g",), "g", "good", "End the take: good", calls("end_take", True), 8),
    Action("no-good", ("G",), "Shift+G", "bad", "End the take: bad", calls("end_take", False)),
    Action("setup", ("T",), "Shift+T", "new setup", "Start a take in a new setup, or from a given cue",
           calls("ask_setup")),
    Action("note-take", ("n",), "n", "note", "Write a note on the last take", calls("ask_note"), 9),
    Action("clip", ("V",), "Shift+V", "clip", "Name the camera's clip of the last take", calls("ask_clip")),
    Action("learn", (), "", "learn", "Learn the last take: its cues follow one another by themselves",
           takes.learn),
    Action("raise", ("plus",), "+", "master", "Raise the master by 5 %", calls("move_master", MASTER_STEP)),
    Action("lower", ("minus",), "-", "master", "Lower the master by 5 %", calls("move_master", -MASTER_STEP)),
    *usual(undo=10, blackout=3, leave=11),
)  # fmt: skip
