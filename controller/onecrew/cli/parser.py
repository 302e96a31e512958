"""The whole command line. Light: a command's own modules are imported when it runs."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from importlib import import_module

from onecrew.cli.specs import documents, light, record, running, shell, stills
from onecrew.cli.specs.adding import Commands

SPECS = (
    running.demo,
    running.shows,
    documents.check,
    running.engine,
    running.send,
    running.status,
    record.log,
    record.sheet,
    light.forecast,
    stills.stills,
    stills.match,
    documents.breakdown,
    documents.restore,
    running.watch,
    running.nodes,
    running.pair,
    running.osc,
    light.calibrate,
    light.who,
    light.probe,
    documents.substitute,
    light.colour,
    documents.profiles,
    shell.completion,
    shell.manual,
)

DOES = "The lighting desk for a film-maker who works alone."
CAUTION = (
    "Caution: flashing light can trigger seizures; lamps above people need a safety bond and someone\n"
    "licensed to rig them; follow local codes for mains, heat and damp."
)


def parser() -> argparse.ArgumentParser:
    """Every command with its --help."""
    whole = argparse.ArgumentParser(
        prog="onecrew",
        description=DOES,
        epilog="`onecrew help COMMAND` shows one with an example, `onecrew manual` lists the topics.\n\n"
        + CAUTION,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    whole.add_argument("--version", action=_Version, help="print the version, and each engine's")
    commands: Commands = whole.add_subparsers(title="commands", metavar="COMMAND", dest="command")
    for add_spec in SPECS:
        add_spec(commands)
    return whole


class _Version(argparse.Action):
    """Looks the versions up only when asked: the lookup costs more than all the rest of --help."""

    def __init__(self, option_strings: Sequence[str], dest: str, help: str | None = None) -> None:
        super().__init__(option_strings, dest, nargs=0, help=help)

    def __call__(self, parser: argparse.ArgumentParser, *_: object) -> None:
        parser.exit(import_module("onecrew.cli.version").run())
