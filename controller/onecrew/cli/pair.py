"""``onecrew pair``: a code that lets a phone in, as a QR code in the terminal."""

from __future__ import annotations

import argparse
import os
import shutil
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

from onecrew.cli.exits import DONE
from onecrew.cli.parts import Commands, add, add_json, print_json

if TYPE_CHECKING:
    from onecrew.engine.client import Client


def add_to(commands: Commands) -> None:
    command = add(
        commands,
        "pair",
        run,
        does="show a code that lets a phone run the show",
        more="The phone scans it, or opens the page and types it. It is good for one phone and ten minutes.\n"
        "A phone that was let in stays so until `onecrew pair --forget`, which puts all of them out.\n"
        "The show serves a page once it is told where: `onecrew send remote page=192.168.1.5:9080`,\n"
        "with this computer's address on the network.",
        example="onecrew pair night-baker.json",
    )
    command.add_argument(
        "show", type=Path, nargs="?", metavar="SHOW", help="which show, when several engines run"
    )
    command.add_argument("--forget", action="store_true", help="unpair every phone")
    add_json(command)


def run(arguments: argparse.Namespace) -> int:
    if arguments.forget:
        forget(arguments.show)
        if arguments.json:
            print_json({"forgotten": True})
        else:
            print("every phone is unpaired; `onecrew pair` lets one in")
        return DONE
    from onecrew.cli.reach import with_client

    async def work(client: Client) -> dict[str, Any]:
        return await client.ask("pair")

    answer = with_client(arguments.show, work)
    if arguments.json:
        print_json(answer)
    else:
        print("\n".join([*_picture(answer["url"]), *words(answer)]))
    return DONE


def forget(show: Path | None) -> None:
    """Puts every phone out, whether an engine runs or not."""
    from onecrew.cli.parts import existing_show
    from onecrew.cli.reach import running_shows, with_client

    if show is None or show.expanduser().resolve() in running_shows():

        async def work(client: Client) -> dict[str, Any]:
            return await client.ask("pair", forget=True)

        with_client(show, work)
        return
    from onecrew.engine.endpoint import files_of
    from onecrew.phone.files import page_files
    from onecrew.phone.pairing import Codes

    Codes(page_files(files_of(existing_show(show))).codes).forget()


def words(answer: dict[str, Any]) -> list[str]:
    """What to do with the code."""
    minutes = answer["good_for_s"] / 60
    said = [
        "Scan this with the phone's camera; or open",
        f"  {answer['page']}",
        "and type",
        f"  {answer['code']}",
        f"It is good for one phone and {minutes:.0f} minutes. Whoever has it runs the show.",
    ]
    if answer["here_only"]:
        said.append(
            "The page is served to this machine alone: a phone reaches it after `onecrew send remote "
            "page=ADDRESS:9080`, with this computer's address on the network."
        )
    return said


def _picture(url: str) -> list[str]:
    """The QR code, where there is somebody with a screen wide enough to see it."""
    from onecrew.phone.qr import lines, painted

    drawn = lines(url)
    if not sys.stdout.isatty() or shutil.get_terminal_size().columns < len(drawn[0]):
        return []
    return drawn if os.environ.get("NO_COLOR") else painted(url)
