"""The command ``onecrew``: ``main(argv)`` returns the exit status, 0 done, 1 failed, 2 misused."""

from __future__ import annotations

import codecs
import contextlib
import gc
import os
import sys
from collections.abc import Sequence
from importlib import import_module
from pathlib import Path

from onecrew.cli.exits import DONE, guarded
from onecrew.cli.parser import parser
from onecrew.terminal import guarded_output


def main(argv: Sequence[str] | None = None) -> int:
    """Runs one command; returns its exit status and never raises."""
    for name, mode in (("stdin", "r"), ("stdout", "w"), ("stderr", "w")):  # closed before the start
        if getattr(sys, name) is None:
            setattr(sys, name, Path(os.devnull).open(mode))  # noqa: SIM115 — as long as the process
    codecs.register_error("plain_signs", _in_plain_signs)
    for stream in (sys.stdout, sys.stderr):  # for a terminal that cannot show all signs
        if hasattr(stream, "reconfigure"):
            with contextlib.suppress(ValueError, OSError):
                stream.reconfigure(errors="plain_signs")
    with guarded_output():
        return guarded(lambda: _run(argv))


def _in_plain_signs(fault: UnicodeError) -> tuple[str, int]:
    """What stands for signs that an encoding lacks: − is -, ′ is ', and so on; a question mark for others."""
    assert isinstance(fault, UnicodeEncodeError)
    plain: str = import_module("onecrew.log.text").plain_ascii(fault.object[fault.start : fault.end])
    return plain, fault.end


def _run(argv: Sequence[str] | None) -> int:
    whole = parser()
    words = list(sys.argv[1:] if argv is None else argv)
    if words[:1] == ["help"]:  # said by whoever knows no options yet
        words = [*words[1:], "--help"]
    arguments = whole.parse_args(words)
    if arguments.command is None:
        if import_module("onecrew.cli.parts").has_terminal():
            return int(import_module("onecrew.cli.start").run())
        whole.print_help()
        return DONE
    module, function = arguments.body.split(":")
    gc.disable()  # all that an import makes stays: looking through it would only take time
    body = getattr(import_module(module), function)
    gc.enable()
    status: int = body(arguments)
    return status
