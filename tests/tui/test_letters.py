"""Letters: one meaning each, the same on every screen."""

from __future__ import annotations

from collections import defaultdict

from onecrew.tui.app import OnecrewApp
from onecrew.tui.everywhere import EVERYWHERE

ARROWS = {f"{shift}{arrow}" for shift in ("", "shift+") for arrow in ("up", "down", "left", "right")}
MOVING = {*ARROWS, "home", "end"}
"""They move whatever the screen has: the cursor, the level, a lamp on the plan, the list."""


def test_a_key_means_the_same_on_every_screen() -> None:
    meanings: dict[str, set[str]] = defaultdict(set)
    for screen in OnecrewApp.MODES.values():
        for action in (*screen.ACTIONS, *EVERYWHERE):  # type: ignore[union-attr]
            for key in action.keys:
                meanings[key].add(action.name)
    several = {key: names for key, names in meanings.items() if len(names) > 1 and key not in MOVING}
    assert several == {}
    assert {"space", "d", "h", "S"} <= meanings.keys(), "the screens' keys have been looked at"


def test_a_meaning_is_worded_alike_on_every_screen() -> None:
    """The same action under another word would read as another thing; what it acts on may differ."""
    words: dict[str, set[str]] = defaultdict(set)
    for screen in OnecrewApp.MODES.values():
        for action in screen.ACTIONS:  # type: ignore[union-attr]
            words[action.name].add(action.word)
    differ = {name for name, said in words.items() if len(said) > 1}
    assert differ <= {"add", "edit", "raise", "lower"}
