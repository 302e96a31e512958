"""Shoot: now, next, fade, countdown, take, lock and output health stand on the screen in digits and words."""

from __future__ import annotations

from typing import Any

import pytest

from onecrew.show.snapshot import CountdownState, FadeState, OutputState, Saved, TakeState
from onecrew.tui.drawing import block_digits
from tests.fakes import bakery
from tests.fakes.engine_client import FakeClient
from tests.tui.driving import WALL, desk, drive

SIZES = [(80, 24), (140, 45), (60, 16), (200, 60), (100, 30)]


def client(**state: Any) -> FakeClient:
    return FakeClient(bakery.show(), bakery.snapshot(**state))


@pytest.mark.parametrize("size", SIZES)
@drive
async def test_now_and_next_with_their_names(size: tuple[int, int]) -> None:
    async with desk(size=size) as d:
        text = d.text()
        for said in ("NOW", "Before four", "NEXT", "Ovens on", "fade in 4.0 s, out 6.0 s"):
            assert said in text, f"{said} is missing at {size}"


@pytest.mark.parametrize(
    ("state", "said"),
    [
        ({"fade": FadeState(progress=0.42, left_s=1.7)}, "fading 42 %, 1.7 s left"),
        ({"fade": FadeState(progress=0.42, left_s=1.7), "held": True}, "held at 42 %"),
        ({"countdown": CountdownState(left_s=7.3, command="go")}, "COUNTDOWN to go"),
        (
            {"countdown": CountdownState(left_s=7.3, command="start a take from black 2")},
            "COUNTDOWN to start a take fr…  LAMPS",
        ),
        ({"take": TakeState(setup="A", number=3, running=True, since=WALL - 75)}, "ROLLING 1:15"),
        ({"take": TakeState(setup="A", number=3, running=False, good=True)}, "cut · good"),
        ({"take": TakeState(setup="A", number=3, running=False)}, "setup A"),
        ({"take": TakeState(setup="By the oven, from the left", number=3, running=False)}, "By th…e left"),
        ({"auto_follow_left_s": 4.0}, "auto-follow in 4.0 s"),
        ({"master": 0.8}, "master 80 %"),
        ({"solo": ("street",)}, "solo: street"),
        ({"without": ("street",)}, "without: street"),
        ({"identify": ("street",)}, "identifying: street"),
        ({"comparing": True}, "comparing: the stored look is on"),
        ({"saved": Saved(ok=False, error="disk full")}, "not saved"),
        ({"cue": None, "cue_name": ""}, "no cue yet"),
        ({"next": None, "next_name": ""}, "the last cue"),
        ({"message": "output healed"}, "output healed"),
    ],
)
@drive
async def test_every_state_has_words(state: dict[str, Any], said: str) -> None:
    async with desk() as d:
        await d.change(**state)
        assert said in d.text()


@pytest.mark.parametrize("size", [(80, 24), (140, 45)])
@pytest.mark.parametrize("fade", [None, FadeState(progress=0.42, left_s=1.7)])
@drive
async def test_a_master_that_was_left_down_stands_in_block_letters_in_a_fade_too(
    size: tuple[int, int], fade: FadeState | None
) -> None:
    async with desk(size=size) as d:
        await d.change(master=0.0, fade=fade)
        assert all(any(line in row for row in d.picture()) for line in block_digits._word("MASTER 0%"))


@drive
async def test_output_health_names_the_fault() -> None:
    failing = OutputState(universe=1, to="192.0.2.7", state="failing", sent=9, errors=4, error="no route")
    async with desk(client(outputs=(failing,))) as d:
        assert "output failing" in d.text()


@drive
async def test_the_lamps_with_their_light() -> None:
    async with desk() as d:
        text = d.text()
        for said in ("hood     22 %", "3400 K", "lamp    3.5 %", "street! 8.0 %", "fridge    0 %"):
            assert said in text


@drive
async def test_lit_lamps_come_first() -> None:
    lights = dict(bakery.snapshot().lights)
    lights["hood"] = lights["hood"].model_copy(update={"level": 0.0})
    async with desk(client(lights=lights)) as d:
        text = d.text()
        assert text.index("lamp    3.5 %") < text.index("hood      0 %")


@drive
async def test_the_names_of_now_and_next_stand_in_block_letters_where_there_is_space() -> None:
    """Three rows of 45 are 11 mm on a 14-inch screen (16 : 9, 174 mm high; own arithmetic): over 6 mm."""
    async with desk(size=(140, 45)) as d:
        shown = d.picture()
        now, following = block_digits._word("BEFORE FOUR"), block_digits._word("OVENS ON")
        assert all(any(line in row for row in shown) for line in (*now, *following))


@drive
async def test_the_note_of_the_present_cue_is_the_prompter() -> None:
    show = bakery.show()
    cues = tuple(
        cue.model_copy(update={"note": "Turn on the bell"}) if cue.number == "2" else cue for cue in show.cues
    )
    fake = FakeClient(show.model_copy(update={"cues": cues}), bakery.snapshot())
    async with desk(fake) as d:
        assert "Turn on the bell" in d.text()
    async with desk(fake, size=(140, 45)) as d:
        assert all(any(line in row for row in d.picture()) for line in block_digits._word("TURN ON THE"))


@drive
async def test_the_cues_with_their_shortcuts() -> None:
    async with desk() as d:
        text = d.text()
        assert "▸ 2 Before four" in text
        assert "› 3 Ovens on" in text
        assert "x 6 Blackout" in text


@drive
async def test_names_cannot_reach_the_terminals_controls() -> None:
    async with desk(client(cue_name="\x1b[2J\x07gone")) as d:
        assert "\x1b" not in d.text()
        assert "·[2J·gone" in d.text()


@drive
async def test_the_room_shows_what_the_receiver_sees() -> None:
    class Seen:
        id, level, xy, cct_k, swatch = "hood", 0.33, (0.33, 0.34), 5584.0, "#d5e0ff"

    for size in ((80, 24), (140, 45)):
        async with desk(size=size, receiver=lambda: [Seen()]) as d:
            assert "RECEIVER SEES" in d.text()
            assert "33 %" in d.text() and "5584 K" in d.text()


@pytest.mark.parametrize("size", SIZES)
@drive
async def test_lock_hold_and_blackout_show_at_every_size(size: tuple[int, int]) -> None:
    """In big letters where there is room, in words where there is not."""
    async with desk(client(), size=size) as d:
        rest = d.picture()
        for state in ("locked", "held", "blackout"):
            await d.change(locked=False, held=False, blackout=False)
            await d.change(**{state: True})
            assert d.picture() != rest, state
        await d.change(locked=True, held=True, blackout=True)
        if size[0] <= 80:
            assert "LOCKED" in d.text() and "HELD" in d.text()
