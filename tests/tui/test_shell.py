"""The frame around every screen: header, banner, footer, help, palette, quitting, small terminals."""

from __future__ import annotations

import asyncio
from typing import Any

import pytest

from onecrew.commands.running import Recall
from onecrew.commands.session import SettleFile, Stop
from onecrew.engine.client import Healed, Lost
from onecrew.errors import Refused, Trouble
from onecrew.show.snapshot import RaisedState, Saved
from onecrew.tui.app import OnecrewApp
from onecrew.tui.base import BaseScreen
from onecrew.tui.everywhere import EVERYWHERE
from onecrew.tui.palette import Finder
from tests.tui.driving import desk, drive, until_quiet


def modes() -> list[str]:
    return list(OnecrewApp.MODES)


@pytest.mark.parametrize("size", [(40, 10), (59, 24), (80, 15), (10, 3)])
@drive
async def test_a_small_terminal_gets_one_clear_sentence(size: tuple[int, int]) -> None:
    async with desk(size=size) as d:
        shown = " ".join(d.text().split())
        if size[0] >= 40:
            assert shown == (
                "Make this window larger: onecrew needs 60 × 16 characters, and this is "
                f"{size[0]} × {size[1]}. The light stays, and the keys still work."
            )
        await d.press("3")
        assert d.sent == [Recall(cue="3")]


@drive
async def test_the_window_changes_size_at_any_moment() -> None:
    async with desk() as d:
        for size in ((40, 10), (140, 45), (61, 17), (300, 90), (80, 24)):
            await d.pilot.resize_terminal(*size)
            await d.until(lambda size=size: len(d.picture()) == size[1])  # type: ignore[misc]
        assert "Before four" in d.text()


@drive
async def test_the_engine_leaves_and_returns() -> None:
    async with desk() as d:
        await d.tell(Lost("the engine went away"))
        await d.until(
            lambda: (
                "The engine is not answering. Lamps hold what they were sent last; reconnecting." in d.page()
            )
        )
        assert "no engine" in d.text()
        await d.tell(Healed())
        await d.until(lambda: "not answering" not in d.page())
        assert "The engine is back." in d.text()


@drive
async def test_an_engine_stopped_elsewhere_is_told_from_one_that_went_away() -> None:
    async with desk() as d:
        await d.tell(Lost("the engine was stopped, the lights are out", stopped=True))
        await d.until(lambda: "The engine was stopped, the lights are out." in d.page())
        assert "Lamps hold" not in d.page()
        await d.press("q")
        assert d.sent == [] and d.app._exit  # nothing is left to ask about


@drive
async def test_a_banner_that_comes_back_says_what_is_now() -> None:
    async with desk() as d:
        await d.tell(Lost("the engine went away"))
        await d.until(lambda: "not answering" in d.page())
        await d.tell(Healed())
        await d.until(lambda: "not answering" not in d.page())
        d.hands.now += 1
        d.client.tell(Lost("the engine was stopped, the lights are out", stopped=True))
        for _ in range(300):  # nothing paints it a second time
            await asyncio.sleep(0.01)
            if "The engine is back" not in d.page():
                break
        await until_quiet(d.app)
        assert d.picture()[1].strip() == "The engine was stopped, the lights are out."
        assert "The engine is back" not in d.page()


@drive
async def test_a_flood_of_states_shows_the_last() -> None:
    async with desk() as d:
        for step in range(500):
            d.client.change(master=step / 1000)
        await d.settle()
        assert "master 50 %" in d.text()


@drive
async def test_q_asks_and_can_be_left() -> None:
    async with desk() as d:
        await d.press("q")
        assert any("Leave the lights on" in row for row in d.picture())
        await d.press("escape")
        assert d.sent == [] and d.app.is_running
        assert d.app._exit is False


@pytest.mark.parametrize("key", ["q", "ctrl+q", "ctrl+c"])
@drive
async def test_quitting_leaves_the_lights(key: str) -> None:
    async with desk() as d:
        await d.press(key)
        await d.press("l")
        assert d.sent == [] and d.app._exit


@drive
async def test_quitting_can_fade_to_black() -> None:
    async with desk() as d:
        await d.press("q", "f")
        assert d.sent == [Stop()] and d.app._exit


@drive
async def test_an_end_that_the_engine_wants_confirmed_is_asked_about_once_more() -> None:
    async with desk() as d:
        d.client.refusal = Refused("the desk is locked, and this ends its light: unlock first")
        await d.press("q", "f")
        await d.settle()
        assert "The desk is locked" in d.app.screen.question  # type: ignore[attr-defined]
        await d.press("enter")
        assert d.sent == [Stop()] and not d.app._exit
        await d.press("q", "f")
        d.client.refusal = None
        await d.press("e")
        assert d.sent == [Stop(), Stop(), Stop(confirmed=True)] and d.app._exit


@drive
async def test_something_slow_says_that_it_runs() -> None:
    async with desk() as d:
        d.client.stalled = asyncio.Event()
        await d.press("pagedown")
        d.app._show_busy("grey-card")
        await d.settle()
        assert "… still at work: grey card" in d.text()
        d.app._show_busy("go")
        await d.settle()
        assert "… still at work: go" in d.text()
        d.client.stalled.set()
        await d.settle()
        assert "… go" not in d.text()


RAISED = RaisedState(universe=1, address=41, slots=(0, 255), fixtures=("hood",))


