"""A QR code (ISO/IEC 18004) for a terminal: two rows of modules to a line, by half blocks."""

from __future__ import annotations

from collections.abc import Sequence

QUIET = 2
"""Modules of quiet zone around the code. The standard asks for four; cameras do with two, and terminals are
small."""
BLOCKS = {(0, 0): "█", (0, 1): "▀", (1, 0): "▄", (1, 1): " "}
"""Light modules are drawn and dark ones left: on a dark terminal the code is dark on light, as it must be."""


def modules(text: str) -> list[list[int]]:
    """Rows of modules, 1 is dark, with a quiet zone."""
    import segno

    code = segno.make(text, error="m", micro=False, boost_error=False)
    return [[int(module) for module in row] for row in code.matrix_iter(border=QUIET)]


def lines(text: str) -> list[str]:
    """The code in characters alone, for a light-on-dark terminal."""
    rows = modules(text)
    if len(rows) % 2:
        rows.append([0] * len(rows[0]))
    return [_line(upper, lower) for upper, lower in zip(rows[::2], rows[1::2], strict=True)]


def painted(text: str) -> list[str]:
    """The code with its own black and white (ECMA-48 SGR 40 and 97), whatever colours the terminal has."""
    return [f"\x1b[40;97m{line}\x1b[0m" for line in lines(text)]


def _line(upper: Sequence[int], lower: Sequence[int]) -> str:
    return "".join(BLOCKS[pair] for pair in zip(upper, lower, strict=True))
