"""No fault speaks the validator's language: whatever is wrong, the sentence is our own and has a fix."""

from __future__ import annotations

import json
import re
from typing import Annotated, Any, Union

from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import Field, TypeAdapter, ValidationError

from onecrew.commands.command import Command
from onecrew.commands.table import ROWS
from onecrew.errors import DocumentFaults, Fault
from onecrew.shipped import shipped
from onecrew.show.faults import PATTERN_WORDS, describe, listed, meant, path_of, plain_faults, shown
from onecrew.show.load import examine
from onecrew.show.profile import Profile
from onecrew.show.profiles import parse_profile
from onecrew.show.scenes import Document
from onecrew.show.show import Show
from tests.show.shows import PROFILES, file_data

MODELS = tuple(row.model for row in ROWS)
command_adapter: TypeAdapter[Command] = TypeAdapter(Annotated[Union[MODELS], Field(discriminator="kind")])  # type: ignore[arg-type]  # noqa: UP007
"""All kinds of command as one union, as a client could send any of them."""

FOREIGN = re.compile(
    r"[Ii]nput should|should be a valid|validation error|Field required|[Ee]xtra inputs|"
    r"type=|input_value|pydantic|Value error|Traceback|NoneType|\bdict\b|\btuple\b|\bstr\b|\bNone\b"
)
"""The validator's own phrases, and Python's."""

JUNK: st.SearchStrategy[Any] = st.recursive(
    st.none()
    | st.booleans()
    | st.integers(-(10**12), 10**12)
    | st.floats(allow_nan=False, allow_infinity=False)
    | st.text(max_size=5),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=5), inner, max_size=3),
    max_leaves=4,
)


def assert_plain(fault: Fault) -> None:
    told = str(fault)
    assert fault.what and fault.fix, told
    assert "\n" not in told, told
    assert not FOREIGN.search(told), told
    assert "something else" not in told, told
    assert "written another way;" not in told, told


def patterns(node: object) -> set[str]:
    if isinstance(node, dict):
        own = {node["pattern"]} if isinstance(node.get("pattern"), str) else set()
        named = node.get("patternProperties")
        own |= set(named) if isinstance(named, dict) else set()
        return own.union(*(patterns(inner) for inner in node.values()))
    return set().union(*(patterns(inner) for inner in node)) if isinstance(node, list) else set()


def test_every_pattern_of_the_models_has_words() -> None:
    schemas = (
        Document.model_json_schema(),
        Show.model_json_schema(),
        Profile.model_json_schema(),
        command_adapter.json_schema(),
    )
    assert set().union(*(patterns(schema) for schema in schemas)) == set(PATTERN_WORDS)


