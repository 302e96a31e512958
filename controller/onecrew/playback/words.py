"""Words: a command as a person says it, for what a countdown will do and why it was refused."""

from __future__ import annotations

from onecrew.commands.models import (
    AnyCommand,
    Blackout,
    Hold,
    Lock,
    Recall,
    TakeEnd,
    TakeStart,
)

_SWITCHES = {
    "hold": ("hold", "release the hold", "hold or release"),
    "blackout": ("blackout", "end the blackout", "blackout or back"),
    "lock": ("lock", "unlock", "lock or unlock"),
}


def words(command: AnyCommand) -> str:
    """Return a light command in words: 'go', 'recall 3', 'end the blackout'."""
    if isinstance(command, Hold | Blackout | Lock):
        on, off, toggle = _SWITCHES[command.kind]
        return toggle if command.on is None else on if command.on else off
    if isinstance(command, Recall):
        return f"recall {command.cue}"
    if isinstance(command, TakeStart):
        return "start a take" + (f" from cue {command.chain_from}" if command.chain_from else "")
    if isinstance(command, TakeEnd):
        return "end the take"
    return command.kind.replace("-", " ")
