"""``onecrew`` alone in a terminal: the start screen, and what was chosen on it."""

from __future__ import annotations

from pathlib import Path

from onecrew.cli import demo, shows
from onecrew.cli.exits import DONE
from onecrew.cli.parser import parser
from onecrew.cli.remembered import colours, recent_shows
from onecrew.errors import OnecrewError
from onecrew.show.save import save_show
from onecrew.tui.start import Shows, start


def run() -> int:
    """Show the start screen and go on with what was chosen there."""
    chosen = start(Shows(recent=tuple(recent_shows()), existing=_existing, new=_new), colours())
    if chosen is None:
        return DONE
    if chosen.what == "demo":
        return demo.run(parser().parse_args(["demo"]))
    return shows.open_screens(Path(chosen.path), first_run=chosen.what == "new")


def _existing(text: str) -> Path:
    """The show at this path. ``ValueError`` with a sentence where there is none that can be used."""
    try:
        path = Path(text).expanduser().resolve()
        shows.refuse_missing_or_faulty(path)
    except (OnecrewError, OSError, RuntimeError) as error:
        raise ValueError(str(error)) from error
    return path


def _new(name: str, text: str, make: bool) -> Path:
    """Where the new show goes, made at once if wanted. ``ValueError`` where it cannot be made."""
    try:
        path = Path(text).expanduser().resolve()
        show = shows.new_at(path, name)
        if make:
            save_show(show, path)
    except (OnecrewError, OSError, RuntimeError) as error:
        raise ValueError(str(error)) from error
    return path
