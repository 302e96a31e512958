"""The words of ``onecrew send``: every form with what it does. No imports, so that --help is quick."""

from __future__ import annotations

FORMS: tuple[tuple[str, str], ...] = (
    ("go", "run the next cue"),
    ("back", "run the previous cue"),
    ("recall 2 [in 5s]", "run any cue, by number or whole name, at its own time or at this one"),
    ("hold [on|off]", "freeze every fade and effect, or release them"),
    ("blackout [on|off]", "all lamps to black, or back again"),
    ("master 80%", "scale every level"),
    ("lock [on|off]", "refuse every change of light except blackout"),
    ("set key level=22% cct=3400 tint=+0.003 [in 2s]", "change lamps by id, role or 'all'; commas between"),
    ("set all stops-=1 mired+=20", "nudge: level, stops, mired and tint take += and -="),
    ("set oven xy=0.5,0.4 effect=flame depth=30% rate=1.5 seed=7", "a colour by chromaticity, an effect"),
    ("solo pendant", "show these lamps alone; 'solo' ends it"),
    ("without pendant", "take these lamps away; 'without' ends it"),
    ("identify van", "pulse these lamps gently to find them; 'identify' ends it"),
    ("revert [lamps]", "drop edits that were not stored"),
    ("compare [on|off]", "show the stored look instead of the edited one"),
    ("countdown 10 [go|recall 3|…]", "run a command after so many seconds; 'countdown cancel' ends it"),
    ("take start [setup] [from 2]", "start a take; with 'from', run that cue and its auto-follows"),
    ("take end [good|bad] [note …]", "end the take"),
    ("take note …", "add a note to the last take"),
    ("note …", "add a note to the log"),
    ("store [3] [name …]", "store what is showing as a cue, new or existing"),
    (
        'cue 3 name="Ovens on" shortcut=3 fade-in=4s fade-out=2s',
        "change a cue: name, shortcut, fade, fade-in, fade-out, curve, delay, auto-follow, guard, note",
    ),
    ("remove 3", "delete a cue"),
    ("patch window panel-cct-tint/16-bit 1.1 role=key", "add a lamp at universe.address, or change one"),
    ("unpatch window", "remove a lamp from the rig and from every look"),
    ("output 1 to=192.168.1.50,192.168.1.51", "where a universe goes: addresses, or 'multicast'"),
    ("output 1 artnet to=192.168.1.60", "the same as Art-Net; 'artnet off' and 'sacn off' end one of them"),
    ("output priority=120 steady=on", "how all universes are sent; also sync=UNIVERSE, name=SOURCE"),
    ("camera wb=4300 iso=800 shutter=1/50", "camera notes; wb is what the swatches are seen through"),
    ("remote page=192.168.1.5:9080", "serve the phone page there; page=off ends it"),
    ("remote osc=0.0.0.0:9001 allow=192.168.1.20", "listen for OSC there, from this machine and those named"),
    ("rename The Night Baker", "rename the show"),
    ("undo", "take back the last change of the show"),
    ("redo", "do again what was undone"),
    ("takeover [off]", "put a standby engine in control, or let it follow again"),
    ("stop [in 3s]", "fade to black and end the engine"),
)


def table() -> str:
    """The forms as aligned lines for --help."""
    lines = []
    for form, meaning in FORMS:
        lines.append(f"  {form}\n      {meaning}" if len(form) > 34 else f"  {form:<34}  {meaning}")
    return "\n".join(lines)
