"""Every key of a screen, as one page."""

from __future__ import annotations

from collections.abc import Callable
from typing import ClassVar

from textual.binding import Binding, BindingType

from onecrew.tui.actions import Action
from onecrew.tui.dialogs.page import Page

CAUTION = (
    "Flashing light can trigger seizures: it is limited to under three flashes a second; warn everyone all "
    "the same.",
    "Rig nothing above people without a safety bond and somebody licensed to do it. Follow local codes.",
)


class Help(Page):
    """The keys, grouped: this screen's first, then those of every screen; m leads to the manual."""

    BINDINGS: ClassVar[list[BindingType]] = [Binding("m", "manual", "manual")]

    def __init__(
        self,
        title: str,
        here: tuple[Action, ...],
        everywhere: tuple[Action, ...],
        more: str,
        manual: Callable[[], None],
    ) -> None:
        lines = [f"{title}: the keys here · m opens the manual", ""]
        lines += [self._line(action) for action in here]
        if more:
            lines += ["", more]
        lines += ["", "On every screen", ""]
        lines += [self._line(action) for action in everywhere]
        super().__init__("\n".join([*lines, "", *CAUTION]))
        self._manual = manual

    @staticmethod
    def _line(action: Action) -> str:
        return f"{action.shown:<13} {action.words}"

    def action_manual(self) -> None:
        self.dismiss()
        self._manual()
