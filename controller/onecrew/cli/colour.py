"""``onecrew colour``: every number of one colour, and what a kind of fixture makes of it."""

from __future__ import annotations

import argparse
from dataclasses import asdict, dataclass
from typing import Any

from onecrew.cli.parts import answer, table
from onecrew.cli.profiles import called, mode_called
from onecrew.colour.adaptation import swatch
from onecrew.colour.gels import GELS
from onecrew.colour.locus import uv60_to_white, white_to_uv60
from onecrew.colour.mired import shift_between
from onecrew.colour.spaces import uv60_to_xy, xy_to_uv60
from onecrew.errors import Misuse
from onecrew.fixtures.describe import describe_colour
from onecrew.fixtures.spectral import best_rendition_stops, rendition_of
from onecrew.language import reading
from onecrew.show.light import Light, White
from onecrew.show.profile import Mode, Profile
from onecrew.show.profiles import load_profiles

SEEN_ROUNDING = 1e-3
"""Δu′v′ from which the rounding of slots is worth a sentence to somebody who asks about this one colour."""


def run(arguments: argparse.Namespace) -> int:
    colour = asked(arguments)
    facts = colour.facts()
    level = reading.level(arguments.level)
    wb_k = reading.kelvin(arguments.wb, "wb")
    if arguments.profile is not None:
        profile, mode = kind(arguments.profile)
        facts |= fixture_facts(colour, profile, mode, level, wb_k, arguments)
    facts |= {"camera": swatch(colour.xy, wb_k), "gel": gel(colour, wb_k)}
    said = _lines(colour, facts, wb_k)
    if arguments.profile is not None:
        said += ["", *fixture_lines(facts, profile, mode)]
    return answer(arguments, facts, said)


@dataclass(frozen=True, slots=True)
class Colour:
    """One colour by all its names; the white ones are None where it has no sensible CCT."""

    cct_k: float | None
    duv: float | None
    xy: tuple[float, float]
    uv60: tuple[float, float]
    as_xy: bool
    """It was given as a chromaticity, and a fixture is asked for it as one."""

    def light(self, level: float) -> Light:
        """The light that a fixture is asked for."""
        if self.as_xy or self.cct_k is None or self.duv is None:
            return Light(level=level, xy=self.xy)
        return Light(level=level, white=White(cct_k=self.cct_k, duv=self.duv))

    def facts(self) -> dict[str, Any]:
        return {
            "cct_k": self.cct_k,
            "duv": self.duv,
            "mired": None if self.cct_k is None else 1e6 / self.cct_k,
            "x": self.xy[0],
            "y": self.xy[1],
            "u": self.uv60[0],
            "v": self.uv60[1],
            "u_prime": self.uv60[0],
            "v_prime": 1.5 * self.uv60[1],
        }


def asked(arguments: argparse.Namespace) -> Colour:
    """The colour that the command line asks about."""
    if (arguments.cct is None) == (arguments.xy is None):
        raise Misuse("give one colour: a CCT such as 3200, or --xy 0.44,0.40")
    if arguments.xy is not None:
        if arguments.tint is not None:
            raise Misuse("--tint belongs to a CCT, not to --xy")
        x, y = reading.xy(arguments.xy)
        uv = xy_to_uv60([x, y])
        cct_k, duv = None, None
        try:
            cct, distance = uv60_to_white(uv)
            cct_k, duv = float(cct), float(distance)
        except ValueError:
            pass  # too far from the locus: it has no correlated colour temperature (CIE 15:2004)
        return Colour(cct_k, duv, (x, y), (float(uv[0]), float(uv[1])), as_xy=True)
    cct_k = reading.kelvin(arguments.cct)
    duv = reading.tint(arguments.tint) if arguments.tint is not None else 0.0
    uv = white_to_uv60(cct_k, duv)
    xy = uv60_to_xy(uv)
    return Colour(cct_k, duv, (float(xy[0]), float(xy[1])), (float(uv[0]), float(uv[1])), as_xy=False)


def kind(said: str) -> tuple[Profile, Mode]:
    """The profile and mode of ``P[/MODE]``; without a mode, the profile's first."""
    name, _, mode_name = said.lower().partition("/")
    profile = called(name, load_profiles())
    return profile, mode_called(profile, mode_name) if mode_name else profile.modes[0]


def fixture_facts(
    colour: Colour, profile: Profile, mode: Mode, level: float, wb_k: float, arguments: argparse.Namespace
) -> dict[str, Any]:
    """What a kind of fixture makes of the colour, under the names that scripts rely on."""
    report = describe_colour(
        profile,
        mode,
        colour.light(level),
        mixing=arguments.mixing,
        even=arguments.even,
        white_balance_k=wb_k,
    )
    notes = list(report.notes)
    if report.rounding > SEEN_ROUNDING and not any("steps of its slots" in note for note in notes):
        notes.append(f"the steps of its channels put it Δu′v′ {report.rounding:.4f} off at this level")
    found, note = (None, "") if arguments.no_rendition else rendition_of(profile, mode, report.drives)
    return {
        "level": report.level,
        "output": report.output,
        "darkest_level": report.darkest_level,
        "slots": list(report.slots),
        "drives": {name: float(drive) for name, drive in report.drives.items()},
        "reached": {"x": report.xy[0], "y": report.xy[1]},
        "off_by": report.off_by,
        "rounding": report.rounding,
        "notes": notes,
        "mixing": arguments.mixing,
        "best_rendition_stops": best_rendition_stops(profile, mode, report.unrounded.xy),
        "rendition": None if found is None else asdict(found),
        "rendition_note": note,
    }


