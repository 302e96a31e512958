"""status in words says what the snapshot holds."""

from __future__ import annotations

from typing import Any

from onecrew.cli.status import lines
from onecrew.show.light import White
from onecrew.show.snapshot import (
    CountdownState,
    FadeState,
    LightState,
    OscState,
    OutputState,
    PageState,
    RaisedState,
    RemoteState,
    Saved,
    Snapshot,
    TakeState,
)

LIGHT = LightState(
    level=0.15,
    white=White(cct_k=5600.0, duv=0.003),
    xy=(0.33, 0.34),
    output=0.0225,
    slots=(38, 102),
    swatch="#ffeedd",
    edited=True,
    notes=("asked 2000 K, goes no lower than 2700 K",),
)


def told(**other: Any) -> str:
    fields: dict[str, Any] = {
        "show": "The Night Baker",
        "path": "night-baker.json",
        "revision": 1,
        "cue": "2",
        "cue_name": "Before dawn",
        "next": "3",
        "next_name": "Ovens on",
        "fade": FadeState(progress=0.62, left_s=1.14),
        "held": False,
        "locked": False,
        "blackout": False,
        "master": 0.8,
        "lights": {"window": LIGHT},
        "outputs": (
            OutputState(universe=1, to="192.0.2.7", state="failing", sent=7, errors=2, error="no route"),
        ),
        "engine_pid": 42,
    }
    return "\n".join(lines(Snapshot(**{**fields, **other})))


def test_cue_fade_and_master() -> None:
    said = told()
    for shown in ("The Night Baker", "engine 42", "2 Before dawn", "3 Ovens on", "62 %, 1.1 s left", "80 %"):
        assert shown in said
    assert "state" not in said.split("lamp")[0]
    quiet = told(cue=None, next=None, fade=None)
    for shown in ("no cue yet", "no cue after it", "none running"):
        assert shown in quiet


def test_lamps_with_level_colour_slots_and_notes() -> None:
    said = told()
    [row] = [line for line in said.splitlines() if line.startswith("window")]
    assert row.split() == [
        "window",
        "15.0",
        "%*",
        "2.25",
        "%",
        "5600",
        "K",
        "+0.0030",
        "#ffeedd",
        "38",
        "102",
    ]
    assert "window: asked 2000 K, goes no lower than 2700 K" in said
    tube = LIGHT.model_copy(update={"white": None, "slots": tuple(range(40))})
    said = told(lights={"tube": tube})
    assert "x 0.3300 y 0.3400" in said and "… 40 in all" in said


def test_outputs_with_state_and_error() -> None:
    [row] = [line for line in told().splitlines() if "192.0.2.7" in line]
    assert row.split() == ["1", "sacn", "192.0.2.7", "failing", "7", "2", "no", "route"]


def test_conditions_are_named() -> None:
    said = told(
        blackout=True,
        held=True,
        locked=True,
        comparing=True,
        solo=("window",),
        still="window is measured: red",
        raised=RaisedState(universe=1, address=41, slots=(0, 255), fixtures=("window",)),
        countdown=CountdownState(left_s=4.2, command="recall 3"),
        auto_follow_left_s=2.0,
        take=TakeState(setup="12A", number=3, running=True),
        saved=Saved(ok=False, error="the disk is full"),
    )
    for shown in (
        "blackout, held, locked, comparing, solo window",
        "window is measured: red, slots 1.41–42 of window raised by hand",
        "recall 3 in 4.2 s",
        "auto-follow in 2.0 s",
        "take 3 of setup 12A running",
        "not saved: the disk is full",
    ):
        assert shown in said


def test_remotes_are_told_where_there_are_any() -> None:
    assert "OSC" not in told()
    assert "phone" not in told()
    heard = OscState(
        state="listening", at="127.0.0.1:9001", heard=12, done=9, bad=1, refused=2, remark="/g: no"
    )
    served = PageState(state="listening", at="127.0.0.1:9080", phones=1)
    said = told(remote=RemoteState(osc=heard, page=served))
    assert "OSC: listening at 127.0.0.1:9001" in said
    assert "12 packets received, 9 commands done, 3 messages refused" in said
    assert "refused last: /g: no" in said
    assert "phone page: served at 127.0.0.1:9080, 1 phone connected" in said
    taken = PageState(state="failing", at="127.0.0.1:9080", error="the port is in use")
    assert "phone page: the port is in use" in told(remote=RemoteState(page=taken))


def test_names_do_nothing_to_the_terminal() -> None:
    said = told(show="The \x1b[2JBaker", cue_name="Dawn\x07\u202e", message="")
    assert "The \\u001b[2JBaker" in said
    assert said.replace("\n", "").isprintable()
