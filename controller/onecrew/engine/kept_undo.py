"""Kept undo: the newest steps of undo as plain data, so that they outlive the engine.

A step that changed the show is kept as what has to change in the show after it. The steps belong to one state
of the show, by its digest; over another they are forgotten.
"""

from __future__ import annotations

import json
from collections import deque
from collections.abc import Mapping
from hashlib import sha256
from typing import Any

from onecrew.engine.undo import DEPTH, Step
from onecrew.playback.edits import Earlier
from onecrew.show.light import Light
from onecrew.show.scenes import Document, document_of, show_of
from onecrew.show.show import Show

ROOM = 1 << 18
"""Bytes for the steps; the oldest are left out."""


class KeptUndo:
    """Makes plain data of the steps; what was made once for a step is not made again."""

    def __init__(self) -> None:
        self._plain: dict[int, tuple[Show, dict[str, Any]]] = {}
        self._texts: dict[int, tuple[Step, Show, str]] = {}

    def data(self, steps: deque[Step], show: Show) -> dict[str, Any]:
        """The steps that were done up to ``show``, newest first."""
        digest, texts, room = _digest(self._document(show)), [], ROOM
        made: dict[int, tuple[Step, Show, str]] = {}
        after = show
        for step in reversed(steps):
            known = self._texts.get(id(step))
            if known is None or known[0] is not step or known[1] is not after:
                known = step, after, json.dumps(self._saved(step, after), separators=(",", ":"))
            made[id(step)] = known
            room -= len(known[2])
            if room < 0:
                break
            texts.append(known[2])
            after = step.show or after
        self._texts, self._plain = made, {id(show): self._plain[id(show)]}
        return {"show": digest, "steps": texts}

    def _document(self, show: Show) -> dict[str, Any]:
        known = self._plain.get(id(show))
        if known is None or known[0] is not show:
            known = self._plain[id(show)] = show, _plain(show)
        return known[1]

    def _saved(self, step: Step, after: Show) -> dict[str, Any]:
        data: dict[str, Any] = {"words": step.words}
        if step.show is not None:
            data["show"] = difference(self._document(after), self._document(step.show))
        if step.light is not None:
            light = step.light
            data["light"] = {
                "lights": {
                    name: one.model_dump(mode="json", exclude_defaults=True)
                    for name, one in light.lights.items()
                },
                "by_hand": sorted(light.by_hand),
                "cue": light.cue,
                "whole": light.whole,
                "master": light.master,
                "part": light.part,
            }
            if light.kept:
                data["light"]["kept"] = [
                    [cue, [[name, one.model_dump(mode="json", exclude_defaults=True)] for name, one in edits]]
                    for cue, edits in light.kept
                ]
        return data


def steps_in(data: Mapping[str, Any], show: Show, *, light: bool) -> deque[Step]:
    """The steps in what ``KeptUndo`` made, none if they lead to another show than this.

    Without ``light``, for lamps that are black again, steps of light alone are left out. Raises
    ``ValueError``, ``LookupError`` or ``TypeError`` for anything else.
    """
    steps: deque[Step] = deque(maxlen=DEPTH)
    document = _plain(show)
    if data["show"] != _digest(document):
        return steps
    for text in data["steps"]:
        saved = json.loads(text)
        before = None
        if "show" in saved:
            document = changed(document, saved["show"])
            before = show_of(Document.model_validate(document["document"]), document["scene"])
        earlier = _earlier(saved["light"]) if light and "light" in saved else None
        if before is not None or earlier is not None:
            steps.appendleft(Step(saved["words"], before, earlier))
    return steps


def _earlier(data: Mapping[str, Any]) -> Earlier:
    return Earlier(
        {name: Light.model_validate(one) for name, one in data["lights"].items()},
        frozenset(data["by_hand"]),
        data["cue"],
        whole=data["whole"],
        master=data["master"],
        kept=tuple(
            (str(cue), tuple((str(name), Light.model_validate(one)) for name, one in edits))
            for cue, edits in data.get("kept", ())
        ),
        part=_part(data.get("part")),
    )


def _part(data: Any) -> tuple[tuple[str, ...], tuple[str, ...]] | None:
    if data is None:
        return None
    solo, without = data
    return tuple(map(str, solo)), tuple(map(str, without))


def _plain(show: Show) -> dict[str, Any]:
    document = document_of(show).model_dump(mode="json", exclude_defaults=True)
    return {"document": document, "scene": show.scene}


def _digest(document: Mapping[str, Any]) -> str:
    return sha256(json.dumps(document, sort_keys=True).encode()).hexdigest()


# ── What is otherwise ───────────────────────────────────────────────────────────────────────────────


def difference(old: Any, new: Any) -> Any:
    """Return what ``changed`` needs to make ``new`` of ``old``, plain data both: [] where they are the same.

    >>> difference({"a": 1, "b": [1, 2]}, {"b": [1, 3]})
    ['in', {'b': ['in', {'1': ['is', 3]}]}, ['a']]
    """
    if old == new:
        return []
    if isinstance(old, dict) and isinstance(new, dict):
        parts = {key: difference(old[key], new[key]) if key in old else ["is", new[key]] for key in new}
        return [
            "in",
            {key: part for key, part in parts.items() if part},
            [key for key in old if key not in new],
        ]
    if isinstance(old, list) and isinstance(new, list) and len(old) == len(new):
        parts = {str(at): difference(*pair) for at, pair in enumerate(zip(old, new, strict=True))}
        return ["in", {at: part for at, part in parts.items() if part}]
    return ["is", new]


def changed(old: Any, by: Any) -> Any:
    """Return the plain data that ``difference`` was made for."""
    if not by:
        return old
    if by[0] == "is":
        return by[1]
    if isinstance(old, list):
        return [changed(one, by[1].get(str(at))) for at, one in enumerate(old)]
    kept = {key: changed(one, by[1].get(key)) for key, one in old.items() if key not in by[2]}
    return kept | {key: part[1] for key, part in by[1].items() if key not in old}
