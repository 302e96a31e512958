"""Light: every key's command, several lamps keeping their ratio, typed lights, storing."""

from __future__ import annotations

from typing import Any

import pytest
from textual.widgets import Input

from onecrew.commands.cues import PutCue, Store
from onecrew.commands.light import Compare, Edits, Identify, Revert, SetLight, Solo, Without
from onecrew.commands.running import Blackout, Go
from onecrew.commands.session import Redo, Undo
from onecrew.show.light import Effect
from onecrew.tui.light.layout import LightBody
from onecrew.tui.light.screen import Light
from tests.fakes import bakery
from tests.fakes.answers import ANSWERS
from tests.fakes.engine_client import FakeClient
from tests.tui.driving import Desk, desk, drive


def client(**state: Any) -> FakeClient:
    return FakeClient(bakery.show(), bakery.snapshot(**state), dict(ANSWERS))


def screen(d: Desk) -> Light:
    assert isinstance(d.app.base_screen, Light)
    return d.app.base_screen


@pytest.mark.parametrize(
    ("keys", "command"),
    [
        (["left"], SetLight(fixtures=("hood",), level_by=-0.01)),
        (["right"], SetLight(fixtures=("hood",), level_by=0.01)),
        (["minus", *"2s", "enter"], SetLight(fixtures=("hood",), stops_by=-2)),
        (["plus", *"0.5s", "enter"], SetLight(fixtures=("hood",), stops_by=0.5)),
        (
            [*"22", "space", *"in", "space", *"3s", "enter"],
            SetLight(fixtures=("hood",), level=0.22, fade_s=3.0),
        ),
        (["shift+left"], SetLight(fixtures=("hood",), stops_by=-1 / 3)),
        (["shift+right"], SetLight(fixtures=("hood",), stops_by=1 / 3)),
        (["w"], SetLight(fixtures=("hood",), mired_by=10)),
        (["c"], SetLight(fixtures=("hood",), mired_by=-10)),
        (["M"], SetLight(fixtures=("hood",), duv_by=0.001)),
        (["m"], SetLight(fixtures=("hood",), duv_by=-0.001)),
        (["down", "o"], Solo(fixtures=("lamp",))),
        (["up", "O"], Without(fixtures=("fridge",))),
        (["i"], Identify(fixtures=("hood",))),
        (["v"], Compare()),
        (["r"], Revert(fixtures=("hood",))),
        (["R"], Revert()),
        (["u"], Undo()),
        (["U"], Redo()),
        (["full_stop"], Blackout()),
        (["b"], Blackout()),
        (["pagedown"], Go()),
        ([*"15", "enter"], SetLight(fixtures=("hood",), level=0.15)),
        ([*"15", "space", *"56", "enter"], SetLight(fixtures=("hood",), level=0.15, cct_k=5600)),
        ([*"2800", "enter"], SetLight(fixtures=("hood",), cct_k=2800)),
        (["2", ".", "5", "enter"], SetLight(fixtures=("hood",), level=0.025)),
        (["1", "backspace", "7", "enter"], SetLight(fixtures=("hood",), level=0.07)),
        (["enter", "t", "minus", "3", "enter"], SetLight(fixtures=("hood",), duv=-0.003)),
        (["e", "x", *".45", "space", *".41", "enter"], SetLight(fixtures=("hood",), xy=(0.45, 0.41))),
        (["enter", "h", *"30", "space", *"80", "enter"], SetLight(fixtures=("hood",), hue=(30.0, 0.8))),
        ([*"h 30 80", "enter"], SetLight(fixtures=("hood",), hue=(30.0, 0.8))),
        ([*"x .45 .41", "enter"], SetLight(fixtures=("hood",), xy=(0.45, 0.41))),
        ([*"t -3", "enter"], SetLight(fixtures=("hood",), duv=-0.003)),
        (
            ["2", "2", "space", "h", *"30", "space", *"80", "enter"],
            SetLight(fixtures=("hood",), level=0.22, hue=(30.0, 0.8)),
        ),
        (["f", "f"], SetLight(fixtures=("hood",), effect=Effect(kind="flame"))),
        (["f", "n"], SetLight(fixtures=("hood",), effect="none")),
        (
            ["F", *"flame", "space", *"rate=1.5", "space", *"depth=60%", "enter"],
            SetLight(fixtures=("hood",), effect=Effect(kind="flame", rate=1.5, depth=0.6)),
        ),
        (["S", "enter"], Store(cue="7")),
        (["S", *"8 Street", "enter"], Store(cue="8", name="Street")),
        (["S", *"Dusk", "enter"], Store(cue="7", name="Dusk")),
        (["S", "2", "enter", "r"], Store(cue="2", replace=True)),
        (["S", *"2 Dusk", "enter", "r"], Store(cue="2", name="Dusk", replace=True)),
        (["S", "2", "enter", "n", *"9", "enter"], Store(cue="9")),
        (["s", "down", "s", "w"], SetLight(fixtures=("hood", "lamp"), mired_by=10)),
        (["A", "shift+right"], SetLight(fixtures=tuple(bakery.snapshot().lights), stops_by=1 / 3)),
        (["A", "A", "shift+right"], SetLight(fixtures=("hood",), stops_by=1 / 3)),
    ],
)
@drive
async def test_keys_become_one_command(keys: list[str], command: Any) -> None:
    async with desk(client(), mode="light") as d:
        await d.press(*keys)
        assert d.sent == [command]


