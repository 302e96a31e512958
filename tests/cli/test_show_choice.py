"""Which show is meant: plainly or after ``--show``, the same; a word of ``send`` is never taken for one."""

from __future__ import annotations

from pathlib import Path

import pytest

from onecrew.cli.parser import parser

SHOW = "night-baker.json"


@pytest.mark.parametrize("command", ["stop", "status"])
@pytest.mark.parametrize("words", [[SHOW], ["--show", SHOW]])
def test_a_show_is_named_plainly_or_by_its_option(command: str, words: list[str]) -> None:
    assert parser().parse_args([command, *words]).show == Path(SHOW)


@pytest.mark.parametrize("command", ["stop", "status"])
def test_without_a_show_the_one_that_runs_is_meant(command: str) -> None:
    assert parser().parse_args([command]).show is None


def test_words_that_are_sent_are_no_show() -> None:
    sent = parser().parse_args(["send", "--show", SHOW, "recall", "1"])
    assert (sent.show, sent.words) == (Path(SHOW), ["recall", "1"])
