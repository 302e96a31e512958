"""The log's file: appended to, torn lines closed and passed over, the latest found from the end."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

import pytest

from onecrew.errors import Trouble
from onecrew.log import logfile
from onecrew.log.entries import Entry, to_line
from onecrew.log.logfile import append, latest_with, log_path, newest, read, tail


def entry(n: int, **data: Any) -> Entry:
    return Entry(n, 1.7e9 + n, 0, float(n), "note", "note", f"line {n}", data)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "bakery.log.jsonl"


def numbers(path: Path) -> list[int]:
    return [one.n for one in read(path)]


def test_the_log_stands_beside_the_show() -> None:
    assert log_path(Path("a/bakery.json")) == Path("a/bakery.log.jsonl")
    assert log_path(Path("a/bakery.v2")) == Path("a/bakery.v2.log.jsonl")
    assert log_path(Path("a/bakery.log.jsonl")) == Path("a/bakery.log.jsonl")


def test_lines_are_added_and_nothing_before_them_changes(path: Path) -> None:
    append(path, to_line(entry(1)))
    before = path.read_bytes()
    append(path, to_line(entry(2)) + to_line(entry(3)))
    assert path.read_bytes().startswith(before)
    assert numbers(path) == [1, 2, 3]


@pytest.mark.parametrize("cut", [1, 5, 20])
def test_a_torn_last_line_is_passed_over_and_not_merged_with_the_next(path: Path, cut: int) -> None:
    append(path, to_line(entry(1)) + to_line(entry(2)))
    os.truncate(path, path.stat().st_size - cut)
    assert numbers(path) == ([1, 2] if cut == 1 else [1])  # without its line feed alone it is whole
    append(path, to_line(entry(3)))
    assert numbers(path) == ([1, 2, 3] if cut == 1 else [1, 3])


def test_an_entry_written_twice_comes_once(path: Path) -> None:
    append(path, to_line(entry(1)) + to_line(entry(2)) + to_line(entry(2)) + to_line(entry(3)))
    assert numbers(path) == [1, 2, 3]


def test_noise_in_between_is_passed_over(path: Path) -> None:
    append(path, to_line(entry(1)) + b"\x00\xff\n{}\n[1]\n\n" + to_line(entry(2)))
    assert numbers(path) == [1, 2]


def test_a_line_too_long_to_be_an_entry_is_passed_over(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(logfile, "LONGEST", 400)
    append(path, to_line(entry(1)) + to_line(entry(2, note="x" * 3000)) + to_line(entry(3)))
    assert numbers(path) == [1, 3]


def test_the_tail_holds_the_newest_and_at_least_one(path: Path) -> None:
    append(path, b"".join(to_line(entry(n)) for n in range(1, 101)))
    found = [one.n for one in tail(path, 1000)]
    assert found[-1] == 100 and found == list(range(found[0], 101)) and len(found) < 20
    append(path, to_line(entry(101, note="x" * 5000)))
    assert [one.n for one in tail(path, 1000)][-1] == 101
    assert tail(path.with_name("nothing"), 1000) == []


@pytest.mark.parametrize("block", [1, 7, 100, 1 << 16])
def test_the_newest_are_read_from_the_end(path: Path, block: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(logfile, "BLOCK", block)
    whole = b"noise\n" + b"".join(to_line(entry(n)) for n in (1, 2, 3, 3, 4))
    path.write_bytes(whole + to_line(entry(5))[:-9])  # the last one is still being written
    for count in (1, 2, 3, 4, 9):
        found, end = newest(path, count)
        assert [one.n for one in found] == [1, 2, 3, 4][-count:]
        assert end == len(whole)
    assert newest(path, 9, ("note",))[0] == newest(path, 9)[0]
    assert newest(path, 9, ("cue",)) == ([], len(whole))


def test_the_newest_of_a_kind_are_found_however_far_back(path: Path) -> None:
    first = Entry(1, 1.7e9, 0, 1.0, "take", "start", "take 1 starts", {})
    path.write_bytes(
        to_line(first) + b"".join(to_line(entry(n, text='"kind":"take"')) for n in range(2, 3000))
    )
    assert newest(path, 2, ("take",))[0] == [first]
    with pytest.raises(Trouble, match="no log"):
        newest(path.with_name("none"), 1)


def test_the_latest_with_a_mark_is_found_from_the_end(path: Path) -> None:
    append(path, b"".join(to_line(entry(n, takes={"1": n} if n % 1000 == 7 else 0)) for n in range(1, 4000)))
    found = latest_with(path, b'"takes":{')
    assert found is not None and found.n == 3007
    assert latest_with(path, b'"nowhere":') is None
    assert latest_with(path.with_name("nothing"), b"x") is None


def test_a_mark_in_a_torn_line_does_not_count(path: Path) -> None:
    append(path, to_line(entry(1, takes={"1": 1})) + to_line(entry(2, takes={"1": 2}))[:-3])
    found = latest_with(path, b'"takes":{')
    assert found is not None and found.n == 1


def test_what_is_no_file_is_told_and_never_waited_for(tmp_path: Path) -> None:
    with pytest.raises(Trouble, match="there is no log"):
        list(read(tmp_path / "nothing"))
    with pytest.raises(Trouble, match="is a folder"):
        list(read(tmp_path))
    if hasattr(os, "mkfifo"):
        pipe = tmp_path / "pipe"
        os.mkfifo(pipe)
        with pytest.raises(OSError):
            append(pipe, b"x\n")
        with pytest.raises(Trouble, match="cannot be read"):
            list(read(pipe))
        assert tail(pipe, 100) == []


def test_appending_where_nothing_may_be_written_raises(tmp_path: Path) -> None:
    with pytest.raises(OSError):
        append(tmp_path / "gone" / "x.log.jsonl", b"x\n")


def test_a_line_that_is_torn_and_was_not_written_again_is_told(path: Path) -> None:
    def told() -> int:
        torn: list[None] = []
        list(read(path, lambda: torn.append(None)))
        return len(torn)

    whole = [to_line(entry(number)) for number in (1, 2, 3)]
    path.write_bytes(whole[0] + whole[1][:20] + b"\n" + whole[1] + whole[2])
    assert told() == 0, "its second attempt is whole"
    path.write_bytes(whole[0] + whole[1][:20] + b"\n" + whole[2])
    assert told() == 1
    path.write_bytes(whole[0] + whole[1] + whole[2][:20])
    assert told() == 1
    path.write_bytes(whole[0] + b"\n" + whole[1])
    assert told() == 0
