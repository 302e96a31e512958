"""The whole command line. Light: a command's own modules are imported when it runs."""

from __future__ import annotations

import argparse
from collections.abc import Sequence

from onecrew.cli import (
    breakdown,
    calibrate,
    check,
    colour,
    demo,
    engine,
    forecast,
    log,
    match,
    nodes,
    osc,
    pair,
    profiles,
    restore,
    send,
    sheet,
    shows,
    status,
    substitute,
    watch,
)
from onecrew.cli.parts import Commands

FAMILIES = (
    demo,
    shows,
    check,
    engine,
    send,
    status,
    log,
    sheet,
    forecast,
    breakdown,
    restore,
    watch,
    nodes,
    pair,
    osc,
    calibrate,
    match,
    substitute,
    colour,
    profiles,
)

CAUTION = (
    "Caution: flashing light can trigger seizures; lamps above people need a safety bond and someone\n"
    "licensed to rig them; follow local codes for mains, heat and damp."
)


def parser() -> argparse.ArgumentParser:
    """Every command with its --help."""
    whole = argparse.ArgumentParser(
        prog="onecrew",
        description="The lighting desk for a film-maker who works alone.",
        epilog=f"`onecrew COMMAND --help` shows one command with an example.\n\n{CAUTION}",
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    whole.add_argument("--version", action=_Version, help="print the version and exit")
    commands: Commands = whole.add_subparsers(title="commands", metavar="COMMAND", dest="command")
    for family in FAMILIES:
        family.add_to(commands)
    return whole


class _Version(argparse.Action):
    """Looks the version up only when asked: the lookup costs more than all the rest of --help."""

    def __init__(self, option_strings: Sequence[str], dest: str, help: str | None = None) -> None:
        super().__init__(option_strings, dest, nargs=0, help=help)

    def __call__(self, parser: argparse.ArgumentParser, *_: object) -> None:
        from importlib.metadata import PackageNotFoundError, version

        try:
            print(f"onecrew {version('onecrew')}")
        except PackageNotFoundError:
            print("onecrew, from a folder that is not installed")
        parser.exit()
