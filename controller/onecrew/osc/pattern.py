"""OSC address patterns, matched in linear time.

OSC 1.0, "OSC Message Dispatching and Pattern Matching": ``?`` is any one character, ``*`` any run of them,
``[a-z]`` one of a set or range (``[!a-z]`` one outside it), ``{foo,bar}`` one of several texts. None of them
matches ``/``: a pattern is matched part by part.

A part becomes a set of states, one a place in the pattern, and all of them step through a name at once. What
a state set and a character lead to is remembered, so the cost is one look-up a character, whatever the stars.
"""

from __future__ import annotations

from dataclasses import dataclass, field

SIGNS = frozenset("?*[]{},!#")
"""Characters with a meaning in patterns, or none in names; ``!`` and ``,`` have theirs in brackets alone."""
_OPENING = frozenset("?*[{")


class BadPattern(ValueError):
    """The pattern is none; its text says why."""


def is_pattern(part: str) -> bool:
    """Whether a part of an address is more than a name."""
    return not _OPENING.isdisjoint(part) or "]" in part or "}" in part


@dataclass(slots=True)
class PartPattern:
    """One part of an address pattern, ready to be matched against many names."""

    steps: list[tuple[frozenset[str] | None, bool, int]] = field(default_factory=list)
    """A state each: the characters that lead on (None: any), whether all but these are meant, where to."""
    free: dict[int, tuple[int, ...]] = field(default_factory=dict)
    """States that lead on without a character."""
    last: int = 0
    _known: dict[tuple[int, str], int] = field(default_factory=dict)
    _start: int = 0

    def matches(self, name: str) -> bool:
        """Whether the whole name fits."""
        states = self._start
        for character in name:
            key = (states, character)
            found = self._known.get(key)
            if found is None:
                found = self._known[key] = self._step(states, character)
            states = found
            if not states:
                return False
        return bool(states >> self.last & 1)

    def _step(self, states: int, character: str) -> int:
        after = 0
        for state in range(len(self.steps)):
            if states >> state & 1:
                characters, others, to = self.steps[state]
                if characters is None or (character in characters) != others:
                    after |= self._with_free(to)
        return after

    def _with_free(self, state: int) -> int:
        reached, waiting = 0, [state]
        while waiting:
            at = waiting.pop()
            if not reached >> at & 1:
                reached |= 1 << at
                waiting += self.free.get(at, ())
        return reached

    # ── how it is built ─────────────────────────────────────────────────────────────────────────

    def _add(self, characters: frozenset[str] | None, others: bool = False) -> None:
        """A state that one character leads on from, to the one that is added next."""
        self.steps.append((characters, others, len(self.steps) + 1))

    def _add_run(self) -> None:
        """``*``: a state that any character leads back to, and that can be left without one."""
        here = len(self.steps)
        self.steps.append((None, False, here))
        self.free[here] = (here + 1,)

    def _add_choices(self, choices: list[str]) -> None:
        """``{…}``: a fork, a chain of states for each choice, and one place where they meet again."""
        fork = len(self.steps)
        self.steps.append((frozenset(), False, 0))
        heads = []
        ends = []
        for choice in choices:
            heads.append(len(self.steps))
            for character in choice:
                self._add(frozenset(character))
            ends.append(len(self.steps))
            self.steps.append((frozenset(), False, 0))
        self.free[fork] = tuple(heads)
        for end in ends:
            self.free[end] = (len(self.steps),)

    def _close(self) -> None:
        self.last = len(self.steps)
        self._start = self._with_free(0)


def compile_part(text: str) -> PartPattern:
    """The pattern of one part; raises ``BadPattern`` for brackets and braces that do not close.

    >>> compile_part("win*").matches("window")
    True
    >>> [compile_part("{in,out}[0-9]").matches(name) for name in ("in7", "out", "in77")]
    [True, False, False]
    """
    pattern = PartPattern()
    at = 0
    while at < len(text):
        sign = text[at]
        at += 1
        if sign == "?":
            pattern._add(None)
        elif sign == "*":
            if not text.startswith("*", at):  # a run of runs is a run
                pattern._add_run()
        elif sign == "[":
            end = text.find("]", at)
            if end < 0:
                raise BadPattern("a [ is never closed by a ]")
            pattern._add(*_set_of(text[at:end]))
            at = end + 1
        elif sign == "{":
            end = text.find("}", at)
            if end < 0:
                raise BadPattern("a { is never closed by a }")
            pattern._add_choices(_choices_of(text[at:end]))
            at = end + 1
        elif sign in SIGNS and sign not in "!,":
            raise BadPattern(f"a {sign} stands where no name can have one")
        else:
            pattern._add(frozenset(sign))
    pattern._close()
    return pattern


def _set_of(inside: str) -> tuple[frozenset[str], bool]:
    """Characters of ``[…]`` and whether those outside it are meant. A minus at an end is itself."""
    others = inside.startswith("!")
    inside = inside.removeprefix("!")
    characters: set[str] = set()
    at = 0
    while at < len(inside):
        if inside[at + 1 : at + 2] == "-" and at + 2 < len(inside):
            low, high = sorted((inside[at], inside[at + 2]))
            characters.update(map(chr, range(ord(low), ord(high) + 1)))
            at += 3
        else:
            characters.add(inside[at])
            at += 1
    return frozenset(characters), others


def _choices_of(inside: str) -> list[str]:
    if not SIGNS.isdisjoint(inside.replace(",", "").replace("!", "")):
        raise BadPattern("inside { } there are only texts and commas")
    return inside.split(",")
