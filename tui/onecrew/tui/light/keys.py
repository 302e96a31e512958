"""The keys of the Light screen."""

from __future__ import annotations

from onecrew.commands.light import Compare, Identify, Revert, Solo, Without
from onecrew.tui.actions import Action, calls, sends
from onecrew.tui.everywhere import usual
from onecrew.tui.lamps import CHOOSE, NUDGES

THIRD = 1 / 3

LIGHT: tuple[Action, ...] = (
    *CHOOSE,
    Action("select", ("s",), "s", "select", "Select the lamp, to change several at once", calls("select"), 5),
    Action("select-all", ("A",), "Shift+A", "all", "Select all lamps, or none", calls("select_all")),
    Action("edit", ("enter", "e"), "Enter", "type light", "Type level, white, tint or colour",
           calls("start_entry", ""), 2),
    Action("level-down", ("left",), "←", "−1 %", "Level down by 1 %", calls("nudge_level", -0.01)),
    Action("level-up", ("right",), "→", "+1 %", "Level up by 1 %", calls("nudge_level", 0.01)),
    Action("stops-down", ("shift+left",), "Shift+←", "−⅓ st", "Light down by a third of a stop",
           calls("nudge", -THIRD)),
    Action("stops-up", ("shift+right",), "Shift+→", "+⅓ st", "Light up by a third of a stop",
           calls("nudge", THIRD)),
    *NUDGES,
    Action("effect", ("f",), "f", "effect", "Add an effect, or remove it", calls("ask_effect"), 12),
    Action("effect-more", ("F",), "Shift+F", "effect…", "Effect with rate and depth", calls("type_effect")),
    Action("solo", ("o",), "o", "solo", "Solo: only these lamps, or all again", calls("show_some", Solo), 8),
    Action("without", ("O",), "Shift+O", "without", "Without: all but these lamps, or all again",
           calls("show_some", Without), 9),
    Action("compare", ("v",), "v", "compare", "Compare: the stored look, or the edited one",
           sends(Compare()), 10),
    Action("revert", ("r",), "r", "revert", "Revert these lamps to the stored look", calls("revert"), 11),
    Action("revert-all", ("R",), "Shift+R", "revert all", "Revert all to the stored look", sends(Revert())),
    Action("store", ("S",), "Shift+S", "store", "Store the present look as a cue", calls("ask_store"), 3),
    Action("edit-cue", ("E",), "Shift+E", "edit cue", "Edit the present cue: name, shortcut, times",
           calls("edit_cue"), 13),
    Action("kept", ("K",), "Shift+K", "kept edits", "Edits that were not stored: bring back or drop",
           calls("ask_kept")),
    Action("rendition", ("I",), "Shift+I", "rendition", "Colour rendition of this light: Ra, Rf, Rg, SSI",
           calls("ask_rendition")),
    Action("stills", ("J",), "Shift+J", "stills", "Stills of each lamp alone, to match a reference by",
           calls("ask_stills")),
    Action("identify", ("i",), "i", "identify", "Pulse these lamps gently, or stop",
           calls("show_some", Identify)),
    *usual(undo=4),
)  # fmt: skip
