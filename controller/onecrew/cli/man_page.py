"""The manual page of the command, in roff, from the specs of the commands."""

from __future__ import annotations

import argparse
from collections.abc import Iterator

from onecrew.cli.completion import commands_of
from onecrew.cli.parser import CAUTION, DOES, parser
from onecrew.commands.forms import forms
from onecrew.version import VERSION


def page() -> Iterator[str]:
    """The page, line by line (man(7))."""
    whole = parser()
    yield f'.TH ONECREW 1 "" "onecrew {VERSION}" "User Commands"'
    yield from (".SH NAME", f"onecrew \\- {_plain(DOES[0].lower() + DOES[1:].rstrip('.'))}")
    yield from (".SH SYNOPSIS", ".B onecrew", "COMMAND [OPTION]...", ".SH COMMANDS")
    for name, command in commands_of(whole):
        yield from _command(name, command)
    yield from (".SH WORDS OF SEND",)
    for form, does in forms().items():
        yield from (".TP", f".B {_plain(form)}", _plain(does))
    yield from (".SH EXIT STATUS", "0 done, 1 failed, 2 misused.", ".SH CAUTION", *_text(CAUTION))


def _command(name: str, command: argparse.ArgumentParser) -> Iterator[str]:
    usage = " ".join(command.format_usage().removeprefix("usage: ").split())
    yield from (f'.SS "{name}"', _plain(usage), ".PP", *_text(command.description or ""))
    formatter = command._get_formatter()
    for action in command._actions:
        if action.help in (None, argparse.SUPPRESS) or "--help" in action.option_strings:
            continue
        told = ", ".join(action.option_strings) or formatter._format_args(action, action.dest.upper())
        yield from (".TP", f".B {_plain(told)}", _plain((action.help or "").replace("%%", "%")))
    yield from (".PP", *_text(command.epilog or ""))


def _text(text: str) -> Iterator[str]:
    """Lines as they are broken, since tables and examples lie in them."""
    yield ".nf"
    yield from map(_plain, text.splitlines())
    yield ".fi"


def _plain(text: str) -> str:
    """Text that roff shows as it is: a leading point or quote would be a request."""
    shown = text.replace("\\", "\\e").replace("-", "\\-")
    return f"\\&{shown}" if shown[:1] in (".", "'") else shown
