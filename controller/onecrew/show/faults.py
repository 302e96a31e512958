"""What pydantic found wrong → faults in plain words: where, what, and the fix."""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Mapping, Sequence, Sized
from dataclasses import dataclass
from itertools import islice
from typing import Any

from pydantic import ValidationError

from onecrew.errors import Fault
from onecrew.show.base import CUE_NUMBER, SHORT_NAME, UNIVERSE_NUMBER
from onecrew.terminal import printable

Json = Mapping[str, Any]
Step = str | int

MAX_FAULTS = 500
"""A file with more faults than this is not a show with mistakes; the rest is counted, not listed."""

PATTERN_WORDS = {
    SHORT_NAME: 'a short name of a–z, 0–9, "-" and "_" such as "window"',
    CUE_NUMBER: 'a cue number in quotes such as "1" or "2.5"',
    UNIVERSE_NUMBER: 'a universe number in quotes such as "1"',
}
"""Every pattern of the models, as a user would say it."""

_TRIED = {"array": ("tuple", "list"), "integer": ("int", "constrained-int"), "number": ("float",)}
"""How pydantic names the plain members of a union that it tried, by their type."""
_PLAIN_STEP = re.compile(r"[A-Za-z0-9_.-]+")
_NUMBER_REASON = {
    "greater_than_equal": ("ge", "is below"),
    "less_than_equal": ("le", "is above"),
    "greater_than": ("gt", "is not above"),
    "less_than": ("lt", "is not below"),
}


def path_of(steps: Sequence[Step]) -> str:
    """The path of a value as users read it.

    >>> path_of(("cues", 3, "look", "window", "level"))
    'cues[3].look.window.level'
    """
    text = ""
    for step in steps:
        if isinstance(step, int):
            text += f"[{step}]"
        elif not _PLAIN_STEP.fullmatch(step):
            text += f"[{shown(step)}]"
        else:
            text += f".{step}" if text else step
    return text


def shown(value: object) -> str:
    """A value as it stands in the file, cut short when long; lists and groups only by what they are."""
    if isinstance(value, Mapping):
        return "a group of fields"
    if isinstance(value, list | tuple):
        return "a list"
    if isinstance(value, str) and len(value) > 40:
        value = value[:39] + "…"
    return printable(json.dumps(value, ensure_ascii=False, default=str))


def meant(word: str, choices: Iterable[str]) -> str | None:
    """The choice that a mistyped word most likely stands for, or None; looks at the first 500 of them."""
    from difflib import get_close_matches  # an engine seldom needs it

    folded = {choice.casefold(): choice for choice in islice(choices, 500)}
    close = get_close_matches(word.casefold()[:100], folded, n=1, cutoff=0.6)
    return folded[close[0]] if close else None


def listed(words: Sequence[str], joint: str = "and") -> str:
    """Words as a list in a sentence.

    >>> listed(["a", "b", "c"])
    'a, b and c'
    """
    return f"{', '.join(words[:-1])} {joint} {words[-1]}" if len(words) > 1 else "".join(words)


def few(words: Sequence[str], most: int = 20) -> str:
    """Words as a list, the first of them when there are many."""
    if len(words) <= most:
        return listed(words)
    return f"{', '.join(words[:most])} and {len(words) - most} more"


def plain_faults(error: ValidationError, schema: Json) -> list[Fault]:
    """Every error of a validation in plain words; ``schema`` is the JSON Schema of what was validated.

    Twice ``MAX_FAULTS`` at most: ``bounded`` says that there are more.
    """
    listed_entries = error.errors(include_url=False)[: 2 * MAX_FAULTS]
    entries = [(_place(schema, tuple(entry["loc"])), entry) for entry in listed_entries]
    inside = [place.steps for place, _ in entries if not place.whole_union]
    faults: list[Fault] = []
    for place, entry in entries:
        size = len(place.steps)
        if entry["type"] == "too_short" and len(entry["input"]) >= entry["ctx"]["min_length"]:
            continue  # the entries are there; what is wrong inside them is reported separately
        if place.whole_union and any(steps[:size] == place.steps and len(steps) > size for steps in inside):
            continue  # one member of the union fits but for something inside it: that is reported instead
        faults.append(_plain(entry, place, schema))
    return list(dict.fromkeys(faults))


def bounded(faults: Sequence[Fault]) -> list[Fault]:
    """At most ``MAX_FAULTS`` faults, each once and on one line, the rest as a count."""
    by_place: dict[tuple[str, str], Fault] = {}
    for fault in (Fault(*map(printable, (raw.where, raw.what, raw.fix))) for raw in faults):
        by_place.setdefault((fault.where, fault.what), fault)
    kept = list(by_place.values())
    if len(kept) > MAX_FAULTS:
        more = len(kept) - MAX_FAULTS
        what = f"there are {more} faults more, or still others"
        kept[MAX_FAULTS:] = [Fault("", what, "fix these first and check again")]
    return kept


