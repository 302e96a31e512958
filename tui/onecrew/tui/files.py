"""Files that a person asks for on the screens: where they are written, and a page opened in the browser."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path
from typing import Any

from onecrew.tui.base import BaseScreen
from onecrew.tui.dialogs.ask import Ask

PAGE = ".html"
LONGEST_NAME, LEAST_OF = 220, 20
"""Bytes of a proposed name before its ending, fewer than the 255 of usual file systems since it may get a
number and is written under a longer one at first; and those that what the file holds has at least."""
OPEN_S = 10.0
"""How long a browser may take to say that it opens a page."""
_OPENS = "import sys, webbrowser; sys.exit(not webbrowser.open(sys.argv[1]))"
_SHEETS = (
    "Into the show's folder unless its path says otherwise. A file of the same name stays: this one gets a "
    "number. .html, also where no ending is typed, opens in the browser; there are .md, .csv and .json too."
)


def named(screen: BaseScreen, of: str, ending: str) -> str:
    """A file name of the show's and of what it holds: 'night-baker-a-3.html'.

    Of what is too long for a file's name the end stays, which is the take's number.
    """
    snapshot = screen.desk.snapshot
    stem = Path(snapshot.path).stem if snapshot is not None else "show"
    plain = re.sub(r"[^\w]+", "-", of.lower()).strip("-")
    room = max(LONGEST_NAME - len(stem.encode()), LEAST_OF)
    plain = plain.encode()[-room:].decode(errors="ignore").strip("-")
    return f"{stem}-{plain}{ending}"


def ask_sheet(screen: BaseScreen, what: str, of: str, **asked: Any) -> None:
    """Ask for the file, have the look sheet of a take, a cue or of now written, and open a page."""

    def have(answer: dict[str, object]) -> None:
        screen.desk.open_file(Path(str(answer["file"])), f"Look sheet of {what}")

    def take(to: str | None) -> None:
        if to:
            screen.desk.fetch("sheet", have, to=to if Path(to).suffix else f"{to}{PAGE}", **asked)

    screen.app.push_screen(Ask(f"Look sheet of {what}", _SHEETS, str, named(screen, of, PAGE)), take)


def browser_opens(file: Path) -> bool:
    """Opens a page in the person's browser; False where there is none that has a window of its own."""
    windows = sys.platform in ("darwin", "win32") or any(
        os.environ.get(name) for name in ("DISPLAY", "WAYLAND_DISPLAY", "BROWSER")
    )
    if not windows:  # one in the terminal would write over the screens
        return False
    try:
        opened = subprocess.run(
            [sys.executable, "-c", _OPENS, file.as_uri()],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            start_new_session=True,
            timeout=OPEN_S,
            check=False,
        )
    except (OSError, subprocess.TimeoutExpired):
        return False
    return opened.returncode == 0
