"""Rig: an unknown lamp probed by keys, lamps found out one after the other, a GDTF file by its path."""

from __future__ import annotations

import re
from collections.abc import Callable
from itertools import groupby
from typing import Any
from unittest.mock import Mock, patch

import pytest
from textual import events

from onecrew.commands.light import AGAIN_S, RAMP_S, RISEN_S, Identify, RaiseSlots
from onecrew.commands.rig import PutFixture, SwapAddresses
from onecrew.engine.desk import Desk
from onecrew.engine.kinds import probe
from onecrew.engine.queries import profiles
from onecrew.fixtures.probe import Question, asked_so_far
from onecrew.fixtures.probe_answers import FROM_DARK, Answer
from onecrew.show.profiles import load_profiles
from onecrew.show.show import Fixture, Show
from onecrew.tui.rig.addresses import kinds_of, width_of
from onecrew.tui.rig.probing import Probing
from tests.fakes import bakery
from tests.fakes.answers import ANSWERS
from tests.fakes.engine_client import FakeClient
from tests.fakes.onlooker import Onlooker
from tests.tui.driving import desk, drive

KINDS = kinds_of(ANSWERS["profiles"])


def client(**answers: Any) -> FakeClient:
    return FakeClient(bakery.show(), bakery.snapshot(), {**ANSWERS, **answers})


def engine_probe(**arguments: Any) -> dict[str, Any]:
    """The engine's own answer."""
    answer = probe(Desk(Show(name="Empty"), load_profiles(), 0.0), arguments)
    assert isinstance(answer, dict)
    return answer


@drive
async def test_a_probed_lamp_is_patched_where_it_was_found() -> None:
    """A lamp of one slot that gives light is a dimmer; of the kinds alike, the first by name is offered."""
    fake = client(probe=engine_probe, profiles=profiles(Desk(Show(name="Empty"), load_profiles(), 0.0)))
    async with desk(fake, mode="rig") as d:
        await d.press("Q", *(["tab"] * 2), "1", "enter")
        assert any("Slot 1 of 1 goes up" in row for row in d.picture())
        await d.press("down", "enter")
        assert ("probe", {"width": 1, "skip": 0, "answers": ["warm"]}) in fake.asked
        assert any("1  dimmer" in row for row in d.picture())
        await d.press("enter")
        assert any("Patch a lamp" in row for row in d.picture())
        await d.press("enter")
        put = d.sent[-1]
        assert isinstance(put, PutFixture)
        assert (put.fixture.profile, put.fixture.universe) == ("spot-daylight", 1)
        assert RaiseSlots() in d.sent


@drive
async def test_the_last_answer_can_be_taken_back_where_what_was_found_is_shown() -> None:
    fake = client(probe=engine_probe)
    async with desk(fake, mode="rig") as d:
        await d.press("Q", *(["tab"] * 2), "1", "enter", "enter")
        assert any("1  nothing" in row for row in d.picture())
        await d.press("backspace")
        assert any("Slot 1 of 1 goes up" in row for row in d.picture())
        await d.press("down", "enter")
        assert any("1  dimmer" in row for row in d.picture())


@drive
async def test_the_form_says_what_it_needs_before_anything_is_typed() -> None:
    async with desk(client(), mode="rig") as d:
        await d.press("Q")
        assert "✗ type how many slots the lamp's mode has" in d.page()


@drive
async def test_from_the_box_to_a_patched_lamp_of_four_slots_in_twenty_keys() -> None:
    """Somebody looks at a lamp with a dimmer, red, green and blue, and types one letter of what is seen."""
    onlooker = Onlooker(load_profiles()["par-rgb"], "dimmer")
    fake = client(probe=engine_probe, profiles=profiles(Desk(Show(name="Empty"), load_profiles(), 0.0)))
    async with desk(fake, mode="rig") as d:
        keys = ["Q", "tab", "tab", "4", "enter"]
        await d.press(*keys)
        answers: list[Answer] = []
        while isinstance(now := asked_so_far(4, answers), Question):
            answers.append(onlooker.answer(now))
            pressed = ["enter"] if answers[-1] == now.answers[0] else [answers[-1][0], "enter"]
            await d.press(*pressed)
            keys += pressed
        await d.press("enter", "enter")
        assert len(keys) + 2 <= 20
        put = d.sent[-1]
        assert isinstance(put, PutFixture)
        assert (put.fixture.profile, put.fixture.mode) == ("par-rgb", "dimmer")


@drive
async def test_letters_go_to_an_answer() -> None:
    fake = client(probe=engine_probe)
    async with desk(fake, mode="rig") as d:
        await d.press("Q", *(["tab"] * 2), "3", "enter", *"gre", "enter", *"rb", "enter")
        assert fake.asked[-1][1]["answers"] == ["green", "blue"]
        await d.press(*"gl", "x", "enter")
        assert fake.asked[-1][1]["answers"] == ["green", "blue", "glows"]


