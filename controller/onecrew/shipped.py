"""Data that ships with the program: the profiles and the example shows."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path

CHECKOUT = Path(__file__).resolve().parents[2]
"""The repository's top level where the program runs from a checkout."""


def shipped(folder: str) -> Path:
    """The folder ``profiles`` or ``examples``: package data of an installation, top level of a checkout."""
    if (CHECKOUT / "pyproject.toml").is_file():
        return CHECKOUT / folder
    return Path(str(files("onecrew").joinpath(folder)))
