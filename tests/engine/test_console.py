"""A stream that never holds up who writes to it, whatever stands at its other end."""

from __future__ import annotations

import os
import re
import sys
import threading
from collections.abc import Generator, Iterator
from typing import TextIO

import pytest

from onecrew.engine.console import MOST_BYTES, BackgroundStream, background_output

LINE = "a line of some length, so that not too many are needed\n"
WAIT_S = 20.0


class Pipe:
    """A pipe with a stream to write to it; nobody reads it until ``read``."""

    def __init__(self) -> None:
        self.reading, number = os.pipe()
        self.file: TextIO = os.fdopen(number, "w", encoding="ascii", errors="replace")
        self.stream = BackgroundStream(self.file)

    def read(self) -> Generator[str, None, None]:
        with os.fdopen(self.reading, encoding="ascii") as lines:
            yield from lines


@pytest.fixture
def pipe() -> Iterator[Pipe]:
    pipe = Pipe()
    yield pipe
    pipe.file.close()


def test_what_is_written_arrives_in_order(pipe: Pipe) -> None:
    for number in range(100):
        pipe.stream.write(f"{number}\n")
    pipe.stream.finish(WAIT_S)
    pipe.file.close()
    assert list(pipe.read()) == [f"{number}\n" for number in range(100)]


def test_a_line_for_which_there_was_no_thread_is_written_with_the_next(
    pipe: Pipe, monkeypatch: pytest.MonkeyPatch
) -> None:
    def no_room(_thread: threading.Thread) -> None:
        raise RuntimeError("can't start new thread")

    with monkeypatch.context() as scarce:
        scarce.setattr(threading.Thread, "start", no_room)
        pipe.stream.write("first\n")
    pipe.stream.write("second\n")
    pipe.stream.finish(WAIT_S)
    pipe.file.close()
    assert list(pipe.read()) == ["first\n", "second\n"]


def test_where_nobody_reads_nobody_waits_and_what_is_left_out_is_counted(pipe: Pipe) -> None:
    written = 0
    while written * len(LINE) < 4 * MOST_BYTES:
        pipe.stream.write(LINE)
        written += 1
    pipe.stream.finish(0.0)  # gives up waiting, not writing
    lines = pipe.read()
    whole = 0
    for line in lines:
        if line != LINE:
            break
        whole += 1
    said = re.fullmatch(r"onecrew: (\d+) lines were left out here: nobody read what was said\n", line)
    assert said is not None and int(said[1]) == written - whole > 0
    lines.close()


def test_a_file_that_somebody_set_not_to_wait_loses_nothing_either(pipe: Pipe) -> None:
    os.set_blocking(pipe.file.fileno(), False)
    written = [LINE] * (MOST_BYTES // len(LINE))
    pipe.stream.writelines(written)
    read: list[str] = []
    reader = threading.Thread(target=lambda: read.extend(pipe.read()))
    reader.start()
    pipe.stream.finish(WAIT_S)
    pipe.file.close()
    reader.join(WAIT_S)
    assert read == written


def test_a_reader_that_is_gone_is_no_fault(pipe: Pipe) -> None:
    os.close(pipe.reading)
    pipe.stream.write(LINE)
    pipe.stream.write(LINE)
    pipe.stream.finish(WAIT_S)


def test_signs_that_the_stream_cannot_show_are_replaced_as_it_does(pipe: Pipe) -> None:
    pipe.stream.write("2 °\n")
    pipe.stream.finish(WAIT_S)
    pipe.file.close()
    assert list(pipe.read()) == ["2 ?\n"]


def test_both_outputs_are_such_streams_for_as_long_as_it_is_asked(capfd: pytest.CaptureFixture[str]) -> None:
    before = sys.stdout, sys.stderr
    with background_output():
        print("said")
        print("complained", file=sys.stderr)
        assert isinstance(sys.stdout, BackgroundStream) and isinstance(sys.stderr, BackgroundStream)
    assert (sys.stdout, sys.stderr) == before
    assert capfd.readouterr() == ("said\n", "complained\n")


def test_an_output_that_is_no_file_stays_as_it_is(capsys: pytest.CaptureFixture[str]) -> None:
    before = sys.stdout, sys.stderr
    with background_output():
        assert (sys.stdout, sys.stderr) == before
