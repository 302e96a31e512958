"""The writer's thread: in order, patient with a full disk, bounded, never in anybody's way."""

from __future__ import annotations

import errno
import threading
from pathlib import Path

import pytest

from onecrew.log import writer as writer_module
from onecrew.log.writer import Writer

WAIT_S = 10.0


class Disk:
    """Takes what is appended; can be full, and can take a part of a write alone."""

    def __init__(self) -> None:
        self.content = b""
        self.error: int | None = None
        self.most: int | None = None
        self.tried = threading.Event()

    def append(self, _path: Path, content: bytes) -> int:
        self.tried.set()
        if self.error is not None:
            raise OSError(self.error, "no")
        if self.content and not self.content.endswith(b"\n"):
            self.content += b"\n"
        taken = content if self.most is None else content[: self.most]
        self.most = None
        self.content += taken
        return len(taken)


class Heard:
    """What the writer said, and a way to wait for it."""

    def __init__(self) -> None:
        self.said: list[str] = []
        self.news = threading.Event()

    def __call__(self, trouble: str) -> None:
        self.said.append(trouble)
        self.news.set()


def made(disk: Disk, heard: Heard) -> Writer:
    return Writer(Path("x.log.jsonl"), heard, append=disk.append, retry_s=0.001)


def test_lines_come_in_their_order() -> None:
    disk, heard = Disk(), Heard()
    writer = made(disk, heard)
    for number in range(200):
        writer.put(b"%d\n" % number)
    assert writer.finish(WAIT_S)
    assert disk.content.split() == [b"%d" % number for number in range(200)]
    assert heard.said == []


def test_the_newest_lines_that_wait_are_told_as_far_as_there_is_room(tmp_path: Path) -> None:
    writer = Writer(tmp_path / "gone" / "x.log.jsonl", Heard())
    for line in (b"one\n", b"two\n", b"three\n"):
        writer.put(line)
    assert writer.newest(100) == [b"one\n", b"two\n", b"three\n"]
    assert writer.newest(10) == [b"two\n", b"three\n"]
    assert writer.newest(5) == []
    writer.finish(WAIT_S)


@pytest.mark.parametrize(
    ("code", "words"),
    [
        (errno.ENOSPC, "disk is full"),
        (errno.EACCES, "may not be written"),
        (errno.EROFS, "may not be written"),
        (errno.ENOENT, "is gone"),
        (errno.EIO, "cannot be written"),
    ],
)
def test_trouble_is_told_once_and_what_waited_is_written_when_it_is_over(code: int, words: str) -> None:
    disk, heard = Disk(), Heard()
    disk.error = code
    writer = made(disk, heard)
    writer.put(b"one\n")
    writer.put(b"two\n")
    assert heard.news.wait(WAIT_S)
    assert words in heard.said[0] and "light goes on" in heard.said[0]
    heard.news.clear()
    disk.error = None
    assert heard.news.wait(WAIT_S)
    assert writer.finish(WAIT_S)
    assert heard.said[1:] == [""]
    assert disk.content == b"one\ntwo\n"


def test_a_write_that_went_half_way_is_closed_and_done_again() -> None:
    disk, heard = Disk(), Heard()
    disk.most = 6
    writer = made(disk, heard)
    with writer._news:  # so that both are in one write
        writer.put(b"one\n")
        writer.put(b"two\n")
    assert writer.finish(WAIT_S)
    assert disk.content == b"one\ntw\ntwo\n"


def test_memory_is_bounded_and_what_is_given_up_is_counted(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(writer_module, "MOST_BYTES", 100)
    disk, heard = Disk(), Heard()
    disk.error = errno.ENOSPC
    writer = made(disk, heard)
    for number in range(100):
        writer.put(b"%09d\n" % number)
    assert disk.tried.wait(WAIT_S)
    assert len(writer._lines) == 10
    assert writer.take_given_up() == 90
    assert writer.take_given_up() == 0
    disk.error = None
    assert writer.finish(WAIT_S)
    assert disk.content.split() == [b"%09d" % number for number in range(90, 100)]


def test_the_end_does_not_wait_for_a_disk_that_is_full() -> None:
    disk, heard = Disk(), Heard()
    disk.error = errno.ENOSPC
    writer = made(disk, heard)
    writer.put(b"one\n")
    assert not writer.finish(WAIT_S)


def test_a_disk_that_hangs_holds_nobody_up() -> None:
    hangs, entered = threading.Event(), threading.Event()

    def append(_path: Path, content: bytes) -> int:
        entered.set()
        hangs.wait(WAIT_S)
        return len(content)

    writer = Writer(Path("x"), lambda _: None, append=append)
    writer.put(b"one\n")
    assert entered.wait(WAIT_S)
    for _ in range(1000):
        writer.put(b"more\n")  # returns, though nothing is written
    assert not writer.finish(0.01)
    hangs.set()
    assert writer._thread is not None
    writer._thread.join(WAIT_S)


def test_a_file_that_was_taken_away_is_begun_anew_with_its_head(tmp_path: Path) -> None:
    path = tmp_path / "x.log.jsonl"
    writer = Writer(path, lambda _: None)
    engine, start, end = b"engine\n", b"start\n", b"end\n"

    def put(*lines: bytes) -> bytes:
        for line in lines:
            writer.put(line)
        while writer.waiting:
            threading.Event().wait(0.001)
        return path.read_bytes()

    writer.head = (engine,)
    assert put(engine) == engine, "what is still to be written is no head"
    writer.head = (engine, start)
    assert put(start) == engine + start
    path.rename(tmp_path / "rotated")
    assert put(b"note\n") == engine + start + b"note\n"
    path.unlink()
    writer.head = (engine, start, end)
    assert put(end) == engine + start + end
    assert put(b"later\n") == engine + start + end + b"later\n"
    assert writer.finish(WAIT_S)


def test_a_file_that_is_not_there_at_the_start_has_no_head(tmp_path: Path) -> None:
    writer = Writer(tmp_path / "x.log.jsonl", lambda _: None)
    writer.head = (b"engine\n",)
    writer.put(b"note\n")
    assert writer.finish(WAIT_S)
    assert writer.path.read_bytes() == b"note\n"
