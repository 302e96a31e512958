"""Whatever stands where a command wants a file, it ends with a status that says no and a sentence or two."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

import pytest

from onecrew.cli.exits import FAILED, guarded
from tests.cli.conftest import Ended
from tests.cli.test_terminal_safety import commands

Run = Callable[..., Ended]
NO_FILE = {"demo"}  # takes none, and would play


def _put() -> list[str]:
    """Files that no command can use, and names that no file can have."""
    Path("folder").mkdir()
    Path("bytes").write_bytes(bytes(range(256)) * 9)
    Path("empty").touch()
    Path("deep.json").write_text("[" * 100_000)
    Path("huge.json").write_text("1e999")
    Path("surrogate.json").write_text('{"format": "onecrew-show", "version": 1, "name": "\\ud800"}')
    Path("loop.json").symlink_to("loop.json")
    made = [path.name for path in Path().iterdir()]
    return [
        *made,
        "",
        "..",
        "no/such/folder",
        os.devnull,
        "a" * 300,
        "~nobody-is-called-so/s.json",
        "\udcff.json",
    ]


@pytest.mark.parametrize("command", sorted(set(commands()) - NO_FILE))
def test_a_file_that_cannot_be_used_is_refused(onecrew: Run, command: str) -> None:
    for name in _put():
        if (command, name) == ("new", "\udcff.json"):
            continue  # a name that a disk may hold
        ended = onecrew(command, name)
        assert ended.status in (1, 2), name
        assert "should not have happened" not in ended.out + ended.err, (name, ended.err)


def test_a_folder_that_may_not_be_read_is_named(capsys: pytest.CaptureFixture[str]) -> None:
    def work() -> int:
        raise PermissionError(13, "Permission denied", "/locked/show.json")

    assert guarded(work) == FAILED
    said = capsys.readouterr().err
    assert said == "onecrew: /locked/show.json: permission denied; name a file that can be opened here\n"
