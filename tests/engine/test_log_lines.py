"""What the engine logs is lines of text: a name or a note cannot move a terminal's cursor or add a line."""

from __future__ import annotations

import logging

from onecrew.engine.main import Plain


def test_control_characters_in_a_message_are_spelt_out() -> None:
    record = logging.LogRecord("engine", logging.INFO, "", 0, "note: %s", ("a\x1b[2J\nb\u202e",), None)
    assert Plain("%(levelname)s %(message)s").format(record) == "INFO note: a\\u001b[2J\\nb\\u202e"
