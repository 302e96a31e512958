"""The live state file: whole or older, never half, whatever is cut short."""

from __future__ import annotations

import contextlib
import errno
import os
from hashlib import sha256
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from onecrew.engine import live
from onecrew.engine.live import DIGESTS_AT, SECTIONS_AT, SLOT, LiveFile, Section
from onecrew.errors import Trouble


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "show.live"


def test_a_new_file_holds_nothing(path: Path) -> None:
    file = LiveFile(path)
    assert (file.playback.read(), file.show.read(), file.sequences()) == (None, None, {})


def test_the_newest_state_is_found_again_by_the_next_engine(path: Path) -> None:
    first = LiveFile(path)
    for cue in ("1", "2", "3"):
        first.playback.write({"cue": cue})
    first.show.write({"text": "the show"})
    second = LiveFile(path)  # without a close: the first was killed
    assert second.playback.read() == {"cue": "3"}
    assert second.show.read() == {"text": "the show"}


def test_the_number_of_the_last_entry_of_the_log_outlives_the_engine(path: Path) -> None:
    first = LiveFile(path)
    assert first.logged == 0
    first.logged = 1 << 40
    first.in_charge = True
    second = LiveFile(path)
    assert (second.logged, second.in_charge, second.sequences()) == (1 << 40, True, {})


def test_a_write_goes_on_counting_after_a_restart(path: Path) -> None:
    LiveFile(path).playback.write({"cue": "1"})
    LiveFile(path).playback.write({"cue": "2"})
    assert LiveFile(path).playback.read() == {"cue": "2"}


@settings(max_examples=25)
@given(cut=st.integers(min_value=0, max_value=60), fill=st.binary(min_size=60, max_size=60))
def test_a_write_cut_short_leaves_the_state_before_it(
    tmp_path_factory: pytest.TempPathFactory, cut: int, fill: bytes
) -> None:
    path = tmp_path_factory.mktemp("live") / "show.live"
    LiveFile(path).playback.write({"cue": "1"})  # counter 1, second slot
    torn = SLOT.pack(2, 60, 12345) + (b"x" * 60)[:cut] + fill[cut:]
    with path.open("r+b") as raw:
        raw.seek(SECTIONS_AT)  # counter 2 would go to the first slot
        raw.write(torn)
    assert LiveFile(path).playback.read() == {"cue": "1"}


class Memory(bytearray):
    """Memory whose writer is killed after so many bytes."""

    left = 1 << 30

    def __setitem__(self, at: Any, value: Any) -> None:
        part = bytes(value)[: self.left]
        super().__setitem__(slice(at.start, at.start + len(part)), part)
        self.left -= len(part)
        if len(part) < len(value):
            raise Killed


class Killed(Exception):
    pass


@pytest.mark.parametrize("anew", [False, True], ids=["in one engine", "in the next one"])
def test_wherever_a_write_is_cut_short_there_is_the_state_before_it_or_the_new_one(
    monkeypatch: pytest.MonkeyPatch, anew: bool
) -> None:
    monkeypatch.setattr(live, "SLOT_BYTES", 64)
    found = []
    for left in range(64):
        memory: Any = Memory(2 * 64)
        section = Section(memory, 0, lambda at, length: None)
        for cue in ("1", "2"):
            section.write({"cue": cue})
        if anew:
            section = Section(memory, 0, lambda at, length: None)
        memory.left = left
        with contextlib.suppress(Killed):
            section.write({"cue": "3"})
        found.append(Section(memory, 0, lambda at, length: None).read())
    after = found.index({"cue": "3"})
    assert found[:after] == [{"cue": "2"}] * after and found[after:] == [{"cue": "3"}] * (64 - after)


def test_room_is_claimed_where_the_state_is_written(monkeypatch: pytest.MonkeyPatch) -> None:
    """A mapped page without room on the disk ends the process that writes to it."""
    monkeypatch.setattr(live, "SLOT_BYTES", 1 << 18)
    memory: Any = Memory(2 << 18)
    claimed: list[tuple[int, int]] = []
    section = Section(memory, 0, lambda at, length: claimed.append((at, length)))
    for letter in "abc":
        assert section.write({"cue": letter * 100_000})
        at = memory.find(letter.encode() * 100_000)
        assert any(begin <= at and at + 100_000 <= begin + length for begin, length in claimed)


def test_clear_forgets_the_state_and_keeps_the_sequence_numbers(path: Path) -> None:
    file = LiveFile(path)
    file.playback.write({"cue": "1"})
    file.show.write({"text": "the show"})
    file.note_sequences({1: 17, 63999: 255})
    file.clear()
    again = LiveFile(path)
    assert (again.playback.read(), again.show.read()) == (None, None)
    assert again.sequences() == {1: 17, 63999: 255}


