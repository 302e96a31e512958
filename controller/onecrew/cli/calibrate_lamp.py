"""One lamp of a running engine, held in one white after the other, and given back as it was."""

from __future__ import annotations

from onecrew.cli.keeping import Keeper
from onecrew.commands.rig import PutFixture
from onecrew.commands.stills import ShowStill
from onecrew.errors import Refused
from onecrew.fixtures.calibration_plan import Question
from onecrew.show.show import EmitterReading, Reading, Show


class Lamp:
    """The lamp under the meter, alone; the look waits under it."""

    def __init__(self, keeper: Keeper, fixture_id: str) -> None:
        self._keeper = keeper
        self._id = fixture_id
        self._told: ShowStill | None = None

    def go(self, question: Question) -> None:
        """Brings the lamp to a white at full, past its readings. Refused where that cannot be."""
        white = question.told
        words = f"{self._id} is measured at {white.cct_k:.0f} K"
        self._told = ShowStill(fixture=self._id, cct_k=white.cct_k, duv=white.duv, words=words)
        self._keeper.keep(self._told, self._again)

    def out(self) -> None:
        """Has every lamp out, so that the slots of this one can be raised. Refused where that cannot be."""
        self._told = ShowStill(words=f"{self._id} is measured")
        self._keeper.keep(self._told, self._again)

    def disturbed(self) -> str:
        """Says what happened to the lamp since it was sent to its white; empty if nothing did."""
        try:
            self._keeper.send(self._again)
        except Refused:
            return "something else changed the lamp meanwhile"
        return ""

    def store(self, **readings: tuple[Reading | EmitterReading, ...]) -> None:
        """Puts readings in the place of those that the fixture has, by field; nothing else of it changes."""
        answer = self._keeper.run(self._keeper.client.ask("show"))
        fixture = Show.model_validate(answer["show"]).fixture(self._id)
        if fixture is None:
            raise Refused(f"{self._id} was removed from the rig meanwhile")
        self._keeper.send(PutFixture(fixture=fixture.model_copy(update=readings)))

    @property
    def _again(self) -> ShowStill:
        assert self._told is not None  # it was sent somewhere
        return self._told.model_copy(update={"again": True})