# ── One error ───────────────────────────────────────────────────────────────────────────────────────


def _plain(entry: Mapping[str, Any], place: _Place, schema: Json) -> Fault:
    kind, value, ctx = entry["type"], entry.get("input"), entry.get("ctx", {})
    where, node = path_of(place.steps), place.node
    last = place.steps[-1] if place.steps else ""
    above = _place(schema, tuple(entry["loc"])[:-1])
    if entry["loc"] and entry["loc"][-1] == "[key]":
        pattern = next(iter(_place(schema, place.steps[:-2]).node.get("patternProperties", {})), "")
        fix = f"use {PATTERN_WORDS.get(pattern, 'another name')}"
        return Fault(path_of(place.steps[:-1]), f"{shown(place.steps[-2])} cannot be a name here", fix)
    if kind == "value_error":
        what, _, fix = str(ctx.get("error", entry["msg"])).partition("; ")
        return Fault(where, what, fix or f"give {describe(node, schema)}")
    if kind == "missing" and isinstance(last, int):
        have = len(value) if isinstance(value, list | tuple) else 0
        want = len(above.node.get("prefixItems", ()))
        fix = f"give {describe(above.node, schema)}"
        return Fault(path_of(above.steps), f"the list has {have} of its {want} entries", fix)
    if kind == "missing":
        return Fault(where, f"{shown(last)} is missing", f"add it: {describe(node, schema)}")
    if kind == "extra_forbidden":
        return _unknown_field(where, str(last), above.node, schema)
    if kind in ("union_tag_not_found", "union_tag_invalid"):
        return _unknown_kind(where, value, node)
    return Fault(where, _reason(kind, value, ctx, node, schema), f"give {describe(node, schema)}")


def _reason(kind: str, value: object, ctx: Mapping[str, Any], node: Json, schema: Json) -> str:
    if kind in _NUMBER_REASON:
        bound, words = _NUMBER_REASON[kind]
        return f"{shown(value)} {words} {_number(ctx[bound])}"
    choices = [choice for choice in _choices(node, schema) if isinstance(choice, str)]
    if isinstance(value, str) and choices:
        close = meant(value, choices)
        return f"{shown(value)} is not a choice here" + (f', perhaps "{close}" was meant' if close else "")
    if kind == "string_too_long" and isinstance(value, str):
        return f"the text is {len(value)} characters long"
    if kind == "string_too_short" or (kind == "too_short" and not value):
        return "nothing is in it"
    if kind in ("too_long", "too_short") and isinstance(value, Sized):
        return f"there are {len(value)} entries"
    if kind == "string_unicode":
        return "the text holds a broken character"
    if kind == "string_pattern_mismatch":
        return f"{shown(value)} is not written as it must be here"
    return _what_stands_here(value, number=node.get("type") in ("number", "integer"))


def _what_stands_here(value: object, *, number: bool) -> str:
    match value:
        case None:
            return "nothing is given"
        case bool():
            return f"{shown(value)} stands here"
        case float() if number and value.is_integer():
            return f"{shown(value)} is written with a point"
        case str() if number:
            return f"{shown(value)} is a text"
        case list() | tuple() | Mapping():
            return f"{shown(value)} stands here"
    return f"{shown(value)} does not fit here"


def _unknown_field(where: str, name: str, node: Json, schema: Json) -> Fault:
    names = sorted(node.get("properties", {}))
    top = _target(schema, schema).get("properties", {})
    groups = [group for group, part in top.items() if name in _only(part, schema).get("properties", {})]
    if name in top:
        fix = "it stands at the top of the file, before the first group: move it there"
        return Fault(where, f"{shown(name)} is not a field here", fix)
    if groups:
        return Fault(where, f"{shown(name)} is not a field here", f"it stands in {groups[0]}: move it there")
    close = meant(name, names)
    fix = f'perhaps "{close}" was meant' if close else f"remove it; what can stand here: {', '.join(names)}"
    return Fault(where, f"{shown(name)} is not a field here", fix)


def _unknown_kind(where: str, value: object, node: Json) -> Fault:
    kinds = list(node.get("discriminator", {}).get("mapping", {}))
    given = value.get("kind") if isinstance(value, Mapping) else None
    inner = f"{where}.kind" if where else "kind"
    if given is None:
        return Fault(inner, '"kind" is missing', f"add it: one of {listed(kinds, 'or')}")
    close = meant(given, kinds) if isinstance(given, str) else None
    fix = f'perhaps "{close}" was meant' if close else f"give one of {listed(kinds, 'or')}"
    return Fault(inner, f"{shown(given)} is not a kind", fix)


# ── What would be right, from the schema ────────────────────────────────────────────────────────────