def test_a_state_too_large_leaves_the_one_before(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(live, "SLOT_BYTES", 64)
    file = LiveFile(path)
    file.playback.write({"cue": "1"})
    file.playback.write({"cue": "x" * 100})
    assert file.playback.read() == {"cue": "1"}


def test_a_foreign_file_is_taken_over_as_empty(path: Path) -> None:
    path.write_bytes(b"something else entirely" * 10_000)
    file = LiveFile(path)
    assert (file.playback.read(), file.sequences()) == (None, {})


def test_a_folder_in_its_place_is_trouble_with_a_sentence(path: Path) -> None:
    path.mkdir()
    with pytest.raises(Trouble, match="cannot be opened"):
        LiveFile(path)


@pytest.mark.skipif(not hasattr(os, "posix_fallocate"), reason="this system cannot claim room on a disk")
def test_on_a_full_disk_the_state_before_stays_and_the_next_one_is_kept_when_there_is_room(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = LiveFile(path)
    file.playback.write({"cue": "1"})

    def full(*_: object) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    large = {"cue": "x" * 200_000}
    with monkeypatch.context() as disk:
        disk.setattr(os, "posix_fallocate", full)
        assert not file.playback.write(large)
        assert file.playback.write({"cue": "2"})  # room for a small state was claimed at the start
        assert file.playback.read() == {"cue": "2"}
    assert file.playback.write(large)
    assert file.playback.read() == large


@pytest.mark.skipif(not hasattr(os, "posix_fallocate"), reason="this system cannot claim room on a disk")
def test_a_disk_without_any_room_is_trouble_with_a_sentence(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(os, "posix_fallocate", full)
    with pytest.raises(Trouble, match="free the disk"):
        LiveFile(path)


def test_a_stream_that_stopped_at_number_0_is_remembered_like_any_other(path: Path) -> None:
    LiveFile(path).note_sequences({1: 0, 2: 255})
    assert LiveFile(path).sequences() == {1: 0, 2: 255}


def digest(text: str) -> str:
    return sha256(text.encode()).hexdigest()


def test_the_file_is_known_before_and_after_each_save_and_nothing_older_is(path: Path) -> None:
    contents = [digest(f"the show, version {number}") for number in range(5)]
    file = LiveFile(path)
    assert not file.names_file(None)
    assert not file.names_file(contents[0])
    for present, coming in pairwise(contents):
        file.name_file(present, coming)
        assert LiveFile(path).names_file(present)  # killed before the file took its new content
        assert LiveFile(path).names_file(coming)  # and after
    assert not file.names_file(contents[2])
    assert not file.names_file(digest("what somebody else wrote"))


def test_the_digests_are_no_sequence_numbers(path: Path) -> None:
    file = LiveFile(path)
    file.name_file(digest("one"), digest("two"))
    assert file.sequences() == {}


def digests(path: Path) -> bytes:
    with path.open("rb") as raw:
        raw.seek(DIGESTS_AT)
        return raw.read(SECTIONS_AT - DIGESTS_AT)


@given(sizes=st.lists(st.integers(min_value=0, max_value=32), min_size=1, max_size=4))
def test_a_name_cut_short_leaves_the_file_as_it_stands_known(
    tmp_path_factory: pytest.TempPathFactory, sizes: list[int]
) -> None:
    """Killed in the middle of writing a name, again and again; the save that was to follow never came."""
    path = tmp_path_factory.mktemp("live") / "show.live"
    LiveFile(path).name_file(None, digest("it"))
    for size in sizes:
        before = digests(path)
        LiveFile(path).name_file(digest("it"), digest(f"next {size}"))
        after = digests(path)
        torn = bytes(a if at % 32 < size else b for at, (b, a) in enumerate(zip(before, after, strict=True)))
        with path.open("r+b") as raw:
            raw.seek(DIGESTS_AT)
            raw.write(torn)
        assert LiveFile(path).names_file(digest("it"))


@pytest.mark.parametrize("gone", ["file", "folder"])
def test_a_file_that_was_taken_away_is_put_back_with_all_that_it_held(tmp_path: Path, gone: str) -> None:
    folder = tmp_path / "state"
    folder.mkdir()
    file = LiveFile(folder / "show.live")
    digest = sha256(b"show").hexdigest()
    for cue in ("1", "2"):
        file.playback.write({"cue": cue})
    file.show.write({"text": "the show"})
    file.undo.write({"steps": [1, 2]})
    file.unwritten.write({"lines": ["{}"]})
    file.name_file(None, digest)
    file.note_sequences({7: 200})
    file.logged, file.in_charge = 12, True
    assert file.is_there()
    file.path.unlink()
    if gone == "folder":
        folder.rmdir()
    assert not file.is_there()
    file.put_back()
    assert file.is_there()
    file.playback.write({"cue": "3"})
    second = LiveFile(file.path)
    assert (second.playback.read(), second.show.read()) == ({"cue": "3"}, {"text": "the show"})
    assert (second.undo.read(), second.sequences()) == ({"steps": [1, 2]}, {7: 200})
    assert second.unwritten.read() == {"lines": ["{}"]}
    assert (second.logged, second.in_charge, second.names_file(digest)) == (12, True, True)
    assert folder.stat().st_mode & 0o077 == 0 or gone != "folder"


def test_a_file_that_cannot_be_put_back_is_a_sentence_and_the_engine_goes_on(tmp_path: Path) -> None:
    file = LiveFile(tmp_path / "state.live")
    file.path.unlink()
    file.path.mkdir()
    with pytest.raises(Trouble, match="cannot be opened"):
        file.put_back()
    assert file.playback.write({"cue": "1"})
    file.path.rmdir()
    file.put_back()
    assert LiveFile(file.path).playback.read() == {"cue": "1"}


def test_what_is_given_back_is_there_when_it_is_read(path: Path) -> None:
    file = LiveFile(path)
    file.playback.write({"cue": "3"})
    file.note_sequences({1: 77})
    file.give_back()
    assert (file.playback.read(), file.sequences()) == ({"cue": "3"}, {1: 77})
    file.playback.write({"cue": "4"})
    assert LiveFile(path).playback.read() == {"cue": "4"}
