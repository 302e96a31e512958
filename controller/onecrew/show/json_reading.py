"""Reading a document: the bytes of a file, bounded, and JSON text, exactly.

JSON is read more strictly than Python does by itself: a field written twice, NaN, infinity, numbers beyond
any use and characters that no file can hold are faults, each with its path.
"""

from __future__ import annotations

import json
import math
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from onecrew.errors import DocumentFaults, Fault, Trouble
from onecrew.plain_files import plain_status
from onecrew.show.faults import Step, path_of, shown
from onecrew.terminal import printable

MAX_BYTES = 16 * 1024 * 1024
"""A show is some kilobytes; a file beyond this is something else."""
MAX_DEPTH = 32
"""Groups within groups; a show needs eight."""
MAX_DIGITS = 40
MAX_VALUES = 300_000
"""Values in a document: sixty-four lamps in five hundred cues come to less."""


@dataclass(frozen=True, slots=True)
class Parsed:
    """The data of a document as far as it can be used, and what was wrong with the writing of it."""

    data: Any
    faults: tuple[Fault, ...] = ()


# ── The file ────────────────────────────────────────────────────────────────────────────────────────


def read_bytes(path: Path, noun: str = "show", limit: int = MAX_BYTES) -> bytes:
    """All of a file. Trouble in one sentence if it is no file, cannot be read or is over ``limit`` bytes."""
    try:
        if plain_status(path).st_size <= limit:
            with path.open("rb") as file:
                content = file.read(limit + 1)
            if len(content) <= limit:
                return content
    except FileNotFoundError:
        raise Trouble(f"There is no file {path}; check the name and the folder.") from None
    except PermissionError:
        raise Trouble(f"{path} may not be read by this user; change its permissions.") from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or "its name is not one a file can have"
        raise Trouble(f"{path} cannot be read ({reason}); check the disk and the name.") from error
    size = f"larger than {limit // (1024 * 1024)} MB"
    raise Trouble(f"{path} is {size}, far more than a {noun} can be; name the right file.")


def decode(content: bytes, source: str) -> str:
    """UTF-8 bytes as text, a byte order mark tolerated. DocumentFaults if they are not UTF-8, or nothing."""
    if not content.strip(b" \t\r\n\0"):
        raise DocumentFaults(source, [Fault("", "the file is empty", "put a saved version in its place")])
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        fix = "save it as UTF-8 text"
        fault = Fault(f"line {line}", "the text is not UTF-8", fix)
        raise DocumentFaults(source, [fault]) from None


# ── JSON ────────────────────────────────────────────────────────────────────────────────────────────


class _Group(dict[str, Any]):
    """A JSON object that remembers which of its fields were written twice."""

    twice: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class _Unusable:
    """Stands in the data where a number cannot be used."""

    what: str
    fix: str


def parse_json(text: str, source: str) -> Parsed:
    """JSON text as plain data: groups as dict, lists as tuple. DocumentFaults if it is not JSON at all."""
    try:
        raw = json.loads(
            text.removeprefix("\ufeff"),
            object_pairs_hook=_group,
            parse_constant=lambda word: _Unusable(f"{word} is not a number", "give a finite number"),
            parse_float=_float,
            parse_int=_int,
        )
    except json.JSONDecodeError as error:
        raise DocumentFaults(source, [_syntax(error)]) from None
    except RecursionError:
        raise DocumentFaults(source, [_too_deep("")]) from None
    return plain(raw)


def plain(raw: Any) -> Parsed:
    """Parsed data with lists as tuples and what cannot be used taken out, each with a fault."""
    if _count(raw) > MAX_VALUES:
        fault = Fault("", "the document holds far more than a show can", "name the right file")
        return Parsed(None, (fault,))
    faults: list[Fault] = []
    data = _plain(raw, (), faults)
    return Parsed(data, tuple(faults))


