"""The JSON Schema agrees with the loader, field by field, and explains itself."""

from __future__ import annotations

import json
import re
from typing import Any

from hypothesis import given, settings

from onecrew.show.dump import dump_show
from onecrew.show.schema import json_schema
from onecrew.show.show import Show
from tests.show.shows import file_data, shows

SCHEMA = json_schema()


def wrong(value: Any, node: dict[str, Any], path: str = "") -> list[str]:
    """Where a value breaks the schema, by the keywords of JSON Schema 2020-12 that it uses."""
    if "$ref" in node:
        node = {**SCHEMA["$defs"][node["$ref"].rsplit("/", 1)[-1]], **node}
    if "anyOf" in node:
        return [] if any(not wrong(value, option, path) for option in node["anyOf"]) else [path]
    kind = node.get("type")
    if kind is not None and not _is(value, kind):
        return [path]
    found = [path] if ("const" in node and value != node["const"]) else []
    found += [path] if "enum" in node and value not in node["enum"] else []
    if isinstance(value, dict):
        found += [f"{path}/{name}" for name in node.get("required", []) if name not in value]
        for name, inner in value.items():
            below = node.get("properties", {}).get(name) or next(
                (
                    part
                    for pattern, part in node.get("patternProperties", {}).items()
                    if re.search(pattern, name)
                ),
                None,
            )
            if below is not None:
                found += wrong(inner, below, f"{path}/{name}")
            elif node.get("additionalProperties") is False:
                found.append(f"{path}/{name}")
    if isinstance(value, list):
        for number, inner in enumerate(value):
            parts = node.get("prefixItems", [])
            below = parts[number] if number < len(parts) else node.get("items", {})
            found += wrong(inner, below, f"{path}/{number}")
        found += [path] if not node.get("minItems", 0) <= len(value) <= node.get("maxItems", 10**9) else []
    if isinstance(value, str):
        fits = node.get("minLength", 0) <= len(value) <= node.get("maxLength", 10**9)
        found += [path] if not fits or not re.search(node.get("pattern", ""), value) else []
    if isinstance(value, int | float) and not isinstance(value, bool):
        low = node.get("minimum", value) <= value and node.get("exclusiveMinimum", value - 1) < value
        high = value <= node.get("maximum", value) and value < node.get("exclusiveMaximum", value + 1)
        found += [path] if not (low and high) else []
    return found


def _is(value: Any, kind: str) -> bool:
    if isinstance(value, bool):
        return kind == "boolean"
    kinds = {"object": dict, "array": list, "string": str, "integer": int, "null": type(None)}
    return isinstance(value, int | float) if kind == "number" else isinstance(value, kinds[kind])


@settings(max_examples=60, deadline=None, derandomize=True)
@given(shows())
def test_every_show_that_is_saved_fits_the_schema(show: Show) -> None:
    assert wrong(json.loads(dump_show(show)), SCHEMA) == []


def test_what_the_loader_refuses_does_not_fit() -> None:
    cue = {"number": "1", "look": {"Bad Name": {"level": 2}}, "colour": 1}
    data = file_data(cues=[cue], format="other", output={"sacn": {"universes": {"0": {}}}})
    del data["version"]
    assert set(wrong(data, SCHEMA)) == {
        "/version",
        "/format",
        "/output/sacn/universes/0",
        "/scenes/0/cues/0/look/Bad Name",
        "/scenes/0/cues/0/colour",
    }


def test_a_show_must_say_what_it_is() -> None:
    assert set(SCHEMA["required"]) == {"format", "version", "name"}
    assert SCHEMA["$schema"] == "https://json-schema.org/draft/2020-12/schema"


def test_fields_explain_themselves() -> None:
    fade = SCHEMA["$defs"]["Fade"]["properties"]
    assert fade["in_s"]["description"] == "Time of levels that rise."
    described = json.dumps(SCHEMA)
    assert "None" not in described.replace("None of", "")
    assert SCHEMA["title"] == "onecrew show"
