"""A calibration on Rig: one lamp lit alone, readings typed, a closing check, and the light given back."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from onecrew.commands.light import RaiseSlots
from onecrew.commands.rig import PutFixture
from onecrew.commands.stills import ShowStill
from onecrew.errors import Misuse
from onecrew.show.show import EmitterReading, Reading
from tests.fakes import bakery
from tests.fakes.answers import ANSWERS
from tests.fakes.engine_client import FakeClient
from tests.tui.driving import Desk, desk, drive

EMITTERS = ("red", "green")
WHITES = (2700.0, 3200.0)
READING = Reading(asked_cct_k=2700, measured_cct_k=2650, measured_duv=0.0, light=800.0)


def engine(*, worse: bool = False, slots: tuple[int, ...] = (10, 20)) -> Callable[..., dict[str, Any]]:
    """Two whites, then a closing check of one light as it was and as it is corrected."""

    def answer(fixture: str, typed: list[str], check: list[str], emitters: bool) -> dict[str, Any]:
        assert not emitters
        for line in (*typed, *check):
            if line == "banana":
                raise Misuse("'banana' is not a number")
        step: dict[str, Any] = {"was": "", "remark": "", "checks": False, "of": 2}
        if len(typed) < 2 and "done" not in typed:
            at = len(typed)
            return {**step, "at": at, "name": f"{WHITES[at]:g} K", "light": {"cct_k": WHITES[at], "duv": 0.0}}
        if len(check) < 2 and "done" not in check:
            return {**step, "at": len(check), "name": "3000 K", "checks": True, "slots": list(slots)}
        lamp = next(one for one in bakery.show().rig.fixtures if one.id == fixture)
        kept = lamp.model_copy(update={"calibration": (READING,)})
        said = ["closing check, before: mean 0.0100"]
        return {"said": said, "worse": worse, "readings": 1, "fixture": kept.model_dump(mode="json")}

    return answer


def client(answer: Callable[..., dict[str, Any]] | None = None) -> FakeClient:
    return FakeClient(bakery.show(), bakery.snapshot(), {**ANSWERS, "calibration": answer or engine()})


def still(d: Desk) -> ShowStill:
    """The still that was asked for last, not counting that it is kept."""
    return next(one for one in reversed(d.sent) if isinstance(one, ShowStill) and not one.again)


async def settled(d: Desk) -> None:
    """The light is there, and the engine says so."""
    d.hands.now += 2.0
    await d.change(still=still(d).words)


async def read(d: Desk, *lines: str) -> None:
    for line in lines:
        await settled(d)
        await d.press(*line, "enter")


@drive
async def test_the_lamp_is_lit_alone_at_each_white_and_then_its_slots_for_the_check() -> None:
    async with desk(client(), mode="rig") as d:
        await d.press("equals_sign", "w")
        first = still(d)
        assert (first.fixture, first.output, first.cct_k, first.again) == ("hood", 1.0, 2700.0, False)
        assert "hood, 1 of 2: 2700 K" in d.page() and "look away" in d.page()
        await read(d, "2650 0.001 800")
        assert still(d).cct_k == 3200.0 and "2 of 2: 3200 K" in d.page()
        await read(d, "3150 0.001 800")
        assert (still(d).fixture, still(d).cct_k) == (None, None), "every lamp is out under the slots"
        hood = bakery.show().rig.fixtures[0]
        place = {"universe": hood.universe, "address": hood.address}
        assert d.sent[-1] == RaiseSlots(slots=(10, 20), fixture="hood", **place)
        assert "Closing check" in d.page()
        await read(d, "2990 0 800", "3000 0 800")
        assert still(d).off and RaiseSlots() in d.sent
        assert (
            "closing check, before: mean 0.0100" in d.page() and "Enter stores 1 reading in hood" in d.page()
        )
        await d.press("enter")
        (stored,) = [command for command in d.sent if isinstance(command, PutFixture)]
        assert stored.fixture.calibration == (READING,) and stored.fixture.id == "hood"
        assert "1 reading stored in hood: u takes that back." in d.page()


@drive
async def test_a_lamp_that_another_window_moves_meanwhile_is_not_moved_back_by_its_readings() -> None:
    async with desk(client(), mode="rig") as d:
        await d.press("equals_sign", "w")
        await read(d, "2650 0.001 800", "3150 0.001 800", "2990 0 800", "3000 0 800")
        show = bakery.show()
        moved = show.rig.fixtures[0].model_copy(update={"address": 300, "note": "moved"})
        rig = show.rig.model_copy(update={"fixtures": (moved, *show.rig.fixtures[1:])})
        await d.tell(show.model_copy(update={"rig": rig}))
        await d.press("enter")
        (stored,) = [command for command in d.sent if isinstance(command, PutFixture)]
        assert stored.fixture == moved.model_copy(update={"calibration": (READING,)})


@drive
async def test_the_light_is_asked_for_again_while_it_is_there() -> None:
    async with desk(client(), mode="rig") as d:
        await d.press("equals_sign", "w")
        await settled(d)
        dialog = d.app.screen
        before = len(d.sent)
        dialog.hold()  # type: ignore[attr-defined]
        await d.settle()
        again = [command.again for command in d.sent[before:] if isinstance(command, ShowStill)]
        assert again and all(again)
        await d.change(still=None)
        before = len(d.sent)
        dialog.hold()  # type: ignore[attr-defined]
        await d.settle()
        assert len(d.sent) == before, "what is gone is not asked for behind the person's back"
        assert "Something else changed the lamp" in d.page()


@drive
async def test_a_reading_of_a_light_that_was_taken_away_does_not_count() -> None:
    async with desk(client(), mode="rig") as d:
        await d.press("equals_sign", "w")
        await settled(d)
        await d.change(still=None)
        await d.press(*"2650 0 800", "enter")
        assert "nothing was taken" in d.page() and "1 of 2" in d.page()
        assert (still(d).cct_k, still(d).again) == (2700.0, False), "lit again"
        await read(d, "2650 0 800")
        assert "2 of 2" in d.page()


@drive
async def test_what_cannot_be_read_is_said_and_stays_to_be_corrected() -> None:
    async with desk(client(), mode="rig") as d:
        await d.press("equals_sign", "w")
        await read(d, "banana")
        assert "'banana' is not a number" in d.page() and "1 of 2" in d.page()
        await d.press(*["backspace"] * 6)
        await read(d, "2650 0 800")
        assert "2 of 2" in d.page()
        typed = [asked["typed"] for topic, asked in d.client.asked if topic == "calibration"]
        assert typed[-1] == ["2650 0 800"]


@pytest.mark.parametrize("lines", [(), ("2650 0 800",), ("a", "b"), ("a", "b", "c")])
def test_going_back_at_any_point_stores_nothing_and_gives_the_light_back(lines: tuple[str, ...]) -> None:
    @drive
    async def scene() -> None:
        async with desk(client(), mode="rig") as d:
            await d.press("equals_sign", "w")
            await read(d, *lines)
            lit = still(d)
            await d.press("escape")
            if lines:  # a second Escape goes on where one was
                assert "Drop what was read of hood?" in d.page()
                await d.press("escape")
                assert still(d) == lit and "what does the meter say" in d.page()
                await d.press("escape", "d")
            assert d.sent[-2:] == [RaiseSlots(), ShowStill(off=True)]
            assert not any(isinstance(command, PutFixture) for command in d.sent)
            assert "hood is as it was." in d.page()

    scene()


@drive
async def test_escape_at_what_was_found_asks_too() -> None:
    async with desk(client(), mode="rig") as d:
        await d.press("equals_sign", "w")
        await read(d, "a", "b", "c", "d")
        await d.press("escape", "g", "enter")
        assert any(isinstance(command, PutFixture) for command in d.sent)


@drive
async def test_enter_alone_is_no_reading() -> None:
    async with desk(client(), mode="rig") as d:
        await d.press("equals_sign", "w")
        await read(d, "")
        assert "Type what the meter says, or skip." in d.page() and "1 of 2" in d.page()


@drive
async def test_readings_that_make_it_worse_are_stored_only_after_a_yes() -> None:
    async with desk(client(engine(worse=True)), mode="rig") as d:
        await d.press("equals_sign", "w")
        await read(d, "a", "b", "c", "d")
        await d.press("enter")
        assert "Type yes to store" in d.page()
        assert not any(isinstance(command, PutFixture) for command in d.sent)
        await d.press(*"yes", "enter")
        assert any(isinstance(command, PutFixture) for command in d.sent)


@drive
async def test_a_lamp_that_cannot_be_calibrated_says_why() -> None:
    def refuses(**_: Any) -> dict[str, Any]:
        raise Misuse("hood has one white of its own: there is nothing to calibrate")

    async with desk(client(refuses), mode="rig") as d:
        await d.press("equals_sign", "w")
        assert "✗ hood has one white of its own" in d.page()
        assert d.app.screen is d.app.base_screen, "there is nothing to ask"
        assert not any(isinstance(command, ShowStill) and not command.off for command in d.sent)


def by_emitters(fixture: str, typed: list[str], check: list[str], emitters: bool) -> dict[str, Any]:
    """Two emitters, no closing check."""
    assert emitters
    if len(typed) < 2:
        step = {"was": "", "remark": "", "checks": False, "of": 2}
        return {
            **step,
            "at": len(typed),
            "name": f"{EMITTERS[len(typed)]} at 100 %",
            "slots": [len(typed), 255],
        }
    lamp = next(one for one in bakery.show().rig.fixtures if one.id == fixture)
    read = tuple(EmitterReading(emitter=one, level=1.0, xy=(0.3, 0.3), light=9.0) for one in EMITTERS)
    kept = lamp.model_copy(update={"calibration": (), "emitter_readings": read})
    return {"said": [], "worse": False, "readings": 2, "fixture": kept.model_dump(mode="json")}


@drive
async def test_each_emitter_is_raised_alone_while_every_lamp_is_out_and_its_readings_are_stored() -> None:
    async with desk(client(by_emitters), mode="rig") as d:
        await d.press("equals_sign", "e")
        for at, emitter in enumerate(EMITTERS):
            assert (still(d).fixture, still(d).output) == (None, 1.0), "every lamp is out under the slots"
            raised = next(one for one in reversed(d.sent) if isinstance(one, RaiseSlots))
            assert (raised.slots, raised.fixture) == ((at, 255), "hood")
            assert f"{at + 1} of 2: {emitter} at 100 %" in d.page()
            assert ".6902 .3081 812lx" in d.page() and "each emitter of this one" in d.page()
            await read(d, ".69 .31 812lx")
        assert still(d).off and "Enter stores 2 readings in hood" in d.page()
        await d.press("enter")
        (stored,) = [command for command in d.sent if isinstance(command, PutFixture)]
        assert [one.emitter for one in stored.fixture.emitter_readings] == list(EMITTERS)
        assert stored.fixture.calibration == ()
        assert "2 readings stored in hood: u takes that back." in d.page()


@drive
async def test_a_lamp_whose_emitters_cannot_be_lit_alone_is_refused_in_a_sentence() -> None:
    def refuses(**_: Any) -> dict[str, Any]:
        raise Misuse("hood mixes its light itself")

    async with desk(client(refuses), mode="rig") as d:
        await d.press("equals_sign", "e")
        assert "hood mixes its light itself" in d.page()
        assert not [command for command in d.sent if isinstance(command, PutFixture)]
