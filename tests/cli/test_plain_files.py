"""What has no end or keeps its reader waiting is read nowhere, and told in the same words."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

import pytest

from onecrew.errors import Trouble
from onecrew.fixtures.gdtf.archive import description_of
from onecrew.log.logfile import append, newest
from onecrew.show.json_reading import read_bytes
from onecrew.standby.options import read_secret
from onecrew.stills.picture import read_picture
from onecrew.stills.regions import read_regions
from onecrew.stills.shotlist import read_shot_list
from tests.cli.conftest import Ended

READERS: dict[str, Callable[[Path], object]] = {
    "show": read_bytes,
    "fixture file": description_of,
    "picture": read_picture,
    "log": lambda path: newest(path, 1),
    "list of stills": read_shot_list,
    "regions": read_regions,
    "secret": lambda path: read_secret(path, make=False),
}


@pytest.fixture
def pipe(tmp_path: Path) -> Path:
    if not hasattr(os, "mkfifo"):
        pytest.skip("named pipes are made another way there")
    path = tmp_path / "pipe"
    os.mkfifo(path, 0o600)
    return path


@pytest.mark.parametrize("read", READERS.values(), ids=READERS)
def test_a_pipe_and_a_device_are_not_read(read: Callable[[Path], object], pipe: Path) -> None:
    for path in (pipe, Path(os.devnull)):
        with pytest.raises(Trouble, match="it is not a plain file"):
            read(path)


@pytest.mark.parametrize("read", READERS.values(), ids=READERS)
def test_a_folder_is_called_one(read: Callable[[Path], object], tmp_path: Path) -> None:
    with pytest.raises(Trouble, match="it is a folder; name a file in it"):
        read(tmp_path)


def test_nothing_is_appended_to_a_pipe(pipe: Path) -> None:
    with pytest.raises(OSError) as caught:
        append(pipe, b"x\n")
    assert caught.value.strerror == "it is not a plain file"


def test_a_list_to_sort_is_read_likewise(pipe: Path, onecrew: Callable[..., Ended]) -> None:
    (pipe.parent / "pictures").mkdir()
    written_by_hand = pipe.with_name("list.json")
    written_by_hand.write_text('[{"file": "a.jpg", "lamp": null}]')
    for listed, says in ((pipe, "it is not a plain file"), (written_by_hand, "when its stills were taken")):
        ended = onecrew("stills", "show.json", "--to", str(listed), "--sort", str(pipe.parent / "pictures"))
        assert ended.status == 1 and says in ended.err
