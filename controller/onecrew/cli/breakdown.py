"""``onecrew breakdown``: cues that show how a look was made."""

from __future__ import annotations

import argparse

from onecrew.cli.document import carry_out, current_show
from onecrew.cli.exits import DONE
from onecrew.cli.parts import print_json, table
from onecrew.commands.cues import PutCue
from onecrew.errors import Refused
from onecrew.language.names import cue_number, cues_elsewhere, no_cue
from onecrew.language.reading import seconds
from onecrew.sheet.breakdown import Pace, breakdown


def run(arguments: argparse.Namespace) -> int:
    path = arguments.show.expanduser().resolve()
    show = current_show(path)
    number = cue_number(arguments.cue, show, "breakdown --cue")
    cue = show.cue(number)
    if cue is None:
        raise Refused(no_cue(number, show.cues, cues_elsewhere(show)))
    pace = Pace(seconds(arguments.fade, "fade", 600.0), seconds(arguments.stand, "stand", 600.0))
    order = [word.strip() for word in arguments.order.split(",") if word.strip()]
    made = breakdown(show, cue, order, pace, arguments.start)
    where = (
        ""
        if arguments.dry_run
        else carry_out(path, [PutCue(cue=one, together=place > 0) for place, one in enumerate(made.cues)])
    )
    if arguments.json:
        chains = {
            name: [one.model_dump(mode="json", exclude_defaults=True) for one in chain]
            for name, chain in (("build", made.build), ("away", made.away))
        }
        print_json(chains)
        return DONE
    rows = [
        [
            one.number,
            one.name,
            ", ".join(one.look) or "black",
            "" if one.auto_follow_s is None else "auto-follow",
        ]
        for one in made.cues
    ]
    print("\n".join(table(rows)))
    if not where:
        print(f"these {len(rows)} cues would be added: this is a dry run")
        return DONE
    print(f"added {len(rows)} cues {where}")
    print(f"to film the build:      onecrew send take start breakdown from black {made.build[0].number}")
    print(f"to film the lamps away: onecrew send take start breakdown from {made.away[0].number}")
    if show.cues[-1].auto_follow_s is not None:
        print(
            f"mind: cue {show.cues[-1].number} has an auto-follow, which now runs cue {made.build[0].number}"
        )
    return DONE
