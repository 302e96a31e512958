"""The forms of `onecrew send`, read off the source of the table without running it.

Building the models takes a quarter of a second, which --help and completion must not cost.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

FAMILIES = (
    "running",
    "light",
    "stills",
    "countdown",
    "takes",
    "cues",
    "cue_list",
    "scenes",
    "rig",
    "set_pieces",
    "camera",
    "room",
    "network",
    "session",
)
"""The modules of this folder that have rows, in the order in which people look for them."""


_FORMS = re.compile(r"^    forms=(\{.*?\}),$", re.MULTILINE | re.DOTALL)
"""The literal of one row, as the formatter lays it out; parsing whole modules takes ten times as long."""


def forms() -> dict[str, str]:
    """Each form with what it does, in the order of the table."""
    return {form: does for name in FAMILIES for form, does in _forms_in(name)}


def verbs() -> list[str]:
    """The words that forms begin with, each once."""
    return list(dict.fromkeys(form.split()[0] for form in forms()))


def _forms_in(family: str) -> Iterator[tuple[str, str]]:
    source = Path(__file__).with_name(f"{family}.py").read_text(encoding="utf-8")
    for said in _FORMS.findall(source):
        yield from ast.literal_eval(said).items()


def listing() -> str:
    """The forms as aligned lines for --help."""
    lines = []
    for form, does in forms().items():
        lines.append(f"  {form}\n      {does}" if len(form) > 34 else f"  {form:<34}  {does}")
    return "\n".join(lines)
