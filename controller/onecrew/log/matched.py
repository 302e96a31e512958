"""Matched: the entry of the log about a cue that was stored from a match, its small pictures included."""

from __future__ import annotations

import time
from pathlib import Path
from typing import Any

from onecrew.language import saying
from onecrew.log.entries import Entry, to_line
from onecrew.log.happenings import Happening
from onecrew.log.logfile import append, latest_with, log_path, tail
from onecrew.log.text import clean
from onecrew.show.show import Cue

MOST_PICTURE = 40_000
"""Characters of a picture in base64; a small JPEG of a frame has a quarter of that."""
PICTURES = ("reference", "present", "predicted")
"""In the order in which they are shown."""
_TAIL_BYTES = 1 << 16


def matched(cue: Cue, pictures: dict[str, str]) -> Happening:
    """Return what the log says of a cue that was stored from a match."""
    predicted = cue.predicted
    assert predicted is not None  # it was stored from a match
    data: dict[str, Any] = {
        "match": predicted.id,
        "cue": cue.number,
        "name": cue.name,
        **predicted.model_dump(mode="json", exclude={"id"}),
        "look": {name: x.model_dump(mode="json", exclude_defaults=True) for name, x in cue.look.items()},
        "pictures": pictures,
    }
    said = saying.predicted(predicted) or "nothing is predicted"
    text = f"match: {saying.cue(cue.number, cue.name)} after {predicted.reference}, {said}"
    return Happening("match", "stored", text, data)


def pictures_of(log: Path, match: str) -> dict[str, str]:
    """Return the small JPEGs (base64) of a match by its id, as far as the log has them; the log is anyone's
    file."""
    entry = latest_with(log, f'"match":"{match}"'.encode()) if match.isalnum() else None
    found = entry.data.get("pictures") if entry is not None else None
    if not isinstance(found, dict):
        return {}
    return {name: found[name] for name in PICTURES if _is_picture(found.get(name))}


def _is_picture(text: Any) -> bool:
    return (
        isinstance(text, str)
        and len(text) <= MOST_PICTURE
        and text.isascii()
        and text.replace("+", "").replace("/", "").rstrip("=").isalnum()
    )


def note_alone(show: Path, happening: Happening) -> None:
    """Append an entry where no engine writes the log. Raises ``OSError``."""
    path, wall = log_path(show), time.time()
    last = max((entry.n for entry in tail(path, _TAIL_BYTES)), default=0)
    offset_s = time.localtime(wall).tm_gmtoff or 0
    entry = Entry(
        last + 1,
        wall,
        offset_s,
        time.monotonic(),
        happening.kind,
        happening.what,
        clean(happening.text),
        dict(happening.data),
    )
    append(path, to_line(entry))
