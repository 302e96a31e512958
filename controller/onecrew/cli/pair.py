"""``onecrew pair``: a code that lets a phone in, as a QR code in the terminal."""

from __future__ import annotations

import argparse
import os
import shutil
import sys
from pathlib import Path
from typing import Any

from onecrew.cli.exits import DONE
from onecrew.cli.parts import answer, existing_show, print_json
from onecrew.cli.reach import running_shows, with_client
from onecrew.engine.client import Client
from onecrew.engine.endpoint import files_of
from onecrew.phone.files import page_files
from onecrew.phone.pair import how
from onecrew.phone.pairing import Codes
from onecrew.phone.qr import lines, painted
from onecrew.terminal import write_raw

NO_PICTURE = "that needs a wider terminal"
NO_TERMINAL = "this goes to a file or another program, and a code is drawn in a terminal alone"


def run(arguments: argparse.Namespace) -> int:
    if arguments.forget:
        forget(arguments.show)
        return answer(arguments, {"forgotten": True}, ["every phone is unpaired; `onecrew pair` lets one in"])

    async def work(client: Client) -> dict[str, Any]:
        return await client.ask("pair")

    code = with_client(arguments.show, work)
    if arguments.json:
        print_json(code)
    else:
        drawn = _picture(code["url"])
        write_raw("".join(f"{line}\n" for line in drawn))
        print("\n".join(words(code, drawn=bool(drawn))))
    return DONE


def forget(show: Path | None) -> None:
    """Puts every phone out, whether an engine runs or not."""
    if show is None or show.expanduser().resolve() in running_shows():

        async def work(client: Client) -> dict[str, Any]:
            return await client.ask("pair", forget=True)

        with_client(show, work)
        return

    Codes(page_files(files_of(existing_show(show))).codes).forget()


def words(answer: dict[str, Any], drawn: bool = True) -> list[str]:
    """What to do with the code; ``drawn`` says whether the QR code is there to be scanned."""
    minutes = answer["good_for_s"] / 60
    said = [
        "Scan this with the phone's camera; or open"
        if drawn
        else f"No QR code here: {NO_PICTURE if sys.stdout.isatty() else NO_TERMINAL}. On the phone, open",
        f"  {answer['page']}",
        "and type",
        f"  {answer['code']}",
        f"It is good for one phone and {minutes:.0f} minutes. Whoever has it runs the show.",
    ]
    if answer["here_only"]:
        said.append(
            f"The page is served to this machine alone: a phone reaches it after {how(answer['page'])}."
        )
    return said


def _picture(url: str) -> list[str]:
    """The QR code, where there is somebody with a screen wide enough to see it."""
    drawn = lines(url)
    if not sys.stdout.isatty() or shutil.get_terminal_size().columns < len(drawn[0]):
        return []
    return drawn if os.environ.get("NO_COLOR") else painted(url)
