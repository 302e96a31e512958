"""The OSC address space: every command is in it, typed, and refused in words where it is not right."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from onecrew.commands.command import Command
from onecrew.commands.countdown import CancelCountdown, Countdown
from onecrew.commands.cue_list import CopyTimes, SetInCues
from onecrew.commands.cues import PutCue, RemoveCue, Store
from onecrew.commands.light import Compare, Identify, RaiseSlots, Revert, SetLight, Solo, Without
from onecrew.commands.running import Back, Blackout, Go, Hold, Lock, Master, Recall
from onecrew.commands.scenes import NewScene
from onecrew.commands.session import Rename, Stop, Undo
from onecrew.commands.table import TABLE, parse_command
from onecrew.commands.takes import Note, TakeEnd, TakeStart
from onecrew.errors import Mistake
from onecrew.osc.addresses import UNSAID, command_of, find, methods
from onecrew.osc.arguments import Value, shortest
from onecrew.show.light import Effect
from onecrew.show.show import Cue
from tests.phone.shows import small_show

SHOW = small_show()


def said(address: str, *values: Value) -> Command | None:
    """The command that a message is, after all checks; None for the release of a button."""
    raw = command_of(find(address, SHOW), values, SHOW)
    return None if raw is None else parse_command(raw)


def refusal(address: str, *values: Value) -> str:
    with pytest.raises(Mistake) as refused:
        said(address, *values)
    return str(refused.value)


def light(*lamps: str, **fields: Any) -> SetLight:
    return SetLight(fixtures=lamps, **fields)


FLAME = Effect(kind="flame", depth=0.3, seed=7)
IN_3_S = Recall(cue="2", fade_s=3.0)
NINE = Cue(number="9", name="Nine")
DIMMED = light("tone", level=0.5)

SOUND: list[tuple[str, tuple[Value, ...], Command]] = [
    ("/onecrew/go", (), Go()),
    ("/onecrew/go", (1.0,), Go()),
    ("/onecrew/back", (True,), Back()),
    ("/onecrew/recall", ("2.5",), Recall(cue="2.5")),
    ("/onecrew/recall", (2,), Recall(cue="2")),
    ("/onecrew/recall", (2.5, 4), Recall(cue="2.5", fade_s=4.0)),
    ("/onecrew/cue/2.5", (1,), Recall(cue="2.5")),
    ("/onecrew/cue/7", (), Recall(cue="7")),
    ("/onecrew/hold", (), Hold()),
    ("/onecrew/hold", (None,), Hold()),
    ("/onecrew/hold", (0,), Hold(on=False)),
    ("/onecrew/blackout", (1.0,), Blackout(on=True)),
    ("/onecrew/master", (0.800000011920929,), Master(level=0.8)),
    ("/onecrew/lock", (True,), Lock(on=True)),
    ("/onecrew/light/window/level", (0.15000000596046448,), light("window", level=0.15)),
    ("/onecrew/light/window/level", (1, 2), light("window", level=1.0, fade_s=2.0)),
    ("/onecrew/light/edge/cct", (2800,), light("edge", cct_k=2800.0)),
    ("/onecrew/light/key/tint", (-0.004,), light("window", duv=-0.004)),
    ("/onecrew/light/tone/white", (3200, 0.003, 5), light("tone", cct_k=3200.0, duv=0.003, fade_s=5.0)),
    ("/onecrew/light/ambience/white", (3200,), light("tone", cct_k=3200.0)),
    ("/onecrew/light/tone/xy", (0.5, 0.4), light("tone", xy=(0.5, 0.4))),
    ("/onecrew/light/tone/hue", (30, 0.800000011920929, 2), light("tone", hue=(30.0, 0.8), fade_s=2.0)),
    ("/onecrew/light/tone/colour", ("half cto",), light("tone", mired_by=109)),
    ("/onecrew/light/key/colour", ("Daylight", 2.5), light("window", cct_k=5600.0, duv=0.0033, fade_s=2.5)),
    ("/onecrew/light/tone/colour", ("h 30 80",), light("tone", hue=(30.0, 0.8))),
    ("/onecrew/light/tone/effect", ("flame", None, 0.3, 7), light("tone", effect=FLAME)),
    ("/onecrew/light/tone/effect", ("none",), light("tone", effect="none")),
    ("/onecrew/light/tone/stops-by", (-0.5,), light("tone", stops_by=-0.5)),
    ("/onecrew/light/tone/level-by", (0.1,), light("tone", level_by=0.1)),
    ("/onecrew/light/tone/mired-by", (20,), light("tone", mired_by=20.0)),
    ("/onecrew/light/tone/tint-by", (0.001,), light("tone", duv_by=0.001)),
    ("/onecrew/light/all/level", (0,), light("window", "tone", "edge", "edge2", level=0.0)),
    ("/onecrew/light/edge*/level", (0.5,), light("edge", "edge2", level=0.5)),
    ("/onecrew/light/{tone,window}/level", (0.5,), light("window", "tone", level=0.5)),
    ("/*/light/*/leve?", (0.5,), light("window", "tone", "edge", "edge2", level=0.5)),
    ("/onecrew/solo", ("window", "ambience"), Solo(fixtures=("window", "tone"))),
    ("/onecrew/without", (), Without()),
    ("/onecrew/identify", ("all",), Identify(fixtures=("window", "tone", "edge", "edge2"))),
    ("/onecrew/identify", ("edge", True), Identify(fixtures=("edge",), briefly=True)),
    ("/onecrew/revert", ("edge2",), Revert(fixtures=("edge2",))),
    ("/onecrew/raise", (1, 200, 0, 0.0, 255), RaiseSlots(universe=1, address=200, slots=(0, 0, 255))),
    ("/onecrew/raise", (1, 1, 9, "tone"), RaiseSlots(universe=1, address=1, slots=(9,), fixture="tone")),
    ("/onecrew/copy-times", (2, 4, "5.5"), CopyTimes(cue="2", to=("4", "5.5"))),
    ("/onecrew/set-in-cues", (2, "7", DIMMED.model_dump_json()), SetInCues(cues=("2", "7"), change=DIMMED)),
    ("/onecrew/new-scene", ("Two", 0, NINE.model_dump_json()), NewScene(name="Two", cues=(NINE,))),
    ("/onecrew/compare", (1,), Compare(on=True)),
    ("/onecrew/countdown", (10,), Countdown(seconds=10.0)),
    ("/onecrew/countdown", (10, "recall", 2, 3), Countdown(seconds=10.0, command=IN_3_S)),
    ("/onecrew/cancel-countdown", (), CancelCountdown()),
    ("/onecrew/take-start", ("A", "2"), TakeStart(setup="A", chain_from="2")),
    ("/onecrew/take-end", (1, "boom in shot"), TakeEnd(good=True, note="boom in shot")),
    ("/onecrew/store", (4, "Ovens on"), Store(cue="4", name="Ovens on")),
    ("/onecrew/put-cue", (NINE.model_dump_json(),), PutCue(cue=NINE)),
    ("/onecrew/remove-cue", ("2",), RemoveCue(number="2")),
    ("/onecrew/rename", ("The Night Baker",), Rename(name="The Night Baker")),
    ("/onecrew/undo", (), Undo()),
    ("/onecrew/note", ("sun is out", True), Note(text="sun is out", take=True)),
    ("/onecrew/stop", (2.5,), Stop(fade_s=2.5)),
    ("/onecrew/command", (light("tone", level=0.5).model_dump_json(),), light("tone", level=0.5)),
]  # fmt: skip


@pytest.mark.parametrize(("address", "values", "command"), SOUND)
def test_a_message_is_its_command(address: str, values: tuple[Value, ...], command: Command) -> None:
    assert said(address, *values) == command


def test_every_kind_of_command_has_an_address() -> None:
    reached = {method.kind for method in methods()}
    assert reached == set(TABLE) | {""}


def test_every_field_of_every_command_can_be_sent() -> None:
    for model in (row.model for row in TABLE.values()):
        kind = model.model_fields["kind"].default
        sent = {argument.name for method in methods() if method.kind == kind for argument in method.arguments}
        sent |= {"xy", "hue", "effect", "fixtures"} if kind == "set" else set()
        left_out = {"lead"} if kind == "set" else set()  # a surface with a fader a lamp has its own ratios
        assert set(model.model_fields) - set(UNSAID) - left_out <= sent


def test_no_two_methods_share_an_address() -> None:
    known = [method.address for method in methods()]
    assert len(set(known)) == len(known)


def test_names_and_arguments_of_a_method_are_what_osc_allows() -> None:
    # OSC 1.0, "OSC Address Spaces": names are printable ASCII without space # * , / ? [ ] { }.
    for method in methods():
        assert method.does
        for part in method.parts:
            assert part.isascii()
            assert not set(part) & set(" #*,/?[]{}")


@pytest.mark.parametrize("released", [0, 0.0, False])
def test_the_release_of_a_button_does_nothing(released: Value) -> None:
    assert said("/onecrew/go", released) is None
    assert said("/onecrew/cue/2", released) is None


WRONG = [
    ("/onecrew/light/tone/colour", (), "colour is missing"),
    ("/onecrew/light/tone/colour", (0.5,), "send a text"),
    ("/onecrew/light/tone/colour", ("pink",), "is no number"),
    ("/onecrew/light/tone/colour", ("22 daylight",), "more than a colour"),
    ("/onecrew/light/tone/hue", (30,), "saturation is missing"),
    ("/onecrew/light/tone/hue", (400, 0.5), "above 360"),
    ("/onecrew/go", ("now",), "pressed"),
    ("/onecrew/go", (1, 1), "2 arguments came"),
    ("/onecrew/go", (float("nan"),), "pressed"),
    ("/onecrew/master", (), "level is missing"),
    ("/onecrew/master", (1.5,), "1.5 is above 1"),
    ("/onecrew/master", (-0.001,), "is below 0"),
    ("/onecrew/master", (float("nan"),), "not a finite number"),
    ("/onecrew/master", (float("inf"),), "not a finite number"),
    ("/onecrew/master", ("half",), "a text"),
    ("/onecrew/master", (True,), "another kind"),
    ("/onecrew/master", (0.5, 0.5), "2 arguments came"),
    ("/onecrew/hold", (2,), "on or off"),
    ("/onecrew/recall", ("two",), "cue number"),
    ("/onecrew/recall", (float("inf"),), "not a finite number"),
    ("/onecrew/recall", (1e30,), "cue number"),
    ("/onecrew/cue/two", (), "cue number"),
    ("/onecrew/light/window/cct", (300,), "below 1000"),
    ("/onecrew/light/window/effect", ("disco",), "not a choice"),
    ("/onecrew/light/window/effect", ("flame", 1, 1, 1.5), "a whole number"),
    ("/onecrew/light/window/effect", ("flame", 1, 1, float("nan")), "not a finite number"),
    ("/onecrew/light/window/leve", (1,), "/onecrew/light/window/level"),
    ("/onecrew/solo", (1,), "not a text"),
    ("/onecrew/countdown", (10, "stop"), "countdown"),
    ("/onecrew/countdown", (10, "countdown", 10), "no command that can run later"),
    ("/onecrew/countdown", (10, 7), "no command that can run later"),
    ("/onecrew/put-cue", ("{",), "not JSON"),
    ("/onecrew/put-cue", ("[" * 5000,), "not JSON"),
    ("/onecrew/put-cue", ('{"number": "x"}',), "cue number"),
    ("/onecrew/command", ("7",), "no command"),
    ("/onecrew/command", ('{"kind": "explode"}',), "no kind of command"),
    ("/onecrew/command", ('{"kind": ["go"]}',), "no command"),
    ("/onecrew/raise", (1, 200, "x", "y"), 'slots: "x" is a text'),
    ("/onecrew/raise", (1, 200, 300), "above 255"),
    ("/onecrew/copy-times", (2,), "to is missing"),
    ("/onecrew/set-in-cues", ("2",), "cues is missing"),
    ("/onecrew/set-in-cues", ("2", "x"), "not JSON"),
    ("/onecrew", (), "nothing at"),
    ("/", (), "nothing at"),
    ("/go", (), "nothing at"),
    ("/onecrew/g0", (), "perhaps /onecrew/go"),
    ("/onecrew/light/nobody*/level", (1,), "nothing matches"),
    ("/onecrew/light/w[indow/level", (1,), "cannot be read"),
    ("/onecrew/light/a/b/level", (1,), "nothing at"),
]  # fmt: skip


@pytest.mark.parametrize(("address", "values", "why"), WRONG)
def test_what_is_not_right_is_refused_in_words(address: str, values: tuple[Value, ...], why: str) -> None:
    assert why in refusal(address, *values)


@pytest.mark.parametrize(
    "pattern",
    ["/onecrew/*", "/*/*", "/onecrew/{go,stop}", "/onecrew/cue/*", "/onecrew/light/tone/*"],
)
def test_a_pattern_runs_no_more_than_one_command(pattern: str) -> None:
    assert "one command only" in refusal(pattern)


def test_a_pattern_that_fits_one_command_runs_it() -> None:
    assert said("/onecrew/g[n-p]") == Go()
    assert said("/onecrew/cue/2.*") == Recall(cue="2.5")


def test_a_role_that_is_also_a_name_means_the_lamp_of_that_name() -> None:
    assert said("/onecrew/light/edge/level", 0.5) == light("edge", level=0.5)


@given(st.floats(0, 1).map(lambda level: round(level, 4)))
def test_a_level_survives_32_bits(level: float) -> None:
    import numpy as np

    assert shortest(float(np.float32(level))) == level  # numpy rounds to 32 bits


ANY_VALUE: st.SearchStrategy[Any] = st.one_of(
    st.none(), st.booleans(), st.integers(), st.floats(), st.text(max_size=10)
)


@settings(max_examples=300)
@given(
    st.sampled_from([method.address.replace("<lamp>", "tone").replace("<cue>", "2") for method in methods()]),
    st.lists(ANY_VALUE, max_size=5),
)
def test_any_arguments_are_a_command_or_a_sentence(address: str, values: list[Value]) -> None:
    try:
        said(address, *values)
    except Mistake as sentence:
        assert str(sentence)
