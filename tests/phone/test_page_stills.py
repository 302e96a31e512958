"""A run of stills that a phone leads, on a clock of the test's own."""

from __future__ import annotations

import asyncio
from typing import Any

import pytest

from onecrew.commands.command import Command
from onecrew.commands.stills import KEEP_EVERY_S, ShowStill
from onecrew.errors import Mistake, Refused, Trouble
from onecrew.phone import stills as of_phone
from onecrew.phone.stills import AWAY_S, PhoneStills
from onecrew.stills.guided import SETTLE_S
from tests.phone.page_stand import Stand

PLANNED = {
    "stills": [
        {"file": "", "lamp": None},
        {"file": "", "lamp": "key", "output": 1.0, "cct_k": 2700.0},
        {"file": "", "lamp": "bulb", "output": 1.0},
    ]
}


class Page:
    """What the page's process does around a run; ``later`` lets time go by, tick by tick."""

    def __init__(self) -> None:
        self.now = 50.0
        self.here = True
        self.sent: list[ShowStill] = []
        self.kept: list[dict[str, Any]] = []
        self.seen: dict[str, Any] = {}
        self.refusal: Exception | None = None
        self.stills = PhoneStills(
            self._carry_out, self._ask, self._tell, lambda: self.here, clock=lambda: self.now
        )

    async def _carry_out(self, command: Command) -> None:
        assert isinstance(command, ShowStill)
        if self.refusal is not None:
            raise self.refusal
        self.sent.append(command)

    async def _ask(self, topic: str, **arguments: Any) -> dict[str, Any]:
        if topic == "stills":
            return PLANNED
        self.kept = arguments["stills"]
        return {"file": "show-stills.json"}

    def _tell(self, view: dict[str, Any]) -> None:
        self.seen = view

    async def press(self, key: str, **fields: Any) -> None:
        await self.stills.receive({"kind": "stills", "key": key, **fields})

    async def later(self, seconds: float) -> None:
        for _ in range(round(seconds / 0.1)):
            self.now += 0.1
            for _ in range(6):
                await asyncio.sleep(0)

    def lights(self) -> list[Any]:
        return ["off" if one.off else one.fixture for one in self.sent if not one.again]


@pytest.fixture
def page(monkeypatch: pytest.MonkeyPatch) -> Page:
    monkeypatch.setattr(of_phone, "TICK_S", 0.0)
    return Page()


def run(work: Any) -> None:
    asyncio.run(work)


def test_a_phone_leads_a_run_and_its_list_is_kept(page: Page) -> None:
    async def work() -> None:
        await page.press("start")
        assert page.seen["words"] == "every lamp out" and page.seen["of"] == 3
        for _ in range(3):
            await page.later(SETTLE_S + 0.2)
            await page.press("next")
        assert page.lights() == [None, "key", "bulb", "off"]
        assert [one["lamp"] for one in page.kept] == [None, "key", "bulb"]
        assert page.seen == {"result": "3 stills are taken, listed in show-stills.json beside the show."}

    run(work())


def test_the_light_is_kept_while_a_phone_is_there_and_given_back_when_it_went(page: Page) -> None:
    async def work() -> None:
        await page.press("start")
        await page.later(4 * KEEP_EVERY_S + 0.3)
        assert 3 <= sum(one.again for one in page.sent) <= 5
        page.here = False
        await page.later(AWAY_S - 0.5)
        assert page.lights() == [None]
        await page.later(1.0)
        assert page.lights() == [None, "off"]
        asked = len(page.sent)
        await page.later(10.0)
        assert len(page.sent) == asked
        page.here = True
        await page.later(1.0)
        assert page.seen["paused"] and "no phone" in page.seen["trouble"]
        await page.press("next")
        assert page.lights() == [None, "off", None] and page.seen["at"] == 1
        await page.press("stop")

    run(work())


def test_a_countdown_goes_by_itself(page: Page) -> None:
    async def work() -> None:
        await page.press("start", seconds=5.0, one_white=True)
        await page.later(SETTLE_S + 1.2)
        assert (page.seen["phase"], page.seen["left_s"]) == ("counting down", 4)
        await page.later(30.0)
        assert page.lights() == [None, "key", "bulb", "off"] and len(page.kept) == 3

    run(work())


def test_what_is_refused_is_said_and_the_run_waits(page: Page) -> None:
    async def work() -> None:
        page.refusal = Refused("the light is locked")
        with pytest.raises(Refused, match="locked"):
            await page.press("start")
        with pytest.raises(Mistake, match="no run of stills"):
            await page.press("next")
        page.refusal = None
        await page.press("start")
        with pytest.raises(Refused, match="goes on already"):
            await page.press("start")
        await page.later(1.0)
        page.refusal = Refused("another command changed the light meanwhile, so the still is over")
        await page.later(KEEP_EVERY_S + 0.2)
        assert page.seen["paused"] and "another command" in page.seen["trouble"]
        page.refusal = None
        await page.press("next")
        assert not page.seen["paused"] and page.seen["at"] == 1
        await page.press("stop")
        assert page.seen["result"].startswith("No still was taken")

    run(work())


def test_an_engine_that_is_away_for_a_moment_does_not_end_the_run(page: Page) -> None:
    async def work() -> None:
        await page.press("start")
        page.refusal = Trouble("the engine is away")
        await page.later(3.0)
        page.refusal = None
        await page.later(1.0)
        assert not page.seen["paused"]
        await page.press("next")
        assert page.lights() == [None, "key"]
        await page.stills.close()
        assert page.lights() == [None, "key", "off"]

    run(work())


@pytest.mark.parametrize(
    "raw", [{"key": "explode"}, {"key": "start", "seconds": 1e9}, {"key": "start", "x": 1}]
)
def test_what_is_no_key_is_refused(page: Page, raw: dict[str, Any]) -> None:
    with pytest.raises(Mistake, match="a run of stills has"):
        run(page.stills.receive({"kind": "stills", **raw}))


def test_over_the_link_it_goes_the_same_way(stand: Stand) -> None:
    stand.answers["stills"] = PLANNED
    link = stand.link(stand.paired())
    assert link.ask({"kind": "stills", "key": "start"}) == ""
    stand.wait(lambda: stand.done)
    assert stand.done[0] == ShowStill(words="1 of 3: every lamp out")
    assert link.ask({"kind": "still", "fixture": "key"}) == "a phone runs the show; it cannot do this"


def test_a_run_that_a_key_ends_between_two_looks_ends_without_a_fault(page: Page) -> None:
    async def work() -> None:
        await page.press("start")
        await page.later(0.3)
        await page.press("stop")
        await page.later(0.3)
        ticking = page.stills._ticking
        assert ticking is not None and ticking.done() and ticking.exception() is None

    run(work())