@drive
async def test_a_click_on_a_key_of_a_probe_is_that_key() -> None:
    fake = client(probe=engine_probe)
    async with desk(fake, mode="rig") as d:
        await d.press("Q", *(["tab"] * 2), "2", "enter")
        for row, text in enumerate(d.picture()):
            if "this is what it does" in text:
                await d.pilot.click(offset=(text.index("this is"), row))
        await d.settle()
        assert fake.asked[-1] == ("probe", {"width": 2, "skip": 0, "answers": ["nothing"]})


@drive
async def test_what_flashes_is_taken_away_at_once_and_the_next_slot_waits_for_it() -> None:
    """Seconds of the timers: a movement begins no sooner after black than one lasts, and then takes its
    time."""
    waits: list[float] = []
    clock = [100.0]
    with (
        patch.object(Probing, "set_timer", lambda _, seconds, then: waits.append(seconds)),
        patch("onecrew.tui.rig.probing.monotonic", lambda: clock[0]),
    ):
        async with desk(client(probe=engine_probe), mode="rig") as d:
            await d.press(
                "Q", *(["tab"] * 2), "2", "enter", *(["down"] * FROM_DARK.index(Answer.FLASHES)), "enter"
            )
            raised = [one.slots for one in d.sent if isinstance(one, RaiseSlots)]
            assert [slots for slots, _ in groupby(raised)] == [(0, 0), (), (0, 0)]
            assert waits == pytest.approx([RISEN_S, RISEN_S + RAMP_S])


@drive
async def test_raised_slots_are_asked_for_again_and_again() -> None:
    ticks: list[Callable[[], None]] = []
    others = Probing.set_interval

    def keep(self: Probing, every: float, tick: Callable[[], None], **more: Any) -> object:
        return ticks.append(tick) if every == AGAIN_S else others(self, every, tick, **more)  # type: ignore[func-returns-value]

    with patch.object(Probing, "set_interval", keep):
        async with desk(client(probe=engine_probe), mode="rig") as d:
            await d.press("Q", *(["tab"] * 2), "2", "enter")
            before = len(d.sent)
            [tick] = ticks
            tick()
            await d.settle()
            assert [one.slots for one in d.sent[before:] if isinstance(one, RaiseSlots)] == [(0, 0)]


@drive
async def test_slots_climb_step_by_step_and_enter_is_the_step_of_that_moment() -> None:
    """The timers are wound by hand. Space takes the light away, and begins the climb again."""
    fake = client(probe=engine_probe)
    ticks: list[Callable[[], None]] = []

    async def tick() -> tuple[int, ...]:
        ticks.pop()()
        await d.settle()
        [*_, last] = [one.slots for one in d.sent if isinstance(one, RaiseSlots)]
        return last

    with patch.object(Probing, "set_timer", lambda _, seconds, then: ticks.append(then)):
        async with desk(fake, mode="rig") as d:
            await d.press("Q", *(["tab"] * 2), "4", "enter", *(["enter"] * 3))
            assert any("in 8 steps" in row for row in d.picture())
            assert await tick() == (31, 31, 31, 0)
            assert await tick() == (63, 63, 63, 0)
            await d.press("space")
            late, now = ticks.pop(), len(d.sent)
            late()
            await d.settle()
            assert len(d.sent) == now and d.sent[-1] == RaiseSlots()
            await d.press("space")
            assert await tick() == (63, 63, 63, 0)
            assert await tick() == (95, 95, 95, 0)
            await d.press("enter")
            assert fake.asked[-1][1]["answers"] == ["nothing", "nothing", "nothing", "3"]


@drive
async def test_keys_that_come_all_at_once_are_done_in_their_order() -> None:
    async with desk(client(probe=engine_probe), mode="rig") as d:
        await d.press("Q", "tab")
        for key in (*(["backspace"] * 3), *"101", "left", "2", "delete", "home", "3", "end", "4"):
            d.app.post_message(events.Key(key, key if len(key) == 1 else None))
        await d.settle()
        assert any(row.split()[1:3] == ["address", "31024"] for row in d.picture())


@drive
async def test_esc_ends_a_probe_in_black() -> None:
    fake = client(probe=engine_probe)
    async with desk(fake, mode="rig") as d:
        await d.press("Q", *(["tab"] * 2), "3", "enter", "escape")
        assert d.sent[-1] == RaiseSlots()


@drive
async def test_a_place_that_a_lamp_has_is_refused() -> None:
    fake = client(probe=engine_probe)
    async with desk(fake, mode="rig") as d:
        await d.press("Q", "tab", *(["backspace"] * 3), "1", "tab", "3", "enter")
        assert any("overlaps" in row for row in d.picture())
        assert not any(topic == "probe" for topic, _ in fake.asked)


