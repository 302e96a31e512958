"""Documents of an older version are brought up step by step; newer and unknown ones are refused."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from onecrew.errors import DocumentFaults
from onecrew.shipped import shipped
from onecrew.show.dump import dump_show
from onecrew.show.load import load_show
from onecrew.show.migrate import FORMAT, FORMER_FORMAT, VERSION, NewerVersion, migrate
from onecrew.show.profiles import load_profiles


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
    with pytest.raises(NewerVersion, match="version 4, this onecrew reads up to 3; install a newer"):
        migrate({"version": 4}, STEPS, to=3)


def test_a_version_that_nothing_leads_up_from() -> None:
    with pytest.raises(ValueError, match="there never was a version 0; write 3"):
        migrate({"version": 0}, STEPS, to=3)


def test_a_version_1_show_keeps_its_work_under_the_new_names() -> None:
    lamp = {"id": "tone", "role": "room tone", "mixing": "truest", "note": "room tone"}
    cue = {"number": "1", "key": "1", "follow_s": 3, "note": "key"}
    data: dict[str, Any] = {
        "format": FORMER_FORMAT, "version": 1, "name": "Kitchen",
        "rig": {"fixtures": [lamp, 7], "set_pieces": [{"id": "flag"}]}, "cues": [cue, 7],
        "camera": {"iso": 400},
    }  # fmt: skip
    new = migrate(data)
    assert (new["format"], new["version"], new["name"]) == (FORMAT, 2, "Kitchen")
    assert new["rig"]["fixtures"] == (
        {"id": "tone", "mixing": "best-rendition"},
        7,
    )
    (scene,) = new["scenes"]
    assert scene["arrangement"] == {"tone": {"role": "ambience", "note": "room tone"}}
    assert scene["set_pieces"] == [{"id": "flag"}] and scene["camera"] == {"iso": 400}
    assert "camera" not in new and "cues" not in new and set(new["rig"]) == {"fixtures"}
    assert scene["cues"] == ({"number": "1", "shortcut": "1", "auto_follow_s": 3, "note": "key"}, 7)
    assert data["rig"]["fixtures"][0] is lamp and lamp["role"] == "room tone"
    assert data["cues"][0] is cue and cue["key"] == "1"


def test_a_version_1_file_loads_and_is_saved_as_the_present_version(tmp_path: Path) -> None:
    path = tmp_path / "old.json"
    lamp = {"id": "tone", "profile": "practical-dimmer", "mode": "8-bit", "universe": 1, "address": 1}
    old = {"format": FORMER_FORMAT, "version": 1, "name": "Kitchen",
           "rig": {"fixtures": [{**lamp, "role": "room tone", "mixing": "brightest"}]},
           "cues": [{"number": "1", "key": "s", "follow_s": 2.5}]}  # fmt: skip
    path.write_text(json.dumps(old))
    profiles = load_profiles([shipped("profiles")])
    show = load_show(path, profiles)
    assert show.rig.fixtures[0].role == "ambience"
    assert (show.cues[0].shortcut, show.cues[0].auto_follow_s) == ("s", 2.5)
    saved = dump_show(show)
    assert f'"format": "{FORMAT}"' in saved and '"version": 2' in saved and FORMER_FORMAT not in saved
    path.write_text(saved)
    assert load_show(path, profiles) == show


def test_the_former_format_with_the_new_version_is_a_fault(tmp_path: Path) -> None:
    path = tmp_path / "mixed.json"
    path.write_text(json.dumps({"format": FORMER_FORMAT, "version": 2, "name": "Kitchen"}))
    with pytest.raises(DocumentFaults, match="format"):
        load_show(path, load_profiles([shipped("profiles")]))


@pytest.mark.parametrize("version", ["1", 1.0, True, None])
def test_a_version_is_a_whole_number(version: object) -> None:
    with pytest.raises(ValueError, match="not a whole number; write"):
        migrate({"version": version})
