"""The screens are a client: of the desk they know the link, the documents and the errors, no more."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

import onecrew.tui

ROOT = Path(onecrew.tui.__path__[0])
DOORS = (
    "onecrew.engine.client",
    "onecrew.commands",
    "onecrew.language",
    "onecrew.show",
    "onecrew.errors",
    "onecrew.phone.qr",
)


def imported(path: Path) -> set[str]:
    """Every module that a file imports, by its full name."""
    found: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path} imports relatively"
            found.add(str(node.module))
    return found


@pytest.mark.parametrize(
    "path", sorted(ROOT.rglob("*.py")), ids=lambda path: path.relative_to(ROOT).as_posix()
)
def test_a_module_goes_through_the_doors(path: Path) -> None:
    inside = {
        name for name in imported(path) if name.startswith("onecrew.") and not name.startswith("onecrew.tui")
    }
    assert all(name.startswith(DOORS) for name in inside), inside


def test_there_are_modules_to_look_at() -> None:
    assert len(list(ROOT.rglob("*.py"))) > 40
