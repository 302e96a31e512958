"""manual: the topics, one of them, or the manual page of the command."""

from __future__ import annotations

import argparse

from onecrew.cli import man_page
from onecrew.cli.exits import DONE
from onecrew.cli.parts import table
from onecrew.errors import Misuse
from onecrew.language.names import nearest
from onecrew.manual import page, topics


def run(arguments: argparse.Namespace) -> int:
    if arguments.roff:
        print("\n".join(man_page.page()))
        return DONE
    known = topics()
    if arguments.topic is None:
        print("\n".join(table([[topic, title] for topic, title in known.items()])))
        print("\n`onecrew manual TOPIC` prints one of them.")
        return DONE
    if arguments.topic not in known:
        guess = nearest(arguments.topic, known)
        raise Misuse(f"the manual has no topic '{arguments.topic}'{guess}; it has {', '.join(known)}")
    print(page(arguments.topic), end="")
    return DONE
