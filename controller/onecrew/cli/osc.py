"""``onecrew osc``: every OSC address, on one page."""

from __future__ import annotations

import argparse

from onecrew.cli.exits import DONE
from onecrew.cli.parts import print_json
from onecrew.osc.reference import page, table


def run(arguments: argparse.Namespace) -> int:
    if arguments.json:
        print_json(table())
    else:
        print(page())
    return DONE