@pytest.mark.parametrize(
    ("state", "key", "command"),
    [
        ({"solo": ("hood",)}, "o", Solo()),
        ({"solo": ("street",)}, "o", Solo(fixtures=("hood",))),
        ({"without": ("hood",)}, "O", Without()),
        ({"identify": ("hood",)}, "i", Identify()),
    ],
)
@drive
async def test_the_same_key_ends_it(state: dict[str, Any], key: str, command: Any) -> None:
    async with desk(client(**state), mode="light") as d:
        await d.press(key)
        assert d.sent == [command]


@drive
async def test_several_lamps_keep_their_ratio_when_a_level_is_typed() -> None:
    """In one command: one undo takes all of it back."""
    async with desk(client(), mode="light") as d:
        await d.press("s", "down", "s", "up", *"44 34", "enter")
        assert d.sent == [SetLight(fixtures=("hood", "lamp"), lead="hood", level=0.44, cct_k=3400)]


@drive
async def test_a_per_cent_on_several_lamps_keeps_their_ratio() -> None:
    async with desk(client(), mode="light") as d:
        await d.press("s", "down", "s", "right")
        assert d.sent == [SetLight(fixtures=("hood", "lamp"), lead="hood", level_by=0.01)]


@drive
async def test_an_equals_sign_makes_them_alike() -> None:
    async with desk(client(), mode="light") as d:
        await d.press("s", "down", "s", "=", *"30", "enter")
        assert d.sent == [SetLight(fixtures=("hood", "lamp"), level=0.3)]


@drive
async def test_from_a_dark_lamp_there_is_no_ratio_and_it_says_so() -> None:
    async with desk(client(), mode="light") as d:
        await d.press("up", "s", "up", "s", "down", *"30", "enter")
        assert d.sent == [SetLight(fixtures=("sky", "fridge"), lead="fridge", level=0.3)]
        assert "no ratio to keep" in d.text()


@drive
async def test_what_cannot_be_read_is_said_and_can_be_mended() -> None:
    async with desk(client(), mode="light") as d:
        await d.press(*"150", "enter")
        assert d.sent == []
        assert d.text().count("a white goes from 1000 to 25000 K") == 1
        assert "Not set: mend the line" in d.text()
        await d.press("0", "enter")
        assert d.sent == [SetLight(fixtures=("hood",), cct_k=1500)]


@drive
async def test_escape_drops_what_was_typed() -> None:
    async with desk(client(), mode="light") as d:
        await d.press(*"15", "escape")
        assert screen(d).entry is None and d.sent == []


@drive
async def test_while_typing_letters_are_no_keys_but_the_clicker_works() -> None:
    async with desk(client(), mode="light") as d:
        await d.press("1", "q", "s", "pagedown")
        assert screen(d).entry == "1qs" and d.sent == [Go()]


@pytest.mark.parametrize("name", ["overcast", "daylight"])
@drive
async def test_a_name_without_enter_says_that_its_letters_were_keys(name: str) -> None:
    async with desk(client(), mode="light") as d:
        await d.press(*name)
        assert "A name begins with Enter: the letters before this were keys." in d.page()
        await d.press("escape", "enter", *name, "x")
        assert "letters before this" not in d.page() and f"'{name}x' is no number" in d.page()


@pytest.mark.parametrize("typed", ["ha", "half ct", "tungs", "h 30", "t +", "15 ov"])
@drive
async def test_a_line_that_may_still_become_one_is_not_taken_for_the_rest_of_a_name(
    typed: str,
) -> None:
    async with desk(client(), mode="light") as d:
        await d.press(*typed)
        assert "letters before this" not in d.page()


