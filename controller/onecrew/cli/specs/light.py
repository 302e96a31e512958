"""Colour, calibration and the exposure of a look."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path

from onecrew.cli.specs.adding import Commands, add, add_json


def colour(commands: Commands) -> None:
    command = add(
        commands,
        "colour",
        does="print all the figures of a white or a chromaticity",
        more="u, v are CIE 1960 (where Duv is measured), u′, v′ are CIE 1976, x, y are CIE 1931 2°.\n"
        "Tint is Duv: + is green, − is magenta.\n"
        "With --profile also the rendition of the mix: Ra (CIE 13.3), Rf and Rg (TM-30) and SSI (ST 2122),\n"
        "by the profile's spectra. They are typical, not measured.",
        example="onecrew colour 3200 --tint +0.003 --profile spot-six --level 15%",
    )
    command.add_argument("cct", nargs="?", metavar="CCT", help="colour temperature, kelvin")
    command.add_argument("--tint", metavar="DUV", help="Duv of the white, −0.05 to 0.05 (0)")
    command.add_argument("--xy", metavar="X,Y", help="a CIE 1931 chromaticity instead of a white")
    command.add_argument("--level", default="100%", metavar="LEVEL", help="level of the fixture (100%%)")
    command.add_argument("--profile", metavar="P[/MODE]", help="show what this kind of fixture gives")
    command.add_argument("--even", action="store_true", help="keep the same light at every white")
    command.add_argument(
        "--mixing", choices=("most-light", "best-rendition"), default="most-light", help="how to mix"
    )
    command.add_argument("--no-rendition", action="store_true", help="skip the rendition, saving a second")
    command.add_argument("--wb", default="5600", metavar="CCT", help="the camera's white balance (5600)")
    add_json(command)


_CALIBRATE = """The lamp goes to full at one white after the other, the others are dark meanwhile, and you
type what the meter says: colour temperature, Duv and light, in any order. skip, back, done and
help work; Ctrl-C changes nothing. The result shows the error before and after, is stored in the
show in place of older readings, and can be undone.

With --emitters each emitter is lit alone, at full and darker, and you type x, y and light: then
saturated colours and how the lamp dims are right too. Whites can be read on top of that.

A closing check then shows lights that were not read, as the lamp was and as corrected; where that
is worse, nothing is stored without a yes.

With --file, readings that were written down are taken instead: one a line,
asked_cct_k,asked_duv,measured_cct_k,measured_duv,light, read at full level from a lamp without
readings and with even output off; with --emitters emitter,level,x,y,light. Lines of one light are
averaged, and those that do not belong are named. Without a terminal, the answers come from
standard input.

With --lux, one reading of a light meter corrects how much light the lamp is said to give: the
lamp alone, the meter facing it, at the subject, --at a place or at a --distance on its axis.

