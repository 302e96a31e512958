"""JSON is read exactly: where reading stops is said with line, column and fix, and nothing odd slips in."""

from __future__ import annotations

import pytest

from onecrew.errors import DocumentFaults
from onecrew.show.json_reading import MAX_DEPTH, parse_json


def only_fault(text: str) -> str:
    with pytest.raises(DocumentFaults) as caught:
        parse_json(text, "show.json")
    assert len(caught.value.faults) == 1
    return str(caught.value)


@pytest.mark.parametrize(
    ("text", "where", "about"),
    [
        ('{\n  "a": 1\n  "b": 2\n}', "line 3, column 3", "comma"),
        ('{"a" 1}', "line 1, column 6", "colon"),
        ("{a: 1}", "line 1, column 2", "double quotes"),
        ('{"a": nul}', "line 1, column 7", "not the start of a value"),
        ('{"a": "x\ny"}', "line 1, column 9", "no end on its line"),
        ('{"a": "\\q"}', "line 1, column 8", "\\"),
        ("{} {}", "line 1, column 4", "after the end"),
        ("// remark\n{}", "line 1, column 1", "not the start of a value"),
        ('{"a": [1, 2', "line 1, column 12", "ends too early"),
        ("", "line 1, column 1", "ends too early"),
    ],
)
def test_a_slip_of_writing_is_told_with_line_column_and_mend(text: str, where: str, about: str) -> None:
    told = only_fault(text)
    assert told.startswith(f"show.json: {where}: ")
    assert about in told
    assert "; " in told


@pytest.mark.parametrize("text", ['{"a": 1,}', '{"a": [1, 2,]}'])
def test_a_comma_too_many_is_named(text: str) -> None:
    assert "remove the comma" in only_fault(text)


def test_a_field_written_twice_is_a_fault_at_its_path() -> None:
    parsed = parse_json('{"cues": [{"name": "a", "name": "b", "name": "c"}], "x": 1, "x": 2}', "s")
    assert [str(fault) for fault in parsed.faults] == [
        'x: "x" is written twice; keep one of the two',
        'cues[0].name: "name" is written twice; keep one of the two',
    ]


@pytest.mark.parametrize("word", ["NaN", "Infinity", "-Infinity", "1e999", "-1e999", "1" * 5000])
def test_a_number_beyond_use_is_a_fault_at_its_path(word: str) -> None:
    parsed = parse_json(f'{{"cues": [{{"delay_s": {word}}}]}}', "s")
    assert [fault.where for fault in parsed.faults] == ["cues[0].delay_s"]
    assert parsed.data == {"cues": ({"delay_s": None},)}


def test_half_a_character_is_a_fault() -> None:
    parsed = parse_json('{"name": "\\ud83d", "b\\udc00": 1, "whole": "\\ud83d\\ude00"}', "s")
    assert [fault.where for fault in parsed.faults] == ["name"]
    assert parsed.data == {"name": None, "b?": 1, "whole": "😀"}


@pytest.mark.parametrize(
    "text", ["[" * (MAX_DEPTH + 2) + "]" * (MAX_DEPTH + 2), '{"a":' * 500 + "1" + "}" * 500]
)
def test_groups_nested_without_end_are_one_fault(text: str) -> None:
    faults = parse_json(text, "s").faults
    assert ["nested too deep" in fault.what for fault in faults] == [True]


def test_nesting_beyond_what_python_can_follow_is_the_same_fault() -> None:
    assert "nested too deep" in only_fault("[" * 200_000)


def test_a_byte_order_mark_is_passed_over() -> None:
    assert parse_json('\ufeff{"a": 1}', "s").data == {"a": 1}
