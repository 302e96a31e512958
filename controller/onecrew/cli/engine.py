"""``onecrew engine`` runs the engine in the foreground, ``onecrew stop`` ends one from anywhere."""

from __future__ import annotations

import argparse
import time
from pathlib import Path

from onecrew.cli.exits import DONE, FAILED, Misuse
from onecrew.cli.parts import Commands, add, add_show_choice, has_terminal
from onecrew.errors import Refused, Trouble

STOP_MARGIN_S = 5.0
POLL_S = 0.02


def add_to(commands: Commands) -> None:
    engine = add(
        commands,
        "engine",
        run_engine,
        does="run the engine of a show in the foreground, without screens",
        more="Prints one line, ready, when its first packet has left. Ctrl-C or `onecrew stop` ends it.\n"
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
        run_stop,
        does="fade to black and end a running engine",
        example="onecrew stop --fade 3",
    )
    stop.add_argument("--fade", metavar="TIME", default="1s", help="time of the fade to black (1s)")
    stop.add_argument("--all", action="store_true", help="every engine that runs")
    stop.add_argument("--yes", action="store_true", help="even if the desk is locked or its show not saved")
    add_show_choice(stop)


def run_engine(arguments: argparse.Namespace) -> int:
    from onecrew.cli.parts import existing_show
    from onecrew.engine.supervisor import supervise

    options: list[str] = []
    for name in ("feed", "standby"):
        if (address := getattr(arguments, name)) is not None:
            if arguments.secret is None:
                raise Misuse(f"--{name} needs --secret FILE, the same on both machines")
            options = [f"--{name}", address, "--secret", str(arguments.secret.expanduser().resolve())]
    if arguments.secret is not None and not options:
        raise Misuse("--secret belongs to --feed or --standby")
    show = arguments.show.resolve() if arguments.standby is not None else existing_show(arguments.show)
    status = supervise(str(show), options)
    return DONE if status == 0 else FAILED


def run_stop(arguments: argparse.Namespace) -> int:
    from onecrew.cli.reach import chosen, running_shows
    from onecrew.language.reading import seconds

    fade_s = seconds(arguments.fade, "fade", 60.0)
    for show in running_shows() if arguments.all else [chosen(arguments.show)]:
        try:
            stop(show, fade_s, confirmed=arguments.yes)
        except Refused as refused:
            if not really(str(refused)):
                raise Refused(f"{refused} with --yes") from refused
            stop(show, fade_s, confirmed=True)
        print(f"ended the engine of {show}")
    return DONE


def really(why_not: str) -> bool:
    """Asks at the terminal whether to end an engine all the same; no is the answer without one."""
    if not has_terminal():
        return False
    print(why_not)
    return input("end it all the same? (y/N) ").strip().lower() in ("y", "yes")


def stop(show: Path, fade_s: float, *, confirmed: bool = False) -> None:
    """Fades a show to black and waits until its engine is gone; raises ``Trouble`` if it does not go.

    Raises ``Refused`` where the engine wants this confirmed.
    """
    from onecrew.cli.reach import with_client
    from onecrew.commands.models import Stop
    from onecrew.engine.client import Client
    from onecrew.engine.endpoint import running_engines

    async def work(client: Client) -> None:
        await client.send(Stop(fade_s=fade_s, confirmed=confirmed))

    with_client(show, work)
    deadline = time.monotonic() + fade_s + STOP_MARGIN_S
    while any(Path(endpoint.show) == show for endpoint in running_engines()):
        if time.monotonic() > deadline:
            raise Trouble(f"the engine of {show} was asked to end and is still running")
        time.sleep(POLL_S)
