"""``onecrew breakdown``: cues that show how a look was made."""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from pathlib import Path

from onecrew.cli.document import carry_out, current_show
from onecrew.cli.exits import DONE
from onecrew.cli.log_choice import log_of, take_number
from onecrew.cli.output import check_names, write_text
from onecrew.cli.parts import print_json, table
from onecrew.commands.scenes import NewScene
from onecrew.errors import Misuse, Refused
from onecrew.language import saying
from onecrew.language.names import cue_number, cues_elsewhere, no_cue
from onecrew.language.reading import seconds
from onecrew.log.captions import captions_of, sub_rip, web_vtt
from onecrew.log.logfile import read
from onecrew.log.takes import Take, put_in_order
from onecrew.log.text import clean
from onecrew.sheet.breakdown import (
    Breakdown,
    Pace,
    breakdown,
    clip_of_chain,
    lamps_in_order,
    pace_of,
    scene_name,
)
from onecrew.show.scenes import scenes_of
from onecrew.show.show import Show


def run(arguments: argparse.Namespace) -> int:
    path = arguments.show.expanduser().resolve()
    show = current_show(path)
    take = take_for(path, arguments)
    number = cue_number(arguments.cue or cue_of(take), show, "breakdown --cue")
    cue = show.cue(number)
    if cue is None:
        raise Refused(no_cue(number, show.cues, cues_elsewhere(show)))
    order = [word.strip() for word in arguments.order.split(",") if word.strip()]
    if take is not None and take.length_s is not None:
        pace = pace_of(take.length_s, cue, len(lamps_in_order(show, cue, order)))
    else:
        pace = Pace(seconds(arguments.fade, "fade", 600.0), seconds(arguments.stand, "stand", 600.0))
    made = breakdown(show, cue, order, pace, arguments.start)
    scene = arguments.scene or scene_name(show, cue)
    check_names([arguments.vtt, arguments.srt], [path], replace=arguments.replace)
    where = "" if arguments.dry_run else carry_out(path, [NewScene(name=scene, cues=made.cues)])
    _write_captions(arguments, made, pace, scene)
    if arguments.json:
        chains = {
            name: [one.model_dump(mode="json", exclude_defaults=True) for one in chain]
            for name, chain in (("build", made.build), ("away", made.away))
        }
        print_json(chains)
        return DONE
    print("\n".join(_lines(show, made, pace, scene, where)))
    return DONE


def _lines(show: Show, made: Breakdown, pace: Pace, scene: str, where: str) -> Iterator[str]:
    """The cues, and how to film them; ``where`` they were added, empty for a dry run."""
    rows = []
    for one in made.cues:
        follows = "" if one.auto_follow_s is None else "auto-follow"
        rows.append([one.number, one.name, ", ".join(one.look) or "black", follows])
    yield from table(rows)
    if not where:
        yield f"these {len(made.cues)} cues would be added: this is a dry run"
        return
    film = "onecrew send countdown 10 take start breakdown from"
    yield f"added the scene {clean(scene)} with {len(made.cues)} cues {where}, and opened it"
    yield f"a step takes {pace.step_s:g} s; the build {saying.seconds(len(made.build) * pace.step_s)} in all"
    yield f"to film the build:      {film} black {made.build[0].number}"
    yield f"to film the lamps away: {film} {made.away[0].number}"
    yield f"then go on with         onecrew send scene {clean(scenes_of(show)[show.scene_at].name)}"


def take_for(path: Path, arguments: argparse.Namespace) -> Take | None:
    """The take whose length the film is to have; None where none is asked for."""
    if arguments.take is None:
        if arguments.cue is None:
            raise Misuse("say which look it is of: --cue N, or --take N for the look of a take")
        return None
    take = put_in_order(read(log_of(path))).take(take_number(arguments.take), arguments.setup)
    if take.length_s is None:
        raise Refused(f"{take.name} has not ended, so it has no length yet; end it first.")
    return take


def cue_of(take: Take | None) -> str:
    """The number of the cue of a take's look. ``Refused`` where it has none."""
    cue = take.recorded_state().cue if take is not None else None
    if cue is None:
        raise Refused("The first still look of the take is of no cue; say with --cue which to break down.")
    return cue.number


def _write_captions(arguments: argparse.Namespace, made: Breakdown, pace: Pace, title: str) -> None:
    captions = captions_of([clip_of_chain(made.build, pace)])
    for name, text in (("vtt", web_vtt(captions, title)), ("srt", sub_rip(captions))):
        if getattr(arguments, name) is not None:
            write_text(getattr(arguments, name), text, keep=[arguments.show], replace=arguments.replace)
