"""A clock that starts anew, and a look that has just been stored."""

from __future__ import annotations

import pytest

from onecrew.commands.countdown import Countdown
from onecrew.commands.light import SetLight, Solo
from onecrew.commands.running import Go, Hold, Recall
from onecrew.commands.takes import TakeStart
from onecrew.playback.codec import rebase, shift
from onecrew.playback.compiled_show import compile_show
from onecrew.playback.edits import edited
from onecrew.playback.events import next_event, stored
from onecrew.playback.render import look_of
from onecrew.show.light import Effect
from tests.playback.stage import PROFILES, Stage, cue, show_of, stage


def fading() -> Stage:
    cues = [cue("1", {"key": 0.9}), cue("2", {"key": 0.1, "fill": 0.5}, auto_follow_s=9.0), cue("3", {})]
    desk = stage(("key", "fill"), cues, 5000.0).do(5000.0, Recall(cue="1", fade_s=0.0))
    desk.do(5000.0, SetLight(fixtures=("key",), effect=Effect(kind="flame", seed=3)))
    return desk.do(5010.0, Go(), Countdown(seconds=30.0), TakeStart())


@pytest.mark.parametrize("by_s", [-5000.0, -4096.0, 1e5])
@pytest.mark.parametrize("held", [False, True])
def test_a_shifted_playback_shows_then_what_it_showed_before(by_s: float, held: bool) -> None:
    desk = fading()
    if held:
        desk.do(5010.5, Hold())
    moved = Stage(desk.compiled, shift(desk.playback, by_s), desk.show)
    event = next_event(desk.playback)
    assert event is not None
    assert next_event(moved.playback) == pytest.approx(event + by_s)
    for now in (5010.5, 5011.0, 5011.9, 5013.0, 5020.0, 5041.0):
        assert moved.frame(now + by_s).level == pytest.approx(desk.frame(now).level, abs=1e-5)
        assert moved.playback.cue == desk.playback.cue


def test_a_look_stored_as_another_cue_is_that_cue_from_then_on() -> None:
    desk = fading().do(5015.0, SetLight(fixtures=("fill",), level=0.7))
    look = look_of(desk.playback, 5015.0, desk.compiled)
    documents = {name: light.model_dump(exclude_none=True) for name, light in look.items()}
    show = show_of(
        dict.fromkeys(("key", "fill"), "linear"), [cue("1", {}), cue("2.5", documents), cue("3", {})]
    )
    compiled = compile_show(show, PROFILES)
    playback = stored(rebase(desk.playback, desk.compiled, compiled), "2.5", 5015.0, compiled)
    after = Stage(compiled, playback, show)
    assert (playback.cue, playback.next) == ("2.5", "3")
    assert edited(playback, compiled) == set()
    assert after.frame(5016.0).level == pytest.approx(desk.frame(5016.0).level, abs=1e-9)


def test_a_look_stored_in_a_fade_leaves_a_solo_on() -> None:
    """Whoever works at one lamp alone is not dazzled by the others for having stored."""
    desk = fading().do(5010.5, Solo(fixtures=("fill",)))
    playback = stored(desk.playback, "2", 5011.0, desk.compiled)
    assert playback.solo == ("fill",)
    assert Stage(desk.compiled, playback, desk.show).level(5012.0, "key") == 0.0
