"""The JSON Schema of a show file, for editors and other programs."""

from __future__ import annotations

import ast
import inspect
from typing import Any

from onecrew.show.base import Model
from onecrew.show.scenes import Document


def json_schema() -> dict[str, Any]:
    """JSON Schema (2020-12) of a show. What only the whole can show, such as overlaps, is not in it."""
    schema = Document.model_json_schema()
    for name, part in [("Document", schema), *schema["$defs"].items()]:
        texts = _field_texts(_models()[name])
        for field, node in part.get("properties", {}).items():
            node.pop("title", None)
            if field in texts:
                node["description"] = texts[field]
            if "patternProperties" in node:
                # Without this, a schema lets names through that match no pattern.
                node["additionalProperties"] = False
        part.pop("title", None)
    # The models let a program leave these two out; a file says what it is.
    needed = ["format", "version", *schema.get("required", [])]
    head = {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "onecrew show",
        "description": "The rig, the outputs, and the scenes with their cues and camera notes.",
    }
    return {**head, **{key: value for key, value in schema.items() if key not in head}, "required": needed}


def _models() -> dict[str, type[Model]]:
    """Every model by name."""
    found: dict[str, type[Model]] = {}
    waiting = list(Model.__subclasses__())
    while waiting:
        model = waiting.pop()
        found[model.__name__] = model
        waiting += model.__subclasses__()
    return found


def _field_texts(model: type[Model]) -> dict[str, str]:
    """What the model says of its fields: the text that stands below each in its source."""
    try:
        tree = ast.parse(inspect.getsource(model))
    except OSError:  # installed without its source
        return {}
    body = tree.body[0]
    assert isinstance(body, ast.ClassDef)
    texts: dict[str, str] = {}
    for field, text in zip(body.body, body.body[1:], strict=False):
        if (
            isinstance(field, ast.AnnAssign)
            and isinstance(field.target, ast.Name)
            and isinstance(text, ast.Expr)
            and isinstance(text.value, ast.Constant)
            and isinstance(text.value.value, str)
        ):
            texts[field.target.id] = " ".join(text.value.value.replace("None", "null").split())
    return texts
