"""Rig: who else may command, and the code that lets a phone in."""

from __future__ import annotations

from onecrew.commands.network import SetRemote
from onecrew.show.show import Osc, Page, Remote
from tests.fakes import bakery
from tests.fakes.answers import ANSWERS
from tests.fakes.engine_client import FakeClient
from tests.tui.driving import desk, drive

PAIR = {
    "url": "https://192.0.2.7:9080/#ABCD2345",
    "page": "https://192.0.2.7:9080/",
    "code": "ABCD 2345",
    "good_for_s": 600.0,
    "here_only": False,
}


def client(remote: Remote | None = None) -> FakeClient:
    show = bakery.show().model_copy(update={"remote": remote or Remote()})
    return FakeClient(show, bakery.snapshot(), {**ANSWERS, "pair": PAIR})


@drive
async def test_the_remotes_are_set_and_shown() -> None:
    async with desk(client(), mode="rig", size=(140, 45)) as d:
        assert "OSC off" in d.text() and "phone page off" in d.text()
        await d.press("L", *"127.0.0.1:9001", "tab", *"192.0.2.3", "tab", "tab", *"192.0.2.7:9080", "enter")
        wanted = Remote(
            osc=Osc(listen="127.0.0.1:9001", allow=("192.0.2.3",)), page=Page(listen="192.0.2.7:9080")
        )
        assert d.sent == [SetRemote(remote=wanted)]
        await d.tell(bakery.show().model_copy(update={"remote": wanted}))
        assert "OSC at 127.0.0.1:9001" in d.text() and "phone page at 192.0.2.7:9080" in d.text()


@drive
async def test_feedback_that_nobody_could_receive_is_refused_in_the_form() -> None:
    async with desk(client(Remote(osc=Osc())), mode="rig") as d:
        await d.press("L", "tab", "tab", *"192.0.2.3", "enter")
        assert "has no port" in d.page() and "✓ ready" not in d.page() and d.sent == []


@drive
async def test_where_nobody_can_listen_is_refused_in_the_form_and_nothing_typed_is_lost() -> None:
    async with desk(client(), mode="rig") as d:
        await d.press("L", *"zz", "tab", "tab", "tab", *"192.0.2.7", "enter")
        assert '✗ "zz" has no port' in d.page() and d.sent == []
        await d.press("up", "up", "up", "ctrl+u", *"127.0.0.1:9001", "enter")
        assert '✗ "192.0.2.7" has no port' in d.page() and d.sent == []
        await d.press("down", "down", "down", "end", *":9080", "tab", "ctrl+u", "enter")
        wanted = Remote(osc=Osc(listen="127.0.0.1:9001"), page=Page(listen="192.0.2.7:9080"))
        assert d.sent == [SetRemote(remote=wanted)]


@drive
async def test_an_empty_line_takes_a_remote_away() -> None:
    async with desk(client(Remote(osc=Osc(), page=Page())), mode="rig") as d:
        await d.press("L", "backspace", "enter")
        assert d.sent == [SetRemote(remote=Remote(page=Page()))]


@drive
async def test_a_phone_is_let_in_by_a_code_on_the_screen() -> None:
    async with desk(client(), mode="rig") as d:
        await d.press("P")
        shown = d.picture()
        assert "ABCD 2345" in d.page() and "192.0.2.7" in d.page()
        assert sum("█" in row or "▀" in row for row in shown) >= 12, "the code itself, two modules to a row"
        await d.press("escape")
        assert "ABCD 2345" not in d.page() and d.sent == []


@drive
async def test_no_label_of_the_form_touches_what_is_typed() -> None:
    async with desk(FakeClient(bakery.show(), bakery.snapshot(), dict(ANSWERS)), mode="rig") as d:
        await d.press("L")
        await d.until(lambda: "phones trim lamps off" in d.page())
