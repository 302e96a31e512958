"""What is remembered from one run to the next, in the user's state folder: shows opened last, colours."""

from __future__ import annotations

import contextlib
import json
from pathlib import Path
from typing import Any

from platformdirs import user_state_path

from onecrew.engine.endpoint import APP
from onecrew.tui.theme import DARK, NAMES, Remembered

KEPT = 9


def recent_shows() -> list[Path]:
    """The shows opened last that are still there, the latest first; none where the list cannot be read."""
    listed = _read("recent")
    paths = [Path(one) for one in listed if isinstance(one, str)] if isinstance(listed, list) else []
    return [path for path in paths if _is_there(path)][:KEPT]


def remember_show(path: Path) -> None:
    """Put a show first."""
    others = [str(other) for other in recent_shows() if other != path]
    _write("recent", [str(path), *others][:KEPT])


def colours(asked: str | None = None) -> Remembered:
    """The colours of the screens: those asked for in this run, else those chosen last."""
    kept = asked or _read("colours")
    return Remembered(kept if kept in NAMES else DARK, lambda name: _write("colours", name))


def _read(name: str) -> Any:
    try:
        return json.loads((_folder() / f"{name}.json").read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return None


def _write(name: str, value: Any) -> None:
    """What cannot be written is a convenience gone, nothing to stop for."""
    with contextlib.suppress(OSError):
        _folder().mkdir(parents=True, exist_ok=True)
        (_folder() / f"{name}.json").write_text(json.dumps(value, indent=1), encoding="utf-8")


def _folder() -> Path:
    return user_state_path(APP, appauthor=False)


def _is_there(path: Path) -> bool:
    try:
        return path.is_file()
    except (OSError, ValueError):
        return False