@pytest.mark.parametrize(
    ("state", "said"),
    [
        ({"blackout": True}, "BLACKOUT: . ends it"),
        ({"master": 0.6}, "MASTER 60%: + on F2 raises it"),
        ({"raised": RAISED}, "RAISED: slots 1.41–42 of hood by hand, black as soon as that ends"),
        ({"solo": ("hood", "sky")}, "SOLO: hood, sky, o on F3 ends it"),
        ({"without": ("hood",)}, "WITHOUT: hood, Shift+O on F3 ends it"),
        ({"locked": True}, "LOCKED: l on F2 unlocks"),
        ({"held": True}, "HELD: h on F2 releases"),
    ],
)
@pytest.mark.parametrize("mode", [mode for mode in modes() if mode != "shoot"])
@drive
async def test_what_keeps_the_look_from_the_lamps_stands_across_the_screen(
    mode: str, state: dict[str, Any], said: str
) -> None:
    async with desk(mode=mode) as d:
        await d.change(**state)
        await d.until(lambda: d.picture()[1].strip() == said)
        await d.change(
            **{
                name: {bool: False, float: 1.0, RaisedState: None}.get(type(value), ())
                for name, value in state.items()
            }
        )
        await d.until(lambda: said not in d.page())


@drive
async def test_a_long_message_is_wrapped_and_not_cut() -> None:
    text = "the engine says something that is far longer than one line of a small window, and why"
    async with desk() as d:
        d.app.say(text, refused=True)
        await d.until(lambda: text in d.page())
        d.app.say("short")
        await d.until(lambda: d.picture()[-2].startswith(" · short"))


@drive
async def test_a_second_undo_of_the_same_kind_is_said_again() -> None:
    async with desk() as d:
        await d.change(message="undone: window 48 % → 12 %", said=1)
        assert "undone: window" in d.page()
        await d.press("u")
        assert "undone: window" not in d.page()
        await d.change(message="undone: window 48 % → 12 %", said=2)
        assert "undone: window" in d.page()


@pytest.mark.parametrize(
    ("fields", "stays"),
    [
        ({"message": ""}, True),  # another hand did something that has nothing to do with it
        ({"message": "", "cue": "2"}, False),
        ({"message": "", "kept_edits": {}}, False),
        ({"cue": "2"}, True),  # the engine says it still
    ],
)
@drive
async def test_an_offer_ends_with_what_it_is_about(fields: dict[str, Any], stays: bool) -> None:
    offer = "cue 1 has edits of window that were not stored; they can be brought back"
    async with desk() as d:
        await d.change(message=offer, said=1, cue="1", kept_edits={"1": ("window",)})
        await d.change(**fields)
        assert ((offer, False) == d.app.message) == stays


@pytest.mark.parametrize("mode", modes())
@drive
async def test_every_action_is_bound_in_the_help_and_in_the_palette(mode: str) -> None:
    async with desk(mode=mode) as d:
        face = d.app.base_screen
        assert face is not None
        bound = {
            binding.action
            for _, bindings in face._binding_chain
            for shared in bindings.key_to_bindings.values()
            for binding in shared
        }
        finder = Finder(face)
        offered = {name for name, _, _ in finder.entries()}
        await d.press("f1")
        page = d.app.screen.text  # type: ignore[attr-defined]
        assert face.ACTIONS, "a screen without actions"
        for action in (*face.ACTIONS, *EVERYWHERE):
            assert not action.keys or f"act('{action.name}')" in bound, action.name
            assert action.shown in page and action.words in page, action.name
            assert action.words in offered, action.name


@pytest.mark.parametrize("mode", modes())
def test_no_two_actions_share_a_key_or_a_name(mode: str) -> None:
    face = OnecrewApp.MODES[mode]
    keys = [key for action in (*face.ACTIONS, *EVERYWHERE) for key in action.keys]  # type: ignore[union-attr]
    names = [action.name for action in (*face.ACTIONS, *EVERYWHERE)]  # type: ignore[union-attr]
    assert len(keys) == len(set(keys))
    assert len(names) == len(set(names))


@drive
async def test_the_palette_reaches_cues_and_lamps() -> None:
    async with desk() as d:
        await d.press("ctrl+p")
        await d.press(*"recall", "space", *"cue", "space", "3")
        for _ in range(200):
            if any("Recall cue 3 Ovens on" in row for row in d.picture()):
                break
            await asyncio.sleep(0.01)
        await d.press("enter")
        for _ in range(200):
            if d.sent:
                break
            await asyncio.sleep(0.01)
        assert d.sent == [Recall(cue="3")]


@drive
async def test_the_footer_always_has_f1() -> None:
    for size in ((60, 16), (80, 24), (140, 45)):
        async with desk(size=size) as d:
            assert d.picture()[-1].rstrip().endswith("F1 all keys")


@drive
async def test_what_was_refused_while_the_engine_was_away_is_said_when_it_is_back() -> None:
    async with desk() as d:
        await d.tell(Lost("the engine went away"))
        d.client.refusal = Trouble("the engine is away")
        await d.press("h", "full_stop")
        d.client.refusal = None
        await d.tell(Healed())
        assert "The engine is back. Not done meanwhile: hold or release, blackout or back." in d.text()
        await d.tell(Lost("the engine went away"))
        await d.tell(Healed())
        assert "Not done meanwhile" not in d.text()


@drive
async def test_the_palette_settles_a_file_that_another_program_changed() -> None:
    async with desk() as d:
        screen = d.app.base_screen
        assert isinstance(screen, BaseScreen)
        assert not any(name.startswith("File") for name, _, _ in Finder(screen).entries())
        await d.change(saved=Saved(ok=False, error="changed by another program", outside=True))
        runs = [run for name, _, run in Finder(screen).entries() if name.startswith("File")]
        for run in runs:
            run()
        await d.settle()
        assert d.sent == [SettleFile(take=True), SettleFile(take=False)]
