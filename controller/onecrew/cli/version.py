"""``onecrew --version``: this program's version, and that of every engine that runs."""

from __future__ import annotations

from collections.abc import Iterator

from onecrew.cli.exits import DONE
from onecrew.engine.endpoint import running_engines
from onecrew.terminal import printable
from onecrew.version import VERSION


def run() -> int:
    print("\n".join(lines()))
    return DONE


def lines() -> Iterator[str]:
    """This program, then a line an engine, with what to do where the two are not the same."""
    yield f"onecrew {VERSION}"
    for engine in running_engines():
        other = engine.version or "unknown"
        fix = "" if other == VERSION else "; stop it and open the show again to run this version"
        yield f"engine of {printable(engine.show)}: {other}{fix}"
