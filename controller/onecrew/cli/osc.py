"""``onecrew osc``: every OSC address, on one page."""

from __future__ import annotations

import argparse

from onecrew.cli.exits import DONE
from onecrew.cli.parts import Commands, add, add_json, print_json


def add_to(commands: Commands) -> None:
    command = add(
        commands,
        "osc",
        run,
        does="print every OSC address and what is reported",
        more="Made from the commands themselves, so it is what this version understands.",
        example="onecrew osc --json",
    )
    add_json(command)


def run(arguments: argparse.Namespace) -> int:
    from onecrew.osc.reference import page, table

    if arguments.json:
        print_json(table())
    else:
        print(page())
    return DONE
