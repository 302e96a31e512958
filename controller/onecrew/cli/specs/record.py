"""The record: take log and look sheet."""

from __future__ import annotations

from pathlib import Path

from onecrew.cli.specs.adding import Commands, add, add_json, add_replace


def log(commands: Commands) -> None:
    command = add(
        commands,
        "log",
        does="print the take log of a show, or export it for the edit",
        more="The log stands beside the show: SHOW.log.jsonl. While one engine runs, SHOW can be left out.\n"
        "In exports, time 0 is the start of the (first) take; --sync says where that is in the\n"
        "footage: a timecode, seconds, or clock for a camera whose timecode is the time of day.\n"
        "Captions and markers are at the frame rate of the camera notes unless --fps says otherwise,\n"
        "and at 29.97 and 59.94 in drop-frame timecode. FILE may be - for standard output.",
        example="onecrew log night-baker.json --take 3 --edl take3.edl --sync 01:00:12:05",
    )
    command.add_argument("show", type=Path, metavar="SHOW", nargs="?")
    command.add_argument("--take", metavar="N", help="this take alone, by its number, or last")
    command.add_argument("--setup", metavar="S", help="takes of this setup alone")
    command.add_argument("--takes", action="store_true", help="a table of the takes")
    command.add_argument(
        "--kind",
        action="append",
        metavar="K",
        help="take, cue, light, show, output, engine, note, match; or a,b",
    )
    command.add_argument("--since", metavar="WHEN", help="30m, 2h, 14:00, 2026-01-05 or 2026-01-05T14:00")
    command.add_argument("-n", "--newest", type=int, metavar="N", help="only the newest N lines")
    command.add_argument("--follow", action="store_true", help="go on printing as things happen")
    add_json(command)
    command.add_argument("--csv", type=Path, metavar="FILE", help="a table for a spreadsheet")
    command.add_argument("--vtt", type=Path, metavar="FILE", help="captions of the light, WebVTT")
    command.add_argument("--srt", type=Path, metavar="FILE", help="captions of the light, SubRip")
    command.add_argument("--edl", type=Path, metavar="FILE", help="takes with markers, CMX 3600 EDL")
    command.add_argument("--otio", type=Path, metavar="FILE", help="takes with markers, OpenTimelineIO")
    command.add_argument("--sync", metavar="T", help="where the take's start is in the footage")
    command.add_argument("--fps", type=float, metavar="R", help="frame rate of the footage")
    command.add_argument("--non-drop", action="store_true", help="no drop-frame timecode at 29.97 and 59.94")
    add_replace(command)


def sheet(commands: Commands) -> None:
    command = add(
        commands,
        "sheet",
        does="write a look sheet: every lamp, the plan of the room, the camera, the cautions",
        more="--take shows the first look of that take that stood still, from the log, or what was sent\n"
        "--at so many seconds into it; --cue shows a cue as it would be sent; with neither, it is what\n"
        "the running engine sends now. The ending of FILE says the form: .html is one page that needs no\n"
        "other file and prints on A4; .md; .csv, a row a lamp;\n"
        ".json, from which `onecrew restore` makes a cue again.",
        example="onecrew sheet night-baker.json --take last --to night-baker.html",
    )
    command.add_argument("show", type=Path, metavar="SHOW")
    command.add_argument("--cue", metavar="N", help="a cue of the show")
    command.add_argument(
        "--take", metavar="N", help="the first look of a take that stood still, by its number, or last"
    )
    command.add_argument(
        "--at", metavar="TIME", help="+9s: the state last written by then, from the take's start"
    )
    command.add_argument("--setup", metavar="S", help="which setup the take is of")
    command.add_argument("--to", type=Path, metavar="FILE", required=True, help=".html, .md, .csv or .json")
    add_replace(command)