@drive
async def test_the_walk_pulses_one_lamp_after_the_other_and_says_what_is_left() -> None:
    async with desk(client(), mode="rig") as d:
        rig = bakery.show().rig.fixtures
        names = [fixture.id for fixture in rig]
        await d.press("H", "o")
        assert any(f"Which lamp pulses in place of {names[0]}?" in row for row in d.picture())
        offered = width_of(rig[0], KINDS) == width_of(rig[1], KINDS) is not None
        await d.press("enter", *(["n"] if offered else []), *(["y"] * (len(names) - 1)))
        pulsed = [one.fixtures for one in d.sent if isinstance(one, Identify)]
        assert pulsed == [*((name,) for name in names), ()]
        assert any(f"{names[1]} is set to the address of {names[0]}" in row for row in d.picture())


@drive
async def test_an_answer_of_the_walk_is_taken_back_and_what_was_found_outlives_its_end() -> None:
    async with desk(client(), mode="rig") as d:
        one, two, three, *_ = (fixture.id for fixture in bakery.show().rig.fixtures)
        await d.press("H", "n", "n")
        assert f"{three} should pulse now" in _text(d.picture())
        await d.press("backspace")
        assert f"{two} should pulse now" in _text(d.picture())
        await d.press("y", "escape")
        said = _text(d.picture())
        assert f"{one} did not pulse: is its menu at mode" in said and f"{two} did not" not in said
        assert "universe 1: by sACN it" in said
        assert d.sent[-1] == Identify()


@drive
async def test_the_walk_that_is_ended_before_anything_was_found_says_nothing() -> None:
    async with desk(client(), mode="rig") as d:
        await d.press("H", "y", "escape")
        assert not any("Who is who" in row for row in d.picture())


@drive
async def test_a_lamp_pulses_as_long_as_the_walk_asks() -> None:
    """Again and again, and not beyond the end of the walk: the timer is wound by hand."""
    async with desk(client(), mode="rig") as d:
        ticks: list[Callable[[], None]] = []
        timer = Mock(stop=ticks.clear)
        with patch.object(d.app.screen, "set_interval", lambda _, tick: ticks.append(tick) or timer):  # type: ignore[func-returns-value]
            await d.press("H")
        briefly = Identify(fixtures=(bakery.show().rig.fixtures[0].id,), briefly=True)
        [tick] = ticks
        tick()
        await d.settle()
        assert [one for one in d.sent if isinstance(one, Identify)] == [briefly, briefly]
        await d.press("escape")
        assert d.sent[-1] == Identify() and ticks == []


@drive
async def test_two_lamps_of_as_many_slots_are_swapped_on_the_way() -> None:
    """The lamp that was meant is asked for again, at its new address; the other follows at its own turn."""
    one, other = _alike()
    async with desk(client(), mode="rig") as d:
        rig = bakery.show().rig.fixtures
        names = [fixture.id for fixture in rig]
        at, to = sorted((names.index(one.id), names.index(other.id)))
        await d.press("H", *(["y"] * at), "o", *(["down"] * (to - 1)), "enter")
        await d.until(lambda: "Swap the addresses of the two?" in _text(d.picture()))
        await d.press("y")
        assert SwapAddresses(id=names[at], with_id=names[to]) in d.sent
        asked = f"{names[at]} should pulse now"
        await d.until(lambda: asked in (text := _text(d.picture())) and f"address {rig[to].address}" in text)
        await d.press(*(["y"] * (len(names) - at)))
        await d.until(lambda: "Every lamp answers where it is patched." in _text(d.picture()))
        pulsed = [c.fixtures for c in d.sent if isinstance(c, Identify)]
        assert pulsed == [*((name,) for name in names[: at + 1]), *((name,) for name in names[at:]), ()]


def _text(picture: list[str]) -> str:
    """What the dialog in the middle of the screen says, its lines as one."""
    inside = [found[1] for row in picture if (found := re.search("│(.*)│", row)) is not None]
    return " ".join(" ".join(inside).split())


def _alike() -> tuple[Fixture, Fixture]:
    """Two lamps of the rig that take as many slots."""
    seen: dict[int | None, Fixture] = {}
    for fixture in bakery.show().rig.fixtures:
        width = width_of(fixture, KINDS)
        if width in seen:
            return seen[width], fixture
        if width is not None:
            seen[width] = fixture
    raise AssertionError("no two lamps take as many slots")


@drive
async def test_the_lamp_under_the_cursor_says_what_its_menu_needs() -> None:
    async with desk(client(), mode="rig", size=(140, 45)) as d:
        first = bakery.show().rig.fixtures[0]
        wanted = f"universe {first.universe}, address {first.address}"
        assert any("set its menu to mode" in row and wanted in row for row in d.picture())


@drive
async def test_a_file_is_imported_by_its_path_and_its_lines_are_shown() -> None:
    told = {"done": True, "lines": ["Maker@Panel.gdtf: written as panel", "  mode 8-bit: 4 slots"]}
    fake = client(**{"import": told})
    async with desk(fake, mode="rig") as d:
        await d.press("B", *"~/gdtf", "enter")
        assert ("import", {"path": "~/gdtf"}) in fake.asked
        assert any("written as panel" in row for row in d.picture())
        assert ("profiles", {"again": True}) in fake.asked
