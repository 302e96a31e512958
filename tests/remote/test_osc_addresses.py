"""The OSC address space: every command is in it, typed, and refused in words where it is not right."""

from __future__ import annotations

from typing import Any, get_args

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from controller.documents import commands as c
from controller.documents.commands import AnyCommand, SetLight
from controller.documents.hear import hear
from controller.documents.light import Effect
from controller.documents.show import Cue
from controller.errors import Mistake
from controller.remote.osc_addresses import command_of, find, methods
from controller.remote.osc_arguments import Value, shortest
from tests.remote.shows import small_show

SHOW = small_show()


def said(address: str, *values: Value) -> AnyCommand | None:
    """The command that a message is, after all checks; None for the release of a button."""
    raw = command_of(find(address, SHOW), values, SHOW)
    return None if raw is None else hear(raw)


def refusal(address: str, *values: Value) -> str:
    with pytest.raises(Mistake) as refused:
        said(address, *values)
    return str(refused.value)


def light(*lamps: str, **fields: Any) -> SetLight:
    return SetLight(fixtures=lamps, **fields)


FLAME = Effect(kind="flame", depth=0.3, seed=7)
IN_3_S = c.Recall(cue="2", fade_s=3.0)
NINE = Cue(number="9", name="Nine")

SOUND: list[tuple[str, tuple[Value, ...], AnyCommand]] = [
    ("/lampwright/go", (), c.Go()),
    ("/lampwright/go", (1.0,), c.Go()),
    ("/lampwright/back", (True,), c.Back()),
    ("/lampwright/recall", ("2.5",), c.Recall(cue="2.5")),
    ("/lampwright/recall", (2,), c.Recall(cue="2")),
    ("/lampwright/recall", (2.5, 4), c.Recall(cue="2.5", fade_s=4.0)),
    ("/lampwright/cue/2.5", (1,), c.Recall(cue="2.5")),
    ("/lampwright/cue/7", (), c.Recall(cue="7")),
    ("/lampwright/hold", (), c.Hold()),
    ("/lampwright/hold", (None,), c.Hold()),
    ("/lampwright/hold", (0,), c.Hold(on=False)),
    ("/lampwright/blackout", (1.0,), c.Blackout(on=True)),
    ("/lampwright/master", (0.800000011920929,), c.Master(level=0.8)),
    ("/lampwright/lock", (True,), c.Lock(on=True)),
    ("/lampwright/light/window/level", (0.15000000596046448,), light("window", level=0.15)),
    ("/lampwright/light/window/level", (1, 2), light("window", level=1.0, fade_s=2.0)),
    ("/lampwright/light/edge/cct", (2800,), light("edge", cct_k=2800.0)),
    ("/lampwright/light/key/tint", (-0.004,), light("window", duv=-0.004)),
    ("/lampwright/light/tone/white", (3200, 0.003, 5), light("tone", cct_k=3200.0, duv=0.003, fade_s=5.0)),
    ("/lampwright/light/room-tone/white", (3200,), light("tone", cct_k=3200.0)),
    ("/lampwright/light/tone/xy", (0.5, 0.4), light("tone", xy=(0.5, 0.4))),
    ("/lampwright/light/tone/effect", ("flame", None, 0.3, 7), light("tone", effect=FLAME)),
    ("/lampwright/light/tone/effect", ("none",), light("tone", effect="none")),
    ("/lampwright/light/tone/stops-by", (-0.5,), light("tone", stops_by=-0.5)),
    ("/lampwright/light/tone/level-by", (0.1,), light("tone", level_by=0.1)),
    ("/lampwright/light/tone/mired-by", (20,), light("tone", mired_by=20.0)),
    ("/lampwright/light/tone/tint-by", (0.001,), light("tone", duv_by=0.001)),
    ("/lampwright/light/all/level", (0,), light("window", "tone", "edge", "edge2", level=0.0)),
    ("/lampwright/light/edge*/level", (0.5,), light("edge", "edge2", level=0.5)),
    ("/lampwright/light/{tone,window}/level", (0.5,), light("window", "tone", level=0.5)),
    ("/*/light/*/leve?", (0.5,), light("window", "tone", "edge", "edge2", level=0.5)),
    ("/lampwright/solo", ("window", "room-tone"), c.Solo(fixtures=("window", "tone"))),
    ("/lampwright/without", (), c.Without()),
    ("/lampwright/identify", ("all",), c.Identify(fixtures=("window", "tone", "edge", "edge2"))),
    ("/lampwright/revert", ("edge2",), c.Revert(fixtures=("edge2",))),
    ("/lampwright/compare", (1,), c.Compare(on=True)),
    ("/lampwright/countdown", (10,), c.Countdown(seconds=10.0)),
    ("/lampwright/countdown", (10, "recall", 2, 3), c.Countdown(seconds=10.0, command=IN_3_S)),
    ("/lampwright/cancel-countdown", (), c.CancelCountdown()),
    ("/lampwright/take-start", ("A", "2"), c.TakeStart(setup="A", chain_from="2")),
    ("/lampwright/take-end", (1, "boom in shot"), c.TakeEnd(good=True, note="boom in shot")),
    ("/lampwright/store", (4, "Ovens on"), c.Store(cue="4", name="Ovens on")),
    ("/lampwright/put-cue", (NINE.model_dump_json(),), c.PutCue(cue=NINE)),
    ("/lampwright/remove-cue", ("2",), c.RemoveCue(number="2")),
    ("/lampwright/rename", ("The Night Baker",), c.Rename(name="The Night Baker")),
    ("/lampwright/undo", (), c.Undo()),
    ("/lampwright/note", ("sun is out", True), c.Note(text="sun is out", take=True)),
    ("/lampwright/stop", (2.5,), c.Stop(fade_s=2.5)),
    ("/lampwright/command", (light("tone", level=0.5).model_dump_json(),), light("tone", level=0.5)),
]  # fmt: skip


