"""Help for every command, quick to come; misuse ends with 2 and a sentence."""

from __future__ import annotations

import ast
import json
import shlex
import subprocess
import sys
from collections.abc import Callable
from importlib import import_module
from pathlib import Path

import pytest

from onecrew import cli
from onecrew.cli.parser import parser
from onecrew.manual import page
from onecrew.shipped import shipped
from tests.cli.conftest import Ended

COMMANDS = (
    "demo",
    "open",
    "new",
    "check",
    "engine",
    "stop",
    "send",
    "status",
    "log",
    "match",
    "stills",
    "sheet",
    "forecast",
    "breakdown",
    "restore",
    "watch",
    "nodes",
    "pair",
    "osc",
    "calibrate",
    "substitute",
    "colour",
    "who",
    "probe",
    "profiles",
    "schema",
    "completion",
    "manual",
)
Run = Callable[..., Ended]
FOLDER = Path(cli.__file__).parent


def test_the_commands_are_these() -> None:
    whole = parser()
    [choices] = [action.choices for action in whole._actions if action.dest == "command"]
    assert set(choices or ()) == set(COMMANDS)


@pytest.mark.parametrize("command", COMMANDS)
def test_help_shows_an_example_of_the_command(command: str, onecrew: Run) -> None:
    ended = onecrew(command, "--help")
    assert (ended.status, ended.err) == (0, "")
    _, example = ended.out.split("example:\n")
    assert example.strip().startswith(f"onecrew {command}")


@pytest.mark.parametrize("command", COMMANDS)
def test_the_example_is_a_command_line_that_parses(command: str) -> None:
    whole = parser()
    [choices] = [action.choices for action in whole._actions if action.dest == "command"]
    assert isinstance(choices, dict)
    epilog = choices[command].epilog
    arguments = whole.parse_args(shlex.split(epilog.split("onecrew ", 1)[1]))
    assert arguments.command == command


def test_the_lamps_of_the_examples_are_those_of_the_shipped_show(onecrew: Run) -> None:
    show = str(shipped("examples") / "night-baker.json")
    lamps = {fixture["id"] for fixture in json.loads(Path(show).read_text())["rig"]["fixtures"]}
    whole = parser()
    [choices] = [action.choices for action in whole._actions if action.dest == "command"]
    assert isinstance(choices, dict)
    words = {command: shlex.split(choices[command].epilog.split("onecrew ", 1)[1]) for command in choices}
    assert whole.parse_args(words["calibrate"]).fixture in lamps
    assert set(words["restore"][-1].split("=")) <= lamps
    told = ["--dry-run" if word == "--to" else word for word in words["substitute"] if word != "tonight.json"]
    ended = onecrew(*[show if word == "night-baker.json" else word for word in told])
    assert ended.status == 0, ended.err


@pytest.mark.parametrize("command", ["", "send"])
def test_help_is_a_word_too(command: str, onecrew: Run) -> None:
    assert onecrew(*f"help {command}".split()) == onecrew(*f"{command} --help".split())


def test_the_manual_has_every_command() -> None:
    told = page("commands")
    assert [name for name in COMMANDS if f"| `onecrew {name}" not in told] == []


def test_without_a_command_the_help_is_printed(onecrew: Run) -> None:
    ended = onecrew()
    assert ended.status == 0
    assert "flashing light" in ended.out


def test_the_version_is_printed(onecrew: Run) -> None:
    ended = onecrew("--version")
    assert ended.status == 0
    assert ended.out.startswith("onecrew")


@pytest.mark.parametrize(
    "words",
    [
        ["dimm"],
        ["check"],
        ["colour"],
        ["colour", "3200", "--xy", "0.4,0.4"],
        ["colour", "3200", "--profile", "nothing-like-it"],
        ["colour", "900"],
        ["colour", "3200", "--level", "15"],
        ["calibrate", "show.json"],
        ["substitute", "show.json", "van"],
        ["watch", "--port", "0"],
        ["watch", "--universe", "64000"],
        ["profiles", "spot-sicks"],
        ["stop", "--fade", "soon"],
        ["schema", "cue"],
    ],
)
def test_misuse_ends_with_2_and_says_why(words: list[str], onecrew: Run) -> None:
    ended = onecrew(*words)
    assert (ended.status, ended.out) == (2, "")
    assert "onecrew" in ended.err
    assert "Traceback" not in ended.err


@pytest.mark.parametrize("command", COMMANDS)
def test_the_body_of_a_command_is_there(command: str) -> None:
    [choices] = [action.choices for action in parser()._actions if action.dest == "command"]
    assert isinstance(choices, dict)
    module, function = choices[command].get_default("body").split(":")
    assert callable(getattr(import_module(module), function))


@pytest.mark.parametrize("words", [["--help"], ["send", "--help"], ["watch", "--help"]])
def test_help_imports_none_of_the_heavy_packages(words: list[str]) -> None:
    code = (
        f"import sys; from onecrew.cli import main; main({words!r}); "
        "heavy = {'numpy', 'pydantic', 'textual', 'rich', 'asyncio', 'sacn', 'pythonosc', 'tomllib'}; "
        "print(sorted(heavy & set(sys.modules)), file=sys.stderr)"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=60
    )
    assert done.stderr.strip() == "[]"


BODIES = [path for path in FOLDER.glob("*.py") if path.stem not in ("exits", "parser")]


@pytest.mark.parametrize("path", BODIES, ids=lambda path: path.stem)
def test_a_body_imports_at_its_top(path: Path) -> None:
    """The specs are light, so a body has nothing to put off."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    top = {id(node) for node in tree.body}
    late = [node for node in ast.walk(tree) if isinstance(node, ast.Import | ast.ImportFrom)]
    assert [node.lineno for node in late if id(node) not in top] == []
