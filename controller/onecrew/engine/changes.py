"""Changes: what a client that heard an earlier state has yet to hear, in lines made once and shared.

A state is kept in parts, one for each of its fields and one for each lamp, written as JSON and numbered by
the state that changed it last. A client is sent the parts with a higher number than it heard; ``patched``
puts them on the state that it has. Pure.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from onecrew.network.json_lines import as_json
from onecrew.show.snapshot import Snapshot

Parts = dict[str, tuple[int, bytes]]
"""Name → (number of the state that changed it last, what it is, as JSON)."""


class Changes:
    """The latest state of one engine and its show, and since when each part of them is as it is."""

    def __init__(self) -> None:
        self.number = 0
        """Of the latest state; rises with each, and 0 is before the first."""
        self._show: Parts = {}
        self._fields: Parts = {}
        self._lights: Parts = {}
        self._rigged = 1
        """The state since which the lamps have been the same ones: who heard less needs all of it."""
        self._lines: dict[int, bytes] = {}

    def take(self, show: bytes, fields: Mapping[str, Any], lights: Mapping[str, bytes]) -> None:
        """Takes a whole state: the document as JSON, the fields without ``lights``, each lamp as JSON."""
        self.number += 1
        if list(lights) != list(self._lights):
            self._rigged = self.number
        self._show = self._numbered(self._show, {"show": show})
        self._fields = self._numbered(self._fields, {name: as_json(fields[name]) for name in fields})
        self._lights = self._numbered(self._lights, lights)
        self._lines.clear()

    def since(self, heard: int) -> bytes:
        """The lines for a client that heard state ``heard`` last, 0 for none."""
        if heard not in self._lines:
            self._lines[heard] = self._line(heard)
        return self._lines[heard]

    def _numbered(self, before: Parts, now: Mapping[str, bytes]) -> Parts:
        parts = {}
        for name, written in now.items():
            old = before.get(name)
            parts[name] = old if old is not None and old[1] == written else (self.number, written)
        return parts

    def _line(self, heard: int) -> bytes:
        whole = heard < self._rigged
        fields = _newer(self._fields, 0 if whole else heard)
        lights = _newer(self._lights, 0 if whole else heard)
        if whole or lights:
            fields.append(b'"lights":{%s}' % b",".join(lights))
        show = b"".join(b"{%s}\n" % part for part in _newer(self._show, heard))
        return show + b'{"%s":{%s}}\n' % (b"snapshot" if whole else b"changes", b",".join(fields))


def patched(before: Snapshot, changes: Mapping[str, Any]) -> Snapshot:
    """The state after ``before``; raises ``ValueError`` where these are no changes of one."""
    lights = changes.get("lights", {})
    if not isinstance(lights, dict) or not lights.keys() <= before.lights.keys():
        raise ValueError("these changes are of lamps that there are none of")
    fields = {name: getattr(before, name) for name in Snapshot.model_fields}
    return Snapshot.model_validate({**fields, **changes, "lights": {**before.lights, **lights}})


def _newer(parts: Parts, heard: int) -> list[bytes]:
    return [as_json(name) + b":" + written for name, (number, written) in parts.items() if number > heard]
