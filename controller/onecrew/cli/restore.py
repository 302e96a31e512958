"""``onecrew restore``: a cue again from a sheet or from a take."""

from __future__ import annotations

import argparse
from collections.abc import Iterator, Mapping
from math import hypot
from pathlib import Path

from onecrew.cli.document import carry_out, current_show
from onecrew.cli.parts import answer, table
from onecrew.cli.sheet import recorded_state_of
from onecrew.colour.spaces import xy_to_uv76
from onecrew.commands.cues import PutCue
from onecrew.commands.table import apply_edit
from onecrew.engine.sheets import recorded_state_of_cue
from onecrew.errors import Misuse
from onecrew.language import saying
from onecrew.language.names import CUE
from onecrew.log.recorded_state import RecordedState, kind_of, load_recorded_state
from onecrew.log.text import clean
from onecrew.sheet.facts import states
from onecrew.sheet.restore import Restoration, Restored, restore
from onecrew.show.base import cue_order
from onecrew.show.numbers import next_number
from onecrew.show.profiles import load_profiles
from onecrew.show.show import Show


def run(arguments: argparse.Namespace) -> int:
    path = arguments.show.expanduser().resolve()
    recorded = _recorded_state(arguments, path)
    show = current_show(path)
    number = _number(arguments, show) if arguments.cue is not None else next_number(show)
    made = restore(recorded, show, number, arguments.name, _instead(arguments.instead))
    put = PutCue(cue=made.cue, new=not arguments.replace)
    after = apply_edit(show, put, load_profiles(beside=path))  # or a sentence
    where = "" if arguments.dry_run else carry_out(path, [put])
    near = _nearness(after, path, made)
    done = f"made cue {made.cue.number} {clean(made.cue.name)} {where}"
    said = [*_lines(recorded, made, near, arguments), done if where else "made nothing: this is a dry run"]
    return answer(arguments, _plain(made, near), said)


def _recorded_state(arguments: argparse.Namespace, path: Path) -> RecordedState:
    if arguments.more:
        raise Misuse("restore takes a sheet and a show, or a show and --take")
    if (arguments.sheet is not None) == (arguments.take is not None):
        raise Misuse("name a sheet before the show, or a take of the show with --take: one of the two")
    if arguments.take is None:
        return load_recorded_state(arguments.sheet)

    return recorded_state_of(path, None, arguments.take, arguments.setup)


def _number(arguments: argparse.Namespace, show: Show) -> str:
    if not CUE.match(arguments.cue):
        raise Misuse(f"'{arguments.cue}' is not a cue number; write --cue 7, or --cue 7.5")
    taken = any(cue_order(cue.number) == cue_order(arguments.cue) for cue in show.cues)
    if taken and not arguments.replace:
        raise Misuse(f"there is a cue {arguments.cue} already; name a free number, or add --replace")
    return str(arguments.cue)


def _instead(said: list[str] | None) -> dict[str, str]:
    pairs: dict[str, str] = {}
    for part in said or ():
        for pair in part.split(","):
            old, equals, new = pair.partition("=")
            if not equals or not old.strip() or not new.strip():
                raise Misuse(f"'{pair}' is not a pair; write --as OLD=NEW, two lamps by name")
            if old.strip() in pairs:
                raise Misuse(f"{old.strip()} is named twice")
            pairs[old.strip()] = new.strip()
    return pairs


def _nearness(show: Show, path: Path, made: Restoration) -> dict[str, float]:
    """By lamp of the sheet: Δu′v′ (CIE 1976) between what it gave then and what its lamp gives now."""
    now = {
        lamp.fixture.id: lamp
        for lamp in recorded_state_of_cue(show, load_profiles(beside=path), made.cue.number).lamps
    }
    near = {}
    for one in made.lamps:
        if one.now is not None and one.light.effect is None:
            (u0, v0), (u1, v1) = (
                xy_to_uv76(xy).tolist() for xy in (one.lamp.sent.xy, now[one.now.id].sent.xy)
            )
            near[one.id] = hypot(u1 - u0, v1 - v0)
    return near


def _lines(
    recorded: RecordedState, made: Restoration, near: Mapping[str, float], arguments: argparse.Namespace
) -> Iterator[str]:
    yield f"from {clean(recorded.title)} of {clean(recorded.show)}"
    rows = []
    for one in made.lamps:
        on = "" if one.now is None else one.now.id if one.now.id == one.id else f"on {one.now.id}"
        kind = "" if one.now is None else kind_of(one.now)
        said = {"same": "as it was", "missing": "missing", "changed": f"was {kind_of(one.lamp.fixture)}"}
        off = f"Δu′v′ {near[one.id]:.4f}" if one.state == "changed" and one.id in near else ""
        rows.append([one.id, saying.said(one.light), on, kind, said[one.state], off])
    yield from table(rows) or ["every lamp was dark"]
    for one in made.of("missing"):
        yield f"{one.id} is not in the rig: {'; or '.join(_offers(one, arguments.show))}"
    for one in made.of("changed"):
        yield f"{one.id} is another kind of lamp now: {_what_another_gives(one, arguments)}"
    if made.unknown:
        yield f"lamps that were not there stay dark: {', '.join(made.unknown)}"
    yield from (f"then: {clean(sentence)}" for sentence in states(recorded))


def _offers(one: Restored, show: Path) -> list[str]:
    """What can be done about a lamp that is missing."""
    fixture = one.lamp.fixture
    offers = [f"add --as {one.id}={name}" for name in one.candidates[:3]] or [f"add --as {one.id}=LAMP"]
    role = f"'{fixture.role}'" if " " in fixture.role else fixture.role
    where = f"{fixture.universe}.{fixture.address}"
    offers.append(
        f"`onecrew send patch {one.id} {fixture.profile}/{fixture.mode} {where} role={role}`, "
        f"and then for another kind in its place `onecrew substitute {show} {one.id} PROFILE/MODE`"
    )
    return offers


def _what_another_gives(one: Restored, arguments: argparse.Namespace) -> str:
    assert one.now is not None
    show = arguments.show
    return f"`onecrew substitute {show} {one.now.id} PROFILE/MODE` shows cue by cue what another would give"


def _plain(made: Restoration, near: Mapping[str, float]) -> dict[str, object]:
    return {
        "cue": made.cue.model_dump(mode="json", exclude_defaults=True),
        "lamps": [
            {
                "id": one.id,
                "state": one.state,
                "on": one.now.id if one.now is not None else None,
                "was": f"{one.lamp.fixture.profile}/{one.lamp.fixture.mode}",
                "is": f"{one.now.profile}/{one.now.mode}" if one.now is not None else None,
                "off_by": near.get(one.id),
                "candidates": list(one.candidates),
            }
            for one in made.lamps
        ],
        "dark": list(made.unknown),
    }
