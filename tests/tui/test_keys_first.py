"""Keys go first: a painting is drawn by parts, and a key is carried out between two of them."""

from __future__ import annotations

import asyncio
import gc
import os
import threading
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from typing import Any

import pytest
from rich.console import Console
from textual import events
from textual.drivers.headless_driver import HeadlessDriver
from textual.filter import Monochrome
from textual.geometry import Region
from textual.message import Message
from textual.widget import Widget

from onecrew.commands.light import SetLight
from onecrew.commands.running import Blackout
from onecrew.tui import theme
from onecrew.tui.app import OnecrewApp
from onecrew.tui.drawing.canvas import Canvas, CanvasWidget, Row
from onecrew.tui.shoot.layout import ShootBody
from onecrew.tui.terminal_input import with_quick_keys
from tests.fakes import bakery
from tests.fakes.answers import ANSWERS
from tests.fakes.engine_client import FakeClient
from tests.tui.driving import desk, drive

WIDE = (140, 45)


def client() -> FakeClient:
    return FakeClient(bakery.show(), bakery.snapshot(), dict(ANSWERS))


def key(name: str) -> events.Key:
    return events.Key({".": "full_stop"}.get(name, name), name)


@drive
@pytest.mark.parametrize("mode", ["shoot", "light", "colour"])
async def test_a_key_is_carried_out_before_the_painting_it_falls_into_is_done(mode: str) -> None:
    async with desk(client(), size=WIDE, mode=mode) as d:
        painting = asyncio.create_task(d.app.paint())
        await asyncio.sleep(0)
        d.app.post_message(key("."))
        assert d.sent == [Blackout()] and not painting.done()
        await painting


@drive
async def test_a_key_that_is_not_for_the_screen_keeps_those_after_it_behind_it() -> None:
    async with desk(client(), mode="light") as d:
        for name in ("tab", "4"):
            d.app.post_message(key(name))
        assert d.app.message_queue_size == 2, "the second would have overtaken the first"
        await d.settle()
        await d.press("enter")
        assert d.sent == [SetLight(fixtures=("hood",), level=0.04)]


@drive
async def test_what_a_key_has_drawn_is_not_undone_by_the_painting_it_fell_into() -> None:
    async with desk(client(), size=WIDE) as d:
        body = d.app.screen.query_one(ShootBody)
        begun = body.draw_again([])
        next(begun)  # the upper half is drawn, with the cue that shows now
        snapshot = bakery.snapshot(cue="9", cue_name="Later")
        d.client.snapshot = snapshot
        body.renew()
        drawn = body.text()
        assert list(begun) and body.text() == drawn


@drive
@pytest.mark.parametrize("mode", ["shoot", "light", "colour", "plan", "rig", "log"])
async def test_by_parts_is_drawn_what_is_drawn_at_a_stretch(mode: str) -> None:
    async with desk(client(), size=WIDE, mode=mode) as d:
        for drawn in d.app.screen.query(CanvasWidget):
            canvas, again = Canvas(*drawn.size), Canvas(*drawn.size)
            for _ in drawn.draw_by_parts(canvas):
                await asyncio.sleep(0)
            list(drawn.draw_by_parts(again))
            assert canvas.rows() == again.rows() and canvas.targets == again.targets


def lines(widget: CanvasWidget, crop: Region, *, by_textual: bool) -> list[str]:
    console = Console(color_system="truecolor")
    render: Any = Widget.render_lines if by_textual else CanvasWidget.render_lines
    return [strip.render(console) for strip in render(widget, crop)]


@drive
@pytest.mark.parametrize("room", theme.NAMES)
@pytest.mark.parametrize("plain", [False, True])
async def test_rows_are_those_that_textual_would_make_of_them(room: str, plain: bool) -> None:
    async with desk(client(), size=WIDE) as d:
        d.app.theme = room
        if plain:
            d.app._filters.append(Monochrome())
        for mode in ("shoot", "light", "colour", "log"):
            d.app.turn_to(mode)
            await d.settle()
            for widget in d.app.screen.query(CanvasWidget):
                width, height = widget.size
                if not width * height:
                    continue
                for crop in (Region(0, 0, width, height), Region(3, height // 2, width // 2, 1)):
                    assert lines(widget, crop, by_textual=False) == lines(widget, crop, by_textual=True)


def test_a_row_that_was_shown_goes_without_the_collector() -> None:
    gc.collect()
    gc.disable()
    try:
        for _ in range(20):
            (shown,) = Row([], 4).divide([4])
            assert shown.cell_length == 4
            del shown
        assert gc.collect() == 0
    finally:
        gc.enable()


@drive
async def test_the_terminal_hands_its_keys_over_in_order_by_one_turn_of_the_loop() -> None:
    async with desk(client()) as d:
        driver = with_quick_keys(HeadlessDriver)(d.app)
        for name in (".", "h", "."):
            reader = threading.Thread(target=driver.send_message, args=(key(name),))
            reader.start()
            reader.join()
        await asyncio.sleep(0)
        assert [command.kind for command in d.sent] == ["blackout", "hold", "blackout"]


class Terminal(HeadlessDriver):
    """A terminal that types what is written into a pipe."""

    def __init__(self, app: OnecrewApp) -> None:
        super().__init__(app)
        self.fileno, self.typed = os.pipe()
        self.exit_event = threading.Event()

    def run_input_thread(self) -> None:
        raise AssertionError("a pipe can be read in the loop")


@asynccontextmanager
async def typing(app: OnecrewApp) -> AsyncIterator[Any]:
    terminal: Any = with_quick_keys(Terminal)(app)
    terminal.start_application_mode()
    try:
        yield terminal
    finally:
        terminal.exit_event.set()
        terminal.run_input_thread()
        terminal.disable_input()
        os.close(terminal.fileno)


@drive
async def test_what_is_typed_is_read_in_the_loop_in_order_and_whatever_it_is() -> None:
    async with desk(client()) as d, typing(d.app) as terminal:
        os.write(terminal.typed, b".h\xff\xc3.")
        await d.until(lambda: len(d.sent) == 3)
        assert [command.kind for command in d.sent] == ["blackout", "hold", "blackout"]
        os.close(terminal.typed)
        await d.until(lambda: not d.app.is_running)


@drive
async def test_escape_alone_is_escape_and_before_letters_of_a_sequence_it_is_not() -> None:
    async with desk(client(), mode="light") as d, typing(d.app) as terminal:
        os.write(terminal.typed, b"22\x1b")
        await d.until(lambda: d.app.base_screen is not None and d.app.base_screen.entry == "22")
        await d.until(lambda: d.app.base_screen is not None and d.app.base_screen.entry is None)
        os.write(terminal.typed, b"\x1b[B5\r")
        await d.until(lambda: bool(d.sent))
        assert d.sent == [SetLight(fixtures=("lamp",), level=0.05)]
        os.close(terminal.typed)


@drive
async def test_a_fault_of_a_key_ends_the_screens_as_any_other_does() -> None:
    app = OnecrewApp(client())
    async with app.run_test():
        app.screen.take_key = _fails  # type: ignore[attr-defined]
        assert not app.post_message(key("h"))
        assert isinstance(app.bug, ZeroDivisionError)
        app._exception = None  # or the end of the run raises it


def _fails(_: Message) -> bool:
    raise ZeroDivisionError
