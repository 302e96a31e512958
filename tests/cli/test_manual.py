"""The manual: every topic has a title, is printed whole, and stands in the README."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from onecrew.manual import page, topics
from tests.cli.conftest import Ended

Run = Callable[..., Ended]
README = Path(__file__).parents[2] / "README.md"


def test_every_topic_is_listed_with_its_title(onecrew: Run) -> None:
    listed = onecrew("manual").out
    assert len(topics()) > 10
    for topic, title in topics().items():
        assert title and any(line.split()[:1] == [topic] and title in line for line in listed.splitlines())


@pytest.mark.parametrize("topic", topics())
def test_a_topic_is_printed_as_it_is_written(topic: str, onecrew: Run) -> None:
    ended = onecrew("manual", topic)
    assert (ended.status, ended.out) == (0, page(topic))
    assert ended.out.startswith("# ") and len(ended.out) > 200


def test_a_topic_that_there_is_not(onecrew: Run) -> None:
    ended = onecrew("manual", "wi-fi")
    assert ended.status == 2 and "(did you mean 'wifi'?)" in ended.err
    assert "Traceback" not in ended.err


def test_the_readme_names_every_topic() -> None:
    text = README.read_text(encoding="utf-8")
    assert all(f"controller/onecrew/manual/{topic}.md" in text for topic in topics())
