"""A grey card's run on Rig: pictures that come, keys, a closing check, and the look given back."""

from __future__ import annotations

import asyncio
from typing import Any

import pytest
from textual.widgets import Input

from onecrew.commands.rig import PutFixture
from onecrew.commands.stills import ShowStill
from onecrew.errors import Misuse
from onecrew.show.show import Reading
from onecrew.stills.guided import SETTLE_S
from onecrew.tui.dialogs.choose import Choose
from onecrew.tui.rig.grey_card import LOOK_EVERY_S, CardStills
from tests.fakes import bakery
from tests.fakes.answers import ANSWERS
from tests.fakes.engine_client import FakeClient
from tests.tui.driving import Desk, desk, drive

READING = Reading(asked_cct_k=4300, measured_cct_k=4400, measured_duv=0.004, light=1.0)
REFINED = READING.model_copy(update={"measured_cct_k": 4390.0})
"""What all stills say, those of the closing check among them."""
FIRST = [
    {"file": "", "lamp": None},
    {"file": "", "lamp": "oven", "cct_k": 4300.0, "duv": 0.0},
    {"file": "", "lamp": "hood", "cct_k": 4300.0, "duv": 0.0, "told_cct_k": 4210.0, "told_duv": 0.002},
]
CLOSING = [{"file": "", "lamp": "hood", "cct_k": 3700.0, "duv": 0.0, "how": "corrected"}]


class Engine:
    """A folder, and what the stills say; ``clips`` are pictures whose card is clipped."""

    def __init__(self, *, worse: bool = False, readings: int = 1, clips: tuple[str, ...] = ()) -> None:
        self.files: dict[str, list[int]] = {"former.jpg": [9, 9]}
        self.worse, self.readings, self.clips = worse, readings, clips
        self.refusal = self.no_folder = self.no_card = self.no_tint = ""
        self.broken: tuple[str, ...] = ()

    def client(self) -> FakeClient:
        answers = {**ANSWERS, "tint": self.tint, "pictures": self.pictures, "grey-card": self.grey_card}
        return FakeClient(bakery.show(), bakery.snapshot(), answers)

    def tint(self, fixture: str) -> dict[str, Any]:
        if self.no_tint:
            raise Misuse(self.no_tint)
        return {}

    def pictures(self, folder: str) -> dict[str, Any]:
        if self.no_folder:
            raise Misuse(self.no_folder)
        return {"folder": "/shows/cards", "files": dict(self.files)}

    def grey_card(self, **asked: Any) -> dict[str, Any]:
        if self.no_card:
            raise Misuse(self.no_card)
        if asked.get("look") in self.broken:
            raise Misuse(f"{asked['look']} is not a picture")
        if asked.get("look"):
            return {"clipped": "the card" if asked["look"] in self.clips else "", "light": 0.2}
        if self.refusal:
            raise Misuse(self.refusal)
        if "closing" in asked:
            lines = ["", "closing check, before: mean 0.0100"]
            return {"lines": lines, "worse": self.worse, "readings": [REFINED.model_dump(mode="json")]}
        if "stills" not in asked:
            return {"stills": FIRST}
        readings = [READING.model_dump(mode="json")] * self.readings
        return {"lines": ["before: mean 0.0080"], "readings": readings, "taken": FIRST, "stills": CLOSING}


async def begun(d: Desk) -> None:
    await d.press("equals_sign", "c", "enter")


async def later(d: Desk, seconds: float = SETTLE_S + 0.2) -> None:
    """Time goes by; the engine shows what was asked for last."""
    stills = [one for one in d.sent if isinstance(one, ShowStill)]
    await d.change(still=None if stills[-1].off else stills[-1].words)
    for _ in range(round(seconds / 0.1)):
        d.hands.now += 0.1
        if isinstance(d.app.screen, CardStills):
            d.app.screen.look()
        await d.settle()


async def comes(d: Desk, engine: Engine, name: str) -> None:
    """A picture comes, first a part of it."""
    await later(d)
    engine.files[name] = [1, 1]
    await later(d, LOOK_EVERY_S + 0.1)
    engine.files[name] = [2, 2]
    await later(d, 2 * LOOK_EVERY_S + 0.2)


def lights(d: Desk) -> list[tuple[Any, ...]]:
    return [
        ("off",) if one.off else (one.fixture, one.cct_k, one.output)
        for one in d.sent
        if isinstance(one, ShowStill) and not one.again
    ]


def question(d: Desk) -> dict[str, Any]:
    """What was asked last of the stills themselves."""
    return next(
        asked for topic, asked in reversed(d.client.asked) if topic == "grey-card" and not asked.get("look")
    )


