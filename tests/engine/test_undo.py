"""Undo takes back what was done last, light or show, and says what that was."""

from __future__ import annotations

from pathlib import Path

import pytest

from onecrew.commands.command import Command, PlaybackCommand
from onecrew.commands.cues import PutCue, Store
from onecrew.commands.light import Edits, SetLight, Solo, Without
from onecrew.commands.running import Blackout, Go, Hold, Lock, Master, Recall
from onecrew.commands.scenes import NewScene, OpenScene, RenameScene
from onecrew.commands.session import Redo, Rename, Undo
from onecrew.commands.stills import ShowStill
from onecrew.commands.takes import TakeStart
from onecrew.engine import desk
from onecrew.engine.desk import Desk
from onecrew.engine.undo import Step, light_step
from onecrew.errors import Refused
from onecrew.playback.edits import edited
from onecrew.playback.state import Playback
from onecrew.show.load import load_show
from onecrew.show.profiles import load_profiles

PROFILES = load_profiles()
SHOW = load_show(Path(__file__).parents[1] / "fakes" / "kitchen.json", PROFILES)


class Hand:
    """A desk in cue 1, and somebody who does one thing every two seconds."""

    def __init__(self) -> None:
        self.now = 0.0
        self.desk = Desk(SHOW, PROFILES, 0.0)
        self.do(Recall(cue="1", fade_s=0.0))

    def do(self, *commands: Command, wait_s: float = 2.0) -> Hand:
        for command in commands:
            self.now += wait_s
            self.desk.carry_out(command, self.now)
        return self

    def sent(self, lamp: str) -> tuple[int, ...]:
        """What leaves for the lamp once everything has arrived."""
        self.now += 60.0
        self.desk.advance(self.now)
        reports = self.desk.encoder.report(self.desk.frame(self.now), 4300.0)
        return next(report.slots for report in reports if report.id == lamp)

    def level(self, lamp: str) -> float:
        return self.desk.playback.edited_look()[lamp].level


def window(**fields: float) -> SetLight:
    return SetLight(fixtures=("window",), **fields)


SAID: list[tuple[Command, str]] = [
    (window(level=0.12), "window 60 % → 12 %"),
    (window(level=0.22, cct_k=3400), "window 60 % 4300 K → 22 % 3400 K"),
    (SetLight(fixtures=("window", "van"), level=0.5), "window 60 % → 50 %, van 0 % → 50 %"),
    (Recall(cue="3"), "recall 3"),
    (Go(), "go to cue 2"),
    (Master(level=0.8), "master 100 % → 80 %"),
    (Store(cue="9", name="Late"), "store cue 9"),
    (Rename(name="The Day Baker"), "rename the show to The Day Baker"),
]


def test_the_words_of_a_step_are_made_after_its_frame(monkeypatch: pytest.MonkeyPatch) -> None:
    hand, made = Hand(), list[Command]()
    note = light_step

    def noted(command: PlaybackCommand, before: Playback, after: Playback, now: float) -> Step | None:
        made.append(command)
        return note(command, before, after, now)

    monkeypatch.setattr(desk, "light_step", noted)
    assert hand.desk.undo_words == "recall 1"
    made.clear()
    hand.do(window(level=0.12))
    hand.desk.slots(hand.now)
    assert not made
    assert hand.desk.undo_words == "window 60 % → 12 %"
    assert hand.desk.undo_words == "window 60 % → 12 %"
    assert made == [window(level=0.12)]


def test_steps_that_nobody_asked_for_meanwhile_are_all_there() -> None:
    hand = Hand().do(window(level=0.12), Master(level=0.8), Recall(cue="3"))
    words = [step.words for step in hand.desk.history.undo]
    assert words == ["recall 1", "window 60 % → 12 %", "master 100 % → 80 %", "recall 3"]


@pytest.mark.parametrize(("command", "said"), SAID)
def test_what_was_done_last_is_taken_back_and_done_again(command: Command, said: str) -> None:
    hand = Hand()
    before = (hand.sent("window"), hand.sent("van"), hand.desk.show, hand.desk.playback.cue)
    hand.do(command)
    assert hand.desk.undo_words == said
    hand.now += 0.5  # before anything follows by itself
    looked = hand.desk.playback.edited_look(), hand.desk.show, hand.desk.playback.cue
    hand.do(Undo(), wait_s=0.1)
    assert hand.desk.redo_words == said
    assert (hand.sent("window"), hand.sent("van"), hand.desk.show, hand.desk.playback.cue) == before
    hand.do(Redo())
    assert (hand.desk.playback.edited_look(), hand.desk.show, hand.desk.playback.cue) == looked


