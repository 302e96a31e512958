"""``onecrew breakdown``: cues that show how a look was made."""

from __future__ import annotations

import argparse
from pathlib import Path

from onecrew.cli.exits import DONE
from onecrew.cli.parts import Commands, add, add_json, print_json, table


def add_to(commands: Commands) -> None:
    command = add(
        commands,
        "breakdown",
        run,
        does="add cues that build a look lamp by lamp, and take each lamp away from it",
        more="Two chains that run by themselves, to film how the light was made. The first starts in black\n"
        "and adds a lamp at a time; the second starts with the whole look, takes one lamp away and\n"
        "brings it back, lamp after lamp. Lamps come in the order of their roles (ambience, key,\n"
        "fill, practical, edge, background, effect); --order names lamps and roles that come first.\n"
        "The cues get numbers behind all others. With a running engine the cues go there (undo takes\n"
        "them back one by one), else into the file.",
        example="onecrew breakdown night-baker.json --cue 3 --order key,pendant",
    )
    command.add_argument("show", type=Path, metavar="SHOW")
    command.add_argument("--cue", metavar="N", required=True, help="the cue whose look it is")
    command.add_argument("--order", metavar="A,B,…", default="", help="lamps or roles that come first")
    command.add_argument("--fade", metavar="TIME", default="1.5s", help="time of each step's fade (1.5s)")
    command.add_argument("--stand", metavar="TIME", default="3s", help="how long each step stands (3s)")
    command.add_argument("--from", metavar="N", dest="start", type=int, help="number of the first new cue")
    command.add_argument("-n", "--dry-run", action="store_true", help="print the cues and add none")
    add_json(command)


def run(arguments: argparse.Namespace) -> int:
    from onecrew.cli.document import carry_out, current_show
    from onecrew.commands.models import PutCue
    from onecrew.errors import Refused
    from onecrew.language.names import cue_number
    from onecrew.language.reading import seconds
    from onecrew.sheet.breakdown import Pace, breakdown

    path = arguments.show.expanduser().resolve()
    show = current_show(path)
    number = cue_number(arguments.cue, show, "breakdown --cue")
    cue = show.cue(number)
    if cue is None:
        have = ", ".join(cue.number for cue in show.cues) or "none yet"
        raise Refused(f"there is no cue {number} in this show; it has {have}")
    pace = Pace(seconds(arguments.fade, "fade", 600.0), seconds(arguments.stand, "stand", 600.0))
    order = [word.strip() for word in arguments.order.split(",") if word.strip()]
    made = breakdown(show, cue, order, pace, arguments.start)
    where = "" if arguments.dry_run else carry_out(path, [PutCue(cue=one) for one in made.cues])
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
            "" if one.auto_follow_s is None else "follows on",
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