@drive
async def test_pictures_that_come_take_the_stills_and_the_readings_are_stored_after_a_check() -> None:
    engine = Engine()
    async with desk(engine.client(), mode="rig") as d:
        await begun(d)
        assert "1 of 3: every lamp out" in d.page() and "when its picture comes" in d.page()
        for name in ("a.jpg", "b.jpg", "c.jpg"):
            await comes(d, engine, name)
        assert lights(d) == [(None, None, 1.0), ("oven", 4300.0, 1.0), ("hood", 4210.0, 1.0), ("off",)]
        asked = question(d)
        assert [one["file"] for one in asked["stills"]] == ["a.jpg", "b.jpg", "c.jpg"]
        assert asked["before"] == ["former.jpg"] and asked["folder"] == "/shows/cards"
        assert "before: mean 0.0080" in d.page()
        await d.press("enter")
        await comes(d, engine, "d.jpg")
        assert question(d)["closing"][0]["file"] == "d.jpg" and question(d)["readings"]
        assert "closing check, before: mean 0.0100" in d.page()
        await d.press("enter")
        (stored,) = [one for one in d.sent if isinstance(one, PutFixture)]
        assert (stored.fixture.id, stored.fixture.calibration) == ("hood", (REFINED,))
        assert "1 reading stored in hood: u takes that back." in d.page()
        assert lights(d)[-1] == ("off",)


@drive
async def test_a_lamp_without_a_tint_is_refused_before_anything_is_asked() -> None:
    engine = Engine()
    engine.no_tint = "hood has no tint of its own, so a camera's pictures could make it worse"
    async with desk(engine.client(), mode="rig") as d:
        await d.press("equals_sign", "c")
        assert engine.no_tint in d.page() and "Make hood look like" not in d.page()
        assert d.sent == []


@drive
async def test_what_is_typed_while_the_engine_is_asked_for_the_tint_is_meant_for_the_form() -> None:
    async with desk(Engine().client(), mode="rig") as d:
        await d.press("equals_sign")
        await d.type_ahead("c", "tint", "i", "a")  # on Rig these would identify the lamp and add one
        assert d.sent == [] and "Make hood look like" in d.page()
        assert d.app.screen.query_one("#field-0", Input).value.endswith("ia")


@drive
async def test_what_is_typed_while_the_run_is_planned_is_meant_for_the_run() -> None:
    async with desk(Engine().client(), mode="rig") as d:
        await d.press("equals_sign", "c")
        await d.type_ahead("enter", "pictures", "i")
        assert "1 of 3" in d.page()
        assert [type(one) for one in d.sent] == [ShowStill]


@drive
async def test_a_clipped_card_is_asked_for_again_with_half_the_light() -> None:
    engine = Engine(clips=("b.jpg",))
    async with desk(engine.client(), mode="rig") as d:
        await begun(d)
        await comes(d, engine, "a.jpg")
        await comes(d, engine, "b.jpg")
        assert lights(d)[-1] == ("oven", 4300.0, 0.5)
        assert "the card is clipped in b.jpg: once more at 50 %" in d.page()


@drive
async def test_a_second_picture_of_one_light_is_not_taken_for_the_next() -> None:
    engine = Engine()
    async with desk(engine.client(), mode="rig") as d:
        await begun(d)
        await later(d)
        engine.files |= {"a.jpg": [2, 2], "b.jpg": [2, 2]}
        await later(d, 1.2)
        assert "2 of 3" in d.page()
        await later(d, 2.0)
        assert "2 of 3" in d.page()
        await comes(d, engine, "c.jpg")
        await comes(d, engine, "d.jpg")
        assert [one["file"] for one in question(d)["stills"]] == ["a.jpg", "c.jpg", "d.jpg"]


@drive
async def test_a_file_that_is_no_picture_holds_up_no_other() -> None:
    engine = Engine()
    async with desk(engine.client(), mode="rig") as d:
        await begun(d)
        engine.broken = ("0.jpg",)
        await comes(d, engine, "0.jpg")
        await comes(d, engine, "a.jpg")
        assert "2 of 3" in d.page()


@drive
async def test_keys_take_stills_whose_pictures_are_copied_at_the_end() -> None:
    """Once a key has taken one, a picture that comes late is not taken for the next."""
    engine = Engine()
    async with desk(engine.client(), mode="rig") as d:
        await begun(d)
        await later(d)
        await d.press("pagedown")
        await comes(d, engine, "late.jpg")
        assert "2 of 3" in d.page()
        for _ in range(2):
            await later(d)
            await d.press("space")
        assert lights(d)[-1] == ("off",)
        assert "Copy the pictures of 3 stills into /shows/cards" in d.page()
        engine.refusal = "there are 1 pictures for 3 stills"
        await d.press("enter")
        assert "there are 1 pictures for 3 stills" in d.page()
        engine.refusal = ""
        await d.press("enter")
        assert [one["file"] for one in question(d)["stills"]] == [""] * 3
        assert all(one["taken"] for one in question(d)["stills"])
        assert "what was found" in d.page()


