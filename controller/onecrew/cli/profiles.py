"""``onecrew profiles``: the kinds of fixture; ``onecrew schema``: the documents' JSON Schema."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from typing import Any

from onecrew.cli.exits import DONE
from onecrew.cli.parts import answer, print_json, table
from onecrew.cli.profiles_import import run_import
from onecrew.errors import Misuse
from onecrew.fixtures.describe import describe_lights, of_kind
from onecrew.fixtures.dimming import darkest_step
from onecrew.language.names import nearest
from onecrew.language.saying import counted, figure
from onecrew.show.light import Light, White
from onecrew.show.profile import Mode, Profile
from onecrew.show.profile_words import channel_words
from onecrew.show.profiles import ProfileLibrary, load_profiles, user_folder
from onecrew.show.schema import json_schema

WHITES_K = (2000, 2700, 3200, 4300, 5600, 6500, 10000)


def run_schema(arguments: argparse.Namespace) -> int:
    if arguments.document == "show":
        print_json(json_schema())
    else:
        print_json({"$schema": "https://json-schema.org/draft/2020-12/schema", **Profile.model_json_schema()})
    return DONE


def run_profiles(arguments: argparse.Namespace) -> int:
    name, *rest = arguments.words or [None]
    if name == "import":
        return run_import(rest, arguments.wanted)
    if rest or arguments.wanted is not None:
        raise Misuse("name one profile, or import a file: `onecrew profiles import FILE.gdtf`")
    library = load_profiles()
    if name is not None:
        one = called(name.lower(), library)
        return answer(arguments, facts(one), lines(one))
    known = [{"id": p.id, "name": p.name, "modes": _modes(p)} for p in library.values()]
    return answer(arguments, {"profiles": known, "broken": list(library.faults)}, listing(library))


def listing(library: ProfileLibrary) -> list[str]:
    """Every profile on a line, where one's own go, and the files that cannot be used."""
    rows = [
        [p.id, p.name, ", ".join(f"{m.name} ({counted(m.width, 'slot')})" for m in p.modes)]
        for p in library.values()
    ]
    said = table([["profile", "", "modes"], *rows])
    said += ["", f"Your own go into {user_folder()} or into a folder profiles beside the show."]
    if library.broken:
        said += ["These cannot be used:", *(f"  {fault}" for fault in library.faults)]
    return said


def called(name: str, profiles: ProfileLibrary) -> Profile:
    """The profile of this id; raises ``Misuse``, or what is wrong with the file of that name."""
    if name in profiles.broken and name not in profiles:
        raise profiles.broken[name]
    if name not in profiles:
        raise Misuse(f"there is no profile '{name}'{nearest(name, profiles)}; `onecrew profiles` lists them")
    return profiles[name]


def mode_called(profile: Profile, name: str) -> Mode:
    """The mode of this name; raises ``Misuse`` with those that there are."""
    mode = profile.mode(name)
    if mode is None:
        have = ", ".join(one.name for one in profile.modes)
        raise Misuse(f"{profile.id} has no mode '{name}'; it has {have}")
    return mode


def _modes(profile: Profile) -> list[dict[str, Any]]:
    return [{"name": mode.name, "slots": mode.width} for mode in profile.modes]


def facts(profile: Profile) -> dict[str, Any]:
    """All of one profile, with what each mode reaches."""
    return {
        **profile.model_dump(mode="json", exclude_none=True),
        "darkest": {mode.name: darkest(profile, mode) for mode in profile.modes},
        "reach": {mode.name: reach(profile, mode) for mode in profile.modes},
    }


def lines(profile: Profile) -> list[str]:
    """One profile in words."""
    said = [f"{profile.id}: {profile.name}", *profile.note.splitlines(), f"dimming: {profile.dimming}", ""]
    rows = [["emitter", "x", "y", "flux"]]
    for name, emitter in profile.emitters.items():
        rows.append([name, f"{emitter.xy[0]:.4f}", f"{emitter.xy[1]:.4f}", f"{emitter.flux:g}"])
    said += table(rows, right=frozenset({1, 2, 3}))
    if profile.filters:
        rows = [["filter", "x", "y", "passes"]]
        for name, one in profile.filters.items():
            rows.append([name, f"{one.xy[0]:.4f}", f"{one.xy[1]:.4f}", f"{100 * one.passes:.3g} %"])
        said += ["", *table(rows, right=frozenset({1, 2, 3}))]
    before: list[str] = []
    for mode in profile.modes:
        said += ["", f"mode {profile.id}/{mode.name}: {_layout(mode)}"]
        said += table([["slot", "channel"], *_channels(mode)], right=frozenset({0}), indent="  ")
        step = darkest(profile, mode)
        level, output = _share(step["level"]), _share(step["output"])
        said.append(f"  darkest step: level {level}, {output} of the light")
        whites = _reach_lines(profile, mode)
        said += ["", *whites] if whites != before else ["  the same whites"]
        before = whites
    return said


def _layout(mode: Mode) -> str:
    if mode.parts == 1:
        return counted(mode.width, "slot")
    return f"{mode.width} slots, {mode.parts} segments"


def _channels(mode: Mode) -> list[list[str]]:
    told = zip(mode.channels, mode.places, strict=True)
    return [[_where(places), f"{channel_words(channel)}, {channel.bits} bit"] for channel, places in told]


def _where(places: Sequence[Sequence[int]]) -> str:
    """The slots of a channel: of the first segment and how many more there are."""
    first = places[0]
    span = f"{first[0]}–{first[-1]}" if first[-1] - first[0] == len(first) - 1 > 0 else ""
    more = f" and {len(places) - 1} more" if len(places) > 1 else ""
    return (span or ", ".join(map(str, first))) + more


def darkest(profile: Profile, mode: Mode) -> dict[str, float]:
    """The lowest level above black that a mode can show, and the output it gives."""
    step = darkest_step(profile, mode)
    return {"level": step.level, "output": step.output}


def reach(profile: Profile, mode: Mode) -> list[dict[str, Any]]:
    """For a row of whites: how far off the fixture ends, and what it says about it."""
    asked = [Light(level=1.0, white=White(cct_k=cct_k)) for cct_k in WHITES_K]
    return [
        {
            "cct_k": cct_k,
            "light": report.light,
            "off_by": report.unrounded.off_by,
            "notes": list(report.notes),
        }
        for cct_k, report in zip(
            WHITES_K, describe_lights(of_kind(profile, mode), {profile.id: profile}, asked), strict=True
        )
    ]


def _share(of_full: float) -> str:
    per_cent = 100 * of_full
    return "less than 0.0001 %" if 0.0 < per_cent < 1e-4 else f"{figure(per_cent, 2)} %"


def _reach_lines(profile: Profile, mode: Mode) -> list[str]:
    rows = [["white", "light", "off by", ""]]
    for row in reach(profile, mode):
        white, light = f"{row['cct_k']} K", f"{100 * row['light']:.0f} %"
        notes = [note.removeprefix(f"asked {white}, ") for note in row["notes"]]
        rows.append([white, light, f"{row['off_by']:.4f}", "; ".join(notes)])
    return table(rows, right=frozenset({0, 1, 2}), indent="  ")
