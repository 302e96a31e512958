"""The table of all commands, and what is looked up in it: by JSON, by words, by a command at hand."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cache
from importlib import import_module
from typing import Any

from pydantic import ValidationError
from pydantic_core import PydanticSerializationError, to_json

from onecrew.commands.command import Command, Reader, Row, ShowCommand
from onecrew.commands.context import Context
from onecrew.commands.forms import FAMILIES
from onecrew.errors import DocumentFaults, Mistake, Misuse
from onecrew.language.names import nearest
from onecrew.show.check import new_faults
from onecrew.show.faults import listed, meant, plain_faults
from onecrew.show.profile import Profile
from onecrew.show.show import Show

ROWS: tuple[Row[Any], ...] = tuple(
    row for family in FAMILIES for row in import_module(f"onecrew.commands.{family}").ROWS
)
TABLE = {row.kind: row for row in ROWS}
"""Every row by the kind of its command, in the order in which people look for them."""
VERBS: dict[str, Reader] = {verb: read for row in ROWS for verb, read in row.reads.items()}


def row_of(command: Command) -> Row[Any]:
    """The row of a command."""
    return TABLE[command.kind]


def in_words(command: Command, show: Show | None = None) -> str:
    """A command in a sentence: 'go', 'recall 3', 'end the blackout'; with the show before it, what it changes
    there: 'move window' where 'patch window' is all that is known without."""
    row = row_of(command)
    return next(iter(row.reads)) if row.says is None else row.says(command, show)


# ── JSON ────────────────────────────────────────────────────────────────────────────────────────────


def parse_command(raw: object) -> Command:
    """The command in ``raw``, parsed JSON; raises ``Mistake`` with every fault in plain words."""
    kind = raw.get("kind") if isinstance(raw, dict) else None
    row = TABLE.get(kind) if isinstance(kind, str) else None
    if row is None:
        close = meant(kind, TABLE) if isinstance(kind, str) else None
        hint = f"did you mean {close}?" if close else f"there are {listed(sorted(TABLE))}"
        raise Mistake(f"{kind!r} is no kind of command; {hint}")
    # By the model itself, not a union: the places of faults read as the user wrote them. Strictly, as JSON:
    # there a list is a tuple, but "0.5" and true are no numbers.
    try:
        command: Command = row.model.model_validate_json(to_json(raw), strict=True)
    except PydanticSerializationError:
        raise Mistake(f"{kind}: a text in it has half a character; type it anew") from None
    except ValidationError as error:
        faults = plain_faults(error, _schema(row.kind))
        raise Mistake("; ".join(f"{kind}: {fault}" for fault in faults)) from None
    return command


@cache
def _schema(kind: str) -> dict[str, Any]:
    """Kept, since a client that goes on sending nonsense must not cost the engine more than a sentence."""
    schema: dict[str, Any] = TABLE[kind].model.model_json_schema()
    return schema


# ── Words ───────────────────────────────────────────────────────────────────────────────────────────


def read_words(words: Sequence[str], context: Context | None = None) -> Command:
    """The command that words say: ``["recall", "2", "in", "5s"]`` is ``Recall(cue="2", fade_s=5)``.

    Raises ``Misuse`` with a sentence where they say none; the forms of the rows list what can be said.
    """
    said = [word for word in words if word.strip()]
    if not said or not words[0].strip():
        raise Misuse("say what to do: go, recall 2, set key level=22%; `onecrew send --help` lists it all")
    for length in (2, 1):  # 'take start' before 'take'
        read = VERBS.get(" ".join(said[:length]).strip().lower())
        if read is not None:
            return read(said[length:], context or Context())
    verb = said[0].strip().lower()
    follow = [known.split()[1] for known in VERBS if known.startswith(f"{verb} ")]
    if follow:
        raise Misuse(f"'{verb}' is followed by {listed(follow, 'or')}")
    raise Misuse(f"there is no command '{verb}'{nearest(verb, VERBS)}")


def write_words(command: Command, show: Show | None = None) -> str:
    """The words that ``read_words`` takes for a command; of an edit, what it changes in ``show``."""
    return row_of(command).writes(command, show)


# ── Edits ───────────────────────────────────────────────────────────────────────────────────────────


def apply_edit(show: Show, command: ShowCommand, profiles: Mapping[str, Profile]) -> Show:
    """The show after a command. Refused if it names what is not there, DocumentFaults if it would do harm.

    Faults that the show had before do not stand in the way. Store, Undo and Redo need more than the show:
    the engine carries them out.
    """
    edit = row_of(command).edit
    if edit is None:
        raise TypeError(f"{command.kind} is not an edit of the show alone")
    edited = edit(show, command)
    if new := new_faults(show, edited, profiles):
        raise DocumentFaults(in_words(command, show), new)
    return edited