With --like the camera is the meter: pictures of a grey card, camera locked, one dark, then under
OTHER alone and under the lamp alone at the same whites, make it look like OTHER on that camera.
With --folder the desk sets each light, and a still is taken when its picture comes to FOLDER; or
press Enter for each, and copy the pictures into FOLDER when you are asked. A closing check follows.
With --stills they are there already, with their list as for match; whites of the lamp are as it was
asked without readings. With --check they were taken with the readings in place: it says what is left,
and removes readings that made the lamp no better. --json: fixture, like, stored, before and after
(mean and worst difference on camera in u′v′; after is expected, with --check measured), stops
(brighter at the card than OTHER), whites (asked_cct_k, asked_duv, measured_cct_k, measured_duv,
light, off_by, error, left), remarks; of a guided run also check (worse, before, after), or null."""


def calibrate(commands: Commands) -> None:
    command = add(
        commands,
        "calibrate",
        does="measure a lamp with a colour meter, white by white, and correct it",
        more=_CALIBRATE,
        example="onecrew calibrate night-baker.json fridge",
    )
    command.add_argument("show", type=Path, metavar="SHOW")
    command.add_argument("fixture", metavar="FIXTURE", help="the id of the lamp")
    command.add_argument(
        "--asks", metavar="LIST", help="whites to ask, as 2800,3200,4300:+0.01 (CCT, or CCT:tint)"
    )
    command.add_argument(
        "--file", type=Path, metavar="READINGS", help="take readings from a file, move no lamp"
    )
    command.add_argument("--clear", action="store_true", help="remove the lamp's readings from the show")
    command.add_argument("--emitters", action="store_true", help="read each emitter alone instead of whites")
    command.add_argument("--levels", metavar="LIST", help="with --emitters: where each is read (100%%,20%%)")
    command.add_argument(
        "--repeats", type=int, default=1, metavar="N", help="read each light N times; the mean counts (1)"
    )
    command.add_argument("--no-check", action="store_true", help="leave the closing check out")
    _by_light_meter(command)
    _by_camera(command)
    add_json(command)


def _by_light_meter(command: ArgumentParser) -> None:
    command.add_argument("--lux", metavar="LX", help="what a light meter read of the lamp alone")
    command.add_argument("--at", metavar="X,Y,Z", help="with --lux: where, instead of at the subject")
    command.add_argument("--distance", metavar="M", help="with --lux: on its axis, this far away")
    command.add_argument("--level", metavar="L", help="with --lux: its level, full where nothing is said")
    command.add_argument("--cct", metavar="K", help="with --lux: its white, the one with most light without")


def _by_camera(command: ArgumentParser) -> None:
    command.add_argument("--like", metavar="OTHER", help="make it look like this lamp on your camera")
    command.add_argument(
        "--folder", type=Path, metavar="FOLDER", help="with --like: a guided run; its pictures come to FOLDER"
    )
    command.add_argument("--stills", type=Path, metavar="FOLDER", help="with --like: pictures of a grey card")
    command.add_argument("--list", type=Path, metavar="LIST", help="which is which (the JSON file in FOLDER)")
    command.add_argument(
        "--card", metavar="X,Y,W,H", help="where the card is, pixels or shares (the middle fifth)"
    )
    command.add_argument("--curve", metavar="NAME", help="the camera's curve, over what the list says")
    command.add_argument(
        "--check", action="store_true", help="stills with the readings in place: keep or drop"
    )


MORE = """Lux, stops against the camera notes, key : fill and each lamp's share, from the places on the plan,
the profiles' photometry and the levels of a cue; with no --cue, what the running engine sends now, or,
with no engine, every lamp at full. A reading facing a lamp is of that lamp alone; facing the camera, of
all. Key is read facing the key, fill (roles fill and ambience) facing the camera. Without a meter reading
of your own, count on half a stop either way. What is not in the show is assumed, and each assumption is
named.

What it reads, in the show (all optional; metres, degrees, x right and y up the plan from its lower left).
In each of scenes[]:
  room: width_m, depth_m, height_m; walls, ceiling, floor, and left, right, bottom or top for one wall that
      is unlike the others: dark (0.1), mid (0.4), white (0.8) or a share 0 to 1;
      mains_hz 50 or 60; units metres or feet, for what is shown
  arrangement.ID.role
  arrangement.ID.place: x_m, y_m, height_m, aim_deg (clockwise from up the plan), tilt_deg (above level; -90
      is straight down), roll_deg (90 stands a tube on end)
  arrangement.ID.modifiers[]: kind, stops; width_m and height_m for a softbox, diffusion or reflector that
      is the source from then on, distance_m before the lamp; beam_deg for a grid or snoot
  set_pieces[]: kind subject (place.height_m is the face, place.aim_deg where it looks), negative fill
      and reflector (flat: width_m, height_m; place.height_m is the middle), furniture (width_m along, depth_m
      across its aim_deg; place.height_m is the top); reflectance
  camera: place, iso, shutter_s or shutter_deg, fps, aperture or t_stop, nd_stops
In rig.fixtures[]: meter: lux_at_1m, cct_k: what a meter made of the lamp (`onecrew calibrate --lux`).
In a profile, [photometry]:
  one of lux_at_1m, lumens, candela, at full and at the white cct_k (whites = [[kelvin, figure], ...] for
  more); beam_deg and field_deg (full angles at 50 % and 10 % of the axis), width_m and height_m of the
  emitting face; pwm_hz

