"""The keys of the Light screen."""

from __future__ import annotations

from onecrew.commands.models import Compare, Revert
from onecrew.tui.actions import Action, calls
from onecrew.tui.everywhere import sends, usual
from onecrew.tui.lamps import CHOOSE, NUDGES

THIRD = 1 / 3

LIGHT: tuple[Action, ...] = (
    *CHOOSE,
    Action("mark", ("space",), "Space", "mark", "Mark the lamp, to change several at once", calls("mark"), 5),
    Action("all", ("a",), "a", "all", "Mark all lamps, or none", calls("mark_all")),
    Action("level-down", ("left",), "←", "−1 %", "Level down by 1 %", calls("nudge_level", -0.01)),
    Action("level-up", ("right",), "→", "+1 %", "Level up by 1 %", calls("nudge_level", 0.01)),
    Action("stops-down", ("minus",), "-", "−⅓ st", "Light down by a third of a stop", calls("nudge", -THIRD)),
    Action("stops-up", ("plus",), "+", "+⅓ st", "Light up by a third of a stop", calls("nudge", THIRD)),
    *NUDGES,
    Action("type-tint", ("t",), "t", "tint", "Type a tint in thousandths: t +3", calls("start_entry", "t ")),
    Action("type-xy", ("x",), "x", "xy", "Type a coloured light: x .45 .41", calls("start_entry", "x ")),
    Action("type-hue", ("h",), "h", "hue", "Type hue and saturation: h 30 80", calls("start_entry", "h ")),
    Action("effect", ("f",), "f", "effect", "Give an effect, or take it away", calls("ask_effect"), 12),
    Action("effect-more", ("F",), "Shift+F", "effect…", "Effect with pace and depth", calls("type_effect")),
    Action("solo", ("o",), "o", "solo", "Solo: only these lamps, or all again", calls("solo"), 8),
    Action("without", ("d",), "d", "without", "Without: take these lamps away, or bring them back",
           calls("without"), 9),
    Action("compare", ("v",), "v", "compare", "Compare: the stored look, or the edited one again",
           sends(Compare()), 10),
    Action("revert", ("r",), "r", "revert", "Revert these lamps to the stored look", calls("revert"), 11),
    Action("revert-all", ("R",), "Shift+R", "revert all", "Revert all to the stored look", sends(Revert())),
    Action("store", ("s",), "s", "store", "Store what shows into a cue", calls("ask_store"), 3),
    Action("cue", ("e",), "e", "edit cue", "Edit the cue that shows: name, key, times",
           calls("edit_cue"), 13),
    Action("remove-cue", ("X",), "Shift+X", "remove cue", "Take a cue out of the show",
           calls("ask_remove_cue")),
    Action("rendition", ("n",), "n", "rendition", "Work out how surfaces look: Ra, Rf, Rg, SSI",
           calls("ask_rendition")),
    Action("identify", ("i",), "i", "identify", "Let these lamps breathe gently, or stop", calls("identify")),
    *usual(undo=4),
)  # fmt: skip
