"""The first lamp of a new show: set its menu, see it pulse, then a first look."""

from __future__ import annotations

from onecrew.commands.light import Identify
from onecrew.show.show import Fixture
from onecrew.tui.base import BaseScreen
from onecrew.tui.dialogs.choose import Choice, Choose

WELCOME = (
    "A new show. First a lamp: a adds one; then its own menu is set, and it pulses to show that it works."
)
ANSWERS = (
    Choice("y", "Yes, it pulses", "Go on with a first look.", "yes"),
    Choice("n", "No, nothing happens", "What to look at, one thing after another.", "no"),
)
LOOK = "Now a look: F3 opens Light. Type 22 34 and Enter for 22 % at 3400 K; Shift+S stores it as cue 1."


def ask(screen: BaseScreen, fixture: Fixture) -> None:
    """Pulse the lamp, say what its menu must be set to, and ask whether it is seen."""
    screen.desk.send(Identify(fixtures=(fixture.id,)))
    where = f"{fixture.mode}, universe {fixture.universe}, address {fixture.address}"
    question = f"Set the menu of {fixture.id} to {where}. It should pulse now. Does it?"

    def take(answer: str | None) -> None:
        screen.desk.send(Identify())
        if answer == "yes":
            screen.desk.say(LOOK)
        elif answer == "no":
            screen.desk.say(mend(screen, fixture), refused=True)

    screen.app.push_screen(Choose(question, ANSWERS), take)


def mend(screen: BaseScreen, fixture: Fixture) -> str:
    """What to look at where a lamp does not pulse, the likeliest first."""
    show = screen.desk.show
    universe = show.output.sacn.universes.get(str(fixture.universe)) if show is not None else None
    sent = (
        f"it is sent to {', '.join(universe.to)}: is that the lamp's or its node's address?"
        if universe is not None and universe.to
        else "it goes out by multicast, which Wi-Fi often drops: p sends it to the lamp's own address."
    )
    return (
        f"Is {fixture.id} set to sACN, mode {fixture.mode}, universe {fixture.universe}, "
        f"address {fixture.address}, and in the same network as this machine? Then: {sent} i pulses it again."
    )
