"""What stands in a TOML file that cannot be read as it was meant: where, what, and the fix."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping

from onecrew.errors import Fault

_PLACE = re.compile(r"\(at line (\d+), column (\d+)\)")
_NO_TOML = "this cannot be read as TOML"
_MEANT = (
    (re.compile(r"(True|False|TRUE|FALSE|[Yy]es|[Nn]o|on|off)\b"), "write true or false, in small letters"),
    (re.compile(r"[“”„‟‘’«»]"), 'put straight quotes around the text: "'),
    (re.compile(r";"), "no sign ends a line: remove it"),
    (re.compile(r"(//|/\*|--)"), "a comment begins with #"),
    (re.compile(r"[^\W\d]"), "put quotes around a text"),
)
"""By what stands at the place: what was meant."""


def syntax_fault(error: tomllib.TOMLDecodeError, text: str) -> Fault:
    """Return what tomllib found wrong, in words, with a guess at what was meant."""
    said = str(error)
    place = _PLACE.search(said)
    if place is None:
        return Fault("the last line", *_no_end())
    where, (number, column) = f"line {place[1]}, column {place[2]}", map(int, place.groups())
    line = ["", *text.splitlines()][number] if number <= len(text.splitlines()) else ""
    if "overwrite" in said or "twice" in said or "mutate" in said:
        return Fault(where, "something is named a second time here", "keep one of the two")
    behind = line[column - 1 :].strip()
    if "Unclosed" in said or (not behind and line.count('"') % 2):
        return Fault(where, *_no_end())
    if "'='" in said:
        return Fault(where, "a name without a value", "write name = value")
    if line.lstrip().startswith("[") and "table" in said:
        return Fault(where, _NO_TOML, "a name in brackets has no spaces or accents: use a–z, 0–9, - and _")
    if not behind and line.count("{") > line.count("}"):
        return Fault(where, "what is in braces goes on in the next line", "keep each pair of { } on one line")
    meant = next((fix for words, fix in _MEANT if words.match(behind)), None)
    fix = meant or "look there for a missing quote, bracket or comma, or a value without quotes"
    return Fault(where, _NO_TOML, fix)


def one_bracket(raw: Mapping[str, object]) -> list[Fault]:
    """Return a fault for ``[modes]``, which is a group and no list of groups; ``raw`` is then without it."""
    if not isinstance(raw.get("modes"), Mapping):
        return []
    return [Fault("modes", "[modes] is a single group", "write [[modes]], with two brackets, for each mode")]


def _no_end() -> tuple[str, str]:
    what = "a list, a group or a text has no end"
    return what, 'look here and in the lines above for a missing comma, ], } or "'
