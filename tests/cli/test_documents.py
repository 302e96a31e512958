"""new, check, open, profiles and schema: documents from the command line, good and bad."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from onecrew.shipped import shipped
from onecrew.show.profiles import load_profiles, user_folder
from tests.cli.conftest import Ended
from tests.fakes.documents import document

Run = Callable[..., Ended]
EXAMPLE = shipped("examples") / "night-baker.json"


def lamp(name: str, address: int, **other: Any) -> dict[str, Any]:
    return {"id": name, "profile": "practical-dimmer", "mode": "8-bit", "universe": 1, "address": address,
            "role": "practical", **other}  # fmt: skip


def write(show: dict[str, Any], path: str = "show.json") -> str:
    whole = {"format": "onecrew-show", "version": 2, "name": "A room", **show}
    Path(path).write_text(json.dumps(document(whole)), encoding="utf-8")
    return path


def test_a_new_show_is_sound_and_says_what_to_do_next(onecrew: Run) -> None:
    made = onecrew("new", "kitchen.json", "--name", "Kitchen, night")
    assert (made.status, made.err) == (0, "")
    assert "onecrew open kitchen.json" in made.out
    assert json.loads(Path("kitchen.json").read_text())["name"] == "Kitchen, night"
    checked = onecrew("check", "kitchen.json")
    assert (checked.status, checked.err) == (0, "")
    assert "is sound" in checked.out


def test_listening_elsewhere_is_a_hint(onecrew: Run) -> None:
    """192.0.2.0/24 is TEST-NET-1 (RFC 5737): no machine has an address of it."""
    hints = onecrew("check", write({"remote": {"page": {"listen": "192.0.2.7:9080"}}}), "--json").json[
        "hints"
    ]
    assert any("192.0.2.7 is not an address of this machine" in hint for hint in hints)
    hints = onecrew("check", write({"remote": {"osc": {"listen": "0.0.0.0:9001"}}}), "--json").json["hints"]
    assert not any("not an address" in hint for hint in hints)


@pytest.mark.parametrize(
    "words", [["taken.json"], ["no-folder/show.json"], ["fine.json", "--name", "x" * 81]]
)
def test_new_refuses_and_changes_nothing(words: list[str], onecrew: Run) -> None:
    Path("taken.json").write_text("mine")
    ended = onecrew("new", *words)
    assert (ended.status, ended.out) == (1, "")
    assert ended.err.startswith("onecrew: ") and ended.err.count("\n") == 1
    assert [path.name for path in Path.cwd().iterdir()] == ["taken.json"]
    assert Path("taken.json").read_text() == "mine"


def test_the_example_show_is_sound(onecrew: Run) -> None:
    ended = onecrew("check", str(EXAMPLE))
    assert ended.status == 0
    assert ended.out.splitlines()[0].endswith("is sound: 6 fixtures, 7 cues of 2 scenes")
    facts = onecrew("check", str(EXAMPLE), "--json").json
    assert (facts["sound"], facts["faults"]) == (True, [])


def test_every_fault_is_a_line_with_its_place(onecrew: Run) -> None:
    fixtures = [
        lamp("a", 1),
        lamp("a", 1),
        lamp("b", 700),
        lamp("c", 5, profile="no-such"),
        lamp("d", 6, role="sun"),
    ]
    cues = [
        {"number": "1", "look": {"nobody": {"level": 0.5}}},
        {"number": "1", "look": {"a": {"level": 1.5}}},
    ]
    path = write({"rig": {"fixtures": fixtures}, "cues": cues})
    ended = onecrew("check", path)
    assert (ended.status, ended.err) == (1, "")
    places = [line.split(":")[0] for line in ended.out.splitlines()]
    for place in (
        "rig.fixtures[1].id",
        "rig.fixtures[2].address",
        "rig.fixtures[3].profile",
        "scenes[0].arrangement.d.role",
        "scenes[0].cues[0].look.nobody",
        "scenes[0].cues[1].number",
        "scenes[0].cues[1].look.a.level",
    ):
        assert place in places
    facts = onecrew("check", path, "--json")
    assert facts.status == 1
    assert len(facts.json["faults"]) == len(places)
    assert all(fault["what"] and fault["fix"] for fault in facts.json["faults"])


def test_what_a_lamp_cannot_do_is_a_hint_not_a_fault(onecrew: Run) -> None:
    panel = lamp("panel", 1, profile="panel-cct-tint", mode="8-bit")
    look = {
        "panel": {"level": 0.5, "white": {"cct_k": 2000.0, "duv": 0.04}},
        "bulb": {"level": 0.5, "xy": [0.17, 0.02]},
    }
    bulb = lamp("bulb", 10, profile="bulb-rgbw", mode="8-bit")
    path = write({"rig": {"fixtures": [panel, bulb]}, "cues": [{"number": "1", "look": look}]})
    ended = onecrew("check", path)
    assert (ended.status, ended.err) == (0, "")
    first, *hints = ended.out.splitlines()
    assert "is sound" in first
    assert any("panel" in hint and "2000 K" in hint for hint in hints)
    assert any("bulb" in hint and "out of reach" in hint for hint in hints)
    assert all(hint.startswith("hint: ") for hint in hints)


@pytest.mark.parametrize(
    ("content", "fragment"),
    [('{"format": "onecrew-show", "na', "line 1"), ("", "empty"), ('{"a": 1}', "not a onecrew show")],
)
def test_a_file_that_is_no_show_is_a_sentence(content: str, fragment: str, onecrew: Run) -> None:
    Path("broken.json").write_text(content)
    ended = onecrew("check", "broken.json")
    assert (ended.status, ended.err) == (1, "")
    assert fragment in ended.out
    assert Path("broken.json").read_text() == content


@pytest.mark.parametrize("command", ["check", "open", "engine", "watch"])
def test_a_show_that_is_not_there_is_a_sentence(command: str, onecrew: Run) -> None:
    ended = onecrew(command, "nothing.json")
    assert (ended.status, ended.out) == (1, "")
    assert "onecrew new nothing.json" in ended.err
    Path("folder").mkdir()
    assert "is a folder" in onecrew(command, "folder").err


def test_open_needs_a_terminal(onecrew: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    path = write({})
    ended = onecrew("open", path)
    assert (ended.status, ended.out) == (1, "")
    assert "needs a terminal" in ended.err


def test_open_of_a_broken_show_names_the_newest_sound_version(
    onecrew: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("onecrew.cli.shows.has_terminal", lambda: True)
    onecrew("new", "kitchen.json")
    Path("kitchen.json").write_text("{")
    ended = onecrew("open", "kitchen.json")
    assert (ended.status, ended.out) == (1, "")
    *_, last = ended.err.splitlines()
    assert ".kitchen.json.versions" in last
    assert Path("kitchen.json").read_text() == "{"


def test_profiles_are_listed_with_their_modes(onecrew: Run) -> None:
    out = onecrew("profiles").out
    for profile in load_profiles().values():
        [line] = [line for line in out.splitlines() if line.startswith(f"{profile.id} ")]
        assert all(mode.name in line for mode in profile.modes)
    assert str(user_folder()) in out
    facts = onecrew("profiles", "--json").json
    assert {known["id"] for known in facts["profiles"]} == set(load_profiles())
    assert facts["broken"] == []


def test_a_profile_of_ones_own_that_is_broken_is_told(onecrew: Run) -> None:
    user_folder().mkdir(parents=True)
    (user_folder() / "mine.toml").write_text('name = "Mine"\n')
    listed = onecrew("profiles")
    assert listed.status == 0
    assert "cannot be used" in listed.out and "mine.toml" in listed.out
    assert "mine.toml" in onecrew("profiles", "--json").json["broken"][0]
    shown = onecrew("profiles", "mine")
    assert (shown.status, shown.out) == (1, "")
    assert "mine.toml" in shown.err


def test_a_profile_beside_the_show_that_is_broken_is_a_hint(onecrew: Run) -> None:
    show = write({})
    beside = Path(show).resolve().parent / "profiles"
    beside.mkdir()
    (beside / "mine.toml").write_text('name = "Mine"\n')
    checked = onecrew("check", show)
    assert checked.status == 0
    assert "mine.toml" in checked.out and "modes" in checked.out


def test_one_profile_is_shown_with_what_it_reaches(onecrew: Run) -> None:
    ended = onecrew("profiles", "panel-bicolour")
    assert ended.status == 0
    for shown in ("mode panel-bicolour/8-bit: 2 slots", "warm, 16 bit", "2700 K", "out of reach"):
        assert shown in ended.out
    facts = onecrew("profiles", "panel-bicolour", "--json").json
    whites = {row["cct_k"]: row["off_by"] for row in facts["reach"]["16-bit"]}
    # Between its two whites a bicolour panel runs along the chord, below the locus; beyond them it stops.
    assert whites[2700] < 1e-3 < whites[4300] < whites[10000]


def test_the_darkest_step_of_each_mode_is_shown(onecrew: Run) -> None:
    # Log law of IEC 62386-102: the first step is 0.1 % of the light at 8 bits as at 16.
    out = onecrew("profiles", "spot-daylight").out
    assert "darkest step: level 0.39 %, 0.1 % of the light" in out
    assert "darkest step: level 0.0015 %, 0.1 % of the light" in out
    darkest = onecrew("profiles", "spot-six", "--json").json["darkest"]
    assert darkest["8-bit"] == pytest.approx({"level": 16 / 255**2, "output": 16 / 255**2})
    assert darkest["16-bit"] == pytest.approx({"level": 1 / 65535, "output": 1 / 65535})


@pytest.mark.parametrize("name", [*load_profiles()])
def test_every_shipped_profile_can_be_shown(name: str, onecrew: Run) -> None:
    assert onecrew("profiles", name).status == 0


def test_schema_is_a_json_schema_of_each_document(onecrew: Run) -> None:
    show = onecrew("schema").json
    assert {"rig", "scenes", "output"} <= show["properties"].keys()
    profile = onecrew("schema", "profile").json
    assert {"emitters", "modes", "dimming"} <= profile["properties"].keys()
    assert show["$schema"] == profile["$schema"] == "https://json-schema.org/draft/2020-12/schema"


def test_a_show_is_not_called_as_standard_output_is(onecrew: Run) -> None:
    ended = onecrew("new", "-")
    assert ended.status == 2 and "give it a name" in ended.err
    assert not Path("-").exists()


def test_a_very_fine_dimmer_has_its_darkest_step_said_without_an_exponent(onecrew: Run) -> None:
    user_folder().mkdir(parents=True)
    (user_folder() / "fine.toml").write_text(
        'name = "Fine"\ndimming = "linear"\n[emitters.white]\nxy = [0.33, 0.34]\nflux = 1.0\n'
        '[[modes]]\nname = "m"\nchannels = [{ dimmer = true, bits = 24 }]\n'
    )
    said = onecrew("profiles", "fine").out
    assert "darkest step: level less than 0.0001 %, less than 0.0001 % of the light" in said
