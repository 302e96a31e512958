"""Stills, and the light of a reference found by them."""

from __future__ import annotations

from pathlib import Path

from onecrew.cli.specs.adding import Commands, add, add_json, add_replace

MORE = """\
Light adds: from stills with one lamp on at a time, camera locked, every look can be reckoned before it is
set. The list is JSON: "stills", each with file, lamp (null for the dark one), output 0–1, cct_k and duv as
they were asked; at the top curve (sRGB, BT.709, S-Log3, LogC3, linear …, or ladder for a look of your own,
with one lamp at eleven outputs) and white_balance_k. `onecrew stills` takes the stills and writes the list.

A reference of the same frame is matched all over. Any other is matched in regions that you mark in both
pictures, X,Y,W,H in pixels: first in the stills, then in the reference. A region with face or skin in its
name weighs double. Its exposure is free. --graded allows for one rising curve in the reference.

--json gives "lamps" by id: output and level 0–1, cct_k and duv as they leave the lamp, sure (whether the
level stands within about 0.15 stop), asked_cct_k, stops_error, mired_error, share (of the light, where it
shows most); "regions" by name: stops (prediction against reference) and delta_e (ΔE2000); exposure_stops
(the camera against the stills), exposure_known, reference (own or foreign), delta_e, notes.
"""


def match(commands: Commands) -> None:
    command = add(
        commands,
        "match",
        does="find the levels and whites nearest to a reference picture",
        more=MORE,
        example="onecrew match night-baker.json --stills stills/ --reference ref.jpg "
        "--region face=310,120,40,50:820,300,90,120",
    )
    command.add_argument("show", type=Path, metavar="SHOW")
    command.add_argument("--stills", type=Path, metavar="FOLDER", required=True, help="the run of stills")
    command.add_argument(
        "--list", type=Path, metavar="LIST.json", help="which still is which (the one JSON file in FOLDER)"
    )
    command.add_argument("--reference", type=Path, metavar="FILE", required=True, help="the picture to match")
    command.add_argument("--regions", type=Path, metavar="FILE", help="marked regions, JSON")
    command.add_argument(
        "--region", action="append", default=[], metavar="NAME=X,Y,W,H[:X,Y,W,H]", help="one marked region"
    )
    command.add_argument("--curve", metavar="NAME", help="the stills' curve, over what the list says")
    command.add_argument("--reference-curve", metavar="NAME", help="the reference's, if it has another")
    command.add_argument("--reference-white", metavar="K", help="its white balance, if another")
    command.add_argument("--exposure", metavar="STOPS", help="the reference's exposure against the stills")
    side = command.add_mutually_exclusive_group()
    side.add_argument("--own", action="store_true", help="the reference is a frame of the stills' camera")
    side.add_argument("--foreign", action="store_true", help="it is not, even if it looks like one")
    command.add_argument(
        "--result", type=Path, metavar="STILL", help="second round: a still of what the first one came to"
    )
    command.add_argument("--graded", action="store_true", help="the reference was graded")
    command.add_argument("--report", type=Path, metavar="OUT.html", help="write a page with the pictures")
    storing = command.add_mutually_exclusive_group()
    storing.add_argument("--store", metavar="N", help="store the result as this new cue")
    storing.add_argument("--replace", metavar="N", help="store it in place of this cue's look")
    command.add_argument(
        "--page", action="store_true", help="open a page with the pictures, to mark regions and move levels"
    )
    add_json(command)


def stills(commands: Commands) -> None:
    command = add(
        commands,
        "stills",
        does="take a run of stills, one lamp at a time, for match",
        more="Lock the camera first: manual exposure, white balance and focus, on a tripod. Sit in, or\n"
        "place a stand-in. A dark still comes first, then each lamp alone at its warmest and its coolest\n"
        "white; the desk sets the light, says what to take, and waits for Enter or counts down. Afterwards\n"
        "the light is as it was, whatever happens to this command. Lamps go to full: look away.\n\n"
        "The list goes to LIST. Copy the pictures into a folder, then --sort FOLDER writes into the list\n"
        "which file is which, by their order and time. Where the camera puts its pictures into a folder\n"
        "at once, --folder watches it: a still is taken when its picture comes; where a marked region is\n"
        "clipped in it, its lamp is lowered by a stop and the still asked for again.\n\n"
        "A run that was stopped keeps what was taken; --rest takes what is left and adds it to LIST.\n"
        "Nothing may have moved meanwhile.",
        example="onecrew stills night-baker.json --countdown 5 --to stills/list.json",
    )
    command.add_argument("show", type=Path, metavar="SHOW")
    command.add_argument("--lamps", metavar="A,B,…", help="these lamps only")
    command.add_argument("--one-white", action="store_true", help="one still a lamp, at a middle white")
    command.add_argument(
        "--output", metavar="LEVEL", default="100%", help="share of each lamp's light (100%%)"
    )
    command.add_argument("--ladder", metavar="LAMP", help="ten steps down of this lamp, for an unknown curve")
    command.add_argument(
        "--countdown", metavar="TIME", help="count down for each instead of waiting for Enter"
    )
    command.add_argument("--curve", metavar="NAME", help="the camera's curve, for the list")
    command.add_argument("--to", type=Path, metavar="LIST", help="stills.json")
    command.add_argument(
        "--folder",
        type=Path,
        metavar="FOLDER",
        help="where the camera puts the pictures: each says its still is taken",
    )
    command.add_argument(
        "--region", action="append", default=[], metavar="NAME=X,Y,W,H", help="must not clip; with --folder"
    )
    command.add_argument("--regions", type=Path, metavar="FILE", help="the same, JSON")
    command.add_argument("--rest", action="store_true", help="what LIST does not have yet")
    command.add_argument("--sort", type=Path, metavar="FOLDER", help="name the pictures of FOLDER in LIST")
    add_replace(command)