def gel(colour: Colour, from_k: float) -> dict[str, Any] | None:
    """The correction gels that take a source of ``from_k`` kelvin nearest to a white; None for no white."""
    if colour.cct_k is None or colour.duv is None:
        return None

    cct_k, duv = colour.cct_k, colour.duv
    shift = float(shift_between(from_k, cct_k))
    warm = min(GELS, key=lambda one: (abs(one.shift_mired - shift), abs(one.cc_green)))
    green = min(GELS, key=lambda one: (abs(one.duv_shift(cct_k) - duv), abs(one.shift_mired)))
    chosen = [warm] if abs(shift) > abs(warm.shift_mired - shift) else []
    chosen += [green] if abs(duv) > abs(green.duv_shift(cct_k) - duv) else []
    gives_k, gives_duv = from_k, 0.0
    for one in chosen:
        gives_k, gives_duv = one.through(gives_k, gives_duv)
    return {
        "from_k": from_k,
        "shift_mired": shift,
        "nearest": [one.name for one in chosen],
        "gives_k": gives_k,
        "gives_duv": gives_duv,
    }


def _gel_line(found: dict[str, Any] | None) -> list[list[str]]:
    if found is None:
        return []
    needed = f"{found['shift_mired']:+.1f} mired from {found['from_k']:g} K"
    if not found["nearest"]:
        return [["gel", f"{needed}; no gel comes nearer than none"]]
    gives = f"gives {found['gives_k']:.0f} K, tint {found['gives_duv']:+.4f}"
    return [["gel", f"{needed}; nearest {' and '.join(found['nearest'])}, {gives}"]]


def _lines(colour: Colour, facts: dict[str, Any], wb_k: float) -> list[str]:
    if colour.cct_k is None or colour.duv is None:
        white = ["white", "none: too far from the Planckian locus"]
    else:
        white = ["white", f"{colour.cct_k:9.1f} K   tint {colour.duv:+.5f}   {1e6 / colour.cct_k:.1f} mired"]
    pairs = (
        ("x, y", "x", "y", "CIE 1931"),
        ("u, v", "u", "v", "CIE 1960"),
        ("u′, v′", "u_prime", "v_prime", "CIE 1976"),
    )
    rows = [white, *([label, f"{facts[a]:9.6f}  {facts[b]:9.6f}   {space}"] for label, a, b, space in pairs)]
    rows += _gel_line(facts["gel"])
    rows += [["camera", f"{facts['camera']}   at a white balance of {wb_k:g} K"]]
    return table(rows)


def fixture_lines(facts: dict[str, Any], profile: Profile, mode: Mode) -> list[str]:
    """What ``fixture_facts`` says, to read."""
    drives = "  ".join(f"{name} {100 * drive:.2f} %" for name, drive in facts["drives"].items())
    reached = facts["reached"]
    rows = [
        ["fixture", f"{profile.id}/{mode.name}, {profile.name}"],
        ["level", f"{100 * facts['level']:.2f} %   output {100 * facts['output']:.3f} %"],
        ["darkest", f"{100 * facts['darkest_level']:.2g} % is the lowest level that shows in this colour"],
        ["slots", " ".join(str(slot) for slot in facts["slots"])],
        ["drives", drives],
        ["reached", f"{reached['x']:9.6f}  {reached['y']:9.6f}   off by {facts['off_by']:.6f} in u′v′"],
        ["rounding", f"the steps of its channels move it by Δu′v′ {facts['rounding']:.6f}"],
        ["best-rendition", _cost(facts["best_rendition_stops"], facts["mixing"])],
        *_rendition_rows(facts["rendition"], facts["rendition_note"]),
    ]
    return table([row for row in rows if row[1]]) + [f"note: {note}" for note in facts["notes"]]


def _cost(stops: float | None, mixing: str) -> str:
    if stops is None:
        return ""
    verb = "costs" if mixing == "best-rendition" else "would cost"
    return f"{verb} {stops:.2f} stops against most light"


def _rendition_rows(found: dict[str, float] | None, note: str) -> list[list[str]]:
    if found is None:
        return [["rendition", f"not known: {note}"]] if note else []
    indices = f"Ra {found['ra']:.0f}   Rf {found['rf']:.0f}   Rg {found['rg']:.0f}   SSI {found['ssi']}"
    return [["rendition", indices], ["", note]]