@drive
async def test_what_was_typed_is_said_back_before_enter() -> None:
    async with desk(client(), mode="light") as d:
        await d.press(*"15", "space", *"56", "space", "plus", "3")
        assert "= level 15 %, 5600 K, tint +0.003 · Enter" in d.text()


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("31 99999", "31 99999▏ a white goes from 1000 to 25000 K; 56 is 5600 K, and 5600 works too"),
        ("31 56 +8 in 12s", "31 56 +8 in 12s▏ = level 31 %, 5600 K, tint +0.008 in 12 s · Enter"),
    ],
)
@drive
async def test_what_a_typed_line_means_wraps_where_it_would_be_cut(typed: str, said: str) -> None:
    async with desk(client(), mode="light", size=(80, 24)) as d:
        keys = {" ": "space", "+": "plus"}
        await d.press("s", "down", "s", "down", "s", *[keys.get(sign, sign) for sign in typed])
        assert said in d.page()


@drive
async def test_the_time_of_a_typed_light_is_said_back_too() -> None:
    async with desk(client(), mode="light") as d:
        await d.press("minus", *"2s", "space", *"in", "space", *"3s")
        assert "= −2 stops in 3.0 s · Enter" in d.text() and d.sent == []


@drive
async def test_a_time_holds_for_every_lamp_that_keeps_its_ratio() -> None:
    async with desk(client(), mode="light") as d:
        await d.press("s", "down", "s", "up", *"44", "space", *"in", "space", *"2s", "enter")
        await d.settle()
        assert [command.fade_s for command in d.sent] == [2.0]


@drive
async def test_enter_alone_sets_nothing() -> None:
    async with desk(client(), mode="light") as d:
        await d.press("enter", "enter", "w")
        assert d.sent == [SetLight(fixtures=("hood",), mired_by=10)]


@drive
async def test_a_three_lamp_look_in_20_keys() -> None:
    """The goal: a three-lamp look from the patch in at most 20 keystrokes."""
    keys = [*"22", "space", *"34", "enter", "down", *"4", "space", *"22", "enter", "down",
            *"9", "space", *"20", "enter", "S", "enter"]  # fmt: skip
    assert len(keys) <= 20
    async with desk(client(), mode="light") as d:
        await d.press(*keys)
        assert d.sent == [
            SetLight(fixtures=("hood",), level=0.22, cct_k=3400),
            SetLight(fixtures=("lamp",), level=0.04, cct_k=2200),
            SetLight(fixtures=("oven",), level=0.09, cct_k=2000),
            Store(cue="7"),
        ]


CUE = bakery.show().cue("2")
assert CUE is not None


@pytest.mark.parametrize(
    ("keys", "change"),
    [
        (["E", *"Dusk", "enter"], {"name": "Dusk"}),
        (["E", "tab", "y", "enter"], {"shortcut": "y"}),
        (["E", "tab", "backspace", "enter"], {"shortcut": None}),
        (["E", "tab", "tab", "5", "enter"], {"fade": CUE.fade.model_copy(update={"in_s": 5.0})}),
        (["E", *["tab"] * 3, *"0.5s", "enter"], {"fade": CUE.fade.model_copy(update={"out_s": 0.5})}),
        (["E", *["tab"] * 4, "s", "enter"], {"fade": CUE.fade.model_copy(update={"curve": "stops"})}),
        (["E", *["tab"] * 5, "1", "enter"], {"delay_s": 1.0}),
        (["E", *["tab"] * 6, "7", "enter"], {"auto_follow_s": 7.0}),
        (["E", *["tab"] * 7, "n", "enter"], {"flash_guard": False}),
        (["E", *["tab"] * 8, *"soft", "enter"], {"note": "soft"}),
    ],
)
@drive
async def test_a_cue_is_edited(keys: list[str], change: dict[str, Any]) -> None:
    async with desk(client(), mode="light") as d:
        await d.press(*keys)
        assert d.sent == [PutCue(cue=CUE.model_copy(update=change))]  # type: ignore[union-attr]


@pytest.mark.parametrize(
    ("key", "said"), [("h", "none of the keys of Shoot: Space"), ("3", "cue 3 has the shortcut 3 already")]
)
@drive
async def test_a_shortcut_that_cannot_be_is_refused(key: str, said: str) -> None:
    async with desk(client(), mode="light") as d:
        await d.press("E", "tab", key, "enter")
        assert d.sent == [] and said in d.page()


