"""Where the terminal's encoding lacks a sign, one that it has stands for it."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest


@pytest.mark.parametrize("encoding", ["ascii", "iso-8859-1"])
def test_signs_are_plain_where_the_encoding_lacks_them(encoding: str) -> None:
    words = [sys.executable, "-m", "onecrew.cli", "colour", "3200", "--tint", "-0.003"]
    environ = {**os.environ, "PYTHONIOENCODING": encoding}
    ended = subprocess.run(words, capture_output=True, env=environ, timeout=60, check=True)
    said = ended.stdout.decode(encoding)
    assert "u', v'" in said and "?" not in said
