"""What profiles/README.md shows is true: its examples load, and its list is the folder."""

from __future__ import annotations

import re
import tomllib

import pytest

from onecrew.shipped import shipped
from onecrew.show.profile import CctRange, TintRange
from onecrew.show.profile_channel import KINDS
from onecrew.show.profiles import parse_profile
from tests.show.shows import PROFILES

TEXT = (shipped("profiles") / "README.md").read_text(encoding="utf-8")
BLOCKS = re.findall(r"```toml\n(.*?)```", TEXT, re.DOTALL)
WORKED = next(block for block in BLOCKS if block.startswith("# my-panel.toml"))


def test_the_worked_example_is_a_profile_of_seven_slots() -> None:
    profile = parse_profile(WORKED, "my-panel", "my-panel.toml")
    (mode,) = profile.modes
    assert mode.width == 7
    assert [channel.width for channel in mode.channels] == [2, 1, 1, 1, 1, 1]
    assert mode.cct is not None and mode.cct.cct == CctRange(low_k=2700, high_k=6200)
    assert mode.tint is not None and mode.tint.tint == TintRange(low_duv=-0.02, high_duv=0.02)


@pytest.mark.parametrize("block", BLOCKS, ids=range(len(BLOCKS)))
def test_every_piece_fits_into_a_profile(block: str) -> None:
    base = {"name": "Lamp", "emitters": {name: {"xy": [0.4, 0.4]} for name in ("red", "green", "blue")}}
    piece = block if not block.startswith("{") else f"channels = [{{ dimmer = true }}, {block.strip()}]"
    found = tomllib.loads(piece)
    modes = found.get("modes") or [
        {"name": "m", "channels": found.get("channels", [{"emitter": "red"}])},
    ]
    text = _toml({**base, **{k: v for k, v in found.items() if k != "channels"}, "modes": modes})
    assert parse_profile(text, "lamp", "README.md").modes


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_of_channel_is_explained(kind: str) -> None:
    assert f"{{ {kind} = " in TEXT


def test_every_channel_of_the_table_is_a_channel() -> None:
    shown = re.findall(r"\| `(\{.*?\})` \|", TEXT.split("## Colour told")[0])
    assert len(shown) == 7
    for channel in shown:
        others = '{ emitter = "red" }' if "emitter" not in channel and "cct" not in channel else ""
        others = "{ dimmer = true }" if "cct" in channel else others
        if "tint" in channel:
            others = "{ dimmer = true }, { cct = { low_k = 2700, high_k = 6500 } }"
        text = (
            'name = "Lamp"\n[emitters.red]\nxy = [0.6, 0.3]\n[[modes]]\nname = "m"\n'
            f"channels = [{', '.join(filter(None, (others, channel)))}]\n"
        )
        assert parse_profile(text, "lamp", "README.md").modes


def test_the_other_ways_to_tell_a_colour_make_modes() -> None:
    section = TEXT.split("## Colour told")[1].split("## When")[0]
    rows = [line for line in section.splitlines() if line.startswith("| ")]
    hue, saturation, xy, crossfade, dimmers, filters = (
        re.findall(r"`(\{ .*? \})`", row.split("|")[2]) for row in rows[1:]
    )
    assert filters == ['{ filter = "cyan" }']
    emitters = "".join(f"[emitters.{name}]\nxy = [0.4, 0.3]\n" for name in ("red", "green", "blue"))
    dimmer, cct = ["{ dimmer = true }"], ["{ cct = { low_k = 2700, high_k = 6500 } }"]
    for channels in (
        dimmer + hue + saturation,
        dimmer + cct + hue + saturation,
        dimmer + xy,
        dimmer + cct + crossfade + xy,
        dimmers + cct + hue + saturation,
    ):
        mode = f'[[modes]]\nname = "m"\nchannels = [{", ".join(channels)}]\n'
        assert parse_profile(f'name = "Lamp"\n{emitters}{mode}', "lamp", "README.md").modes


def test_every_word_on_a_channel_is_one() -> None:
    words = TEXT.split("## When a channel is more")[1].split("## The light")[0]
    channel = '{ fixed = 0, ranges = [[0, 9, "off"], [10, 255, "strobe, slow to fast"]] }'
    assert channel in words
    channels = [
        "{ dimmer = true, lowest = 10, highest = 255, slots = [1] }",
        "{ cct = { low_k = 2700, high_k = 6500, steps = 21 }, slots = [2] }",
        "{ tint = { low_duv = -0.02, high_duv = 0.02, steps = 21 }, slots = [6, 3] }",
        "{ fixed = 7, bits = 24, places = [[7, 8, 9]], idle = 0 }",
        f"{channel[:-2]}, slots = [5] }}",
    ]
    for said in (
        "lowest = 10, highest = 255",
        "steps = 21",
        "[20, 59, 3200]",
        "bits = 24",
        "slots = [5, 1]",
        "idle = 0",
    ):
        assert f"`{said}" in words or said in words
    text = f'[emitters.white]\nxy = [0.4, 0.4]\n[[modes]]\nname = "m"\nchannels = [{", ".join(channels)}]\n'
    assert parse_profile(f'name = "Lamp"\n{text}', "lamp", "README.md").modes[0].width == 9


def test_the_list_of_kinds_is_the_folder() -> None:
    listed = dict(re.findall(r"^\| `([a-z0-9-]+)` \| .* \| (.*) \|$", TEXT, re.MULTILINE))
    assert listed == {
        profile.id: ", ".join(f"`{mode.name}` ({mode.width})" for mode in profile.modes)
        for profile in PROFILES.values()
    }


def _toml(value: object) -> str:
    """Plain data as TOML with inline tables, one line for each top-level name."""
    assert isinstance(value, dict)
    return "\n".join(f"{name} = {_inline(inner)}" for name, inner in value.items())


def _inline(value: object) -> str:
    if isinstance(value, dict):
        return "{" + ", ".join(f"{name} = {_inline(inner)}" for name, inner in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(map(_inline, value)) + "]"
    if isinstance(value, bool):
        return str(value).lower()
    return f'"{value}"' if isinstance(value, str) else str(value)
