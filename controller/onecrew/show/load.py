"""A show file → a show, or every fault in it at once."""

from __future__ import annotations

import re
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from onecrew.errors import DocumentFaults, Fault
from onecrew.show.check import check_outline, readings_named
from onecrew.show.faults import bounded, plain_faults
from onecrew.show.json_reading import decode, parse_json, read_bytes
from onecrew.show.migrate import VERSION, NewerVersion, migrate
from onecrew.show.outline import outline_of_data
from onecrew.show.profile import Profile
from onecrew.show.scenes import Document, show_of
from onecrew.show.show import Show

_SECTIONS = tuple(Document.model_fields)


def load_show(path: Path, profiles: Mapping[str, Profile]) -> Show:
    """The show in a file. DocumentFaults lists everything wrong with it; Trouble if it cannot be read."""
    return parse_show(decode(read_bytes(path), str(path)), str(path), profiles)


def parse_show(text: str, source: str, profiles: Mapping[str, Profile]) -> Show:
    """A show from JSON text. DocumentFaults with every fault; ``source`` names the file in it."""
    show, faults = examine(text, source, profiles)
    if show is None or faults:
        raise DocumentFaults(source, faults)
    return show


def parse_model(text: str, source: str) -> Show:
    """A show from JSON text, valid in itself; whether it fits its profiles is not asked."""
    parsed = parse_json(text, source)
    document, faults, _ = _model(parsed.data)
    if document is None or faults or parsed.faults:
        raise DocumentFaults(source, bounded([*parsed.faults, *faults]))
    return _open(document)


def examine(text: str, source: str, profiles: Mapping[str, Profile]) -> tuple[Show | None, list[Fault]]:
    """(the show if its models accept it, every fault in the order of the document)."""
    parsed = parse_json(text, source)
    document, faults, data = _model(parsed.data)
    unusable = {fault.where for fault in parsed.faults}
    faults = [*parsed.faults, *(fault for fault in faults if fault.where not in unusable)]
    if isinstance(data, dict):
        faults += check_outline(outline_of_data(data), profiles)
    show = _open(document) if document is not None else None
    ordered = sorted(faults, key=_place_in_document)
    return show, bounded(readings_named(ordered, outline_of_data(data)))


def _open(document: Document) -> Show:
    """The show of the scene that was open; of the first where that is a fault of the document."""
    try:
        return show_of(document)
    except KeyError:
        return show_of(document, document.scenes[0].name)


def _model(data: Any) -> tuple[Document | None, list[Fault], Any]:
    """(the document, the faults of the models, the data in the present version)."""
    parts = {"rig", "scenes", "cues", "output"}
    if not isinstance(data, dict) or ("format" not in data and not parts & data.keys()):
        fix = 'a show is a group with "format": "onecrew-show"; name the right file'
        return None, [Fault("", "this is not a onecrew show", fix)], None
    faults = [
        Fault(name, f'"{name}" is missing', f"add it: {text}")
        for name, text in (("format", '"onecrew-show"'), ("version", str(VERSION)))
        if name not in data
    ]
    newer = False
    try:
        data = migrate(data)
    except ValueError as error:
        what, _, fix = str(error).partition("; ")
        faults.append(Fault("version", what, fix))
        newer = isinstance(error, NewerVersion)
    try:
        return Document.model_validate(data, strict=True), faults, data
    except ValidationError as error:
        found = plain_faults(error, _schema())
    # A newer version may have fields that this one has not heard of: that is no fault of the document.
    faults += [
        fault
        for fault in found
        if not (faults and fault.where == "version") and not (newer and "is not a field here" in fault.what)
    ]
    return None, faults, data


@cache
def _schema() -> dict[str, Any]:
    return Document.model_json_schema()


def _place_in_document(fault: Fault) -> tuple[int, str, int]:
    """Sort key: sections in their usual order, list entries by number; what has no place comes first."""
    parts = re.findall(r"\[(\d+)\]|([^.\[\]]+)", fault.where)
    section = parts[0][1] if parts else ""
    rank = _SECTIONS.index(section) if section in _SECTIONS else (-1 if not parts else len(_SECTIONS))
    # Within an entry of a list the faults stay as they were found.
    part = next((name for _, name in parts[1:2] if name), "")
    number = next((int(number) for number, _ in parts[1:3] if number), -1)
    return rank, part, number