def test_light_and_show_are_taken_back_in_the_order_they_were_done() -> None:
    hand = Hand().do(window(level=0.3), Rename(name="B"), window(level=0.4))
    hand.do(Undo())
    assert (hand.level("window"), hand.desk.show.name) == (0.3, "B")
    hand.do(Undo())
    assert (hand.level("window"), hand.desk.show.name) == (0.3, SHOW.name)
    hand.do(Undo())
    assert hand.level("window") == 0.6
    assert edited(hand.desk.playback, hand.desk.compiled) == set()


def test_a_rename_is_taken_back_without_touching_the_light() -> None:
    hand = Hand().do(window(level=0.3), Rename(name="B"))
    playback = hand.desk.playback
    hand.do(Undo())
    assert hand.desk.playback.movement.goal is playback.movement.goal


@pytest.mark.parametrize("view", [Solo, Without])
@pytest.mark.parametrize("run", [Recall(cue="3", fade_s=0.0), Go()])
def test_a_cue_that_ended_solo_or_without_is_taken_back_with_it(
    view: type[Solo | Without], run: Command
) -> None:
    hand = Hand().do(view(fixtures=("window",)))
    before = hand.sent("window"), hand.sent("van"), hand.desk.playback.solo, hand.desk.playback.without
    hand.do(run)
    assert (hand.desk.playback.solo, hand.desk.playback.without) == ((), ())
    hand.do(Undo(), wait_s=0.1)
    assert before == (
        hand.sent("window"),
        hand.sent("van"),
        hand.desk.playback.solo,
        hand.desk.playback.without,
    )
    hand.do(Redo(), wait_s=0.1)
    assert (hand.desk.playback.solo, hand.desk.playback.without) == ((), ())


def test_a_stored_cue_that_is_taken_back_leaves_solo_as_it_is() -> None:
    hand = Hand().do(Solo(fixtures=("window",)), Store(cue="9"), Solo(), Undo())
    assert hand.desk.playback.solo == ()


def test_a_key_held_down_is_one_step() -> None:
    hand = Hand()
    for _ in range(20):
        hand.do(window(level_by=-0.01), wait_s=0.04)
    assert hand.desk.undo_words == "window 60 % → 40 %"
    assert hand.do(Undo()).level("window") == 0.6


def test_a_key_held_down_on_several_lamps_says_what_all_of_it_came_to() -> None:
    hand = Hand().do(SetLight(fixtures=("van",), level=0.2))
    for _ in range(20):
        hand.do(SetLight(fixtures=("window", "van"), lead="window", level_by=-0.01), wait_s=0.04)
    assert hand.desk.undo_words == "window 60 % → 40 %, van 20 % → 13.3 %"
    hand.do(Undo())
    assert (hand.level("window"), hand.level("van")) == (0.6, 0.2)


def test_faders_that_are_moved_at_the_same_time_are_a_step_each() -> None:
    hand = Hand().do(Store(cue="9", name="Late"))
    for turn in range(300):  # more than there are steps
        share = (10 + turn % 40) / 100
        van = SetLight(fixtures=("van",), level=share)
        hand.do(window(level=share), van, Master(level=1.0 - share), wait_s=0.01)
    words = [step.words for step in hand.desk.history.undo]
    assert words[-4:] == ["store cue 9", "window 60 % → 29 %", "van 0 % → 29 %", "master 100 % → 71 %"]
    hand.do(Undo(), Undo())
    assert (hand.level("window"), hand.level("van")) == (0.29, 0.0)
    hand.do(Undo(), Undo())
    assert hand.level("window") == 0.6 and hand.desk.undo_words == "recall 1"


def test_undo_takes_back_first_the_fader_that_was_moved_last() -> None:
    van = SetLight(fixtures=("van",), level=0.2)
    hand = Hand().do(window(level=0.1), van, window(level=0.3), wait_s=0.1)
    assert [step.words for step in hand.desk.history.undo][1:] == ["van 0 % → 20 %", "window 60 % → 30 %"]
    hand.do(Undo())
    assert (hand.level("window"), hand.level("van")) == (0.6, 0.2)


