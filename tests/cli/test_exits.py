"""However a command ends, it is a status and at most some sentences, never a traceback."""

from __future__ import annotations

from pathlib import Path

import platformdirs
import pytest

from onecrew.cli.exits import DONE, FAILED, MISUSED, guarded
from onecrew.errors import DocumentFaults, Fault, Misuse, Refused, Trouble


def ending_with(error: BaseException) -> int:
    def work() -> int:
        raise error

    return guarded(work)


def test_a_status_passes_through() -> None:
    assert guarded(lambda: DONE) == DONE
    assert guarded(lambda: FAILED) == FAILED


@pytest.mark.parametrize(
    ("error", "status"),
    [
        (Misuse("say which"), MISUSED),
        (Refused("the show is locked"), FAILED),
        (Trouble("the port is taken"), FAILED),
    ],
)
def test_what_onecrew_says_no_to_is_one_sentence(
    error: Exception, status: int, capsys: pytest.CaptureFixture[str]
) -> None:
    assert ending_with(error) == status
    said = capsys.readouterr()
    assert (said.out, said.err) == ("", f"onecrew: {error}\n")


def test_a_page_that_was_pasted_leaves_room_for_what_is_wrong_with_it() -> None:
    said = str(Misuse(f"'{'x' * 10_000}' is not a time; write 5s"))
    assert len(said) < 600 and said.startswith("'xx") and said.endswith("is not a time; write 5s")
    assert str(Misuse("y" * 500 + "\n" + "z" * 500)) == "y" * 500 + "\n" + "z" * 500


def test_every_fault_of_a_document_is_a_line(capsys: pytest.CaptureFixture[str]) -> None:
    faults = [Fault("cues[0].shortcut", "'h' is taken", "choose another"), Fault("", "no name", "give one")]
    assert ending_with(DocumentFaults("a.json", faults)) == FAILED
    assert capsys.readouterr().err.splitlines() == [
        "onecrew: a.json: cues[0].shortcut: 'h' is taken; choose another",
        "onecrew: a.json: no name; give one",
    ]


def test_interrupts_and_readers_that_went_away_are_quiet(capfd: pytest.CaptureFixture[str]) -> None:
    assert ending_with(KeyboardInterrupt()) == FAILED
    assert capfd.readouterr() == ("", "")


def test_argparse_statuses_pass_through() -> None:
    assert ending_with(SystemExit(2)) == MISUSED
    assert ending_with(SystemExit(0)) == DONE


def test_a_bug_is_a_sentence_and_its_traceback_is_in_the_log(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(platformdirs, "user_log_dir", lambda *_, **__: str(tmp_path / "log"))
    assert ending_with(ZeroDivisionError("a bug")) == FAILED
    said = capsys.readouterr().err
    log = tmp_path / "log" / "command-line.log"
    assert said == f"onecrew: that should not have happened (ZeroDivisionError); details are in {log}\n"
    assert "Traceback" in log.read_text() and "a bug" in log.read_text()


def test_a_bug_with_an_unwritable_log_is_still_a_sentence(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "file").write_text("not a folder")
    monkeypatch.setattr(platformdirs, "user_log_dir", lambda *_, **__: str(tmp_path / "file"))
    assert ending_with(ZeroDivisionError()) == FAILED
    said = capsys.readouterr().err
    assert said.count("\n") == 1 and "cannot be written" in said
