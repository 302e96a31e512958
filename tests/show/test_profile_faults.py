"""A profile's file is refused with every fault in it, file and path named, in plain words."""

from __future__ import annotations

from pathlib import Path

import pytest

from onecrew.errors import DocumentFaults, Trouble
from onecrew.show.profile import CctRange, Profile, TintRange
from onecrew.show.profiles import load_profile, parse_profile

HEAD = 'name = "Lamp"\n[emitters.warm]\nxy = [0.46, 0.41]\n[emitters.cool]\nxy = [0.31, 0.33]\n'


def modes(*channels: str, more: str = "") -> str:
    return f'{HEAD}[[modes]]\nname = "8-bit"\n{more}\nchannels = [{", ".join(channels)}]\n'


def lines(text: str, profile_id: str = "lamp") -> list[str]:
    with pytest.raises(DocumentFaults) as caught:
        parse_profile(text, profile_id, "lamp.toml")
    return str(caught.value).splitlines()


def good(*channels: str, more: str = "") -> Profile:
    return parse_profile(modes(*channels, more=more), "lamp", "lamp.toml")


def test_each_kind_of_channel_in_shorthand() -> None:
    mode = good(
        "{dimmer = true, bits = 16}",
        "{cct = {low_k = 2700, high_k = 6500}}",
        "{tint = {low_duv = -0.02, high_duv = 0.03, neutral = 0.4}, bits = 16}",
        "{fixed = 20}",
    ).modes[0]
    assert mode.width == 6
    assert mode.cct is not None and mode.cct.cct is not None
    assert mode.cct.cct.points == ((0.0, 2700.0), (1.0, 6500.0))
    assert mode.tint is not None and mode.tint.tint == TintRange(low_duv=-0.02, high_duv=0.03, neutral=0.4)


def test_a_cct_channel_that_begins_cool() -> None:
    mode = good("{dimmer = true}", "{cct = {low_k = 6500, high_k = 2700}}").modes[0]
    assert mode.cct is not None and mode.cct.cct is not None
    assert mode.cct.cct.points == ((0.0, 6500.0), (1.0, 2700.0))
    assert (mode.cct.cct.warmest_k, mode.cct.cct.coolest_k) == (2700.0, 6500.0)
    falling = good("{dimmer = true}", "{cct = {table = [[0.0, 9000], [0.4, 4000], [1.0, 2000]]}}").modes[0]
    assert falling.cct is not None and falling.cct.cct is not None
    assert (falling.cct.cct.warmest_k, falling.cct.cct.coolest_k) == (2000.0, 9000.0)


def test_a_cct_channel_by_table() -> None:
    mode = good("{dimmer = true}", "{cct = {table = [[0.0, 2000], [0.5, 3000], [1.0, 10000]]}}").modes[0]
    assert mode.cct is not None
    assert mode.cct.cct == CctRange(table=((0.0, 2000.0), (0.5, 3000.0), (1.0, 10000.0)))


def test_segments_repeat_the_block() -> None:
    assert (
        good('{emitter = "warm"}', '{emitter = "cool", bits = 16}', more="segments = 8").modes[0].width == 24
    )


def test_one_bell_needs_no_list() -> None:
    text = HEAD.replace("[0.31, 0.33]", "[0.31, 0.33]\nspectrum = {peak_nm = 460, fwhm_nm = 20}")
    profile = parse_profile(text + '[[modes]]\nname = "a"\nchannels = [{emitter = "cool"}]\n', "lamp", "f")
    assert [bell.peak_nm for bell in profile.emitters["cool"].spectrum] == [460.0]


