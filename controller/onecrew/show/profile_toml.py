"""A profile written as TOML for people to read and change."""

from __future__ import annotations

import json
import tomllib
from collections.abc import Iterable, Mapping
from typing import Any

from onecrew.terminal import printable


def profile_toml(data: Mapping[str, Any], head: Iterable[str] = ()) -> str:
    """Return a profile's fields as TOML, ``head`` as comments above it.

    A channel may hold a ``comment``, which goes behind it.
    """
    lines = [f"# {printable(line)}".rstrip() for line in head]
    lines += ["", f"name = {_value(data['name'])}"]
    if data.get("note"):
        lines += ['note = """', *(_text(line) for line in data["note"].splitlines()), '"""']
    for name, value in data.items():
        if name not in ("name", "note", "emitters", "modes") and not isinstance(value, Mapping):
            lines.append(f"{name} = {_value(value)}")
    groups = {
        name: value
        for name, value in data.items()
        if isinstance(value, Mapping) and name not in ("emitters", "filters")
    }
    for kind in ("emitters", "filters"):
        groups |= {f"{kind}.{name}": one for name, one in data.get(kind, {}).items()}
    for name, group in groups.items():
        lines += ["", f"[{name}]", *_fields(group)]
    for mode in data["modes"]:
        told = {name: value for name, value in mode.items() if name != "channels"}
        lines += ["", "[[modes]]", *_fields(told), "channels = ["]
        lines += [f"    {_channel(channel)}" for channel in mode["channels"]]
        lines.append("]")
    return "\n".join(lines).lstrip("\n") + "\n"


def _fields(group: Mapping[str, Any]) -> list[str]:
    comment = group.get("comment", "")
    fields = [f"{name} = {_value(value)}" for name, value in group.items() if name != "comment"]
    return [f"# {printable(comment)}", *fields] if comment else fields


def as_written(channel: Mapping[str, Any]) -> dict[str, Any]:
    """Return a channel as a reader of the TOML finds it: with figures as they are rounded there."""
    told: dict[str, Any] = tomllib.loads(f"channel = {_value(channel)}")["channel"]
    return told


def _channel(channel: Mapping[str, Any]) -> str:
    told = {name: value for name, value in channel.items() if name != "comment"}
    comment = channel.get("comment", "")
    return f"{_value(told)}," + (f"  # {printable(comment)}" if comment else "")


def _value(value: object) -> str:
    if isinstance(value, Mapping):
        inside = ", ".join(f"{name} = {_value(inner)}" for name, inner in value.items())
        return f"{{ {inside} }}" if inside else "{}"
    if isinstance(value, list | tuple):
        return f"[{', '.join(map(_value, value))}]"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, float):
        return f"{value:.6g}" if "e" not in f"{value:.6g}" else repr(round(value, 9))
    return f'"{_text(value)}"' if isinstance(value, str) else str(value)


def _text(text: str) -> str:
    """The inside of a TOML string. JSON's escapes are TOML's, but for the delete character."""
    return json.dumps(text, ensure_ascii=False)[1:-1].replace("\x7f", "\\u007f")
