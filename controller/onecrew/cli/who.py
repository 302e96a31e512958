"""``onecrew who``: pulses one lamp of a rig after the other, and asks whether the right one answers."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Mapping

from onecrew.cli.exits import DONE, FAILED, endings_are_interrupts
from onecrew.cli.keeping import Keeper, keeping
from onecrew.cli.parts import answer, existing_show, remark, typed_line
from onecrew.commands.light import PULSE_EVERY_S, Identify
from onecrew.commands.rig import SwapAddresses, swapped
from onecrew.errors import Mistake
from onecrew.language.names import nearest
from onecrew.language.who import menu_words, mixed_up_words, unlit_hints, unlit_words, unpatched_words
from onecrew.show.patching import width_of
from onecrew.show.profile import Profile
from onecrew.show.profiles import load_profiles
from onecrew.show.show import Fixture
from onecrew.terminal import printable

HELP = """\
yes: it pulses · no: nothing pulses · the name of another lamp: that one pulses · none: a lamp that is not in
the rig pulses · back: the lamp before · stop: end (so does Ctrl-C)"""


def run(arguments: argparse.Namespace) -> int:
    path = existing_show(arguments.show).expanduser().resolve()
    with endings_are_interrupts(), keeping(path, PULSE_EVERY_S, Identify()) as keeper:
        walk = _Walk(keeper, load_profiles(beside=path))
        if not walk.names:
            raise Mistake("no lamp is patched yet: `onecrew send patch` adds one")
        remark(arguments, HELP)
        while walk.at < len(walk.names):
            said = typed_line(walk.question())
            if said is None or said in ("stop", "end", "quit"):
                remark(arguments, "stopped")
                return FAILED
            if (failed := keeper.failed) is not None:
                complaint = f"{failed}; {walk.meant.id} is asked for again"
            else:
                complaint = walk.receive(said)
            if complaint:
                print(printable(complaint), file=sys.stderr, flush=True)
    to_do = list(walk.to_do.values())
    facts = {"lamps": len(walk.names), "swapped": walk.swaps, "to_do": to_do}
    answer(arguments, facts, [*to_do, *walk.hints()] or ["every lamp answers where it is patched"])
    return FAILED if walk.to_do else DONE


class _Walk:
    """Where the walk stands. ``hear`` moves it."""

    def __init__(self, keeper: Keeper, profiles: Mapping[str, Profile]) -> None:
        self._keeper, self._profiles = keeper, profiles
        show = keeper.client.show
        assert show is not None  # attaching waits for it
        self._rig = {fixture.id: fixture for fixture in show.rig.fixtures}
        self._output = show.output
        self.names = tuple(self._rig)
        self.at = 0
        self.to_do: dict[str, str] = {}
        """By lamp, what is still to be done."""
        self._unlit: set[str] = set()
        self.swaps: list[tuple[str, str]] = []
        self._mixed_up: Fixture | None = None
        """The lamp that answers in place of the one that was asked for."""

    @property
    def meant(self) -> Fixture:
        return self._rig[self.names[self.at]]

    def question(self) -> str:
        """Let the lamp pulse, and ask."""
        meant, seen = self.meant, self._mixed_up
        if seen is not None:
            return (
                f"\n{seen.id} answers at the address of {meant.id}. Swap the two in the patch? yes / no\n> "
            )
        pulse = Identify(fixtures=(meant.id,), briefly=True)
        self._keeper.keep(pulse, pulse)
        return (
            f"\n{self.at + 1} of {len(self.names)}: {meant.id} should pulse now. In its menu: "
            f"{self._menu(meant)}. Does it?\n> "
        )

    def receive(self, said: str) -> str:
        """Takes one line; returns a complaint about it, mostly empty."""
        if self._mixed_up is not None:
            return self._settle(said, self._mixed_up)
        meant = self.meant
        if said in ("back", "b"):
            self.at = max(self.at - 1, 0)
        elif said in ("yes", "y"):
            self._next("")
        elif said in ("no", "n"):
            self._next(unlit_words(meant, self._menu(meant)))
            self._unlit.add(meant.id)
        elif said in ("none", "other"):
            self._next(unpatched_words(meant))
        elif said in self._rig and said != meant.id:
            self._mixed_up = self._rig[said]
            if self._width(self._mixed_up) != self._width(meant):
                return self._settle("no", self._mixed_up)
        else:
            return (
                f"'{said}' is no answer here{nearest(said, self.names)}; yes, no, none or the name of a lamp"
            )
        return ""

    def _settle(self, said: str, seen: Fixture) -> str:
        meant = self.meant
        if said in ("yes", "y"):
            self._keeper.send(SwapAddresses(id=meant.id, with_id=seen.id))
            self._rig.update({one.id: one for one in swapped(meant, seen)})
            self.swaps.append((meant.id, seen.id))
        elif said in ("no", "n"):
            self._next(mixed_up_words(seen, self._menu(seen), meant, self._menu(meant)))
        else:
            return "yes or no?"
        self._mixed_up = None
        return ""

    def hints(self) -> list[str]:
        """What to look at where lamps did not pulse."""
        return unlit_hints((self._rig[name].universe for name in self._unlit), self._output)

    def _next(self, to_do: str) -> None:
        self.to_do.pop(self.meant.id, None)
        self._unlit.discard(self.meant.id)
        if to_do:
            self.to_do[self.meant.id] = to_do
        self.at += 1

    def _width(self, fixture: Fixture) -> int | None:
        return width_of(self._profiles, fixture.profile, fixture.mode)

    def _menu(self, fixture: Fixture) -> str:
        known = self._profiles.get(fixture.profile)
        mode = known.mode(fixture.mode) if known is not None else None
        return menu_words(fixture) if mode is None else menu_words(fixture, mode.menu, mode.width)
