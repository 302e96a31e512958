"""What playback says of itself: the look that shows, goals, fades; and the natural colour of lamps."""

from __future__ import annotations

import numpy as np
import pytest

from onecrew.commands.light import Identify, SetLight, Solo
from onecrew.commands.running import Blackout, Go, Master, Recall
from onecrew.playback.compiled_show import compile_show
from onecrew.playback.render import fade_state, goals, look_of
from onecrew.playback.state import begin
from onecrew.show.light import Light, White
from onecrew.show.profile import Profile
from onecrew.show.show import Show
from tests.playback.stage import Stage, cue, stage


def desk() -> Stage:
    looks: tuple[dict[str, object], ...] = (
        {"key": {"level": 0.4, "white": {"cct_k": 3210.5, "duv": 0.0012}}, "fill": {"level": 0.2}},
        {"key": {"level": 0.8, "white": {"cct_k": 5600}}, "edge": {"level": 0.3, "xy": (0.3, 0.2)}},
    )
    cues = [cue(str(number + 1), look) for number, look in enumerate(looks)]
    return stage(("key", "fill", "edge"), cues).do(0.0, Recall(cue="1", fade_s=0.0))


def test_the_look_of_a_cue_that_has_arrived_is_the_cues_look_exactly() -> None:
    room = desk()
    assert look_of(room.playback, 0.0, room.compiled) == room.show.cues[0].look
    room.do(1.0, Go())
    assert look_of(room.playback, 3.0, room.compiled) == room.show.cues[1].look


def test_it_leaves_out_what_only_lies_over_the_look() -> None:
    room = desk().do(
        1.0, Master(level=0.1), Solo(fixtures=("fill",)), Identify(fixtures=("key",)), Blackout()
    )
    assert look_of(room.playback, 2.0, room.compiled) == room.show.cues[0].look


def test_in_the_middle_of_a_fade_it_is_what_shows() -> None:
    room = desk().do(1.0, Go())
    look = look_of(room.playback, 2.0, room.compiled)
    assert look["key"].level == pytest.approx(0.6)
    assert look["fill"].level == pytest.approx(0.1)
    white = look["key"].white
    assert white is not None
    assert 1e6 / white.cct_k == pytest.approx((1e6 / 3210.5 + 1e6 / 5600) / 2)
    edge = look["edge"]
    assert edge.xy is not None and edge.xy == pytest.approx((0.3, 0.2), abs=1e-9)


def test_edits_are_in_it() -> None:
    room = desk().do(1.0, SetLight(fixtures=("edge",), level=0.5, cct_k=4000))
    assert look_of(room.playback, 1.0, room.compiled)["edge"] == Light(level=0.5, white=White(cct_k=4000))


def test_goals_are_where_the_fade_is_going() -> None:
    room = desk().do(1.0, Go(), Master(level=0.1))
    going = goals(room.playback)
    assert going.level.tolist() == [0.8, 0.0, 0.3]
    assert going.xy[2] == pytest.approx([0.3, 0.2], abs=1e-9)
    assert going.xy.shape == (3, 2)


def test_the_fade_that_shows_is_the_longest() -> None:
    room = desk()
    assert fade_state(room.playback, 0.5, room.compiled) is None
    room.do(1.0, Recall(cue="2", fade_s=8.0)).do(2.0, SetLight(fixtures=("fill",), level=1.0, fade_s=1.0))
    state = fade_state(room.playback, 3.0, room.compiled)
    assert state is not None
    assert (state.progress, state.left_s) == pytest.approx((0.25, 6.0))
    assert fade_state(room.playback, 9.0, room.compiled) is None


def test_a_change_at_once_that_does_not_show_yet_is_no_fade() -> None:
    """Clients see the moment of the latest frame; a command comes a little after it."""
    room = desk().do(1.0, SetLight(fixtures=("fill",), level=1.0))
    assert fade_state(room.playback, 0.99, room.compiled) is None
    room.do(1.0, Recall(cue="2", fade_s=8.0)).do(10.0, SetLight(fixtures=("fill",), level=0.1))
    assert fade_state(room.playback, 9.99, room.compiled) is None


def natural(
    emitters: dict[str, tuple[float, float]], channels: list[dict[str, object]]
) -> tuple[float, float, bool]:
    """CCT, Duv and whether it is a white: the colour of a lamp whose light names none."""
    profile = Profile.model_validate(
        {
            "id": "lamp",
            "name": "Invented",
            "emitters": {name: {"xy": xy} for name, xy in emitters.items()},
            "modes": [{"name": "m", "channels": channels}],
        }
    )
    fixture = {"id": "a", "profile": "lamp", "mode": "m", "universe": 1, "address": 1, "role": "key"}
    show = Show.model_validate({"name": "S", "rig": {"fixtures": [fixture]}, "cues": [cue("1", {"a": 0.5})]})
    compiled = compile_show(show, {"lamp": profile})
    room = Stage(compiled, begin(compiled, 0.0), show).do(0.0, Recall(cue="1", fade_s=0.0))
    frame = room.frame(0.0)
    return 1e6 / frame.mired[0], float(frame.duv[0]), bool(frame.white[0])


# CIE 15:2004: D65 at xy (0.3127, 0.3290) has a CCT of about 6504 K and Duv +0.0032 (table of illuminants).
D65 = (0.3127, 0.3290)
# Planckian 2700 K: xy (0.4599, 0.4106), CIE 1931 2° (from memory, recomputed by colour-science).
P2700 = (0.4599, 0.4106)


def test_a_lamp_with_one_emitter_has_its_emitters_colour() -> None:
    cct_k, duv, white = natural({"w": D65}, [{"dimmer": True}])
    assert white
    assert cct_k == pytest.approx(6504, abs=5)
    assert duv == pytest.approx(0.0032, abs=2e-4)


def test_a_lamp_that_mixes_has_the_white_nearest_to_all_its_light() -> None:
    emitters = {"r": (0.69, 0.308), "g": (0.17, 0.7), "b": (0.14, 0.05), "w": P2700}
    _, duv, white = natural(emitters, [{"emitter": name} for name in emitters])
    assert white
    assert duv == 0.0


def test_a_lamp_of_one_colour_keeps_it() -> None:
    _, _, white = natural({"r": (0.69, 0.308)}, [{"dimmer": True}])
    assert not white


def test_frames_are_in_rig_order_and_finite() -> None:
    room = desk().do(1.0, Go())
    frame = room.frame(2.0)
    assert room.compiled.ids == ("key", "fill", "edge")
    for name in ("level", "mired", "duv", "u", "v"):
        values = getattr(frame, name)
        assert values.shape == (3,)
        assert np.isfinite(values).all()
