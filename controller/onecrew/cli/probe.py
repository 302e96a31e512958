"""``onecrew probe``: raises the slots of an unknown lamp one by one, and asks what it does."""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Sequence
from typing import Any

from onecrew.cli.exits import DONE, FAILED, endings_are_interrupts
from onecrew.cli.keeping import keeping
from onecrew.cli.parts import answer, existing_show, remark, typed_line, typed_meanwhile
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
again: the same once more · back: the question before · stop: black, and an end (so does Ctrl-C)
While slots go up in steps: Enter as soon as there is light."""


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
    while True:
        now = _ask(raising, arguments, answers)
        early = _raise(raising, now) if "words" in now and not raised else None
        raised = True
        said = early if early is not None else typed_line(_prompt(now, len(answers)))
        if said in ("stop", "end", "quit") or (said is None and "words" in now):
            remark(arguments, "stopped; nothing was written, and the lamp is black")
            return None
        if said in ("", "again", "back") and "words" in now:
            if said != "again":
                raising.black()
            raised = said == ""
        if said == "back":
            raised = False
            answers = answers[:-1]
        elif "words" not in now:
            if not said:
                return {**now, "answers": answers}
            print(f"'{said}' is no answer here: Enter, back or stop", file=sys.stderr, flush=True)
        elif said and said != "again" and (meant := _meant(said, now["answers"])) is not None:
            if meant == "flashes":
                raising.black()
            answers.append(meant)
            raised = False


def _raise(raising: Raised, question: dict[str, Any]) -> str | None:
    """Brings the slots where the question is asked; in a climb, what was typed on the way."""
    raising.show(question["before"])
    for number, step in enumerate(question["steps"], 1):
        print(f"step {number}", file=sys.stderr, flush=True)
        if (said := raising.show(step, typed_meanwhile)) is not None:
            raising.black()
            return said or str(number)
    raising.show(question["then"])
    return None


def _prompt(now: dict[str, Any], asked: int) -> str:
    if "words" in now:
        return f"\n{now['words']}\n  {_offered(now['answers'])}\n> "
    slots = "\n".join(_slots(now))
    ends = "Enter: so it is · back: the last question again · stop: nothing is written"
    return f"\n{asked} questions. What the slots do:\n{slots}\n  {ends}\n> "


def _meant(said: str, offered: Sequence[Sequence[str]]) -> str | None:
    """The answer that is meant, None where it is none or not clear, which is said."""
    words = [word for word, _ in offered]
    matching = [word for word in words if word == said] or [word for word in words if word.startswith(said)]
    if len(matching) == 1:
        return matching[0]
    print(f"'{said}' is no answer here{nearest(said, words)}", file=sys.stderr, flush=True)
    return None


def _ask(
    raising: Raised, arguments: argparse.Namespace, answers: Sequence[str], keep: str = ""
) -> dict[str, Any]:
    return raising.ask("probe", width=arguments.slots, skip=arguments.skip, answers=list(answers), keep=keep)


def _offered(answers: Sequence[Sequence[str]]) -> str:
    plain = [word for word, meaning in answers if meaning == f"{word} light"]
    told = [f"{word}: {meaning}" for word, meaning in answers if meaning != f"{word} light"]
    return "\n  ".join([*told, f"{', '.join(plain)}: light of that colour"] if plain else told)


def _finish(raising: Raised, found: dict[str, Any], arguments: argparse.Namespace) -> int:
    if not found["usable"]:
        said = [
            "the lamp stayed dark: is it on, set to this protocol, universe and address, and to this mode?",
            "where slot 1 is no light and no dimmer, probe again with --skip 1",
            "where a slot chooses a mode, set a mode without one at the lamp's own menu, and probe again",
        ]
    elif found["fits"] and arguments.wanted is None:
        first, *others = found["fits"]
        kind = f"{first['profile']}/{first['mode']}"
        said = [f"this is the layout of {kind} ({first['name']}): nothing new was written"]
        if others:
            said.append(f"so have {', '.join(one['profile'] + '/' + one['mode'] for one in others)}")
        said.append(_patch_words(kind, arguments.address))
    else:
        name = arguments.wanted or f"probed-{time.strftime('%m%d-%H%M%S')}"
        kept = _ask(raising, arguments, found["answers"], keep=name)
        found = {**found, **kept}
        said = [
            f"written to {kept['file']}: its note says what is unknown",
            _patch_words(f"{name}/probed", arguments.address),
        ]
    answer(arguments, found, said)
    return DONE if found["usable"] else FAILED


def _slots(found: dict[str, Any]) -> list[str]:
    return [f"  {slot}  {kind}" for slot, kind in enumerate(found["kinds"], 1)]


def _patch_words(kind: str, address: str) -> str:
    return f"patch it: onecrew send patch NAME {kind} {address} role=key"
