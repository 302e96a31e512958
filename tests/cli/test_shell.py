"""Completion in real shells, the manual page through man's own formatter, and the versions."""

from __future__ import annotations

import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path

import pytest

from onecrew.cli.completion import commands_of, script
from onecrew.cli.man_page import page
from onecrew.cli.parser import parser
from onecrew.commands.forms import forms
from onecrew.engine.endpoint import Endpoint
from onecrew.version import VERSION
from tests.cli.conftest import Ended

Run = Callable[..., Ended]
COMMANDS = {name for name, _ in commands_of(parser())}


def in_shell(shell: str, text: str, folder: Path) -> list[str]:
    """What a shell says to these lines, in a home of its own."""
    if shutil.which(shell) is None:
        pytest.skip(f"no {shell} on this machine")
    done = subprocess.run(
        [shell, "-c", text],
        capture_output=True,
        text=True,
        check=True,
        timeout=60,
        env={"PATH": "/usr/bin:/bin", "HOME": str(folder), "TERM": "dumb"},
        cwd=folder,
    )
    return done.stdout.split()


def completed_by_bash(folder: Path, *words: str) -> set[str]:
    (folder / "onecrew.bash").write_text(script("bash"), encoding="utf-8")
    listed = " ".join(f"'{word}'" for word in words)
    said = in_shell(
        "bash",
        f"source {folder}/onecrew.bash; COMP_WORDS=({listed}); COMP_CWORD={len(words) - 1}; "
        f"$(complete -p onecrew | sed 's/.*-F \\([^ ]*\\).*/\\1/') onecrew '{words[-1]}' '{words[-2]}'; "
        'printf "%s\\n" "${COMPREPLY[@]}"',
        folder,
    )
    return set(said)


def test_bash_completes_commands_options_words_and_files(tmp_path: Path) -> None:
    (tmp_path / "kitchen.json").touch()
    assert completed_by_bash(tmp_path, "onecrew", "") >= COMMANDS
    assert completed_by_bash(tmp_path, "onecrew", "re") == {"restore"}
    assert "--take" in completed_by_bash(tmp_path, "onecrew", "log", "--ta")
    assert completed_by_bash(tmp_path, "onecrew", "send", "rec") == {"recall"}
    assert "kitchen.json" in completed_by_bash(tmp_path, "onecrew", "open", "kit")


def test_fish_completes_commands_and_words(tmp_path: Path) -> None:
    (tmp_path / "onecrew.fish").write_text(script("fish"), encoding="utf-8")

    def completed(line: str) -> set[str]:
        text = f"source {tmp_path}/onecrew.fish; complete -C '{line}' | string split -f1 \\t"
        return set(in_shell("fish", text, tmp_path))

    assert completed("onecrew ") >= COMMANDS
    assert "recall" in completed("onecrew send rec")
    assert "--take" in completed("onecrew log --ta")


def test_zsh_takes_the_script(tmp_path: Path) -> None:
    (tmp_path / "_onecrew").write_text(script("zsh"), encoding="utf-8")
    text = (
        f"fpath=({tmp_path} $fpath); autoload -Uz compinit && compinit -u -d {tmp_path}/dump; "
        "print ${_comps[onecrew]}; autoload +X _onecrew && print loaded"
    )
    assert in_shell("zsh", text, tmp_path) == ["_onecrew", "loaded"]


def test_zsh_knows_every_command_and_word() -> None:
    said = script("zsh")
    for word in (*COMMANDS, "recall", "--take"):
        assert word in said


def test_the_manual_has_every_command_and_form() -> None:
    groff = shutil.which("groff")
    if groff is None:
        pytest.skip("no groff on this machine")
    done = subprocess.run(
        [groff, "-man", "-Kutf8", "-Tutf8", "-ww", "-P-c"],
        input="\n".join(page()),
        capture_output=True,
        text=True,
        check=True,
        timeout=60,
    )
    assert done.stderr == ""
    said = " ".join(done.stdout.replace("\N{HYPHEN}", "-").split())
    for name in COMMANDS:
        assert f"onecrew {name}" in said
    for form in forms():
        assert form.split()[0] in said
    assert "flashing light can trigger seizures" in said


def test_the_version_is_told_with_that_of_each_engine(onecrew: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    engines = [
        Endpoint("/shows/a.json", 1, "token", 1, None, VERSION),
        Endpoint("/shows/b.json", 2, "token", 2, None, "0.0.1"),
        Endpoint("/shows/c\x1b.json", 3, "token", 3, None),
    ]
    monkeypatch.setattr("onecrew.cli.version.running_engines", lambda: iter(engines))
    first, same, older, untold = onecrew("--version").out.splitlines()
    assert first == f"onecrew {VERSION}"
    assert same == f"engine of /shows/a.json: {VERSION}"
    assert older.startswith("engine of /shows/b.json: 0.0.1; stop it")
    assert "\x1b" not in untold
