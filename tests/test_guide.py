"""What DEVELOPERS.md and README.md name is there: every test, file and folder in backticks."""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
FOLDERS = ("controller", "tui", "tests", "profiles", "examples", ".ci")
PAGES = ("DEVELOPERS.md", "README.md")
FILE = re.compile(r"[\w./-]+\.(?:py|md|json|toml|svg|js|css)")


@cache
def files() -> list[str]:
    """Every file, as /folder/…/name."""
    inside = [path for folder in FOLDERS for path in (ROOT / folder).rglob("*")]
    return [f"/{path.relative_to(ROOT).as_posix()}" for path in [*inside, *ROOT.iterdir()] if path.is_file()]


@cache
def defined_in(name: str) -> set[str]:
    """The tests of the files of this name."""
    found = [ROOT / file[1:] for file in files() if file.endswith(f"/{name}")]
    texts = [path.read_text(encoding="utf-8") for path in found]
    return {test for text in texts for test in re.findall(r"^(?:async )?def (test_\w+)", text, re.MULTILINE)}


def quoted(page: str) -> list[str]:
    text = re.sub(r"```.*?```", "", (ROOT / page).read_text(encoding="utf-8"), flags=re.DOTALL)
    return re.findall(r"`([^`\n]+)`", text)


@pytest.mark.parametrize("page", PAGES)
def test_every_file_that_is_named_is_there(page: str) -> None:
    named = [word.split("::")[0] for word in quoted(page)]
    missing = [word for word in named if FILE.fullmatch(word) and not has(word)]
    assert missing == []


def has(name: str) -> bool:
    return any(file.endswith(f"/{name}") for file in files())


@pytest.mark.parametrize("page", PAGES)
def test_every_test_that_is_named_is_there(page: str) -> None:
    """``file.py::test``; without a file it is of the one named last; an ellipsis stands for the rest."""
    last, missing = "", []
    for word in quoted(page):
        if "::" not in word:
            continue
        file, test = word.split("::")
        last = file.rpartition("/")[2] or last
        begin = test.partition("…")[0]
        if not any(known == test or ("…" in test and known.startswith(begin)) for known in defined_in(last)):
            missing.append(word)
    assert missing == []
