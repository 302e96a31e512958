"""Who is who: what to set in each lamp's menu, and a walk from lamp to lamp that asks whether it pulses."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from onecrew.commands.rig import SwapAddresses, swapped
from onecrew.language.who import mixed_up_words, unlit_hints, unlit_words, unpatched_words
from onecrew.show.show import Fixture
from onecrew.tui.base import BaseScreen
from onecrew.tui.dialogs.choose import Choice, Choose
from onecrew.tui.dialogs.listing import Key, Line, Listing
from onecrew.tui.drawing.canvas import wrap
from onecrew.tui.rig.addresses import Kind, menu_words, width_of
from onecrew.tui.rig.pulse import Pulse

ANSWERS = (
    Choice("y", "Yes, it pulses", "On to the next lamp.", "yes"),
    Choice("n", "No, nothing pulses", "What to look at is said at the end.", "no"),
    Choice("o", "Another lamp pulses", "Say which: swap the two, or set their menus.", "other"),
)
BACK = Choice("backspace", "Back to the lamp before", "Its answer is taken back.", "back")


SWAP = (
    Choice("y", "Yes, swap them in the patch", "The menus stay; undo takes it back.", "swap"),
    Choice("n", "No, leave the patch", "What to set in the menus is said at the end.", "menus"),
)


def walk(screen: BaseScreen, fixtures: Sequence[Fixture], kinds: Sequence[Kind]) -> None:
    """Pulses one lamp after the other and asks of each; ends with what is still to be done."""
    to_do: dict[str, str] = {}
    rig = {fixture.id: fixture for fixture in fixtures}
    names, unlit = tuple(rig), set[str]()
    pulse = Pulse(screen)

    def end(whole: bool) -> None:
        pulse.end()
        said = [*to_do.values(), *_hints(screen, [rig[name] for name in unlit])]
        if said or whole:
            tell(screen, "Who is who", said or ["Every lamp answers where it is patched."])

    def step(at: int) -> None:
        if at >= len(names):
            end(True)
            return
        fixture = rig[names[at]]
        to_do.pop(fixture.id, None)
        unlit.discard(fixture.id)
        pulse.show(fixture.id)
        menu = menu_words(fixture, kinds)
        question = f"{at + 1} of {len(names)}: {fixture.id} should pulse now. In its menu: {menu}. Does it?"

        def take(answer: str | None) -> None:
            if answer is None:
                end(False)
            elif answer == "other":
                _which(screen, rig, fixture, kinds, to_do, lambda again: step(at if again else at + 1))
            elif answer == "back":
                step(at - 1)
            else:
                if answer == "no":
                    to_do[fixture.id] = unlit_words(fixture, menu)
                    unlit.add(fixture.id)
                step(at + 1)

        answers = (*ANSWERS, BACK) if at else ANSWERS
        screen.app.push_screen(Choose(question, answers, back="end; what was found is said"), take)

    step(0)


def _hints(screen: BaseScreen, unlit: Sequence[Fixture]) -> list[str]:
    """What to look at where these lamps did not pulse."""
    if not unlit:
        return []
    show = screen.desk.show
    hints = unlit_hints((one.universe for one in unlit), show.output if show is not None else None)
    return [*hints, "p changes where a universe is sent, i pulses a lamp again."]


def _which(
    screen: BaseScreen,
    rig: dict[str, Fixture],
    meant: Fixture,
    kinds: Sequence[Kind],
    to_do: dict[str, str],
    then: Callable[[bool], None],
) -> None:
    """Asks which lamp pulses in place of the one that was meant, and offers to swap two of as many slots.

    ``then`` is called with whether the lamp that was meant is asked for again.
    """
    lines = [Line(one.id, f"{one.id}, {one.role}") for one in rig.values() if one.id != meant.id]
    keys = (Key("enter", "Enter", "this one pulses", "this"),)

    def take(answer: tuple[str, str] | None) -> None:
        seen = rig.get(answer[1]) if answer is not None else None
        if seen is None:
            to_do[meant.id] = unpatched_words(meant)
            then(False)
            return

        def swap(choice: str | None) -> None:
            if choice == "swap":
                screen.desk.send(SwapAddresses(id=meant.id, with_id=seen.id))
                rig.update({one.id: one for one in swapped(meant, seen)})
                then(True)
            elif choice == "menus":
                menus = menu_words(seen, kinds), menu_words(meant, kinds)
                to_do[meant.id] = mixed_up_words(seen, menus[0], meant, menus[1])
                then(False)
            else:
                then(True)

        if width_of(seen, kinds) == width_of(meant, kinds) is not None:
            question = f"{seen.id} answers at the address of {meant.id}. Swap the addresses of the two?"
            screen.app.push_screen(Choose(question, SWAP, back=f"ask about {meant.id} again"), swap)
        else:
            swap("menus")

    listing = Listing(f"Which lamp pulses in place of {meant.id}?", lines, keys, back="none of these")
    screen.app.push_screen(listing, take)


def tell(screen: BaseScreen, head: str, said: Sequence[str]) -> None:
    """Shows some lines to read."""
    lines = [Line("", line) for text in said for line in wrap(text, 62)]
    screen.app.push_screen(Listing(head, lines, (Key("enter", "Enter", "close", "close"),), back="close"))
