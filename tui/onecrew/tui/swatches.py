"""A swatch for a lamp that brings none of its own."""

from __future__ import annotations

from typing import Any


def swatch_of(lamp: Any) -> str:
    """The lamp's own ``swatch``, or nothing: the number beside it says the colour."""
    return str(getattr(lamp, "swatch", "") or "")