def _count(raw: Any) -> int:
    """How many values there are, as far as ``MAX_VALUES``, written-twice ones included."""
    count, waiting = 0, [raw]
    while waiting and count <= MAX_VALUES:
        value = waiting.pop()
        if isinstance(value, dict):
            count += len(value) + len(getattr(value, "twice", ()))
            waiting += value.values()
        elif isinstance(value, list):
            count += len(value)
            waiting += value
    return count


def _plain(value: Any, steps: tuple[Step, ...], faults: list[Fault]) -> Any:
    if len(steps) > MAX_DEPTH:
        faults.append(_too_deep(path_of(steps)))
        return None
    if isinstance(value, _Unusable):
        faults.append(Fault(path_of(steps), value.what, value.fix))
        return None
    if isinstance(value, float) and not math.isfinite(value):
        faults.append(Fault(path_of(steps), f"{value} is not a number", "give a finite number"))
        return None
    if isinstance(value, str) and not _can_be_written(value):
        faults.append(Fault(path_of(steps), "the text holds half a character", "type it again"))
        return None
    if isinstance(value, dict):
        for key in getattr(value, "twice", ()):
            fix = "keep one of the two"
            faults.append(Fault(path_of((*steps, _safe(key))), f"{shown(_safe(key))} is written twice", fix))
        return {_safe(key): _plain(inner, (*steps, _safe(key)), faults) for key, inner in value.items()}
    if isinstance(value, list):
        return tuple(_plain(inner, (*steps, number), faults) for number, inner in enumerate(value))
    return value


def _group(pairs: list[tuple[str, Any]]) -> _Group:
    group = _Group(pairs)
    if len(group) < len(pairs):
        seen: set[str] = set()
        group.twice = tuple(dict.fromkeys(key for key, _ in pairs if key in seen or seen.add(key)))  # type: ignore[func-returns-value]
    return group


def _float(word: str) -> float | _Unusable:
    value = float(word)
    return value if math.isfinite(value) else _Unusable(f"{word[:20]} is too large", "give a smaller number")


def _int(word: str) -> int | _Unusable:
    return int(word) if len(word) <= MAX_DIGITS else _Unusable("the number is too long", "give a shorter one")


def _can_be_written(text: str) -> bool:
    return not any("\ud800" <= character <= "\udfff" for character in text)


def _safe(key: str) -> str:
    return key if _can_be_written(key) else key.encode("utf-8", "replace").decode()


def _too_deep(where: str) -> Fault:
    return Fault(where, "the groups are nested too deep", "a show has no more than eight within each other")


def _syntax(error: json.JSONDecodeError) -> Fault:
    """Where the reading stopped and what to look for there."""
    text, at = error.doc, error.pos
    where = f"line {error.lineno}, column {error.colno}"
    rest = text[at:].lstrip()
    before = text[:at].rstrip()
    if not rest:
        return Fault(where, "the file ends too early", "put back what is missing, or take a saved version")
    here = f"'{printable(rest[0])}'"
    if "Unterminated" in error.msg or "control character" in error.msg:
        return Fault(where, "a text in quotes has no end on its line", 'close it with "')
    if "escape" in error.msg:
        return Fault(where, "a \\ in a text stands before something unknown", "write \\\\ for one \\")
    if "delimiter" in error.msg and "','" in error.msg:
        fix = "put a comma between two entries, or close the bracket or brace"
        return Fault(where, f"{here} comes where a comma should be", fix)
    if "delimiter" in error.msg:
        return Fault(where, f"{here} comes where a colon should be", "put a : between a name and its value")
    if "Extra data" in error.msg:
        return Fault(where, "something follows after the end of the document", "remove it")
    if "trailing comma" in error.msg or (before.endswith(",") and rest[0] in "]}"):
        return Fault(where, "a comma stands before a closing bracket", "remove the comma")
    if "property name" in error.msg:
        return Fault(where, f"{here} comes where a name should be", "write names in double quotes")
    fix = "give a text in double quotes, a number, true, false, null, a list or a group"
    return Fault(where, f"{here} is not the start of a value", fix)