@drive
async def test_a_stored_look_is_replaced_by_no_key_but_its_own() -> None:
    async with desk(client(), mode="light") as d:
        await d.press("S")
        assert "To replace 2 Before four, type 2: you are asked first" in d.page()
        await d.press("2", "enter")
        assert "Cue 2 Before four is there already" in d.page() and d.sent == []
        await d.press("escape")
        assert d.sent == []
        await d.press("S", "2", "enter", "enter")  # Enter alone asks for another number
        await d.press("escape")
        assert d.sent == []


KEPT = {"2": ("hood", "lamp"), "3": ("oven",)}


@pytest.mark.parametrize("size", [(80, 24), (140, 45)])
@drive
async def test_edits_that_were_kept_are_offered(size: tuple[int, int]) -> None:
    async with desk(client(kept_edits=KEPT), mode="light", size=size) as d:
        assert "Edits of hood, lamp were not stored: Shift+K brings them back" in d.page()
        assert d.app.screen.query_one(LightBody).text().count("fridge")
        await d.press("K")
        assert "Edits of hood, lamp were not stored when cue 2 was left" in d.page()
        await d.press("b")
        assert d.sent == [Edits()]
        await d.press("K", "x")
        assert d.sent == [Edits(), Edits(drop=True)]
        await d.change(kept_edits={"3": ("oven",)})
        assert "not stored:" not in d.page()
        await d.press("K")
        await d.until(lambda: "No edits are kept with this cue" in d.page())
        assert len(d.sent) == 2


@drive
async def test_shoot_says_that_edits_are_kept() -> None:
    async with desk(client(kept_edits=KEPT), size=(140, 45)) as d:
        assert "edits kept of hood, lamp: Shift+K on F3" in d.page()


@drive
async def test_without_a_cue_there_is_nothing_to_edit() -> None:
    async with desk(client(cue=None), mode="light") as d:
        await d.press("E")
        assert d.sent == [] and "Shift+S stores this look as one" in d.text()


@drive
async def test_without_a_cue_the_next_number_is_offered() -> None:
    async with desk(client(cue=None), mode="light") as d:
        await d.press("S", "enter")
        assert d.sent == [Store(cue="7")]


@pytest.mark.parametrize(
    ("state", "by"),
    [
        ({"blackout": True}, "BLACKOUT"),
        ({"solo": ("hood",), "master": 0.5}, "SOLO and MASTER"),
        ({"without": ("hood",)}, "WITHOUT"),
    ],
)
@drive
async def test_a_look_stored_in_the_dark_says_that_all_of_it_is_stored(
    state: dict[str, Any], by: str
) -> None:
    said = f"All of the look is stored, whatever is dark by {by}."
    async with desk(client(**state), mode="light") as d:
        await d.press("S")
        await d.until(lambda: said in d.page())
        await d.press("enter")
        await d.until(lambda: said in d.page())
        assert d.sent == [Store(cue="7")]
    async with desk(client(), mode="light") as d:
        await d.press("S", "enter")
        assert "All of the look" not in d.page()


@drive
async def test_the_cursor_of_a_field_stands_still() -> None:
    async with desk(client(), mode="light") as d:
        await d.press("S")
        assert not d.app.screen.query_one(Input).cursor_blink


@drive
async def test_a_cue_that_shows_and_was_deleted_is_not_edited_and_not_denied() -> None:
    async with desk(FakeClient(bakery.show(), bakery.snapshot(cue="53"), dict(ANSWERS)), mode="light") as d:
        await d.press("E")
        assert "Cue 53 was deleted: Shift+S stores this look as one." in d.page()


@pytest.mark.parametrize("before", [[], ["s"]], ids=["under the cursor", "selected"])
@drive
async def test_a_line_that_is_typed_stays_with_its_lamp_when_that_is_deleted_elsewhere(
    before: list[str],
) -> None:
    async with desk(client(), mode="light") as d:
        await d.press(*before, "4", "4")
        show = d.client.show
        assert show is not None
        others = tuple(fixture for fixture in show.rig.fixtures if fixture.id != "hood")
        await d.tell(show.model_copy(update={"rig": show.rig.model_copy(update={"fixtures": others})}))
        assert "hood: 44" in d.text()
        await d.press("enter")
        assert d.sent == [SetLight(fixtures=("hood",), level=0.44)]  # the engine says that there is none


@drive
async def test_a_click_hands_a_line_that_is_typed_to_another_lamp() -> None:
    async with desk(client(), mode="light") as d:
        await d.press("4", "4")
        screen(d).clicked("lamp", "lamp")
        await d.press("enter")
        assert d.sent == [SetLight(fixtures=("lamp",), level=0.44)]
