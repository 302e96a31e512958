"""The text of a show file: readable, stable, and one changed lamp is one changed line."""

from __future__ import annotations

import json
from difflib import unified_diff
from typing import Any

from hypothesis import given, settings

from onecrew.commands.cues import store_look
from onecrew.show.dump import WIDTH, dump_show
from onecrew.show.light import Light, White
from onecrew.show.show import Show
from tests.show.shows import show_data, shows

SHOW = Show.model_validate(show_data())


def test_small_groups_stand_on_one_line_and_defaults_are_left_out() -> None:
    assert dump_show(SHOW).splitlines() == [
        "{",
        '  "format": "onecrew-show",',
        '  "version": 2,',
        '  "name": "Kitchen",',
        '  "rig": {',
        '    "fixtures": [',
        '      {"id": "window", "profile": "panel-cct-tint", "mode": "16-bit", "universe": 1, "address": 1},',
        '      {"id": "lamp", "profile": "bulb-rgbww", "mode": "8-bit", "universe": 1, "address": 11}',
        "    ]",
        "  },",
        '  "output": {',
        '    "sacn": {',
        '      "priority": 100,',
        '      "universes": {',
        '        "1": {"to": ["127.0.0.1"]}',
        "      }",
        "    }",
        "  },",
        '  "scenes": [',
        "    {",
        '      "name": "Scene 1",',
        '      "arrangement": {',
        '        "window": {"role": "key"},',
        '        "lamp": {"role": "practical"}',
        "      },",
        '      "camera": {',
        '        "iso": 800,',
        '        "shutter_s": 0.02,',
        '        "fps": 25.0,',
        '        "aperture": 2.8,',
        '        "white_balance_k": 5600.0',
        "      },",
        '      "cues": [',
        "        {",
        '          "number": "1",',
        '          "name": "",',
        '          "shortcut": "1",',
        '          "fade": {"in_s": 2.0, "out_s": 2.0, "curve": "linear"},',
        '          "look": {',
        '            "window": {"level": 0.5, "white": {"cct_k": 3200.0, "duv": 0.0}}',
        "          }",
        "        },",
        "        {",
        '          "number": "2",',
        '          "name": "",',
        '          "shortcut": "2",',
        '          "fade": {"in_s": 2.0, "out_s": 2.0, "curve": "linear"},',
        '          "look": {',
        '            "lamp": {"level": 0.1, "xy": [0.5, 0.4]}',
        "          }",
        "        }",
        "      ]",
        "    }",
        "  ]",
        "}",
    ]


def test_one_changed_lamp_is_one_changed_line() -> None:
    later = store_look(SHOW, "1", None, {"window": Light(level=0.22, white=White(cct_k=3400))})
    before, after = dump_show(SHOW).splitlines(), dump_show(later).splitlines()
    changes = [line for line in unified_diff(before, after, lineterm="", n=0) if line[0] in "+-"][2:]
    assert changes == [
        '-            "window": {"level": 0.5, "white": {"cct_k": 3200.0, "duv": 0.0}}',
        '+            "window": {"level": 0.22, "white": {"cct_k": 3400.0, "duv": 0.0}}',
    ]


def test_letters_of_every_script_stand_as_they_are() -> None:
    assert '"name": "Küche, 夜"' in dump_show(Show(name="Küche, 夜"))


def leaves(value: Any) -> list[Any]:
    if isinstance(value, dict | list):
        inside = value.values() if isinstance(value, dict) else value
        return [leaf for inner in inside for leaf in leaves(inner)]
    return [value]


@settings(max_examples=60, deadline=None, derandomize=True)
@given(shows())
def test_it_is_json_without_nulls_and_ends_its_last_line(show: Show) -> None:
    text = dump_show(show)
    assert None not in leaves(json.loads(text))
    assert text.endswith("\n}\n")


@settings(max_examples=60, deadline=None, derandomize=True)
@given(shows())
def test_a_line_too_long_is_a_single_value_that_cannot_be_broken(show: Show) -> None:
    for line in dump_show(show).split("\n"):
        if len(line) > WIDTH:
            assert not line.rstrip(",").endswith(("}", "]")), line
