"""The errors of onecrew, one tree.

    OnecrewError           anything onecrew says no to; its text is a sentence for the user
    ├── Mistake               the user asked for something that cannot be: say what, where, and the fix
    │   ├── DocumentFaults    a show or profile with faults, all of them at once
    │   ├── Misuse            words that make no sense: say what was written and what would be right
    │   └── Refused           a command that the present state does not allow
    └── Trouble               the world is in the way: a port taken, a folder read-only, no route

A bug is none of these: it keeps its own type, is logged with its traceback, and never stops the light.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

LONGEST_LINE = 600
"""Characters of a sentence; what was typed is quoted in it, and a paste may be a whole page."""


class OnecrewError(Exception):
    """Root of the tree. ``str(error)`` is a sentence for the user, without its middle where it is long."""

    def __str__(self) -> str:
        return "\n".join(
            line if len(line) <= LONGEST_LINE else f"{line[:300]} … {line[-250:]}"
            for line in super().__str__().split("\n")
        )


class Mistake(OnecrewError):
    """The user's input cannot be carried out."""


class Refused(Mistake):
    """The present state does not allow the command; nothing was changed."""


class Misuse(Mistake, ValueError):
    """What was written makes no sense; a ``ValueError`` too, so that forms and validators take it as one."""


class Trouble(OnecrewError):
    """The world outside is in the way."""


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing wrong in a document.

    ``where`` is the path in the document (``rig.fixtures[2].address``), ``what`` says what is wrong and
    ``fix`` what would be right.
    """

    where: str
    what: str
    fix: str

    def __str__(self) -> str:
        return f"{self.where}: {self.what}; {self.fix}" if self.where else f"{self.what}; {self.fix}"


class DocumentFaults(Mistake):
    """A document that cannot be used as it is, with every fault found in it."""

    def __init__(self, source: str, faults: Sequence[Fault]) -> None:
        self.source = source
        self.faults = tuple(faults)
        super().__init__("\n".join(f"{source}: {fault}" for fault in self.faults))