def describe(node: Json, schema: Json) -> str:
    """What a part of a schema asks for, in words: 'a number from 0 to 1'."""
    node = _target(node, schema)
    if "const" in node:
        return shown(node["const"])
    if "enum" in node:
        few = "one of " if len(node["enum"]) > 2 else ""
        return few + listed([shown(choice) for choice in node["enum"]], "or")
    if tag := node.get("discriminator"):
        return f"a group of fields in braces with {tag['propertyName']}"
    if options := _options(node):
        return listed(list(dict.fromkeys(describe(option, schema) for option in options)), "or")
    match node.get("type"):
        case "number" | "integer":
            return _describe_number(node)
        case "boolean":
            return "true or false"
        case "string":
            return _describe_text(node)
        case "array" if "prefixItems" in node:
            parts = [describe(part, schema) for part in node["prefixItems"]]
            each = f"each {parts[0]}" if len(set(parts)) == 1 else listed(parts)
            return f"a list of {len(parts)}, {each}"
        case "array":
            return f"a list in brackets, each {describe(node.get('items', {}), schema)}"
        case "object":
            if examples := node.get("examples"):
                inside = ", ".join(f"{name} = {json.dumps(value)}" for name, value in examples[0].items())
                return f"a group of fields in braces such as {{ {inside} }}"
            needed = node.get("required") or list(node.get("properties", {}))
            with_fields = f" with {listed(needed)}" if needed else ""
            return f"a group of fields in braces{with_fields}"
    return "something else"


def _describe_number(node: Json) -> str:
    noun = "a whole number" if node["type"] == "integer" else "a number"
    bounds = (
        ("minimum", "from"), ("exclusiveMinimum", "above"), ("maximum", "to"), ("exclusiveMaximum", "below")
    )  # fmt: skip
    words = [f"{word} {_number(node[bound])}" for bound, word in bounds if bound in node]
    if len(words) == 2 and not words[0].startswith("from"):
        words = [words[0], "and", words[1].replace("to", "up to")]
    return " ".join((noun, *words))


def _describe_text(node: Json) -> str:
    if "pattern" in node:
        return PATTERN_WORDS.get(node["pattern"], "a text written another way")
    low, high = node.get("minLength", 0), node.get("maxLength")
    if high == 1:
        return "one character"
    least = "at least one and " if low else ""
    return f"a text of {least}at most {high} characters" if high else "a text"


def _number(value: float) -> str:
    return f"{value:g}" if abs(value) < 1e6 else f"{value:.0f}"


def _choices(node: Json, schema: Json) -> list[object]:
    node = _target(node, schema)
    own = [node["const"]] if "const" in node else list(node.get("enum", []))
    return own + [choice for option in _options(node) for choice in _choices(option, schema)]


# ── Finding the part of the schema that a path leads to ─────────────────────────────────────────────


@dataclass(frozen=True, slots=True)
class _Place:
    """Where a path leads: its steps that stand in the document, and the part of the schema there.

    Where a value may be of several kinds, pydantic adds a step that names the kind it tried; a path that
    ends in such a step is about the whole value.
    """

    steps: tuple[Step, ...]
    node: Json
    whole_union: bool = False


def _place(schema: Json, steps: Sequence[Step]) -> _Place:
    real: list[Step] = []
    node = _target(schema, schema)
    for number, step in enumerate(steps):
        options = _options(node)
        if len(options) > 1:
            if number == len(steps) - 1:
                return _Place(tuple(real), node, whole_union=True)
            node = next((_target(o, schema) for o in options if _is_named(o, str(step), node, schema)), {})
            continue
        real.append(step)
        node = _only(_target(_inside(node, step), schema), schema)
    return _Place(tuple(real), node)


def _target(node: Json, schema: Json) -> Json:
    while "$ref" in node:
        node = schema["$defs"][node["$ref"].rsplit("/", 1)[-1]]
    return node


def _options(node: Json) -> list[Json]:
    """The members of a union, without null."""
    options = node.get("anyOf") or node.get("oneOf") or []
    return [option for option in options if option.get("type") != "null"]


def _only(node: Json, schema: Json) -> Json:
    """The one thing that an optional value can be besides null."""
    options = _options(node)
    return _target(options[0], schema) if len(options) == 1 else node


def _is_named(option: Json, name: str, union: Json, schema: Json) -> bool:
    tagged = union.get("discriminator", {}).get("mapping", {}).get(name)
    if tagged:
        return bool(tagged == option.get("$ref"))
    plain = _target(option, schema)
    return plain.get("title") == name or name.startswith(_TRIED.get(str(plain.get("type")), ("?",)))


def _inside(node: Json, step: Step) -> Json:
    found: Any
    if isinstance(step, int):
        parts = node.get("prefixItems", [])
        found = parts[step] if step < len(parts) else node.get("items")
    else:
        named = node.get("patternProperties") or {"": node.get("additionalProperties")}
        found = node.get("properties", {}).get(step) or next(iter(named.values()))
    return found if isinstance(found, Mapping) else {}
