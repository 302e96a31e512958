"""What the header says of the outputs: the worst that is known."""

from __future__ import annotations

from typing import Any

import pytest

from onecrew.show.snapshot import OscState, OutputState, RemoteState, Saved, StandbyState
from onecrew.tui.base import health
from onecrew.tui.drawing.canvas import Canvas
from onecrew.tui.light.lamp_table import law_line
from onecrew.tui.shoot.now_next import draw_next
from onecrew.tui.words import outputs
from tests.fakes import bakery
from tests.fakes.engine_client import FakeClient
from tests.tui.driving import desk, drive

OK = OutputState(universe=1, to="127.0.0.1", state="ok", sent=9, errors=0)
QUIET = OK.model_copy(
    update={"error": "nobody answers at this address: is the lamp on, and on this network?"}
)
FAILING = OK.model_copy(update={"state": "failing", "error": "the network of this machine is down"})


def test_the_worst_of_all_outputs_is_told() -> None:
    assert outputs((OK,)) == ("output ok", True)
    assert outputs((QUIET,)) == ("nobody answers", False)
    assert outputs((OK, QUIET)) == ("nobody answers at 1 of 2", False)
    deaf = OK.model_copy(update={"error": "nothing listens there: is its network input on?"})
    assert outputs((deaf,)) == ("nothing listens", False)
    assert outputs((deaf, QUIET)) == ("nobody answers at 2 of 2", False)
    assert outputs((OK.model_copy(update={"error": "the last frame came late"}),)) == (
        "output in doubt",
        False,
    )
    assert outputs((QUIET, OK, FAILING)) == ("1 of 3 outputs failing", False)


def test_the_header_says_everything_that_is_wrong_the_worst_last() -> None:
    assert health(bakery.snapshot(), lost=False) == ("saved · output ok", True)
    assert health(bakery.snapshot(logged=Saved(ok=False)), lost=False) == ("no log, F6", False)
    osc = RemoteState(osc=OscState(state="failing"))
    assert health(bakery.snapshot(remote=osc), lost=False) == ("OSC failing", False)
    many = bakery.snapshot(saved=Saved(ok=False), outputs=(QUIET,), remote=osc)
    assert health(many, lost=False) == ("OSC failing · not saved, F6 · nobody answers, F4", False)
    over = bakery.snapshot(standby=StandbyState(part="main", taken_over=True))
    assert health(over, lost=False) == ("a standby is in control", False)


def test_a_level_says_what_the_law_of_its_lamp_makes_of_it() -> None:
    # IEC 62386-102: 10^(3 · (0.2 − 1)) = 0.398 % of full light, log₂ of which is −7.97 stops.
    light = bakery.light(0.2, 3200.0, (0.423, 0.399), "#ffd9a8", output=10 ** (3 * (0.2 - 1)))
    (said,) = law_line(light, "log")
    assert said.startswith("20 % gives −8.0 st, 0.4 % of full light: this lamp dims by a log law")
    assert law_line(light, "linear") == law_line(light, "") == []
    assert law_line(light.model_copy(update={"output": 1.0}), "square") == []


def test_times_of_the_next_cue_are_cut_at_a_whole_part() -> None:
    show = bakery.show()
    canvas = Canvas(40, 6)
    draw_next(canvas, bakery.snapshot(next="4", next_name="The baker turns", auto_follow_left_s=2.0), show, 3)
    last = "".join(text for _, text, _ in canvas.rows()[5]).strip()
    assert last == "auto-follow in 2.0 s, fade 2.0 s"


@pytest.mark.parametrize("size", [(80, 24), (140, 45)])
@drive
async def test_rig_says_what_to_look_at_the_worst_first(size: tuple[int, int]) -> None:
    ok = OK.model_copy(update={"universe": 2, "to": "127.0.0.2"})
    wrong = {"outputs": (ok, QUIET), "saved": Saved(ok=False, error="the disk is full")}
    async with desk(FakeClient(bakery.show(), bakery.snapshot(**wrong)), mode="rig", size=size) as d:
        page = d.page()
        assert "show: the disk is full" in page
        assert "nobody answers at this address: is the lamp on, and on this network?" in page
        assert (
            "not saved, F6 · nobody answers at 1 of 2, F4" in page or "nobody answers at 1 of 2, F4" in page
        )
        assert page.index("the disk is full") < page.index("127.0.0.1")


TROUBLE = [
    ({"saved": Saved(ok=False, error="disk full")}, "not saved, F6"),
    ({"outputs": (FAILING,)}, "output failing, F4"),
    ({"saved": Saved(ok=False, error="disk full"), "outputs": (FAILING,)}, "output failing, F4"),
]


@pytest.mark.parametrize(("state", "said"), TROUBLE)
@pytest.mark.parametrize("mode", ["shoot", "colour"])
@pytest.mark.parametrize("width", [74, 80, 100, 140])
@drive
async def test_trouble_in_the_header_covers_the_way_to_no_screen(
    width: int, mode: str, state: dict[str, Any], said: str
) -> None:
    async with desk(mode=mode, size=(width, 24)) as d:
        await d.change(**state)
        head = d.picture()[0]
        assert said in head
        assert all(f"F{key} " in head for key in (2, 3, 4, 6, 7, 8))
        assert f"▸{'F2 Shoot' if mode == 'shoot' else 'F8 Colour'} " in head
