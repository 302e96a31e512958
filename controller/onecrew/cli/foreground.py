"""``onecrew engine`` runs the engine in the foreground.

Imports next to nothing, so that the engine starts at once: this process stays as its supervisor.
"""

from __future__ import annotations

import argparse

from onecrew.cli.exits import DONE, FAILED
from onecrew.cli.parts import existing_show
from onecrew.engine.supervisor import supervise
from onecrew.errors import Misuse


def run_engine(arguments: argparse.Namespace) -> int:
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
