"""The shows that were opened last, kept in the user's state folder."""

from __future__ import annotations

import contextlib
import json
from pathlib import Path

from platformdirs import user_state_path

from onecrew.engine.endpoint import APP

KEPT = 9


def recent_shows() -> list[Path]:
    """The shows opened last that are still there, the latest first; none where the list cannot be read."""
    try:
        listed = json.loads(_file().read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return []
    paths = [Path(one) for one in listed if isinstance(one, str)] if isinstance(listed, list) else []
    return [path for path in paths if _is_there(path)][:KEPT]


def remember(path: Path) -> None:
    """Put a show first. A list that cannot be written is a convenience gone, nothing to stop for."""
    others = [str(other) for other in recent_shows() if other != path]
    with contextlib.suppress(OSError):
        _file().parent.mkdir(parents=True, exist_ok=True)
        _file().write_text(json.dumps([str(path), *others][:KEPT], indent=1), encoding="utf-8")


def _file() -> Path:
    return user_state_path(APP, appauthor=False) / "recent.json"


def _is_there(path: Path) -> bool:
    try:
        return path.is_file()
    except (OSError, ValueError):
        return False
