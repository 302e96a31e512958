"""How the screens look: a dark set, chalk on slate, one tungsten and one daylight accent.

Panes draw with the styles below; for a bright room they are exchanged where a row is shown (``canvas.py``).
No colour carries meaning alone: every state that has a colour here has a word beside it on the screen.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from rich.style import Style
from textual.app import App
from textual.theme import Theme

SLATE = "#15171b"
"""The ground of every screen."""
BOARD = "#22262c"
"""A raised field: the header, the footer, a dialog."""
CHALK = "#f1ebdf"
FAINT = "#a19d95"
"""Labels and hints: 7 : 1 against the ground."""
RULE = "#5a5f68"
TUNGSTEN = "#f2b65c"
"""What is now and what the eye should find first."""
DAYLIGHT = "#9fc8ea"
"""What comes next, what is selected."""
ALARM = "#ff7a66"

GROUND = Style(color=CHALK, bgcolor=SLATE)
PLAIN = GROUND
STRONG = GROUND + Style(bold=True)
LABEL = Style(color=FAINT, bgcolor=SLATE)
LINE = Style(color=RULE, bgcolor=SLATE)
NOW = Style(color=TUNGSTEN, bgcolor=SLATE, bold=True)
NEXT = Style(color=DAYLIGHT, bgcolor=SLATE, bold=True)
WARN = Style(color=ALARM, bgcolor=SLATE, bold=True)
KEY = Style(color=TUNGSTEN, bgcolor=SLATE, bold=True)
CHOSEN = Style(color=SLATE, bgcolor=DAYLIGHT, bold=True)
"""The selected row or tab: reversed, and marked by a sign as well."""
SHOUT = Style(color=SLATE, bgcolor=ALARM, bold=True)
BAR = Style(color=CHALK, bgcolor=BOARD)
BAR_LABEL = Style(color=FAINT, bgcolor=BOARD)
BAR_KEY = Style(color=TUNGSTEN, bgcolor=BOARD, bold=True)
BAR_WARN = Style(color=ALARM, bgcolor=BOARD, bold=True)

BRIGHT_ROOM = {
    SLATE: "#f7f5f0",
    BOARD: "#dedad1",
    CHALK: "#16181c",
    FAINT: "#504d47",
    RULE: "#8b8780",
    TUNGSTEN: "#7d4300",
    DAYLIGHT: "#0b4a7a",
    ALARM: "#a3141a",
}
"""What each colour is on the screens of a bright room: ink on paper, in the same order of contrast."""


def _theme(name: str, colours: Callable[[str], str]) -> Theme:
    return Theme(
        name=name,
        dark=name == DARK,
        primary=colours(TUNGSTEN),
        secondary=colours(DAYLIGHT),
        accent=colours(DAYLIGHT),
        warning=colours(TUNGSTEN),
        error=colours(ALARM),
        success=colours(DAYLIGHT),
        foreground=colours(CHALK),
        background=colours(SLATE),
        surface=colours(SLATE),
        panel=colours(BOARD),
    )


DARK, BRIGHT = "dark", "bright"
NAMES = (DARK, BRIGHT)
_THEMES = (_theme(DARK, str), _theme(BRIGHT, lambda colour: BRIGHT_ROOM[colour]))


def dress(app: App[Any], name: str) -> None:
    """Give an app its colours."""
    for one in _THEMES:
        app.register_theme(one)
    app.theme = name


@dataclass(frozen=True, slots=True)
class Remembered:
    """Which colours the person chose last, and where another choice goes."""

    name: str = DARK
    keep: Callable[[str], None] = lambda _: None

    def turn(self, app: App[Any]) -> None:
        """The other colours, from now on."""
        app.theme = BRIGHT if app.theme == DARK else DARK
        self.keep(app.theme)


ON_SET = Remembered()


@lru_cache(maxsize=1024)
def swatch_style(swatch: str) -> Style:
    """The style of a filled cell in a swatch's colour (``#rrggbb``); the number stands beside it always.

    A swatch says what colour a light has: it is the same in every room, on the same dark ground.
    """
    return Style(color=swatch, bgcolor=SLATE, dim=False)


@lru_cache(maxsize=1024)
def in_bright_room(style: Style) -> Style:
    """What a pane draws with this style, as it is shown in a bright room."""
    if style.dim is not None or style.color is None or style.bgcolor is None:
        return style  # a swatch
    ink, paper = (BRIGHT_ROOM.get(colour.name) for colour in (style.color, style.bgcolor))
    return style + Style(color=ink, bgcolor=paper)
