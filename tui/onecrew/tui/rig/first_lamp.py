"""The first lamp of a new show: set its menu, see it pulse, then a first look."""

from __future__ import annotations

from onecrew.language.who import dark_words
from onecrew.show.show import Fixture
from onecrew.tui.base import BaseScreen
from onecrew.tui.dialogs.choose import Choice, Choose
from onecrew.tui.rig.pulse import Pulse

WELCOME = (
    "A new show. a adds the first lamp, and from then on it is sent by multicast to the whole network. "
    "On Wi-Fi, or for chosen lamps alone, press p first and name their addresses."
)
ANSWERS = (
    Choice("y", "Yes, it pulses", "Go on with a first look.", "yes"),
    Choice("n", "No, nothing happens", "What to look at, one thing after another.", "no"),
)
LOOK = "Now a look: F3 opens Light. Type 22 34 and Enter for 22 % at 3400 K; Shift+S stores it as cue 1."


def ask(screen: BaseScreen, fixture: Fixture) -> None:
    """Pulse the lamp, say what its menu must be set to, and ask whether it is seen."""
    pulse = Pulse(screen)
    pulse.show(fixture.id)
    where = f"{fixture.mode}, universe {fixture.universe}, address {fixture.address}"
    question = f"Set the menu of {fixture.id} to {where}. It should pulse now. Does it?"

    def take(answer: str | None) -> None:
        pulse.end()
        if answer == "yes":
            screen.desk.say(LOOK)
        elif answer == "no":
            screen.desk.say(mend(screen, fixture), refused=True)

    screen.app.push_screen(Choose(question, ANSWERS), take)


def mend(screen: BaseScreen, fixture: Fixture) -> str:
    """What to look at where a lamp does not pulse, the likeliest first."""
    show = screen.desk.show
    said = dark_words(fixture, show.output if show is not None else None)
    return f"{said} (p changes where it is sent.) i pulses it again."
