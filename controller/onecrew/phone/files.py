"""Files of a show's phone page, beside those of its engine.

- ``<key>.page`` in the runtime folder: where the page listens and how many phones are there, for the engine;
- ``<key>.page-lock`` in the runtime folder: held by the page as long as it lives, one page per show;
- ``<key>.codes`` and ``<key>.phones`` in the state folder: who is let in (``phone.pairing``).
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Protocol

from onecrew.show.disk import write_private


@dataclass(frozen=True, slots=True)
class PageFiles:
    show: Path
    key: str
    """What tells this show from the others of this user."""
    engine: Path
    """The engine's endpoint."""
    status: Path
    lock: Path
    codes: Path
    phones: Path
    log: Path

    def write_status(self, status: Mapping[str, Any]) -> None:
        """Puts the page's status in place whole, readable by the user alone."""
        write_private(self.status, json.dumps(status))

    def read_status(self) -> dict[str, Any]:
        """The page's status; empty where there is none or it makes no sense."""
        try:
            status = json.loads(self.status.read_text(encoding="utf-8"))
        except (OSError, ValueError):
            return {}
        return status if isinstance(status, dict) else {}


class EngineFiles(Protocol):
    """The files of the engine that the page's stand beside."""

    @property
    def show(self) -> Path: ...
    @property
    def endpoint(self) -> Path: ...
    @property
    def live(self) -> Path: ...
    @property
    def log(self) -> Path: ...


def page_files(files: EngineFiles) -> PageFiles:
    """Names the files of the page of a show, given those of its engine."""
    return PageFiles(
        show=files.show,
        key=files.endpoint.stem,
        engine=files.endpoint,
        status=files.endpoint.with_suffix(".page"),
        lock=files.endpoint.with_suffix(".page-lock"),
        codes=files.live.with_suffix(".codes"),
        phones=files.live.with_suffix(".phones"),
        log=files.log.with_suffix(".page.log"),
    )
