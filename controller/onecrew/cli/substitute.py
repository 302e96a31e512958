"""``onecrew substitute``: the same looks with another kind of lamp in the place of one."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from onecrew.cli.document import current_show, fixture_called
from onecrew.cli.parts import answer, existing_show, table
from onecrew.cli.profiles import called, mode_called
from onecrew.errors import Trouble
from onecrew.fixtures.report import FixtureReport
from onecrew.fixtures.substitution import Row, Substitution, substituted
from onecrew.language import reading
from onecrew.show.light import Light, White
from onecrew.show.profile import Mode, Profile
from onecrew.show.profiles import ProfileLibrary, load_profiles
from onecrew.show.save import save_show
from onecrew.show.show import Fixture

MOST_STOPS = 8.0


def run(arguments: argparse.Namespace) -> int:
    path = existing_show(arguments.show)
    profiles = load_profiles(beside=path)
    show = current_show(path)
    old = fixture_called(show, arguments.old)
    profile, mode, said = _kind(arguments.kind, old, profiles)
    target = None if arguments.dry_run else _target(path, arguments.to, f"{old.id}-{profile.id}")
    found = substituted(show, profiles, old, profile, mode, _stops(arguments.stops))
    remarks = [*said, *found.remarks]
    if target is not None:
        remarks += _profiles_there(target, path, found.fixture)
        save_show(found.show, target)
    done = "nothing was written" if target is None else f"wrote {target}"
    notes = [f"note: {remark}" for remark in remarks]
    return answer(arguments, _facts(found, remarks, target), [*_lines(found, old), *notes, done])


def _kind(said: str, old: Fixture, profiles: ProfileLibrary) -> tuple[Profile, Mode, list[str]]:
    """The profile and mode meant; without a mode, the one called as the old lamp's is, or the first."""
    name, _, mode_name = said.lower().partition("/")
    profile = called(name, profiles)
    if mode_name:
        return profile, mode_called(profile, mode_name), []
    mode = profile.mode(old.mode) or profile.modes[0]
    if len(profile.modes) == 1:
        return profile, mode, []
    return profile, mode, [f"set the new lamp to {profile.id}/{mode.name}: no mode was named"]


def _target(path: Path, to: Path | None, said: str) -> Path:
    target = path.with_name(f"{path.stem}-{said}.json") if to is None else to
    if target.exists() or target.is_symlink():
        raise Trouble(f"{target} exists already and is left as it is; name another file with --to")
    if not target.parent.is_dir():
        raise Trouble(f"there is no folder {target.parent}; make it first")
    return target


def _stops(text: str | None) -> float | None:
    if text is None:
        return None
    return reading.within(reading.stops(text), -MOST_STOPS, MOST_STOPS, "stops")


def _profiles_there(target: Path, path: Path, fixture: Fixture) -> list[str]:
    """Warns where the new show would not find the profiles that lie beside the old one."""
    if target.parent.resolve() == path.parent or fixture.profile in load_profiles(beside=target):
        return []
    return [
        f"the profile {fixture.profile} lies beside the old show: copy its folder profiles to the new one"
    ]


# ── To read ─────────────────────────────────────────────────────────────────────────────────────────


def _lines(found: Substitution, old: Fixture) -> list[str]:
    new = found.fixture
    head = f"{old.id}: {old.profile}/{old.mode} → {new.profile}/{new.mode}"
    if not found.rows:
        return [head, f"no cue lights {old.id}"]
    scenes = len({row.scene for row in found.rows}) > 1
    rows = [["cue", "asks", "", "gave", "at", "gives", "off by", "apart", "stops lost"]]
    for row in found.rows:
        rows.append(
            [
                f"{row.cue.number} {row.cue.name}".strip() + (f", {row.scene}" if scenes else ""),
                _percent(row.asked.level),
                _asked(row.asked),
                _given(row.old),
                _percent(row.now.level),
                _given(row.new),
                f"{row.off_by:.4f}",
                f"{row.apart:.4f}",
                f"{row.stops_lost:.1f}" if row.stops_lost >= 0.05 else "",
            ]
        )
    notes = [f"cue {row.cue.number}: {note}" for row in found.rows for note in row.new.notes]
    return [head, "", *table(rows, right=frozenset({1, 4, 6, 7, 8})), "", *notes]


def _percent(level: float) -> str:
    return f"{100 * level:.3g} %"


def _asked(light: Light) -> str:
    if light.white is None and light.xy is None:
        return "its own"
    return _colour(light.white, light.xy)


def _given(report: FixtureReport) -> str:
    return _colour(report.white, report.xy)


def _colour(white: White | None, xy: tuple[float, float] | None) -> str:
    if white is not None:
        return f"{white.cct_k:.0f} K" + (f" {white.duv:+.3f}" if abs(white.duv) >= 5e-4 else "")
    return "" if xy is None else f"{xy[0]:.3f}, {xy[1]:.3f}"


# ── For scripts ─────────────────────────────────────────────────────────────────────────────────────


def _facts(found: Substitution, remarks: Sequence[str], target: Path | None) -> dict[str, Any]:
    return {
        "fixture": found.fixture.model_dump(mode="json", exclude_defaults=True),
        "cues": [_cue(row) for row in found.rows],
        "remarks": list(remarks),
        "written": None if target is None else str(target),
    }


def _cue(row: Row) -> dict[str, Any]:
    return {
        "scene": row.scene,
        "cue": row.cue.number,
        "name": row.cue.name,
        "asked": row.asked.model_dump(mode="json", exclude_none=True),
        "old": _report(row.old),
        "set": row.now.model_dump(mode="json", exclude_none=True),
        "new": {**_report(row.new), "notes": list(row.new.notes)},
        "off_by": row.off_by,
        "apart": row.apart,
        "stops_lost": row.stops_lost,
    }


def _report(report: FixtureReport) -> dict[str, Any]:
    return {
        "level": report.level,
        "output": report.output,
        "light": report.light,
        "xy": list(report.xy),
        "white": None if report.white is None else report.white.model_dump(mode="json"),
    }
