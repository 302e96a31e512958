"""Text from people, made fit for a terminal, a table, a caption or a page: one line, nothing that acts."""

from __future__ import annotations

import unicodedata

from onecrew.terminal import acts

BETWEEN = frozenset("\t\n\r\v\f\u2028\u2029\x85")
STAND_IN = "�"


def clean(text: str) -> str:
    """The text on one line: line ends and tabs are blanks, what would act instead of show is ``�``."""
    if text.isascii() and text.isprintable():
        return text.strip()
    shown = "".join(" " if char in BETWEEN else STAND_IN if acts(char) else char for char in text)
    return " ".join(shown.split())


def plain_ascii(text: str) -> str:
    """The text in the signs of ASCII, for formats that are older than the others: accents go, dashes stay."""
    known = clean(text).translate(_NEAREST)
    spread = unicodedata.normalize("NFKD", known)
    return "".join(c if c.isascii() else "?" for c in spread if not unicodedata.combining(c))


_NEAREST = str.maketrans(
    {
        "–": "-", "—": "-", "−": "-", "‘": "'", "’": "'", "“": '"', "”": '"', "…": "...", "→": "->", "·": "-",
        "°": " deg", "×": "x", "ß": "ss", "æ": "ae", "Æ": "AE", "ø": "o", "Ø": "O", "ł": "l", "Ł": "L",
        "′": "'", "Δ": "d", "─": "-", "\N{NO-BREAK SPACE}": " ", STAND_IN: "?",
    }
)  # fmt: skip
