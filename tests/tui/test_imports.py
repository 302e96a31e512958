"""The screens are a client of the desk: its link, documents and errors, no more. No import is a circle."""

from __future__ import annotations

import ast
import subprocess
import sys
from graphlib import CycleError, TopologicalSorter
from itertools import permutations
from pathlib import Path

import pytest

import onecrew.tui

ROOT = Path(onecrew.tui.__path__[0])
ALLOWED = (
    "onecrew.engine.client",
    "onecrew.engine.protocol",
    "onecrew.commands",
    "onecrew.language",
    "onecrew.manual",
    "onecrew.plan",
    "onecrew.show",
    "onecrew.errors",
    "onecrew.stills.guided",
    "onecrew.stills.shotlist",
    "onecrew.phone.qr",
    "onecrew.terminal",
)
SCREENS = ("shoot", "light", "rig", "log", "plan", "colour")


def imported(path: Path) -> set[str]:
    """Every name that a file imports in full, module or not, also for type checking alone."""
    found: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path} imports relatively"
            found |= {str(node.module), *(f"{node.module}.{alias.name}" for alias in node.names)}
    return found


def modules() -> dict[str, set[str]]:
    """The modules of the screens, each with those that it imports."""
    files = {
        ".".join(("onecrew.tui", *path.relative_to(ROOT).with_suffix("").parts)): path
        for path in ROOT.rglob("*.py")
    }
    return {name: imported(path) & files.keys() for name, path in files.items()}


@pytest.mark.parametrize(
    "path", sorted(ROOT.rglob("*.py")), ids=lambda path: path.relative_to(ROOT).as_posix()
)
def test_a_module_imports_what_is_allowed_alone(path: Path) -> None:
    inside = {
        name for name in imported(path) if name.startswith("onecrew.") and not name.startswith("onecrew.tui")
    }
    assert all(name.startswith(ALLOWED) for name in inside), inside


def test_no_import_is_a_circle() -> None:
    found = modules()
    assert len(found) > 40 and found["onecrew.tui.app"], "there are modules to look at"
    try:
        TopologicalSorter(found).prepare()
    except CycleError as error:
        raise AssertionError(f"a circle: {' → '.join(error.args[1])}") from error


@pytest.mark.parametrize(("one", "other"), list(permutations(SCREENS, 2)))
def test_no_screen_imports_another(one: str, other: str) -> None:
    for name, of in modules().items():
        if name.startswith(f"onecrew.tui.{one}."):
            assert not [module for module in of if module.startswith(f"onecrew.tui.{other}.")], name


def test_the_screens_paint_before_numpy_is_loaded() -> None:
    """It would be a third of their start; the first forecast loads it, in its thread."""
    said = "import sys, onecrew.cli.shows; print('numpy' in sys.modules)"
    told = subprocess.run(
        [sys.executable, "-c", said], capture_output=True, text=True, timeout=60, check=True
    )
    assert told.stdout.strip() == "False"


def test_screens_and_phone_start_without_the_libraries_of_pictures() -> None:
    """README's first command installs no extra."""
    said = (
        "import sys; from onecrew.stills import LIBRARIES; sys.modules |= dict.fromkeys(LIBRARIES); "
        "import onecrew.tui.app, onecrew.cli.shows, onecrew.cli.demo_run, onecrew.phone.server, "
        "onecrew.engine.phone_page, onecrew.engine.main, onecrew.cli.send, onecrew.cli.start"
    )
    subprocess.run([sys.executable, "-c", said], timeout=60, check=True)
