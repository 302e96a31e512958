"""Plain words into typed commands: ``parse(["recall", "2", "in", "5s"])`` is ``Recall(cue="2", fade_s=5)``.

Pure: the show and the profiles that names are looked up in come as an argument. Whatever the words, the
outcome is a command or a ``Misuse`` with a sentence. ``grammar.FORMS`` lists what can be said.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from onecrew.cli import editing, playing, remotes, wiring
from onecrew.cli.exits import Misuse
from onecrew.commands.context import Context
from onecrew.commands.models import AnyCommand, CancelCountdown, Countdown, Go, Note
from onecrew.language import reading
from onecrew.language.names import nearest
from onecrew.language.phrases import build, nothing_more

AFTER_COUNTDOWN = ("go", "back", "recall", "hold", "blackout", "lock", "take")


def parse(words: Sequence[str], context: Context | None = None) -> AnyCommand:
    """The command that these words say; raises ``Misuse`` with a sentence where they say none."""
    if not words or not words[0].strip():
        raise Misuse("say what to do: go, recall 2, set key level=15%; `onecrew send --help` lists it all")
    verb, rest = words[0].strip().lower(), [word for word in words[1:] if word.strip()]
    handler = VERBS.get(verb)
    if handler is None:
        raise Misuse(f"there is no command '{words[0].strip()}'{nearest(verb, VERBS)}")
    return handler(rest, context or Context())


def _countdown(words: list[str], context: Context) -> AnyCommand:
    if not words:
        raise Misuse("'countdown' needs seconds, as 'countdown 10' or 'countdown 5 recall 3'")
    if words[0].lower() in ("cancel", "off"):
        nothing_more(words[1:], "countdown cancel")
        return CancelCountdown()
    wait_s = reading.seconds(words[0], "countdown", 600.0)
    if words[1:] and words[1].lower() not in AFTER_COUNTDOWN:
        raise Misuse(f"'{words[1]}' cannot run after a countdown; {', '.join(AFTER_COUNTDOWN)} can")
    target = parse(words[1:], context) if words[1:] else Go()
    if isinstance(target, Note):
        raise Misuse("'take note' cannot run after a countdown; 'take start' and 'take end' can")
    return build(Countdown, seconds=wait_s, command=target)


VERBS: dict[str, Callable[[list[str], Context], AnyCommand]] = {
    "go": playing.go,
    "back": playing.back,
    "recall": playing.recall,
    "hold": playing.hold,
    "blackout": playing.blackout,
    "master": playing.master,
    "lock": playing.lock,
    "set": playing.set_light,
    "solo": playing.solo,
    "without": playing.without,
    "identify": playing.identify,
    "revert": playing.revert,
    "compare": playing.compare,
    "countdown": _countdown,
    "take": playing.take,
    "note": playing.note,
    "store": editing.store,
    "cue": editing.cue,
    "remove": editing.remove,
    "patch": editing.patch,
    "unpatch": editing.unpatch,
    "output": wiring.output,
    "camera": wiring.camera,
    "remote": remotes.remote,
    "rename": editing.rename,
    "undo": editing.undo,
    "redo": editing.redo,
    "takeover": playing.takeover,
    "stop": playing.stop,
}