@pytest.mark.parametrize(
    ("text", "line"),
    [
        (modes('{emitter = "green"}'),
         "mode 8-bit names emitter green, which is not described; add [emitters.green], or name one of warm"),
        (modes("{dimmer = true}"),
         "mode 8-bit has only a dimmer for 2 emitters; describe the one emitter that it dims"),
        (modes('{emitter = "warm"}', '{emitter = "warm"}'),
         "modes[0]: mode 8-bit names an emitter twice; keep one channel for each"),
        (modes("{cct = {low_k = 2700, high_k = 6500}}", '{emitter = "warm"}'),
         "modes[0]: mode 8-bit mixes emitter channels with a cct channel; keep the ones or the other,"),
        (modes("{tint = {low_duv = -0.02, high_duv = 0.02}}", "{dimmer = true}"),
         "modes[0]: mode 8-bit has a tint channel without a cct channel; add the cct channel"),
        (modes("{fixed = 1}"),
         "modes[0]: mode 8-bit has nothing that sets its level; add a dimmer or emitters"),
        (modes('{emitter = "warm", bits = 16}', '{emitter = "cool"}', more="segments = 171"),
         "modes[0].segments: 171 is above 170; give a whole number from 1 to 170"),
        (modes('{emitter = "warm", bits = 16}', '{emitter = "cool", bits = 16}', more="segments = 170"),
         "modes[0]: mode 8-bit takes 680 slots; keep to the 512 of a universe"),
        (modes('{emitter = "warm", fixed = 3}'),
         "modes[0].channels[0]: a channel is not one thing; give exactly one of emitter, filter,"),
        (modes("{fixed = 256}", '{emitter = "warm"}'),
         "modes[0].channels[0]: fixed is 256, and at 8 bits a channel ends at 255"),
        (modes("{dimmer = true}", "{cct = {low_k = 4000, high_k = 4000}}"),
         "modes[0].channels[1].cct: a cct channel has no range; give low_k and high_k, not alike, or a"),
        (modes("{dimmer = true}", "{cct = {table = [[0.0, 3000], [0.9, 6000]]}}"),
         "modes[0].channels[1].cct: the table does not run from"),
        (modes("{dimmer = true}", "{cct = {table = [[0.0, 3000], [0.5, 6000], [1.0, 4000]]}}"),
         "modes[0].channels[1].cct: the table does not run from"),
        (modes("{dimmer = true}", "{cct = {low_k = 3000, high_k = 5000, table = [[0, 3000], [1, 6000]]}}"),
         "modes[0].channels[1].cct: both low_k and high_k and a table are given; remove one of the two"),
        (modes("{dimmer=true}", "{cct={low_k=3000, high_k=5000}}", "{tint={low_duv=0.01, high_duv=0.02}}"),
         "modes[0].channels[2].tint: low_duv and high_duv lie on the same side of 0; let one be below 0"),
        (modes("{dimmer = true}", "{cct = {low_k = 3000, steps = [[0, 9, 2700], [10, 255, 3200]]}}"),
         "modes[0].channels[1].cct: the kelvins of each step and a range or table are given; remove one"),
        (modes("{dimmer = true}", "{cct = {steps = [[0, 10, 2700], [10, 255, 3200]]}}"),
         "modes[0].channels[1].cct: two steps share values of the channel; give each its own"),
        (modes("{dimmer = true}", "{cct = {steps = [[0, 9, 2700], [10, 255, 2700]]}}"),
         "modes[0].channels[1].cct: two steps are alike, or there is only one; give at least two, all"),
        (modes("{dimmer = true}", "{cct = {steps = [[9, 0, 2700], [10, 255, 3200]]}}"),
         "modes[0].channels[1].cct: a step ends before it begins; give its first and its last value"),
        (modes("{dimmer = true}", "{cct = {steps = [[0, 9, 2700], [10, 256, 3200]]}}"),
         "modes[0].channels[1]: a step ends past 255, where a channel of 8 bits ends"),
        (modes("{dimmer=true}", "{cct={low_k=3000, high_k=5000}}", "{tint={neutral=0.5}}"),
         "modes[0].channels[2].tint: a tint channel has no range; give low_duv and high_duv, or steps"),
        (modes("{dimmer=true}", "{cct={low_k=3000, high_k=5000}}",
               "{tint={low_duv=-0.01, steps=[[0, 9, -0.01], [10, 255, 0.01]]}}"),
         "modes[0].channels[2].tint: the Duv of each step and a range are given; remove one of the two"),
        (modes("{dimmer = true}", "{cct = {low_k = 3000, high_k = 5000}, inverted = true}"),
         "modes[0].channels[1]: inverted stands beside something that is no dimmer, emitter or filter;"),
        (modes('{emitter = "warm", bits = 12}'),
         "modes[0].channels[0].bits: 12 does not fit here; give one of 8, 16, 24 or 32"),
        (modes("{dimmer = true}", "{hue = {}}"),
         "modes[0]: mode 8-bit has one of hue and saturation; give both channels"),
        (modes("{dimmer = true}", "{x = {}}"), "modes[0]: mode 8-bit has one of x and y; give both channels"),
        (modes("{dimmer = true}", "{hue = {}}", "{saturation = {}}"),
         "mode 8-bit has a hue channel, and what is red, green and blue is not described; add"),
        (modes("{dimmer = true}", "{x = {}}", "{y = {}}", '{emitter = "warm"}'),
         "modes[0]: mode 8-bit tells its colour in two ways"),
        (modes("{dimmer = true}", "{crossfade = {}}", '{emitter = "warm"}'),
         "modes[0]: mode 8-bit goes over between white and colour; give it a cct channel"),
        (modes('{dimmer = true, part = "white"}', '{emitter = "warm"}', "{cct = {low_k=3e3, high_k=5e3}}"),
         "modes[0]: mode 8-bit has a dimmer for its white part alone; give both"),
        (modes("{hue = {low_deg = 20, high_deg = 20}}"),
         "modes[0].channels[0].hue: the hue goes nowhere or round more than once; keep the ends up to 360"),
        (modes('{emitter = "warm", part = "white"}'),
         "modes[0].channels[0]: part stands beside something that is no dimmer; remove it"),
        (modes('{emitter = "warm", lowest = 20, highest = 20}'),
         "modes[0].channels[0]: lowest is not below highest; swap them"),
        (modes('{emitter = "warm", slots = [1, 2, 3], bits = 16}'),
         "modes[0].channels[0]: 3 slots are given for 16 bits; give 2, coarse first"),
        (modes('{emitter = "warm", slots = [1]}', '{emitter = "cool"}'),
         "modes[0]: mode 8-bit gives slots for some channels; give them for all or none"),
        (modes('{emitter = "warm", slots = [1, 2]}', '{emitter = "cool", slots = [2]}'),
         "modes[0]: mode 8-bit gives slot 2 to two channels; give each its own"),
        (modes('{emitter = "warm"}', "{fixed = 0, once = true}", '{emitter = "cool"}', more="segments = 2"),
         "modes[0]: mode 8-bit has a channel with once among those of a segment; move it before or after"),
        (modes('{emitter = "warm"}', '{fixed = 0, ranges = [[9, 3, "off"]]}'),
         "modes[0].channels[1]: a range goes from 9 to 3; give its first and last value, up to 255"),
        (modes('{emitter = "warm"}') + '[[modes]]\nname = "8-bit"\nchannels = [{emitter = "cool"}]\n',
         "two modes are called 8-bit; give each a name of its own"),
        ('dimming = "table"\n' + modes('{emitter = "warm"}'),
         'dimming and dimming_table disagree; give dimming = "table" and a table, or neither'),
        ('dimming = "table"\ndimming_table = [[0, 0], [0.5, 0.6], [0.6, 0.5], [1, 1]]\n'
         + modes('{emitter = "warm"}'),
         "dimming_table does not rise from [0, 0] to [1, 1]; start and end there, both columns rising"),
        ('dimming = "cubic"\n' + modes('{emitter = "warm"}'),
         'dimming: "cubic" is not a choice here; give one of "linear", "square", "log" or "table"'),
        ('id = "other"\n' + modes('{emitter = "warm"}'),
         "id: a profile does not name its id; remove it, the file's name is the id"),
        (modes('{emitter = "warm"}').replace("0.46", "nan"),
         "emitters.warm.xy[0]: nan is not a number; give a finite number"),
        (modes('{emitter = "warm"}').replace("0.46", "1979-05-27"),
         'emitters.warm.xy[0]: "1979-05-27" is a text; give a number above 0 and below 1'),
        (modes('{emitter = "warm"}').replace('"Lamp"', "Lamp"),
         "line 1, column 8: this cannot be read as TOML"),
        (modes('{emitter = "warm"}').replace('"Lamp"', '"Lamp"\nname = "b"'),
         "something is named a second time"),
        (modes('{emitter = "warm"')[:-2], "has no end"),
        (modes('{emitter = "warm"}\n{emitter = "cool"}'),
         'has no end; look here and in the lines above for a missing comma, ], } or "'),
        (modes('{emitter = "warm"}').replace('"Lamp"', '"Lamp'), "column 13: a list, a group or a text has"),
        (modes('{emitter = "warm"}').replace('"Lamp"', "“Lamp”"), "put straight quotes around the text"),
        (modes('{emitter = "warm"}').replace('"Lamp"', "Lamp"), "cannot be read as TOML; put quotes around"),
        (modes("{dimmer = True}"), "cannot be read as TOML; write true or false, in small letters"),
        (modes("{dimmer = True,\nbits = 8}"), "cannot be read as TOML; write true or false, in small"),
        (modes("{dimmer = yes}"), "cannot be read as TOML; write true or false, in small letters"),
        (modes('{dimmer = true,\nbits = 16}'),
         "what is in braces goes on in the next line; keep each pair of { } on one line"),
        (modes('{emitter = "warm"}').replace('"Lamp"', '"Lamp" // mine'), "a comment begins with #"),
        (modes('{emitter = "warm"}').replace('"Lamp"', '"Lamp";'), "no sign ends a line: remove it"),
        (modes('{emitter = "warm"}').replace("name = ", "name: ", 1), "a name without a value; write name ="),
        (modes('{emitter = "warm"}').replace("[emitters.warm]", "[emitters.warm white]"),
         "a name in brackets has no spaces or accents: use a–z, 0–9, - and _"),
        (modes('{emitter = "warm"}').replace("[[modes]]", "[modes]"),
         "modes: [modes] is a single group; write [[modes]], with two brackets, for each mode"),
        (modes('{emitter = "warm"}') + "lumens = 900\n",
         'modes[0].lumens: "lumens" is not a field here; it stands in photometry: move it there'),
        (modes('{emitter = "warm"}') + 'dimming = "log"\n',
         'modes[0].dimming: "dimming" is not a field here; it stands at the top of the file, before the'),
        (modes('{emitter = "warm", bits = "16"}'),
         'modes[0].channels[0].bits: "16" is a text; give one of 8, 16, 24 or 32'),
        (modes('"cct"'), "give a group of fields in braces such as { dimmer = true }"),
        (modes("{dimmer = true}", "{cct = {steps = [[0, 2700]]}}"),
         "modes[0].channels[1].cct.steps[0]: the list has 2 of its 3 entries; give a list of 3, a whole"),
        (modes("{dimmer = true, lowest_level = 1}"),
         "modes[0].channels[0].lowest_level: 1 is not below 1; give a number above 0 and below 1"),
        (modes('{emitter = "warm"}') + "[filters.cyan]\nxy = [0.2, 0.3]\npasses = 60\n",
         "filters.cyan.passes: 60 is not below 1; give a number above 0 and below 1"),
    ],
)  # fmt: skip
def test_one_fault_is_one_sentence_with_its_mend(text: str, line: str) -> None:
    (told,) = lines(text)
    assert told.startswith("lamp.toml: ")
    assert line in told


def test_all_faults_of_a_file_come_at_once() -> None:
    text = modes('{emitter = "warm", bits = 9}', "{fixed = 256}").replace("0.41", "1.41") + "colour = 3\n"
    assert [line.split(": ")[1] for line in lines(text, "My Lamp")] == [
        "the file's name \"My Lamp\" cannot be a profile's id; "
        'rename it with a–z, 0–9, "-" and "_", at most 32',
        "emitters.warm.xy[1]",
        "modes[0].channels[0].bits",
        "modes[0].channels[1]",
        "modes[0].colour",
    ]


def test_a_profile_nested_without_end_is_a_fault() -> None:
    assert "nested too deep" in lines("a = " + "[" * 5000 + "]" * 5000)[0]


def test_a_huge_file_is_not_read(tmp_path: Path) -> None:
    with (tmp_path / "huge.toml").open("wb") as file:
        file.truncate(2 * 1024 * 1024)
    with pytest.raises(Trouble, match="larger than 1 MB, far more than a profile can be"):
        load_profile(tmp_path / "huge.toml")