--json: show, of, subject, at, facing_deg, absolute, nominal_lux, camera_lux, camera_stops, key, key_lux,
key_stops, fill, fill_lux, ratio (key : fill), contrast (lit : shadow side of the face), steps (way, metres,
stops), lamps (id, role, output, known, camera_lux and lamp_lux with camera_bounced_lux and
lamp_bounced_lux of them by way of the room, full_lux facing the lamp at full, share, to_key in stops,
distance_m, blocked), assumed, doubts, missing, units, flicker; others (the same for every further
subject). Where absolute is false, lux and stops of lamps that
are not known, and those of everything together, are null; to_key and share stay. With --want also want:
settings (id, output, level, stops_left to full light, below 0 where it is short), place (id, x_m, y_m,
height_m, distance_m, fall, reached, stops) and remarks. With --map also map: x and y in metres, lux by row
of y, all lamps, at the height of a face and facing the camera.

--want: key f/2.8+0.3 (or +0.3 against the camera notes, or 98 lx), ratio 4:1 (key : fill), contrast 3:1 (lit
: shadow side, all lamps), fall 1 across 0.7 (how far away the key stands to lose so many stops over so many
metres, or feet as 2'4", one step where nothing is said, or the way to --to)."""


def forecast(commands: Commands) -> None:
    command = add(
        commands,
        "forecast",
        does="work out what a light meter would read at the subject: lux, stops, key to fill, falloff",
        more=MORE,
        example="onecrew forecast night-baker.json --cue 3",
    )
    command.add_argument("show", type=Path, metavar="SHOW")
    command.add_argument("--cue", metavar="N", help="a cue of the show, as it would be sent")
    command.add_argument("--subject", metavar="NAME", help="which subject, where several are on the plan")
    command.add_argument("--at", metavar="X,Y[,Z]", help="read there instead of at the subject, metres")
    command.add_argument("--to", metavar="X,Y[,Z]", help="where the subject goes: the falloff on the way")
    command.add_argument("--map", action="store_true", help="add a map of light over the floor, in stops")
    command.add_argument(
        "--want", metavar="WORDS", help="'key f/2.8+0.3 ratio 4:1' → levels; 'fall 1 across 0.7' → a place"
    )
    add_json(command)


def who(commands: Commands) -> None:
    command = add(
        commands,
        "who",
        does="pulse one lamp after the other, and ask whether the right one answers",
        more="For each lamp of the rig: what to set in its menu, and whether it pulses. Where another one\n"
        "does, the two can be swapped in the patch; what else is to be done is said at the end.",
        example="onecrew who night-baker.json",
    )
    command.add_argument("show", type=Path, metavar="SHOW")
    add_json(command)


def probe(commands: Commands) -> None:
    command = add(
        commands,
        "probe",
        does="find out what the slots of an unknown lamp do, one by one",
        more="For a lamp without a profile: set its menu to an address where no lamp is patched, and count\n"
        "the slots of its mode. The desk raises one slot after the other, slowly, and asks what the lamp\n"
        "does; that takes at most three questions more than it has slots. Where a known profile has that\n"
        "layout it is named, else a new one is written among your own, never over another. Whatever ends\n"
        "this, the lamp is black two seconds later at the latest.\n\n"
        "Caution: an unknown slot can make a lamp flash. Look beside it; Enter takes the light away.",
        example="onecrew probe night-baker.json 1.201 --slots 8 --as my-panel",
    )
    command.add_argument("show", type=Path, metavar="SHOW")
    command.add_argument("address", metavar="UNIVERSE.ADDRESS", help="where its menu says, as 1.201")
    command.add_argument("--slots", type=int, metavar="N", required=True, help="how many its mode takes")
    command.add_argument("--skip", type=int, metavar="N", default=0, help="first slots that stay at 0")
    command.add_argument("--as", dest="wanted", metavar="NAME", help="write a profile of this name")
    add_json(command)
