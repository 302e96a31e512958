"""Documents of an older version are brought up step by step; newer and unknown ones are told."""

from __future__ import annotations

from typing import Any

import pytest

from controller.documents.migrate import VERSION, NewerVersion, migrate


def second(data: dict[str, Any]) -> dict[str, Any]:
    return {**data, "name": data["title"]}


def third(data: dict[str, Any]) -> dict[str, Any]:
    return {**data, "cues": []}


STEPS = {1: second, 2: third}


def test_steps_run_in_order_and_leave_the_original_alone() -> None:
    old = {"version": 1, "title": "Kitchen"}
    assert migrate(old, STEPS, to=3) == {"version": 3, "title": "Kitchen", "name": "Kitchen", "cues": []}
    assert old == {"version": 1, "title": "Kitchen"}


def test_the_present_version_stays_as_it_is() -> None:
    data = {"version": VERSION}
    assert migrate(data) is data


def test_a_newer_version_names_both_versions() -> None:
    with pytest.raises(NewerVersion, match="version 4, this lampwright reads up to 3; install a newer"):
        migrate({"version": 4}, STEPS, to=3)


def test_a_version_that_nothing_leads_up_from() -> None:
    with pytest.raises(ValueError, match="there never was a version 0; write 3"):
        migrate({"version": 0}, STEPS, to=3)


@pytest.mark.parametrize("version", ["1", 1.0, True, None])
def test_a_version_is_a_whole_number(version: object) -> None:
    with pytest.raises(ValueError, match="not a whole number; write"):
        migrate({"version": version})
