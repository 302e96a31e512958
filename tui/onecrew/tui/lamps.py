"""Screens with a list of lamps and one cursor, which is on the same lamp on every such screen."""

from __future__ import annotations

from typing import Any

from onecrew.commands.light import Identify, SetLight, Solo, Without
from onecrew.show.show import Fixture
from onecrew.tui import words
from onecrew.tui.actions import Action, calls
from onecrew.tui.base import BaseScreen

CHOOSE: tuple[Action, ...] = (
    Action("lamp-up", ("up",), "↑", "lamp", "Move to the lamp above", calls("move", -1)),
    Action("lamp-down", ("down",), "↓", "lamp", "Move to the lamp below", calls("move", 1)),
    Action("lamp-first", ("home",), "Home", "first", "Move to the first lamp", calls("move_to", 0)),
    Action("lamp-last", ("end",), "End", "last", "Move to the last lamp", calls("move_to", -1)),
)
NUDGES: tuple[Action, ...] = (
    Action("warmer", ("w",), "w", "warmer", "Warmer by 10 mired", calls("change", "mired_by", 10.0), 6),
    Action("cooler", ("c",), "c", "cooler", "Cooler by 10 mired", calls("change", "mired_by", -10.0), 7),
    Action("magenta", ("m",), "m", "magenta", "Tint 0.001 towards magenta",
           calls("change", "duv_by", -0.001), 14),
    Action("green", ("M",), "Shift+M", "green", "Tint 0.001 towards green",
           calls("change", "duv_by", 0.001), 15),
)  # fmt: skip


class LampScreen(BaseScreen):
    """A screen whose keys change the lamp under the cursor, unless it says otherwise in ``meant``."""

    def fixtures(self) -> tuple[Fixture, ...]:
        return self.desk.show.rig.fixtures if self.desk.show is not None else ()

    @property
    def cursor(self) -> int:
        """Index of the lamp under the cursor; 0 where there is none."""
        return self.desk.cursor.index(self.fixtures())

    def chosen(self) -> Fixture | None:
        fixtures = self.fixtures()
        return fixtures[self.cursor] if fixtures else None

    def lead(self) -> Fixture | None:
        """The lamp under the cursor, for an action that needs one; says so where there is none."""
        fixture = self.chosen()
        if fixture is None:
            self.desk.say(words.NO_LAMPS, refused=True)
        return fixture

    def meant(self) -> tuple[str, ...]:
        """Ids of the lamps that a change is for."""
        lead = self.lead()
        return (lead.id,) if lead is not None else ()

    def move(self, step: int) -> None:
        fixtures = self.fixtures()
        if fixtures:
            self.move_to((self.cursor + step) % len(fixtures))

    def move_to(self, place: int) -> None:
        fixtures = self.fixtures()
        if fixtures:
            self.desk.cursor.id = fixtures[place].id
            self.renew()

    def clicked(self, kind: str, value: str) -> None:
        if kind == "lamp":
            self.desk.cursor.id = value
            self.renew()
        else:
            super().clicked(kind, value)

    def set_light(self, names: tuple[str, ...], **fields: Any) -> None:
        if names:
            self.desk.send(SetLight(fixtures=names, **fields))

    def change(self, field: str, amount: float) -> None:
        self.set_light(self.meant(), **{field: amount})

    def show_some(self, kind: type[Solo | Without | Identify]) -> None:
        """Solo, without or identify for the lamps that are meant, or its end where they have it already."""
        names, snapshot = self.meant(), self.desk.snapshot
        if snapshot is not None and names:
            has = getattr(snapshot, kind.model_fields["kind"].default)
            self.desk.send(kind() if has and set(has) == set(names) else kind(fixtures=names))