@pytest.mark.parametrize(("address", "values", "command"), SOUND)
def test_a_message_is_its_command(address: str, values: tuple[Value, ...], command: AnyCommand) -> None:
    assert said(address, *values) == command


def test_every_kind_of_command_has_an_address() -> None:
    reached = {method.kind for method in methods()}
    assert reached == {model.model_fields["kind"].default for model in get_args(AnyCommand)} | {""}


def test_every_field_of_every_command_can_be_sent() -> None:
    for model in get_args(AnyCommand):
        kind = model.model_fields["kind"].default
        sent = {argument.name for method in methods() if method.kind == kind for argument in method.arguments}
        sent |= {"xy", "effect", "fixtures"} if kind == "set" else set()
        assert set(model.model_fields) - {"kind"} <= sent


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
    assert said("/lampwright/go", released) is None
    assert said("/lampwright/cue/2", released) is None


WRONG = [
    ("/lampwright/go", ("now",), "pressed"),
    ("/lampwright/go", (1, 1), "2 arguments came"),
    ("/lampwright/go", (float("nan"),), "pressed"),
    ("/lampwright/master", (), "level is missing"),
    ("/lampwright/master", (1.5,), "1.5 is above 1"),
    ("/lampwright/master", (-0.001,), "is below 0"),
    ("/lampwright/master", (float("nan"),), "not a finite number"),
    ("/lampwright/master", (float("inf"),), "not a finite number"),
    ("/lampwright/master", ("half",), "a text"),
    ("/lampwright/master", (True,), "another kind"),
    ("/lampwright/master", (0.5, 0.5), "2 arguments came"),
    ("/lampwright/hold", (2,), "on or off"),
    ("/lampwright/recall", ("two",), "cue number"),
    ("/lampwright/recall", (float("inf"),), "not a finite number"),
    ("/lampwright/recall", (1e30,), "cue number"),
    ("/lampwright/cue/two", (), "cue number"),
    ("/lampwright/light/window/cct", (300,), "below 1000"),
    ("/lampwright/light/window/effect", ("disco",), "not a choice"),
    ("/lampwright/light/window/effect", ("flame", 1, 1, 1.5), "a whole number"),
    ("/lampwright/light/window/effect", ("flame", 1, 1, float("nan")), "not a finite number"),
    ("/lampwright/light/window/leve", (1,), "/lampwright/light/window/level"),
    ("/lampwright/solo", (1,), "not a text"),
    ("/lampwright/countdown", (10, "stop"), "countdown"),
    ("/lampwright/countdown", (10, "countdown", 10), "no command that can run later"),
    ("/lampwright/countdown", (10, 7), "no command that can run later"),
    ("/lampwright/put-cue", ("{",), "not JSON"),
    ("/lampwright/put-cue", ("[" * 5000,), "not JSON"),
    ("/lampwright/put-cue", ('{"number": "x"}',), "cue number"),
    ("/lampwright/command", ("7",), "no command"),
    ("/lampwright/command", ('{"kind": "explode"}',), "no kind of command"),
    ("/lampwright", (), "nothing at"),
    ("/", (), "nothing at"),
    ("/go", (), "nothing at"),
    ("/lampwright/g0", (), "perhaps /lampwright/go"),
    ("/lampwright/light/nobody*/level", (1,), "nothing fits"),
    ("/lampwright/light/w[indow/level", (1,), "cannot be read"),
    ("/lampwright/light/a/b/level", (1,), "nothing at"),
]  # fmt: skip


@pytest.mark.parametrize(("address", "values", "why"), WRONG)
def test_what_is_not_right_is_refused_in_words(address: str, values: tuple[Value, ...], why: str) -> None:
    assert why in refusal(address, *values)


@pytest.mark.parametrize(
    "pattern",
    ["/lampwright/*", "/*/*", "/lampwright/{go,stop}", "/lampwright/cue/*", "/lampwright/light/tone/*"],
)
def test_a_pattern_runs_no_more_than_one_command(pattern: str) -> None:
    assert "one command only" in refusal(pattern)


def test_a_pattern_that_fits_one_command_runs_it() -> None:
    assert said("/lampwright/g[n-p]") == c.Go()
    assert said("/lampwright/cue/2.*") == c.Recall(cue="2.5")


def test_a_role_that_is_also_a_name_means_the_lamp_of_that_name() -> None:
    assert said("/lampwright/light/edge/level", 0.5) == light("edge", level=0.5)


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