def places(value: Any, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    """Every place of a document."""
    inside = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    return [path, *(deeper for key, inner in inside for deeper in places(inner, (*path, key)))]


def with_junk(data: Any, path: tuple[Any, ...], junk: Any) -> Any:
    if not path:
        return junk
    copy = dict(data) if isinstance(data, dict) else list(data)
    copy[path[0]] = with_junk(data[path[0]], path[1:], junk)
    return copy


FULL = file_data(
    remote={"osc": {"listen": "127.0.0.1:9001", "allow": []}, "page": {}},
    output={
        "sacn": {"priority": 100, "universes": {"1": {"to": ["127.0.0.1"], "interface": "10.0.0.1"}}},
        "artnet": {"universes": {"2": {"to": ["10.0.0.2"], "port_address": 3}}},
    },
    camera={"iso": 800, "place": {"x_m": 1, "y_m": 1}},
)
SCENE = FULL["scenes"][0]
SCENE["arrangement"]["window"] |= {
    "modifiers": [{"kind": "gel", "stops": 1}],
    "place": {"x_m": 1, "y_m": 2, "aim_deg": 20},
}
FULL["rig"]["fixtures"][0] |= {
    "calibration": [{"asked_cct_k": 3200, "measured_cct_k": 3100, "measured_duv": 0, "light": 5}],
}
SCENE["set_pieces"] = [{"id": "flag", "kind": "flag", "place": {"x_m": 1, "y_m": 2}}]
SCENE["cues"][0] |= {
    "fade": {"in_s": 1, "out_s": 1, "curve": "ease"},
    "auto_follow_s": 3,
    "look": {"window": {"level": 0.5, "white": {"cct_k": 3200}, "effect": {"kind": "flame", "rate": 1}}},
}


@settings(max_examples=250, deadline=None, derandomize=True)
@given(st.sampled_from(places(FULL)), JUNK)
def test_anything_anywhere_in_a_show_is_told_in_plain_words(path: tuple[Any, ...], junk: Any) -> None:
    show, faults = examine(json.dumps(with_junk(FULL, path, junk)), "show.json", PROFILES)
    assert show is not None or faults
    for fault in faults:
        assert_plain(fault)


COMMANDS = command_adapter.json_schema()


@settings(max_examples=60, deadline=None, derandomize=True)
@given(st.sampled_from(sorted(COMMANDS["discriminator"]["mapping"])), JUNK, JUNK)
def test_a_command_that_cannot_be_is_told_in_plain_words(kind: str, junk: Any, more: Any) -> None:
    for given_data in (junk, {"kind": kind, "fixtures": junk, "cue": more, "level": junk, "effect": more}):
        try:
            command_adapter.validate_python(given_data)
        except ValidationError as error:
            for fault in plain_faults(error, COMMANDS):
                assert_plain(fault)


SPOT = (shipped("profiles") / "spot-six.toml").read_text(encoding="utf-8").splitlines()


@settings(max_examples=120, deadline=None, derandomize=True)
@given(
    st.integers(0, len(SPOT) - 1),
    st.sampled_from(["", "= 3", "x = 'y'", "]", "[a]", "bits = 3", "nan = nan"]),
)
def test_any_line_of_a_profile_spoilt_is_told_in_plain_words(line: int, junk: str) -> None:
    text = "\n".join([*SPOT[:line], junk, *SPOT[line + 1 :]])
    try:
        parse_profile(text, "spot-six", "spot-six.toml")
    except DocumentFaults as error:
        for fault in error.faults:
            assert_plain(fault)


LAMP: Any = {
    "id": "lamp",
    "name": "Lamp",
    "dimming_table": [[0, 0], [1, 1]],
    "photometry": {"lumens": 900, "whites": [[3200, 800]]},
    "emitters": {"red": {"xy": [0.6, 0.3], "spectrum": [{"peak_nm": 600, "fwhm_nm": 20}]}},
    "filters": {"cyan": {"xy": [0.2, 0.3], "passes": 0.6}},
    "modes": [{"name": "a", "channels": [
        {"dimmer": True, "lowest": 9, "lowest_level": 0.1, "off": 0, "slots": [1]},
        {"cct": {"steps": [[0, 9, 2700], [10, 255, 5600]]}, "places": [[2], [3]]},
        {"cct": {"steps": 5, "table": [[0, 2700], [1, 5600]]}}, {"tint": {"steps": [[0, 9, 0.01]]}},
        {"hue": {"low_deg": 0}}, {"x": {"low": 0}}, {"crossfade": {"white": 0}},
        {"fixed": 0, "ranges": [[0, 9, "off"]]}, {"filter": "cyan"}, {"emitter": "red"}]}],
}  # fmt: skip
PROFILE = Profile.model_json_schema()


@settings(max_examples=200, deadline=None, derandomize=True)
@given(st.sampled_from(places(LAMP)), JUNK.filter(lambda junk: "None" not in str(junk)))
def test_anything_anywhere_in_a_profile_is_told_in_plain_words(path: tuple[Any, ...], junk: Any) -> None:
    try:
        Profile.model_validate(with_junk(LAMP, path, junk))
    except ValidationError as error:
        for fault in plain_faults(error, PROFILE):
            assert_plain(fault)


def test_paths_and_values_as_users_read_them() -> None:
    assert path_of(("cues", 3, "look", "Lamp 1", "level")) == 'cues[3].look["Lamp 1"].level'
    assert shown("x" * 60) == '"' + "x" * 39 + '…"'
    assert shown(None) == "null"
    assert listed([]) == ""
    assert listed(["a"]) == "a"
    assert listed(["a", "b"], "or") == "a or b"
    assert meant("Windw", ["window", "edge"]) == "window"
    assert meant("zzz", ["window", "edge"]) is None


def test_what_a_schema_asks_for_in_words() -> None:
    def words(kind: Any) -> str:
        schema = TypeAdapter(kind).json_schema()
        return describe(schema, schema)

    assert words(int) == "a whole number"
    assert words(bool) == "true or false"
    assert words(str) == "a text"
    assert words(tuple[int, str]) == "a list of 2, a whole number and a text"
    assert words(list[float]) == "a list in brackets, each a number"
    assert words(int | str | None) == "a whole number or a text"
