"""Shows and profiles as documents."""

from __future__ import annotations

import argparse
from pathlib import Path

from onecrew.cli.specs.adding import Commands, add, add_json, add_replace
from onecrew.colour.tolerance import SEEN_SIDE_BY_SIDE


def check(commands: Commands) -> None:
    command = add(
        commands,
        "check",
        does="report everything that is wrong with a show, one fault a line",
        more="A sound show says so, with hints after it: clamps and colours that a fixture cannot reach.\n"
        "Faults end with exit status 1, hints do not.",
        example="onecrew check night-baker.json",
    )
    command.add_argument("show", type=Path, metavar="SHOW")
    add_json(command)


def profiles(commands: Commands) -> None:
    profiles = add(
        commands,
        "profiles",
        body="onecrew.cli.profiles:run_profiles",
        does="list the kinds of fixture, show one with the colours it reaches, or import GDTF files",
        more="`profiles import FILE.gdtf`, or a folder of such files, makes profiles of your own from them "
        "(DIN SPEC 15800).\nWhat a file does not say, or onecrew does not understand, the profile lists.",
        example="onecrew profiles spot-six\n  onecrew profiles import Maker@Panel.gdtf --as panel",
    )
    profiles.add_argument("words", nargs="*", metavar="PROFILE | import FILE", default=[])
    profiles.add_argument("--as", dest="wanted", metavar="NAME", help="what to call an imported profile")
    add_json(profiles)
    schema = add(
        commands,
        "schema",
        body="onecrew.cli.profiles:run_schema",
        does="print the JSON Schema of a show or a profile",
        example="onecrew schema profile",
    )
    schema.add_argument("document", nargs="?", choices=("show", "profile"), default="show")


def breakdown(commands: Commands) -> None:
    command = add(
        commands,
        "breakdown",
        does="add a scene that builds a look lamp by lamp, and shows it without each lamp",
        more="Two runs of cues that follow each other, to film how the light was made. The first starts\n"
        "in black and adds a lamp at a time; the second starts with the whole look, takes one lamp away and\n"
        "brings it back, lamp after lamp. Lamps come in the order of their roles (ambience, key,\n"
        "fill, practical, edge, background, effect); --order names lamps and roles that come first.\n"
        "They are a scene of their own, arranged as the open one; the others stay as they are, and one\n"
        "undo takes it back. With --take, the build lasts as long as that take, so that both lie over\n"
        "one another in the edit. --vtt and --srt write captions of the build; those of what was filmed\n"
        "come from `onecrew log`. With a running engine the scene goes there, else into the file.",
        example="onecrew breakdown night-baker.json --take last --vtt build.vtt",
    )
    command.add_argument("show", type=Path, metavar="SHOW")
    command.add_argument("--cue", metavar="N", help="the cue whose look it is (that of the take)")
    command.add_argument("--take", metavar="N", help="a take whose length the film is to have, or last")
    command.add_argument("--setup", metavar="S", help="which setup the take is of")
    command.add_argument("--scene", metavar="NAME", help="name of the new scene (Breakdown and the cue)")
    command.add_argument("--vtt", type=Path, metavar="FILE", help="captions of the build, WebVTT")
    command.add_argument("--srt", type=Path, metavar="FILE", help="captions of the build, SubRip")
    add_replace(command)
    command.add_argument("--order", metavar="A,B,…", default="", help="lamps or roles that come first")
    command.add_argument("--fade", metavar="TIME", default="1.5s", help="time of each step's fade (1.5s)")
    command.add_argument("--stand", metavar="TIME", default="3s", help="how long each step stands (3s)")
    command.add_argument("--from", metavar="N", dest="start", type=int, help="number of the first new cue")
    command.add_argument("-n", "--dry-run", action="store_true", help="print the cues and add none")
    add_json(command)


def restore(commands: Commands) -> None:
    command = add(
        commands,
        "restore",
        does="make a cue from a look sheet, or from what was sent at the start of a take",
        more="SHEET is a file that `onecrew sheet --to FILE.json` wrote. Without SHEET, --take names a\n"
        "take of the show's own log. Lamps that the rig no longer has are left out and listed; --as\n"
        "puts the light of one on another lamp. A lamp of another profile or mode gets the light as\n"
        "it was asked for, and the table says how near it comes. With a running engine the cue goes\n"
        "there, else into the file.",
        example="onecrew restore night-baker-sheet.json night-baker.json --cue 7 --as hood=sky",
    )
    command.add_argument("sheet", type=Path, nargs="?", metavar="SHEET")
    command.add_argument("show", type=Path, metavar="SHOW")
    command.add_argument("more", nargs="*", help=argparse.SUPPRESS)
    command.add_argument("--take", metavar="N", help="a take of the show's log, by its number, or last")
    command.add_argument("--setup", metavar="S", help="which setup the take is of")
    command.add_argument("--cue", metavar="N", help="number of the cue (the next whole one)")
    command.add_argument("--name", metavar="TEXT", help="its name")
    command.add_argument("--replace", action="store_true", help="the cue may be there already")
    command.add_argument(
        "--as", dest="instead", action="append", metavar="OLD=NEW", help="the light of OLD goes onto NEW"
    )
    command.add_argument("-n", "--dry-run", action="store_true", help="show what it would do, make nothing")
    add_json(command)


def substitute(commands: Commands) -> None:
    command = add(
        commands,
        "substitute",
        does="swap a lamp for another kind, and show what that does to every cue",
        more="Colours stay as they are asked, levels change so that the new lamp gives the same light, or\n"
        "all it has. The table shows for each cue what is asked, what the old lamp gave, what the new one\n"
        f"gives, how far that is from what was asked and from the old one in u′v′ ({SEEN_SIDE_BY_SIDE} and\n"
        "more is seen side by side), and how much light is missing. A new show is written; the old\n"
        "one stays as it is.\n\n"
        "Light is compared by the flux in the two profiles. If you have measured both lamps at full, say\n"
        "with --stops how much brighter the new one is (−0.7 for a weaker one).",
        example="onecrew substitute night-baker.json lamp panel-rgbww/16-bit --to tonight.json",
    )
    command.add_argument("show", type=Path, metavar="SHOW")
    command.add_argument("old", metavar="OLD", help="the id of the lamp to swap")
    command.add_argument("kind", metavar="PROFILE[/MODE]", help="the kind of lamp to use instead")
    command.add_argument(
        "--to", type=Path, metavar="NEWSHOW", help="the file to write; it must not exist yet"
    )
    command.add_argument("--stops", metavar="N", help="how much brighter the new lamp is, both at full")
    command.add_argument("--dry-run", action="store_true", help="show the table, write nothing")
    add_json(command)
