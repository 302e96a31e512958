"""The show running: screens, engine, commands, phone, OSC, and what is on the wire."""

from __future__ import annotations

import argparse
from pathlib import Path

from onecrew.cli.specs.adding import Commands, add, add_json, add_show_choice
from onecrew.commands.forms import listing


def demo(commands: Commands) -> None:
    command = add(
        commands,
        "demo",
        does="run the example show with a virtual room instead of lamps",
        more="The engine sends real packets to this machine alone; a receiver that knows nothing but those\n"
        "packets and the patch shows what the lamps would do. Nothing leaves the machine, nothing is kept.\n"
        "Without a terminal, or with --headless, the cues run once with their real fades; what was seen is\n"
        "compared with what the cues say, and exit status 0 means that it is the same.",
        example="onecrew demo --headless",
    )
    command.add_argument("--headless", action="store_true", help="no screens: run the cues once and compare")
    _add_theme(command)


def _add_theme(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "--theme",
        choices=("dark", "bright"),
        help="colours of the screens (those chosen last; Ctrl+T changes them)",
    )


def shows(commands: Commands) -> None:
    opening = add(
        commands,
        "open",
        body="onecrew.cli.shows:run_open",
        does="open a show in the terminal, starting its engine if none runs",
        more="Closing the window changes no light: the engine stays until you end it.",
        example="onecrew open night-baker.json",
    )
    opening.add_argument("show", type=Path, metavar="SHOW")
    _add_theme(opening)
    new = add(
        commands,
        "new",
        body="onecrew.cli.shows:run_new",
        does="make an empty show, ready to be patched",
        example='onecrew new kitchen.json --name "Kitchen, night"',
    )
    new.add_argument("show", type=Path, metavar="SHOW", help="the file to make; it must not exist yet")
    new.add_argument("--name", help="the show's name (the file's name without its ending)")


def engine(commands: Commands) -> None:
    engine = add(
        commands,
        "engine",
        body="onecrew.cli.foreground:run_engine",
        does="run the engine of a show in the foreground, without screens",
        more="Prints one line, ready, when its first packet has left and all that it was to open is open,\n"
        "be it OSC, the phone page or --feed. What cannot be opened is said and tried again. Ctrl-C or\n"
        "`onecrew stop` ends it.\n"
        "\n"
        "A second machine can stand by: start the engine here with --feed, copy the secret's file to the\n"
        "other machine, and start one there with --standby. It keeps a copy of the show in SHOW and sends\n"
        "the same looks at a lower priority: receivers change over when this engine falls silent.",
        example="onecrew engine night-baker.json",
    )
    engine.add_argument("show", type=Path, metavar="SHOW")
    pair = engine.add_mutually_exclusive_group()
    pair.add_argument("--feed", metavar="ADDRESS:PORT", help="let a standby follow; listen at this address")
    pair.add_argument("--standby", metavar="ADDRESS[:PORT]", help="stand by for the engine at this address")
    engine.add_argument(
        "--secret", type=Path, metavar="FILE", help="file with the secret of both; --feed makes a missing one"
    )
    stop = add(
        commands,
        "stop",
        body="onecrew.cli.engine:run_stop",
        does="fade to black and end a running engine",
        example="onecrew stop --fade 3",
    )
    stop.add_argument("--fade", metavar="TIME", default="1s", help="time of the fade to black (1s)")
    stop.add_argument("--all", action="store_true", help="every engine that runs")
    stop.add_argument("--yes", action="store_true", help="even if the desk is locked or its show not saved")
    add_show_choice(stop)


def send(commands: Commands) -> None:
    command = add(
        commands,
        "send",
        does="send one command to a running engine",
        more="What can be said:\n\n"
        f"{listing()}\n\n"
        "With '-' instead of words, lines are read from standard input and sent one by one until one fails;\n"
        "empty lines and lines that start with # are left out.",
        example="onecrew send set key level=22% cct=3400 in 2s",
    )
    command.add_argument("words", nargs="+", metavar="WORD", help="the command, or - for standard input")
    command.add_argument("-q", "--quiet", action="store_true", help="do not repeat what was understood")
    add_show_choice(command, plain=False)


def status(commands: Commands) -> None:
    command = add(
        commands,
        "status",
        does="print what a running engine is doing",
        example="onecrew status --json",
    )
    add_json(command)
    add_show_choice(command)


def watch(commands: Commands) -> None:
    command = add(
        commands,
        "watch",
        does="show what arrives on the wire, from any source",
        more="The first tool when a lamp does not answer. Run it on the machine that the packets go to.\n"
        "With a show, its patch turns what arrives into what each lamp would do, and the groups of what it\n"
        "sends by multicast are joined. In a terminal the table refreshes; elsewhere each change is a line.\n"
        "--json prints one line a second, or with --for one document at the end.",
        example="onecrew watch night-baker.json --for 10",
    )
    command.add_argument("show", nargs="?", type=Path, metavar="SHOW", help="decode its lamps as well")
    command.add_argument("--port", default="5568", metavar="PORT", help="UDP port (5568)")
    command.add_argument("--universe", action="append", default=[], metavar="N", help="only this; repeatable")
    command.add_argument("--multicast", action="store_true", help="join the universes' multicast groups")
    command.add_argument("--interface", metavar="ADDRESS", help="address of this machine to listen on (all)")
    command.add_argument("--for", dest="seconds", metavar="SECONDS", help="end after so long (until Ctrl-C)")
    add_json(command)


def nodes(commands: Commands) -> None:
    command = add(
        commands,
        "nodes",
        does="ask Art-Net nodes who they are",
        more="Asks each address, or those that a show sends Art-Net to, and lists what answers. Nodes\n"
        "answer to UDP port 6454 of this machine, so no other program may have it meanwhile.",
        example="onecrew nodes 192.168.1.60 192.168.1.61",
    )
    command.add_argument("where", nargs="+", metavar="ADDRESS|SHOW", help="an IP address, or a show's file")
    command.add_argument("--for", dest="wait", metavar="TIME", default="3s", help="how long to wait (3s)")
    add_json(command)


def pair(commands: Commands) -> None:
    command = add(
        commands,
        "pair",
        does="show a code that lets a phone run the show",
        more="The phone scans it, or opens the page and types it. It is good for one phone and ten minutes.\n"
        "A phone that was let in stays so until `onecrew pair --forget`, which puts all of them out.\n"
        "The show serves a page once it has an address: `onecrew send remote page=192.168.1.5:9080`,\n"
        "with this computer's address on the network.",
        example="onecrew pair night-baker.json",
    )
    command.add_argument(
        "show", type=Path, nargs="?", metavar="SHOW", help="which show, when several engines run"
    )
    command.add_argument("--forget", action="store_true", help="unpair every phone")
    add_json(command)


def osc(commands: Commands) -> None:
    command = add(
        commands,
        "osc",
        does="print every OSC address and what is reported",
        more="Made from the commands themselves, so it is what this version understands.",
        example="onecrew osc --json",
    )
    add_json(command)
