"""``onecrew probe``: raises the slots of an unknown lamp one by one, and asks what it does."""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Sequence
from typing import Any

from onecrew.cli.exits import DONE, FAILED, endings_are_interrupts
from onecrew.cli.keeping import keeping
from onecrew.cli.parts import answer, existing_show, remark, typed_line
from onecrew.cli.raised import Raised
from onecrew.commands.light import AGAIN_S, RaiseSlots
from onecrew.errors import Misuse
from onecrew.language.names import nearest, patch_address
from onecrew.show.destination import SLOTS

CAUTION = (
    "A lamp of which nothing is known may flash: look beside it, not into it, and keep anyone whom flashing\n"
    "light can harm out of the room. Darken the room, so that faint light shows."
)
HELP = """\
Type what you see, or as much of the word as is clear. Enter alone takes the light away at once.
again: the same once more · back: the question before · stop: black, and an end (so does Ctrl-C)"""


def run(arguments: argparse.Namespace) -> int:
    path = existing_show(arguments.show).expanduser().resolve()
    universe, address = patch_address(arguments.address)
    most = SLOTS + 1 - address
    if not 1 <= arguments.slots <= most:
        raise Misuse(f"--slots is 1 to {most} at address {address}")
    if not 0 <= arguments.skip < arguments.slots:
        raise Misuse(f"--skip is 0 to {arguments.slots - 1}")
    with endings_are_interrupts(), keeping(path, AGAIN_S, RaiseSlots()) as keeper:
        raising = Raised(keeper, universe, address)
        remark(arguments, f"{arguments.slots} slots from {universe}.{address} on. {CAUTION}\n{HELP}")
        found = _ask_all(raising, arguments)
        if found is None:
            return FAILED
        raising.black()
        return _finish(raising, found, arguments)


def _ask_all(raising: Raised, arguments: argparse.Namespace) -> dict[str, Any] | None:
    """The layout that was found; None where the person stopped or had nothing more to say."""
    answers: list[str] = []
    raised = False
    while "words" in (now := _ask(raising, arguments, answers)):
        if not raised:
            raising.show(now["before"])
            raising.show(now["then"])
            raised = True
        words = [word for word, _ in now["answers"]]
        said = typed_line(f"\n{now['words']}\n  {_offered(now['answers'])}\n> ")
        if said is None or said in ("stop", "end", "quit"):
            remark(arguments, "stopped; nothing was written, and the lamp is black")
            return None
        if said in ("", "again", "back"):
            if said != "again":
                raising.black()
            raised = said == ""
            if said == "back" and answers:
                answers.pop()
            continue
        matching = [word for word in words if word == said] or [w for w in words if w.startswith(said)]
        if len(matching) != 1:
            print(f"'{said}' is no answer here{nearest(said, words)}", file=sys.stderr, flush=True)
            continue
        if matching[0] == "flashes":
            raising.black()
        answers.append(matching[0])
        raised = False
    return {**now, "answers": answers}


def _ask(
    raising: Raised, arguments: argparse.Namespace, answers: Sequence[str], keep: str = ""
) -> dict[str, Any]:
    return raising.ask("probe", width=arguments.slots, skip=arguments.skip, answers=list(answers), keep=keep)


def _offered(answers: Sequence[Sequence[str]]) -> str:
    plain = [word for word, meaning in answers if meaning == f"{word} light"]
    told = [f"{word}: {meaning}" for word, meaning in answers if meaning != f"{word} light"]
    return "\n  ".join([*told, f"{', '.join(plain)}: light of that colour"] if plain else told)


def _finish(raising: Raised, found: dict[str, Any], arguments: argparse.Namespace) -> int:
    slots = [f"  {slot}  {kind}" for slot, kind in enumerate(found["kinds"], 1)]
    said = [f"asked {len(found['answers'])} questions; what the slots do:", *slots]
    if not found["usable"]:
        said += [
            "the lamp stayed dark: is it on, set to this protocol, universe and address, and to this mode?",
            "where slot 1 is no light and no dimmer, probe again with --skip 1",
        ]
    elif found["fits"] and arguments.wanted is None:
        first, *others = found["fits"]
        kind = f"{first['profile']}/{first['mode']}"
        said.append(f"this is the layout of {kind} ({first['name']}): nothing new was written")
        if others:
            said.append(f"so have {', '.join(one['profile'] + '/' + one['mode'] for one in others)}")
        said.append(_patch_words(kind, arguments.address))
    else:
        name = arguments.wanted or f"probed-{time.strftime('%m%d-%H%M%S')}"
        kept = _ask(raising, arguments, found["answers"], keep=name)
        found = {**found, **kept}
        said += [
            f"written to {kept['file']}: its note says what is unknown",
            _patch_words(f"{name}/probed", arguments.address),
        ]
    answer(arguments, found, said)
    return DONE if found["usable"] else FAILED


def _patch_words(kind: str, address: str) -> str:
    return f"patch it: onecrew send patch NAME {kind} {address} role=key"