def test_a_lamp_that_others_were_moved_with_since_is_a_step_of_its_own() -> None:
    hand = Hand().do(window(level=0.1))
    hand.do(SetLight(fixtures=("window", "van"), level=0.2), window(level=0.3), wait_s=0.1)
    words = [step.words for step in hand.desk.history.undo]
    assert words[1:] == ["window 60 % → 10 %", "window 10 % → 20 %, van 0 % → 20 %", "window 20 % → 30 %"]


def test_two_lamps_or_a_pause_make_two_steps() -> None:
    hand = Hand().do(window(level=0.5)).do(SetLight(fixtures=("van",), level=0.5), wait_s=0.1)
    hand.do(Undo())
    assert (hand.level("window"), hand.level("van")) == (0.5, 0.0)
    hand.do(window(level=0.4), Undo())
    assert hand.level("window") == 0.5


def test_a_cue_that_is_taken_back_brings_its_edits_back() -> None:
    hand = Hand().do(window(level=0.3), Go(), Undo())
    assert (hand.desk.playback.cue, hand.level("window")) == ("1", 0.3)
    assert edited(hand.desk.playback, hand.desk.compiled) == {"window"}
    assert hand.desk.playback.kept == ()


def left() -> Hand:
    """A hand that left cue 1 with the window edited, and came back to it."""
    return Hand().do(window(level=0.3), Recall(cue="2", fade_s=0.0), Recall(cue="1", fade_s=0.0))


def offered(hand: Hand) -> dict[str, float]:
    return {name: light.level for name, light in dict(hand.desk.playback.kept).get("1", ())}


def test_edits_that_were_dropped_are_offered_again_by_undo() -> None:
    hand = left()
    assert offered(hand) == {"window": 0.3}
    hand.do(Edits(drop=True))
    assert offered(hand) == {} and hand.desk.undo_words == "edits of window dropped from cue 1"
    hand.do(Undo())
    assert offered(hand) == {"window": 0.3} and hand.level("window") == 0.6, "no light is changed"
    hand.do(Redo())
    assert offered(hand) == {}
    hand.do(Undo(), Edits())
    assert hand.level("window") == 0.3


def test_edits_that_were_brought_back_are_kept_again_by_undo() -> None:
    hand = left().do(Edits())
    assert (hand.level("window"), offered(hand)) == (0.3, {})
    hand.do(Undo())
    assert (hand.level("window"), offered(hand)) == (0.6, {"window": 0.3})
    hand.do(Redo())
    assert (hand.level("window"), offered(hand)) == (0.3, {})


def test_edits_are_given_back_to_the_cue_that_they_belong_to() -> None:
    hand = left().do(Edits(drop=True), window(level=0.2), wait_s=0.1).do(Undo(), Undo())
    assert offered(hand) == {"window": 0.3} and hand.level("window") == 0.6


def test_a_drop_in_the_middle_of_a_fade_is_taken_back_without_touching_the_light() -> None:
    hand = left().do(Recall(cue="2", fade_s=0.0), Recall(cue="1", fade_s=20.0), Edits(drop=True))
    before = hand.desk.playback
    hand.do(Undo(), wait_s=0.0)
    assert hand.desk.playback.movement is before.movement


def test_edits_are_edits_again_when_their_store_is_taken_back() -> None:
    hand = Hand().do(window(level=0.3), Store(replace=True))
    assert edited(hand.desk.playback, hand.desk.compiled) == set()
    hand.do(Undo())
    assert hand.desk.show == SHOW
    assert edited(hand.desk.playback, hand.desk.compiled) == {"window"}
    hand.do(Undo())
    assert hand.level("window") == 0.6


def test_a_locked_light_is_not_taken_back() -> None:
    hand = Hand().do(window(level=0.3), Lock(on=True))
    with pytest.raises(Refused, match="locked"):
        hand.do(Undo())
    assert hand.level("window") == 0.3
    hand.do(Lock(on=False), Undo())
    assert hand.level("window") == 0.6


def test_states_that_have_a_key_of_their_own_are_no_steps() -> None:
    hand = Hand().do(window(level=0.3), Blackout(), Blackout(), Hold(on=True), Hold(on=False), TakeStart())
    assert hand.desk.undo_words == "window 60 % → 30 %"


def test_edits_are_kept_with_their_cue_when_another_scene_is_opened() -> None:
    first = SHOW.scene
    hand = Hand().do(window(level=0.3), NewScene(name="Yard"), window(level=0.5), Store(cue="70"))
    assert offered(hand) == {"window": 0.3}
    hand.do(Recall(cue="70"), OpenScene(name=first), Recall(cue="1"))
    assert hand.level("window") == 0.6
    hand.do(Edits())
    assert hand.level("window") == 0.3


