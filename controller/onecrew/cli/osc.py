"""``onecrew osc``: every OSC address, on one page."""

from __future__ import annotations

import argparse

from onecrew.cli.parts import answer
from onecrew.osc.reference import page, table


def run(arguments: argparse.Namespace) -> int:
    return answer(arguments, table(), [page()])
