"""What is not a readable show file is refused in one sentence: no file, a folder, huge, empty, not UTF-8."""

from __future__ import annotations

import os
import sys
from pathlib import Path

import pytest

from onecrew.errors import DocumentFaults, OnecrewError, Trouble
from onecrew.show.json_reading import MAX_BYTES, read_bytes
from onecrew.show.load import load_show
from tests.show.shows import PROFILES


def told(path: Path, kind: type[OnecrewError]) -> str:
    with pytest.raises(kind) as caught:
        load_show(path, PROFILES)
    text = str(caught.value)
    assert str(path) in text
    assert "\n" not in text
    return text


def test_no_such_file(tmp_path: Path) -> None:
    assert "There is no file" in told(tmp_path / "none.json", Trouble)


def test_a_folder(tmp_path: Path) -> None:
    assert "is a folder" in told(tmp_path, Trouble)


def test_a_file_beyond_16_megabytes(tmp_path: Path) -> None:
    path = tmp_path / "huge.json"
    with path.open("wb") as file:
        file.truncate(MAX_BYTES + 1)
    assert "larger than 16 MB" in told(path, Trouble)


@pytest.mark.skipif(not Path("/dev/zero").exists(), reason="this system has no endless file")
def test_an_endless_file_is_not_read() -> None:
    assert "not a plain file" in told(Path("/dev/zero"), Trouble)


@pytest.mark.skipif(sys.platform == "win32", reason="named pipes are made another way there")
def test_a_named_pipe_does_not_wait_for_a_writer(tmp_path: Path) -> None:
    pipe = tmp_path / "pipe.json"
    os.mkfifo(pipe)
    assert "not a plain file" in told(pipe, Trouble)


def test_a_file_that_may_not_be_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "locked.json"
    path.write_text("{}")

    def refuse(*_: object, **__: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "open", refuse)
    assert "may not be read" in told(path, Trouble)


def test_a_failing_disk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "show.json"
    path.write_text("{}")

    def fail(*_: object, **__: object) -> None:
        raise OSError(5, "Input/output error")

    monkeypatch.setattr(Path, "open", fail)
    assert "Input/output error" in told(path, Trouble)


def test_a_name_no_file_can_have() -> None:
    with pytest.raises(Trouble, match="cannot be read"):
        read_bytes(Path("a\0b"))


@pytest.mark.parametrize("content", [b"", b" \n\t ", b"\0" * 4096])
def test_an_empty_file_or_one_of_zeros(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "empty.json"
    path.write_bytes(content)
    assert "the file is empty" in told(path, DocumentFaults)


@pytest.mark.parametrize("content", [b'{\n"name": "caf\xe9"}', '{\n"name": 1}'.encode("utf-16")])
def test_a_file_that_is_not_utf_8(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "old.json"
    path.write_bytes(content)
    assert "not UTF-8; save it as UTF-8" in told(path, DocumentFaults)


@pytest.mark.parametrize("content", ["[]", "3", '"show"', "null", '{"name": "npm", "main": "x.js"}'])
def test_json_that_is_no_show(tmp_path: Path, content: str) -> None:
    path = tmp_path / "other.json"
    path.write_text(content)
    assert "this is not a onecrew show" in told(path, DocumentFaults)
