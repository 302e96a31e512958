"""Who is who: what to set in each lamp's menu, and a walk from lamp to lamp that asks whether it pulses."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from onecrew.commands.light import Identify
from onecrew.show.show import Fixture
from onecrew.tui.base import BaseScreen
from onecrew.tui.dialogs.choose import Choice, Choose
from onecrew.tui.dialogs.listing import Key, Line, Listing
from onecrew.tui.drawing.canvas import wrap
from onecrew.tui.rig.addresses import Kind, menu_words
from onecrew.tui.rig.first import mend

ANSWERS = (
    Choice("y", "Yes, it pulses", "On to the next lamp.", "yes"),
    Choice("n", "No, nothing pulses", "What to look at, then the next lamp.", "no"),
    Choice("o", "Another lamp pulses", "Say which, and what to set in the menus.", "other"),
)


def walk(screen: BaseScreen, fixtures: Sequence[Fixture], kinds: Sequence[Kind]) -> None:
    """Pulses one lamp after the other and asks of each; ends with what is still to be done."""
    to_do: list[str] = []

    def step(at: int) -> None:
        if at >= len(fixtures):
            screen.desk.send(Identify())
            tell(screen, "Who is who", to_do or ["Every lamp answers where it is patched."])
            return
        fixture = fixtures[at]
        screen.desk.send(Identify(fixtures=(fixture.id,)))
        place = f"{at + 1} of {len(fixtures)}"
        question = (
            f"{place}: {fixture.id} should pulse now. In its menu: {menu_words(fixture, kinds)}. Does it?"
        )

        def take(answer: str | None) -> None:
            if answer is None:
                screen.desk.send(Identify())
                return
            if answer == "no":
                to_do.append(f"{fixture.id}: {mend(screen, fixture)}")
            if answer == "other":
                _which(screen, fixtures, fixture, kinds, to_do, lambda: step(at + 1))
            else:
                step(at + 1)

        screen.app.push_screen(Choose(question, ANSWERS), take)

    step(0)


def _which(
    screen: BaseScreen,
    fixtures: Sequence[Fixture],
    meant: Fixture,
    kinds: Sequence[Kind],
    to_do: list[str],
    then: Callable[[], None],
) -> None:
    """Asks which lamp pulses in place of the one that was meant, and notes what to set in their menus."""
    lines = [Line(one.id, f"{one.id}, {one.role}") for one in fixtures if one.id != meant.id]
    keys = (Key("enter", "Enter", "this one pulses", "this"),)

    def take(answer: tuple[str, str] | None) -> None:
        seen = next((one for one in fixtures if answer is not None and one.id == answer[1]), None)
        if seen is None:
            to_do.append(f"{meant.id}: a lamp that is not patched has its address; give that one another.")
        else:
            to_do.append(
                f"{seen.id} is set to the address of {meant.id}: set {seen.id} to {menu_words(seen, kinds)}, "
                f"and {meant.id} to {menu_words(meant, kinds)}."
            )
        then()

    listing = Listing(f"Which lamp pulses in place of {meant.id}?", lines, keys, back="none of these")
    screen.app.push_screen(listing, take)


def tell(screen: BaseScreen, head: str, said: Sequence[str]) -> None:
    """Shows some lines to read."""
    lines = [Line("", line) for text in said for line in wrap(text, 62)]
    screen.app.push_screen(Listing(head, lines, (Key("enter", "Enter", "close", "close"),), back="close"))
