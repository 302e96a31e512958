"""A command that runs after some seconds: time to walk from the desk to the mark."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any, Literal, TypeAlias, Union

from pydantic import Field

from onecrew.commands import light, running, takes
from onecrew.commands.command import Command, Log, PlaybackCommand, Row, never, plainly
from onecrew.commands.context import Context
from onecrew.errors import Misuse
from onecrew.language.phrases import build
from onecrew.language.reading import seconds
from onecrew.language.writing import number
from onecrew.show.show import Show

COUNTED: dict[type[Command], Row[Any]] = {
    row.model: row for row in (*running.ROWS, *light.ROWS, *takes.ROWS) if row.countdown
}
"""What a countdown may run."""
MOST_S = 600.0

if TYPE_CHECKING:
    Counted: TypeAlias = PlaybackCommand
else:
    Counted = Annotated[Union[tuple(COUNTED)], Field(discriminator="kind")]  # noqa: UP007


class Countdown(PlaybackCommand):
    """Carry out a command after some seconds, visibly, cancellable."""

    kind: Literal["countdown"] = "countdown"
    seconds: Annotated[float, Field(ge=0.0, le=MOST_S)]
    command: Counted = running.Go()


def _read(words: list[str], context: Context) -> Command:
    if not words:
        raise Misuse("'countdown' needs seconds, as 'countdown 10' or 'countdown 5 recall 3'")
    wait_s = seconds(words[0], "countdown", MOST_S)
    target = _target(words[1:], context) if words[1:] else running.Go()
    return build(Countdown, seconds=wait_s, command=target)


def _target(words: list[str], context: Context) -> Command:
    verbs = {verb: read for row in COUNTED.values() for verb, read in row.reads.items()}
    for length in (2, 1):
        read = verbs.get(" ".join(words[:length]).lower())
        if read is not None:
            return read(words[length:], context)
    raise Misuse(f"'{' '.join(words[:2])}' cannot run after a countdown; {', '.join(verbs)} can")


def _write(command: Countdown, show: Show | None) -> str:
    target = COUNTED[type(command.command)].writes(command.command, show)
    return f"countdown {number(command.seconds)} {target}"


COUNTDOWN = Row(
    model=Countdown,
    forms={"countdown 10 [go|recall 3|…]": "run a command after so many seconds"},
    reads={"countdown": _read},
    writes=_write,
    log=Log.COUNTDOWN,
    lock_refuses=lambda command: COUNTED[type(command.command)].lock_refuses(command.command),
    phone=True,
)


class CancelCountdown(PlaybackCommand):
    """End the countdown; what it would have run is not run."""

    kind: Literal["cancel-countdown"] = "cancel-countdown"


_CANCEL = running.bare(CancelCountdown, "countdown cancel")

CANCEL = Row(
    model=CancelCountdown,
    forms={"countdown cancel": "end the countdown; what it would have run is not run"},
    reads={"countdown cancel": _CANCEL, "countdown off": _CANCEL},
    writes=plainly("countdown cancel"),
    says=plainly("cancel countdown"),
    log=Log.COUNTDOWN,
    lock_refuses=never,
    phone=True,
)

ROWS = (COUNTDOWN, CANCEL)