@pytest.mark.parametrize("stills", range(5))
def test_escape_at_any_point_stores_nothing_and_gives_the_look_back(stills: int) -> None:
    """In each still, at what was found (3), and in the closing check (4)."""

    @drive
    async def scene() -> None:
        engine = Engine()
        async with desk(engine.client(), mode="rig") as d:
            await begun(d)
            for n in range(min(stills, 3)):
                await comes(d, engine, f"{n}.jpg")
            if stills == 4:
                await d.press("enter")
                assert lights(d)[-1] == ("hood", 3700.0, 1.0)
                await d.press("escape")  # what was found before the check is there still
                assert "what was found" in d.page()
            await d.press("escape")
            if stills:
                assert "Drop what was read of hood?" in d.page()
                await d.press("escape")
                assert ("GREY CARD" if stills < 3 else "what was found") in d.page()
                await d.press("escape", "d")
            assert lights(d)[-1] == ("off",)
            assert not any(isinstance(one, PutFixture) for one in d.sent)
            assert "hood is as it was." in d.page()

    scene()


@drive
async def test_what_was_made_worse_is_left_unless_it_is_wanted() -> None:
    engine = Engine(worse=True)
    async with desk(engine.client(), mode="rig") as d:
        await begun(d)
        for name in ("a.jpg", "b.jpg", "c.jpg"):
            await comes(d, engine, name)
        await d.press("enter")
        await comes(d, engine, "d.jpg")
        await d.press("enter")
        assert not any(isinstance(one, PutFixture) for one in d.sent)
        assert "hood is as it was." in d.page()


@drive
async def test_where_nothing_is_sure_there_is_nothing_to_store() -> None:
    engine = Engine(readings=0)
    async with desk(engine.client(), mode="rig") as d:
        await begun(d)
        for name in ("a.jpg", "b.jpg", "c.jpg"):
            await comes(d, engine, name)
        assert "hood stays as it was" in d.page()
        await d.press("enter")
        assert not any(isinstance(one, PutFixture) for one in d.sent)
        assert not isinstance(d.app.screen, Choose)


@drive
async def test_the_lamp_itself_is_none_to_look_like() -> None:
    async with desk(Engine().client(), mode="rig") as d:
        await d.press("equals_sign", "c", *["backspace"] * 9, *"hood", "enter")
        assert "name one other lamp that hood is to look like" in d.page()
        assert not any(topic == "pictures" for topic, _ in d.client.asked)


@drive
async def test_a_folder_that_is_not_there_is_said_and_what_was_typed_stays() -> None:
    engine = Engine()
    engine.no_folder = "no pictures can come to /shows/cards: make that folder first"
    async with desk(engine.client(), mode="rig") as d:
        await d.press("equals_sign", "c", "tab", *"cards-9", "enter")
        assert engine.no_folder in d.page() and "cards-9" in d.page()
        assert lights(d) == []
        engine.no_folder = ""
        await d.press("enter")
        assert "1 of 3: every lamp out" in d.page()


@drive
async def test_a_card_that_is_nowhere_is_said_and_what_was_typed_stays() -> None:
    engine = Engine()
    engine.no_card = "region card is no rectangle; give x,y,width,height"
    async with desk(engine.client(), mode="rig") as d:
        await d.press("equals_sign", "c", "tab", "tab", *"mid,9", "enter")
        assert f"✗ {engine.no_card}" in d.page() and "mid,9" in d.page()
        assert lights(d) == []


async def all_by_key(d: Desk) -> None:
    """Every still is taken by a key, and the pictures are copied then."""
    await begun(d)
    for _ in FIRST:
        await later(d)
        await d.press("pagedown")
    assert "They are there" in d.page()


@drive
async def test_keys_that_come_while_the_stills_are_read_do_nothing() -> None:
    async with desk(Engine().client(), mode="rig") as d:
        await all_by_key(d)
        d.client.stalled = asyncio.Event()
        await d.press("enter")
        before = list(d.sent)
        await d.press("x", "enter", "pagedown", "u")
        assert "hood: the stills are being read" in d.page() and d.sent == before
        d.client.stalled.set()
        await d.until(lambda: "what was found" in d.page())
        assert d.sent == before


@drive
async def test_escape_while_the_stills_are_read_asks_and_the_answer_waits_for_that() -> None:
    async with desk(Engine().client(), mode="rig") as d:
        await all_by_key(d)
        d.client.stalled = asyncio.Event()
        await d.press("enter", "escape")
        assert "Drop what was read of hood?" in d.page()
        d.client.stalled.set()
        await d.settle()
        assert "Drop what was read of hood?" in d.page()
        await d.press("escape")
        await d.until(lambda: "what was found" in d.page())


@drive
async def test_the_last_picture_that_comes_under_the_question_of_escape_does_not_answer_it() -> None:
    engine = Engine()
    async with desk(engine.client(), mode="rig") as d:
        await begun(d)
        await comes(d, engine, "a.jpg")
        await comes(d, engine, "b.jpg")
        stills = d.app.screen
        assert isinstance(stills, CardStills)
        await d.press("escape")
        stills.run = stills.run.arrived("c.jpg", "", d.hands.now, "", 0.2)
        stills.follow()
        await d.settle()
        assert stills.run.over and "Drop what was read of hood?" in d.page()
        await d.press("escape")
        stills.look()
        await d.until(lambda: "what was found" in d.page())