def test_a_scene_that_is_renamed_leaves_no_cue() -> None:
    hand = Hand().do(window(level=0.3), RenameScene(name="Another"))
    assert hand.desk.playback.cue == "1" and offered(hand) == {}


def test_a_scene_that_was_opened_and_taken_back_leaves_the_edits_where_they_were() -> None:
    hand = Hand().do(window(level=0.3), NewScene(name="Yard"), Undo())
    assert (hand.desk.playback.cue, hand.level("window"), offered(hand)) == ("1", 0.3, {})
    assert edited(hand.desk.playback, hand.desk.compiled) == {"window"}


@pytest.mark.parametrize(
    "there_and_back",
    [
        (Master(level=0.9), Master(level=1.0)),
        (Master(level=0.9), Master(level=0.8), Master(level=1.0)),
        (window(level=0.61), window(level=0.6)),
    ],
)
def test_what_went_there_and_back_is_no_step_of_its_own(there_and_back: tuple[Command, ...]) -> None:
    hand = Hand().do(window(level=0.3), Master(level=1.0), window(level=0.6))
    words = [step.words for step in hand.desk.history.undo]
    hand.do(there_and_back[0]).do(*there_and_back[1:], wait_s=0.1)
    assert [step.words for step in hand.desk.history.undo] == words


@pytest.mark.parametrize("comes", [False, True], ids=["in the delay", "once the light of the cue has come"])
def test_a_change_in_a_delay_is_taken_back_and_told_where_the_cue_has_other_light(comes: bool) -> None:
    hand = Hand()
    (two,) = (cue for cue in SHOW.cues if cue.number == "2")
    hand.do(PutCue(cue=two.model_copy(update={"delay_s": 20.0, "auto_follow_s": None})), Go())
    hand.do(window(level=0.12))
    if comes:
        hand.sent("window")
    hand.do(Undo())
    assert hand.level("window") == 0.6
    assert edited(hand.desk.playback, hand.desk.compiled) == ({"window"} if comes else set())


def test_a_key_held_down_for_seconds_is_one_step() -> None:
    hand = Hand()
    for step in range(1, 31):
        hand.do(window(level=0.6 - step / 100), wait_s=0.1)
    assert hand.desk.undo_words == "window 60 % → 30 %"
    assert hand.do(Undo()).level("window") == 0.6


def test_a_change_after_an_undo_does_not_join_the_one_before() -> None:
    hand = Hand().do(window(level=0.3)).do(SetLight(fixtures=("van",), level=0.5), Undo(), wait_s=0.2)
    hand.do(window(level=0.2), wait_s=0.2).do(Undo())
    assert hand.level("window") == 0.3
    assert hand.do(Undo()).level("window") == 0.6


def test_edits_that_were_brought_back_over_a_change_of_a_moment_ago_are_kept_again_by_undo() -> None:
    hand = left().do(window(level=0.5)).do(Edits(), wait_s=0.1)
    assert (hand.level("window"), offered(hand)) == (0.3, {})
    hand.do(Undo())
    assert (hand.level("window"), offered(hand)) == (0.5, {"window": 0.3})


def test_a_cue_that_is_taken_back_in_its_delay_does_not_come() -> None:
    hand = Hand()
    (two,) = (cue for cue in SHOW.cues if cue.number == "2")
    hand.do(PutCue(cue=two.model_copy(update={"delay_s": 20.0, "auto_follow_s": None})))
    before = hand.sent("window")
    hand.do(Go(), Undo())
    assert (hand.desk.playback.cue, hand.sent("window")) == ("1", before)


def test_an_undo_ends_a_still_so_that_nobody_waits_for_light_that_is_hidden() -> None:
    hand = Hand().do(window(level=0.12), ShowStill(), Undo(), wait_s=0.5)
    assert hand.desk.playback.still is None
    assert hand.level("window") == 0.6


def test_a_desk_that_follows_another_undoes_nothing_of_what_was_done_here_before() -> None:
    hand = Hand().do(window(level=0.12), Rename(name="mine"))
    hand.desk.follow(SHOW.model_copy(update={"name": "theirs"}), PROFILES, hand.now)
    with pytest.raises(Refused, match="nothing to undo"):
        hand.do(Undo())
    assert hand.desk.show.name == "theirs"
