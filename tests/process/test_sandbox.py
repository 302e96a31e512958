"""The sandbox ends what it started, and never more than that."""

from __future__ import annotations

import os

import pytest

from tests.process.sandbox import kill


@pytest.mark.parametrize("pid", [0, -1, -os.getpid()])
def test_what_is_no_process_is_not_signalled(pid: int, monkeypatch: pytest.MonkeyPatch) -> None:
    signalled: list[int] = []
    monkeypatch.setattr(os, "kill", lambda pid, _: signalled.append(pid))
    with pytest.raises(ValueError, match="no process"):
        kill(pid)
    assert not signalled
