"""A run of stills on the Light screen: which lamps and whites are asked, and the list is kept."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from onecrew.language import names, reading
from onecrew.language.saying import counted
from onecrew.show.show import Show
from onecrew.stills.guided import as_entry
from onecrew.stills.shotlist import Shot
from onecrew.tui.base import BaseScreen
from onecrew.tui.desk import Desk
from onecrew.tui.dialogs.form import Form
from onecrew.tui.stills import Stills, shots_of

CAUTION = (
    "Lock the camera: exposure, white balance and focus by hand, on a tripod. Each lamp goes to full: look "
    "away. Without a countdown the clicker goes on; with one the run goes by itself."
)


@dataclass(frozen=True, slots=True)
class Wish:
    """What a run is to take."""

    lamps: tuple[str, ...]
    one_white: bool
    wait_s: float | None


def ask(screen: BaseScreen) -> None:
    """Ask what is to be taken, and open the run."""
    show = screen.desk.show
    if show is None or not show.rig.fixtures:
        screen.desk.say("No lamp is patched yet: F4 opens Rig.", refused=True)
        return

    def begin(wish: Wish) -> None:
        def have(answer: dict[str, Any]) -> None:
            stills = Stills(screen.desk, shots_of(answer), wish.wait_s)
            screen.app.push_screen(stills, lambda taken: _keep(screen.desk, taken))

        screen.desk.fetch("stills", have, opens=True, lamps=list(wish.lamps), one_white=wish.one_white)

    screen.ask(stills_form(show), begin)


def stills_form(show: Show) -> Form[Wish]:
    """Asks which lamps, which whites, and whether to count down."""

    def read(texts: dict[str, str]) -> Wish:
        said = texts["lamps"]
        chosen = () if said in ("", "all") else names.lamps(said, show, "stills")
        whites = texts["whites"]
        if whites not in ("two", "one"):
            raise ValueError("whites is two, the warmest and the coolest, or one in the middle")
        count = texts["countdown"]
        wait_s = None if count in ("", "none") else reading.seconds(count, "countdown", 600.0)
        return Wish(chosen, whites == "one", wait_s)

    fields = {"lamps": "all", "whites": "two", "countdown": "none"}
    return Form("Stills: each lamp alone, then match finds a reference's light", fields, read, CAUTION)


def _keep(desk: Desk, taken: list[tuple[Shot, str]] | None) -> None:
    """Have the list of what was taken written."""
    if not taken:
        desk.say("No still was taken; the light is as it was.")
        return
    said = counted(len(taken), "still")
    desk.fetch(
        "keep-stills",
        lambda answer: desk.say(
            f"{said} taken, listed in {answer['file']}: copy the pictures into a folder."
        ),
        stills=[as_entry(shot, at) for shot, at in taken],
    )
