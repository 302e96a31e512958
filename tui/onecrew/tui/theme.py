"""How the screens look: a dark set, chalk on slate, one tungsten and one daylight accent.

No colour carries meaning alone: every state that has a colour here has a word beside it on the screen.
"""

from __future__ import annotations

from functools import lru_cache

from rich.style import Style
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

THEME = Theme(
    name="dark",
    dark=True,
    primary=TUNGSTEN,
    secondary=DAYLIGHT,
    accent=DAYLIGHT,
    warning=TUNGSTEN,
    error=ALARM,
    success=DAYLIGHT,
    foreground=CHALK,
    background=SLATE,
    surface=SLATE,
    panel=BOARD,
)


@lru_cache(maxsize=1024)
def swatch_style(swatch: str) -> Style:
    """The style of a filled cell in a swatch's colour (``#rrggbb``); the number stands beside it always."""
    return Style(color=swatch, bgcolor=SLATE)
