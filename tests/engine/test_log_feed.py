"""The log feed: what the engine tells it becomes lines of the log, in order, in words, never in the way."""

from __future__ import annotations

import errno
import json
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from onecrew.commands.command import Command
from onecrew.commands.countdown import CancelCountdown, Countdown
from onecrew.commands.cues import PutCue, RemoveCue, Store
from onecrew.commands.light import Compare, Identify, Revert, SetLight, Solo, Without
from onecrew.commands.rig import RemoveFixture
from onecrew.commands.running import Back, Blackout, Go, Hold, Lock, Master, Recall
from onecrew.commands.session import Redo, Rename, Undo
from onecrew.commands.takes import Note, TakeEnd, TakeRecord, TakeStart
from onecrew.engine import kept_log
from onecrew.engine.desk import Desk
from onecrew.engine.live import LiveFile
from onecrew.engine.log_feed import LogFeed
from onecrew.errors import Mistake, Refused
from onecrew.log.entries import from_line
from onecrew.log.happenings import Happening
from onecrew.log.recorded_state import RecordedState
from onecrew.log.takes import put_in_order
from onecrew.log.writer import Writer
from onecrew.playback.events import next_event
from onecrew.sheet.restore import restore
from onecrew.show.load import load_show
from onecrew.show.profiles import load_profiles
from onecrew.show.snapshot import OutputState, Saved

BAKERY = Path(__file__).parents[1] / "fakes" / "kitchen.json"
WALL = 1767621731.0
"""2026-01-05 14:02:11 UTC, where the monotonic clock stands at 0."""


class Paper(Writer):
    """A writer that keeps what it is handed."""

    def __init__(self) -> None:
        super().__init__(Path("nowhere"), lambda _: None)
        self.lines: list[dict[str, Any]] = []
        self.full = False
        """The disk takes nothing."""

    def put(self, line: bytes) -> None:
        self.lines.append(json.loads(line))
        if self.full:
            self._lines.append(line)

    def finish(self, timeout_s: float) -> bool:
        return not self.full


class Engine:
    """Desk and log feed as the engine ties them together, on a clock that is set by hand."""

    def __init__(self, path: Path, outliving: LiveFile | None = None) -> None:
        profiles = load_profiles()
        self.now = 0.0
        self.paper = Paper()
        self.said: list[str] = []
        self.desk = Desk(load_show(BAKERY, profiles), profiles, 0.0)
        self.outputs: tuple[OutputState, ...] = ()
        self.log_feed = LogFeed(
            path,
            self.said.append,
            wall=lambda: WALL + self.now,
            clock=lambda: self.now,
            writer=self.paper,
            outliving=outliving,
        )

    def begin(self, kept_at: float | None = None, sent_at: float | None = None) -> Engine:
        self.log_feed.begin(self.desk, self.now, lambda function, *a: function(*a), kept_at, sent_at)
        return self

    def send(self, command: Command) -> None:
        self.advance()
        before, revision = self.desk.playback, self.desk.revision
        self.desk.carry_out(command, self.now)
        self.log_feed.heard(command, before, revision, self.desk, self.now)
        self.frame()

    def advance(self) -> None:
        while (due := next_event(self.desk.playback)) is not None and due <= self.now:
            before = self.desk.playback
            self.desk.advance(due)
            self.log_feed.passed(before, self.desk, due)

    def wait(self, seconds: float) -> None:
        self.now += seconds
        self.advance()
        self.frame()

    def frame(self) -> None:
        self.log_feed.frame(self.desk, self.now, self.now, lambda: self.outputs)

    def told(self, *kinds: str) -> list[str]:
        return [line["text"] for line in self.paper.lines if not kinds or line["kind"] in kinds]


@pytest.fixture
def engine(tmp_path: Path) -> Engine:
    return Engine(tmp_path / "x.log.jsonl").begin()


# ── What is logged ────────────────────────────────────────────────────────────────────────────────────

TOLD: list[tuple[list[Command], str, str]] = [
    ([Go()], "cue", "go: cue 1 Working light, in 1.5 s"),
    ([Recall(cue="3")], "cue", "recall: cue 3 Ovens on, in 8 s, out 4 s"),
    ([Recall(cue="3", fade_s=0.5)], "cue", "recall: cue 3 Ovens on, in 0.5 s"),
    ([Recall(cue="4")], "cue", "recall: cue 4 Delivery, in 1 s, out 2 s, after 0.5 s"),
    ([Recall(cue="4", fade_s=2)], "cue", "recall: cue 4 Delivery, in 2 s"),
    ([Go(), Go(), Back()], "cue", "back: cue 1 Working light, in 1.5 s"),
    ([SetLight(fixtures=("window",), level=0.22, cct_k=3400)], "light", "window 22 % 3400 K"),
    ([SetLight(fixtures=("van",), level=1, fade_s=2)], "light", "van 100 % in 2 s"),
    ([Go(), SetLight(fixtures=("window",), level=0), Revert()], "light",
     "reverted: window 60 % 4300 K"),
    ([Hold(on=True)], "light", "hold: every fade is frozen"),
    ([Hold(on=True), Hold(on=False)], "light", "hold released"),
    ([Blackout()], "light", "blackout"),
    ([Blackout(), Blackout()], "light", "blackout ends"),
    ([Master(level=0.8)], "light", "master 80 %"),
    ([Lock(on=True)], "light", "locked"),
    ([Lock(on=True), Lock(on=False)], "light", "unlocked"),
    ([Solo(fixtures=("oven",))], "light", "solo oven"),
    ([Solo(fixtures=("oven",)), Solo()], "light", "solo ends"),
    ([Without(fixtures=("oven", "van"))], "light", "without van, oven"),
    ([Identify(fixtures=("van",))], "light", "identify van"),
    ([Go(), SetLight(fixtures=("van",), level=1), Compare()], "light", "the stored look instead"),
    ([Countdown(seconds=5, command=Recall(cue="3"))], "cue", "countdown: recall 3 in 5 s"),
    ([Countdown(seconds=5), CancelCountdown()], "cue", "countdown to go cancelled"),
    ([TakeStart(setup="12A")], "take", "take 1 of setup 12A starts, no cue"),
    ([TakeStart(), TakeEnd(good=True, note="fine")], "take", "take 1 of setup 1 ends, good: fine"),
    ([TakeStart(), TakeEnd(good=False)], "take", "take 1 of setup 1 ends, bad"),
    ([Go(), Store(cue="9", name="New")], "show", "store cue 9 New"),
    ([RemoveCue(number="6")], "show", "remove cue 6"),
    ([Rename(name="Other")], "show", "rename the show to Other"),
    ([RemoveCue(number="6"), Undo()], "show", "undo: remove cue 6"),
    ([RemoveCue(number="6"), Undo(), Redo()], "show", "redo: remove cue 6"),
    ([RemoveFixture(id="van")], "show", "remove van"),
]  # fmt: skip


@pytest.mark.parametrize(("commands", "kind", "text"), TOLD, ids=[told[2] for told in TOLD])
def test_a_command_in_words(commands: list[Command], kind: str, text: str, engine: Engine) -> None:
    for command in commands:
        engine.send(command)
        engine.wait(1.0)
    assert text in engine.told(kind)


@pytest.mark.parametrize(
    "commands",
    [
        [Hold(on=False)],
        [Lock(on=False)],
        [Master(level=1.0)],
        [Solo()],
        [SetLight(fixtures=("van",), level=0)],
    ],
)
def test_a_command_that_changed_nothing_leaves_no_line(commands: list[Command], engine: Engine) -> None:
    before = len(engine.paper.lines)
    for command in commands:
        engine.send(command)
    engine.wait(1.0)
    assert len(engine.paper.lines) == before


def test_lines_are_numbered_and_carry_both_clocks(engine: Engine) -> None:
    engine.wait(2.5)
    engine.send(Go())
    line = engine.paper.lines[-1]
    assert [one["n"] for one in engine.paper.lines] == [1, 2]
    assert (line["mono"], line["at"]) == (2.5, "2026-01-05T14:02:13.500Z")
    assert line["local"][0] in "+-"


def test_a_cue_that_runs_carries_its_look_and_times(engine: Engine) -> None:
    engine.send(Recall(cue="2"))
    line = engine.paper.lines[-1]
    assert (line["what"], line["cue"], line["auto_follow_s"]) == ("recall", "2", 20.0)
    assert line["look"]["window"] == {"level": 0.22, "white": {"cct_k": 5600.0, "duv": 0.004}}


# ── What happens by itself ──────────────────────────────────────────────────────────────────────────


def test_a_follow_on_is_told_at_its_own_moment(engine: Engine) -> None:
    engine.send(Recall(cue="2"))
    engine.wait(21.0)  # late: it was due after 20 s
    line = engine.paper.lines[-1]
    assert (line["what"], line["cue"], line["mono"]) == ("auto-follow", "3", 20.0)


def test_follow_ons_that_pass_through_are_all_told(engine: Engine) -> None:
    for number in ("3", "4"):
        cue = engine.desk.show.cue(number)
        assert cue is not None
        engine.send(PutCue(cue=cue.model_copy(update={"auto_follow_s": 0.0, "delay_s": 0.0})))
    engine.send(Recall(cue="2"))
    engine.wait(20.0)
    assert [line["cue"] for line in engine.paper.lines if line["what"] == "auto-follow"] == ["3", "4", "5"]


def test_a_countdown_and_what_it_ran(engine: Engine) -> None:
    engine.send(Countdown(seconds=5, command=TakeStart(setup="7")))
    engine.wait(5.0)
    assert engine.told("cue")[-1] == "countdown over: start a take"
    assert engine.told("take") == ["take 1 of setup 7 starts, no cue"]
    engine.send(Countdown(seconds=2, command=Recall(cue="3")))
    engine.wait(2.0)
    assert engine.told("cue")[-1] == "recall: cue 3 Ovens on, in 8 s, out 4 s"


def test_a_countdown_that_was_refused_says_why(engine: Engine) -> None:
    engine.send(Countdown(seconds=5))
    engine.send(Lock(on=True))
    engine.wait(5.0)
    line = engine.paper.lines[-1]
    assert line["what"] == "countdown refused" and "locked" in line["text"]
    assert "go: cue 1 Working light, in 1.5 s" not in engine.told()


def test_a_take_that_replays_a_chain(engine: Engine) -> None:
    engine.send(TakeStart(setup="2", chain_from="2"))
    assert engine.told("take", "cue") == [
        "take 1 of setup 2 starts, cue 2 Before dawn",
        "chain: cue 2 Before dawn, in 3 s, out 4 s",
    ]


# ── Takes ───────────────────────────────────────────────────────────────────────────────────────────


def test_a_take_starts_with_everything_that_was_sent(engine: Engine) -> None:
    engine.send(Recall(cue="2", fade_s=0))
    engine.wait(1.0)
    engine.send(SetLight(fixtures=("edge",), level=0.5))
    engine.wait(1.0)
    engine.send(TakeStart(setup="12A"))
    state = RecordedState.model_validate(engine.paper.lines[-1]["state"])
    reports = engine.desk.encoder.report(engine.desk.frame(engine.now), 4300.0)
    assert [lamp.sent.slots for lamp in state.lamps] == [report.slots for report in reports]
    edge = next(lamp for lamp in state.lamps if lamp.fixture.id == "edge")
    assert (edge.light.level, edge.light.white and edge.light.white.cct_k) == (0.5, 6500.0)
    assert state.edited == ("edge",)
    assert state.cue is not None and state.cue.number == "2"
    assert state.camera.white_balance_k == 4300.0
    window = next(lamp for lamp in state.lamps if lamp.fixture.id == "window")
    assert [modifier.kind for modifier in window.fixture.modifiers] == ["gel", "snoot"]


def test_a_take_in_the_middle_of_a_fade_has_what_the_lamps_did_then(engine: Engine) -> None:
    engine.send(Recall(cue="1"))
    engine.wait(0.75)  # half of 1.5 s, linear
    engine.send(TakeStart())
    state = RecordedState.model_validate(engine.paper.lines[-1]["state"])
    window = state.lamps[0]
    assert window.sent.level == pytest.approx(0.3, abs=1e-6)
    assert window.light.level == pytest.approx(0.3, abs=1e-6)
    assert state.fade is not None and state.fade.progress == pytest.approx(0.5)


def test_what_a_command_did_waits_for_its_frame(engine: Engine) -> None:
    engine.send(Recall(cue="1"))
    engine.now += 0.75
    before, revision = engine.desk.playback, engine.desk.revision
    engine.desk.carry_out(TakeStart(), engine.now)
    engine.log_feed.heard(TakeStart(), before, revision, engine.desk, engine.now)
    engine.log_feed.frame(engine.desk, engine.now, None, lambda: ())  # a keep-alive left, no new frame
    assert engine.told("take") == []
    engine.now += 0.02
    engine.log_feed.frame(engine.desk, engine.now, 0.765, lambda: ())
    window = RecordedState.model_validate(engine.paper.lines[-1]["state"]).lamps[0]
    assert window.sent.level == pytest.approx(0.6 * 0.765 / 1.5, abs=1e-6)
    assert engine.paper.lines[-1]["mono"] == 0.75


def stood(engine: Engine) -> list[tuple[str, float, float]]:
    """Of each state that a take came to rest in: its cue, and what the window and the edge were sent."""
    states = [RecordedState.model_validate(x["state"]) for x in engine.paper.lines if x["what"] == "stands"]
    return [
        (state.cue.number, state.lamps[0].sent.level, state.lamps[1].sent.level)
        for state in states
        if state.cue is not None
    ]


def test_while_a_take_runs_every_fade_is_written_down_where_it_ends(engine: Engine) -> None:
    engine.send(Recall(cue="1", fade_s=0.0))
    engine.send(TakeStart())
    assert stood(engine) == []  # the start itself tells of it
    engine.send(Recall(cue="3"))
    for _ in range(4):
        engine.wait(1.0)
    assert stood(engine) == []
    engine.wait(30.0)
    engine.wait(0.1)
    assert stood(engine) == [("3", 0.12, 0.04)]
    engine.send(TakeEnd())
    engine.send(Recall(cue="1"))
    engine.wait(30.0)
    engine.wait(0.1)
    assert len(stood(engine)) == 1


def test_a_take_from_a_cue_is_restored_as_the_look_that_was_filmed(engine: Engine) -> None:
    engine.send(Recall(cue="1", fade_s=0.0))
    engine.wait(1.0)
    engine.send(TakeStart(chain_from="3"))
    for _ in range(45):
        engine.wait(0.25)
    engine.send(TakeEnd(good=True))
    log = put_in_order(filter(None, (from_line(json.dumps(line).encode()) for line in engine.paper.lines)))
    moment = log.take(None, None).recorded_state()
    made = restore(moment, engine.desk.show, "9")
    look = engine.desk.show.cues[2].look
    assert moment.cue is not None and moment.cue.number == "3"
    assert made.cue.look == {name: light for name, light in look.items() if light.level}


def test_a_fade_that_ends_as_the_next_cue_begins_is_written_down_too(engine: Engine) -> None:
    show = engine.desk.show
    chain = tuple(
        cue.model_copy(
            update={"auto_follow_s": 2.0, "delay_s": 0.0, "fade": cue.fade.model_copy(update=IN_TWO)}
        )
        for cue in show.cues[:3]
    )
    engine.desk.follow(show.model_copy(update={"cues": chain}), engine.desk.profiles, engine.now)
    engine.send(TakeStart(chain_from="1"))
    for _ in range(7):
        engine.wait(1.0)
    assert [number for number, _, _ in stood(engine)] == ["1", "2", "3"]
    looks = [(cue.look.get("window"), cue.look.get("edge")) for cue in chain]
    assert [levels for _, *levels in stood(engine)] == [
        [pytest.approx(light.level if light else 0.0, abs=1e-3) for light in look] for look in looks
    ]


IN_TWO = {"in_s": 2.0, "out_s": 2.0}


def test_a_lamp_that_is_deleted_at_once_does_not_keep_the_rest_of_a_take_off_the_log(engine: Engine) -> None:
    engine.send(Recall(cue="1", fade_s=0.0))
    engine.send(TakeStart())
    engine.wait(0.1)
    engine.now += 1.0
    engine.send(Recall(cue="3", fade_s=0.0))
    engine.send(RemoveFixture(id="van"))
    assert len(stood(engine)) == 1
    assert "van" in engine.told("show")[-1]


def test_what_stood_as_the_rig_changed_is_written_without_its_state(
    engine: Engine, caplog: pytest.LogCaptureFixture
) -> None:
    cues = tuple(cue.model_copy(update={"auto_follow_s": 2.0}) for cue in engine.desk.show.cues)
    engine.desk.follow(engine.desk.show.model_copy(update={"cues": cues}), engine.desk.profiles, engine.now)
    engine.send(TakeStart(chain_from="1"))
    engine.wait(0.1)
    engine.now += 30.0
    engine.send(RemoveFixture(id="van"))  # in the same turn as what became due
    stands = [line for line in engine.paper.lines if line["what"] == "stands"]
    assert stands and not any("state" in line for line in stands)
    assert "van" in engine.told("show")[-1] and "auto-follow" in engine.told("cue")[-1]
    assert "the state of an entry could not be made: take 1" in caplog.text


def test_what_cannot_be_put_in_words_keeps_nothing_else_off_the_log(
    engine: Engine, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    def fails(_: object) -> None:
        raise RuntimeError("a bug")

    monkeypatch.setattr("onecrew.engine.log_feed.happenings", fails)
    engine.log_feed.note(Note(text="before"), engine.desk, 0.0)
    engine.desk.carry_out(Go(), 0.0)
    engine.log_feed.heard(Go(), engine.desk.playback, 1, engine.desk, 0.0)
    engine.log_feed.note(Note(text="behind"), engine.desk, 0.0)
    engine.frame()
    assert engine.told("note") == ["note: before", "note: behind"]
    assert "could not be written" in caplog.text


def test_a_hand_that_moves_a_lamp_in_a_take_fills_no_log(engine: Engine) -> None:
    engine.send(TakeStart())
    for step in range(40):
        engine.send(SetLight(fixtures=("edge",), level=step / 100))
        engine.wait(0.05)
    engine.wait(1.0)
    engine.wait(0.1)
    lines = [line for line in engine.paper.lines if line["what"] == "stands"]
    assert 1 <= len(lines) <= 4
    assert lines[-1]["state"]["lamps"][1]["light"]["level"] == 0.39


def test_the_state_counts_master_blackout_and_solo(engine: Engine) -> None:
    engine.send(Recall(cue="1", fade_s=0))
    engine.send(Master(level=0.5))
    engine.send(Solo(fixtures=("window",)))
    engine.wait(2.0)
    state = RecordedState.model_validate(engine.log_feed.recorded_state(engine.desk, engine.now))
    assert {lamp.fixture.id: lamp.light.level for lamp in state.lamps if lamp.light.level} == {
        "window": pytest.approx(0.3)
    }
    assert (state.master, state.solo) == (0.5, ("window",))
    engine.send(Blackout(on=True))
    engine.wait(2.0)
    dark = RecordedState.model_validate(engine.log_feed.recorded_state(engine.desk, engine.now))
    assert dark.blackout and dark.look == {}


def test_an_effect_is_recorded_as_an_effect_and_as_the_moment(engine: Engine) -> None:
    engine.send(Recall(cue="3", fade_s=0))
    engine.wait(30.0)
    state = RecordedState.model_validate(engine.log_feed.recorded_state(engine.desk, engine.now))
    oven = next(lamp for lamp in state.lamps if lamp.fixture.id == "oven")
    assert oven.light.level == 0.35 and oven.light.effect is not None
    assert oven.sent.level != oven.light.level


def test_a_take_and_its_length(engine: Engine) -> None:
    engine.send(TakeStart())
    engine.wait(12.5)
    engine.send(TakeEnd(good=True))
    assert engine.paper.lines[-1]["length_s"] == 12.5


def test_takes_go_on_being_numbered_in_the_next_engine(tmp_path: Path) -> None:
    path = tmp_path / "x.log.jsonl"
    first = Engine(path).begin()
    for setup in ("1", "2", "2"):
        first.send(TakeStart(setup=setup))
        first.send(TakeEnd())
    first.log_feed.finish(first.desk, first.now)
    path.write_text("".join(json.dumps(line, separators=(",", ":")) + "\n" for line in first.paper.lines))
    second = Engine(path).begin()
    second.send(TakeStart())
    assert second.told("take") == ["take 3 of setup 2 starts, no cue"]
    second.send(TakeEnd())
    second.send(TakeStart(setup="1"))
    assert second.told("take")[-1] == "take 2 of setup 1 starts, no cue"
    assert second.paper.lines[0]["n"] == first.paper.lines[-1]["n"] + 1


# ── Floods ──────────────────────────────────────────────────────────────────────────────────────────


def test_a_flood_of_changes_is_told_twice_a_second_from_first_to_last(engine: Engine) -> None:
    for step in range(100):  # 100 changes in a second
        engine.send(SetLight(fixtures=("window",), level=(step + 1) / 100))
        engine.wait(0.01)
    engine.wait(1.0)
    lines = [line for line in engine.paper.lines if line["what"] == "set"]
    assert len(lines) == 3  # the first at once, then one each half second
    lamps = [line["lamps"]["window"] for line in lines]
    ends = [(lamp["from"]["level"], lamp["to"]["level"]) for lamp in lamps]
    assert ends[0] == (0.0, 0.01) and ends[-1][1] == 1.0
    for (_, before), (after, _) in pairwise(ends):
        assert before == after  # nothing between them is lost
    assert sum(line.get("changes", 1) for line in lines) == 100


def test_what_waits_is_told_before_what_comes_after_it(engine: Engine) -> None:
    for level in (0.1, 0.2, 0.3):
        engine.send(SetLight(fixtures=("window",), level=level))
        engine.wait(0.01)
    engine.send(Go())
    assert engine.told("light", "cue") == [
        "window 10 %",
        "window 30 % (2 changes)",
        "go: cue 1 Working light, in 1.5 s",
    ]
    assert [line["kind"] for line in engine.paper.lines[-3:]] == ["light", "light", "cue"]


def test_the_end_of_a_flood_is_waited_for_no_longer_than_it_takes(engine: Engine) -> None:
    assert engine.log_feed.due() == float("inf")
    engine.send(Master(level=0.5))
    engine.wait(0.1)
    engine.send(Master(level=0.6))
    assert engine.log_feed.due() == pytest.approx(0.5)
    engine.wait(0.4)
    assert engine.told("light") == ["master 50 %", "master 60 %"]


# ── Outputs, saving, the engine itself ──────────────────────────────────────────────────────────────


def state_of(state: str, errors: int = 0, error: str = "") -> OutputState:
    return OutputState.model_validate(
        {"universe": 1, "to": "192.0.2.7", "state": state, "sent": 5, "errors": errors, "error": error}
    )


def test_an_output_that_fails_and_heals(engine: Engine) -> None:
    for state in (state_of("ok"), state_of("failing", 3, "no route to host"), state_of("failing", 9, "x"),
                  state_of("ok", 9)):  # fmt: skip
        engine.outputs = (state,)
        engine.wait(1.0)
    assert engine.told("output") == [
        "universe 1 to 192.0.2.7 fails: no route to host",
        "universe 1 to 192.0.2.7 is back",
    ]


def test_an_outage_between_two_looks_is_told_too(engine: Engine) -> None:
    for errors in (0, 4, 4, 5):
        engine.outputs = (state_of("ok", errors),)
        engine.wait(1.0)
    assert engine.told("output") == ["universe 1 to 192.0.2.7: 4 packets did not leave, it is back"]
    engine.wait(20.0)
    assert engine.told("output")[-1] == "universe 1 to 192.0.2.7: one packet did not leave, it is back"


def test_a_halt_stands_between_what_became_due_meanwhile_and_the_commands_that_waited(engine: Engine) -> None:
    engine.send(Countdown(seconds=5))
    engine.now += 20.0
    engine.advance()
    before, revision = engine.desk.playback, engine.desk.revision
    engine.desk.carry_out(Blackout(), engine.now)
    engine.log_feed.heard(Blackout(), before, revision, engine.desk, engine.now)
    engine.now += 0.01
    engine.log_feed.halted(Happening("output", "halt", "nothing left"), engine.now)
    engine.frame()
    assert engine.told()[-3:] == ["go: cue 1 Working light, in 1.5 s", "nothing left", "blackout"]
    times = [line["mono"] for line in engine.paper.lines]
    assert times == sorted(times)


def test_saving_that_fails_and_heals(engine: Engine) -> None:
    full = Saved(ok=False, error="The disk is full.")
    for state in (Saved(), full, full, Saved()):
        engine.log_feed.saved(state)
        engine.wait(0.1)
    assert engine.told("show") == ["the show is not saved: The disk is full.", "the show is saved again"]


def test_notes(engine: Engine) -> None:
    engine.log_feed.note(Note(text="look at\nthe oven"), engine.desk, 0.0)
    engine.send(TakeStart(setup="3"))
    engine.log_feed.note(Note(text="door", take=True), engine.desk, 0.0)
    engine.wait(0.1)
    assert engine.told("note") == ["note: look at the oven", "note on take 1 of setup 3: door"]
    assert engine.paper.lines[1]["note"] == "look at\nthe oven"
    assert (engine.paper.lines[-1]["setup"], engine.paper.lines[-1]["number"]) == ("3", 1)


def test_the_life_of_an_engine(tmp_path: Path) -> None:
    path = tmp_path / "x.log.jsonl"
    first = Engine(path).begin()
    first.send(Go())
    path.write_text("".join(json.dumps(line) + "\n" for line in first.paper.lines))  # it is killed here
    second = Engine(path)
    second.desk.playback = first.desk.playback
    second.begin()
    second.log_feed.stopping(2.0, 1.0)
    second.log_feed.finish(second.desk, 3.0)
    assert first.told("engine") == ["the engine starts"]
    assert second.told("engine") == [
        "the engine is back, cue 1 Working light goes on",
        "stop: fade to black in 2 s",
        "the engine ends, the lights are out",
    ]
    assert RecordedState.model_validate(second.paper.lines[0]["state"]).cue is not None
    path.write_text("".join(json.dumps(line) + "\n" for line in first.paper.lines))
    assert Engine(path).begin().told("engine") == ["the engine starts after one that did not end"]


@pytest.mark.parametrize(
    ("sent_at", "told"), [(1.0, ["no frames left for 9 s (no engine was running)"]), (8.5, []), (None, [])]
)
def test_a_time_without_an_engine_is_told(tmp_path: Path, sent_at: float | None, told: list[str]) -> None:
    first = Engine(tmp_path / "x.log.jsonl").begin()
    first.send(Go())
    second = Engine(tmp_path / "x.log.jsonl")
    second.desk.playback, second.now = first.desk.playback, 10.0
    second.begin(sent_at=sent_at)
    assert second.told() == [*told, "the engine is back, cue 1 Working light goes on"]


# ── Trouble ─────────────────────────────────────────────────────────────────────────────────────────


def test_nothing_that_fails_in_the_journal_reaches_the_engine(
    engine: Engine, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    def fails(*_: object) -> None:
        raise RuntimeError("a bug")

    monkeypatch.setattr(engine.paper, "put", fails)
    engine.send(Go())
    engine.log_feed.finish(engine.desk, engine.now)
    assert "could not be written" in caplog.text
    assert engine.desk.playback.cue == "1"


def test_trouble_with_the_log_is_a_state_and_a_sentence(engine: Engine) -> None:
    engine.log_feed._writing("The disk is full.")
    assert engine.log_feed.state == Saved(ok=False, error="The disk is full.")
    engine.paper.given_up = 3
    engine.log_feed._writing("")
    engine.wait(0.1)
    assert engine.log_feed.state == Saved()
    assert engine.said == ["The disk is full.", "the log is written again"]
    assert engine.told()[-1] == "3 entries of the log found no room in memory and are lost"


# ── What clients ask ────────────────────────────────────────────────────────────────────────────────


def test_clients_are_answered_from_where_they_left_off(engine: Engine) -> None:
    for _ in range(3):
        engine.send(Go())
    first = engine.log_feed.lines({"limit": 2})
    assert [line["n"] for line in first["lines"]] == [3, 4] and first["last"] == 4
    assert first["lines"][0].keys() == {"n", "at", "kind", "text"}
    assert first["lines"][0]["at"] == pytest.approx(WALL)
    engine.send(Blackout())
    assert [line["text"] for line in engine.log_feed.lines({"after": 4})["lines"]] == ["blackout"]


def test_lines_of_earlier_engines_are_answered_too(tmp_path: Path) -> None:
    path = tmp_path / "x.log.jsonl"
    first = Engine(path).begin()
    first.send(Go())
    path.write_text("".join(json.dumps(line) + "\n" for line in first.paper.lines))
    answer = Engine(path).begin().log_feed.lines({})
    assert [line["text"] for line in answer["lines"]][:2] == first.told()
    assert answer["last"] == 3


@pytest.mark.parametrize("arguments", [{"after": "x"}, {"limit": 0}, {"limit": None}, {"since": 3}])
def test_a_question_that_makes_no_sense_is_refused(arguments: dict[str, Any], engine: Engine) -> None:
    with pytest.raises(Mistake):
        engine.log_feed.lines(arguments)


def test_what_is_on_record_of_any_take_is_said_anew(tmp_path: Path) -> None:
    engine = Engine(tmp_path / "x.log.jsonl").begin()
    for _ in range(2):
        engine.send(TakeStart(setup="A"))
        engine.send(TakeEnd(good=True, note="soft"))
    first = TakeRecord(setup="A", number=1, verdict="bad", clip="A003C012", note="boom in frame")
    assert engine.log_feed.record(first, engine.desk, engine.now) == (
        "take 1 of setup A on record: bad, clip A003C012, note: boom in frame"
    )
    engine.log_feed.record(TakeRecord(setup="A", number=2, verdict="open"), engine.desk, engine.now)
    with pytest.raises(Refused, match="there has been no take 3 of setup A"):
        engine.log_feed.record(TakeRecord(setup="A", number=3), engine.desk, engine.now)
    assert engine.log_feed.waits
    engine.advance()
    engine.log_feed.frame(engine.desk, engine.now, engine.now, tuple)
    entries = [from_line(json.dumps(line).encode()) for line in engine.paper.lines]
    one, two = put_in_order(entry for entry in entries if entry is not None).takes
    assert (one.good, one.clip, one.notes) == (False, "A003C012", ["boom in frame"])
    assert (two.good, two.clip, two.notes) == (None, "", ["soft"]), "what is not said stays"
    engine.log_feed.record(TakeRecord(setup="A", number=1, clip="", note=""), engine.desk, engine.now)
    engine.log_feed.frame(engine.desk, engine.now, engine.now, tuple)
    entries = [from_line(json.dumps(line).encode()) for line in engine.paper.lines]
    one = put_in_order(entry for entry in entries if entry is not None).takes[0]
    assert (one.good, one.clip, one.notes) == (False, "", [])
    assert not engine.log_feed.waits


# ── An engine that dies while the disk takes nothing ──────────────────────────────────────────────


def begun(path: Path) -> tuple[Engine, LiveFile]:
    """An engine whose disk is full after the first entry, and what outlives it."""
    outliving = LiveFile(path.with_suffix(".live"))
    engine = Engine(path, outliving).begin()
    path.write_text("".join(f"{json.dumps(line)}\n" for line in engine.paper.lines))
    engine.paper.full = True
    return engine, outliving


def full_disk(at: int, length: int) -> None:
    raise OSError(errno.ENOSPC, "no space left")


def numbered(engine: Engine) -> list[tuple[int, str]]:
    return [(line["n"], line["text"]) for line in engine.paper.lines]


STARTS_AGAIN = "the engine starts after one that did not end"
WRONG = "note: the door was ajar"


def test_what_waited_in_memory_when_the_engine_died_is_written_by_the_next(tmp_path: Path) -> None:
    path = tmp_path / "x.log.jsonl"
    first, outliving = begun(path)
    first.send(Master(level=0.8))
    first.send(Hold(on=True))
    second = Engine(path, outliving)
    second.paper.full = True
    waited = [(2, "master 80 %"), (3, "hold: every fade is frozen"), (4, STARTS_AGAIN)]
    assert numbered(second.begin()) == waited
    third = Engine(path, outliving).begin()
    assert numbered(third) == [*waited, (5, STARTS_AGAIN)]


def test_what_was_not_kept_is_counted_at_the_next_start(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(kept_log.KeptLog.keep, "__defaults__", ((), 0))
    path = tmp_path / "x.log.jsonl"
    first, outliving = begun(path)
    for level in (0.8, 0.7, 0.6):
        first.send(Master(level=level))
        first.send(Hold())
    monkeypatch.undo()
    second = Engine(path, outliving)
    second.paper.full = True
    last, *rest = numbered(second.begin())
    assert last == (outliving.logged - 2, "hold: every fade is frozen")
    lost = f"{last[0] - 2} entries of the log are lost: an engine ended before the disk took them"
    assert rest == [(last[0] + 1, lost), (last[0] + 2, STARTS_AGAIN)], "no number is given twice"
    third = Engine(path, outliving).begin()
    assert numbered(third) == [last, *rest, (last[0] + 3, STARTS_AGAIN)], "it is said once"


def test_where_there_is_no_room_for_all_that_waits_the_newest_are_kept(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    first, outliving = begun(tmp_path / "x.log.jsonl")
    for count in range(300):
        first.log_feed.note(Note(text=f"{count} {'n' * 700}"), first.desk, 0.0)
        first.frame()
        if not count:
            monkeypatch.setattr(outliving.unwritten, "_claim", full_disk)
    told = Engine(first.log_feed.path, outliving).begin().told("note")
    assert told[-1].startswith("note: 299 ") and 10 < len(told) < 300


@pytest.mark.parametrize("frame", [False, True], ids=["before its frame", "after it"])
def test_what_somebody_said_outlives_an_engine_that_dies_at_once(tmp_path: Path, frame: bool) -> None:
    path = tmp_path / "x.log.jsonl"
    first, outliving = begun(path)
    first.send(TakeStart(setup="A"))
    first.send(TakeEnd())
    first.desk.carry_out(Hold(on=True), 0.0)
    first.log_feed.note(Note(text="the door was ajar"), first.desk, 0.0)
    first.log_feed.record(TakeRecord(setup="A", number=1, clip="A003C012"), first.desk, 0.0)
    if frame:
        first.frame()
    told = Engine(path, outliving).begin().told("note")
    assert told == [WRONG, "take 1 of setup A on record: clip A003C012"]


def test_what_waits_at_the_end_of_an_engine_is_written_by_the_next(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "x.log.jsonl"
    first, outliving = begun(path)
    monkeypatch.setattr(kept_log.KeptLog.keep, "__defaults__", ((), 0))
    first.log_feed.note(Note(text="the door was ajar"), first.desk, 0.0)
    first.log_feed.finish(first.desk, 1.0)
    second = Engine(path, outliving).begin()
    assert second.told() == [WRONG, "the engine ends, the lights are out", "the engine starts"]


def test_a_take_that_waited_is_counted_on_from_and_written_once(tmp_path: Path) -> None:
    path = tmp_path / "x.log.jsonl"
    first, outliving = begun(path)
    first.send(TakeStart(setup="A"))
    second = Engine(path, outliving)
    second.desk.playback = first.desk.playback
    assert second.begin(kept_at=5.0).told("take") == [STARTS]
    third = Engine(path, outliving).begin()  # from black
    third.send(TakeStart(setup="A"))
    assert third.told("take")[-1] == STARTS.replace("take 1", "take 2")


def test_a_log_that_is_whole_or_was_begun_anew_has_lost_nothing(tmp_path: Path) -> None:
    path = tmp_path / "x.log.jsonl"
    first, outliving = begun(path)
    first.paper.full = False
    first.wait(1.0)
    assert Engine(path, outliving).begin().told() == [STARTS_AGAIN]
    path.unlink()
    first.wait(1.0)
    assert Engine(path, outliving).begin().told() == ["the engine starts"]


RESUMES = "the engine is back, what was showing goes on"
STARTS, ENDS = "take 1 of setup A starts, no cue", "take 1 of setup A ends, good: fine"


@pytest.mark.parametrize(
    ("ended", "written", "left_out"),
    [
        (True, 3, []),
        (True, 2, [(50.0, ENDS)]),
        (True, 1, [(40.0, STARTS), (50.0, ENDS)]),
        (False, 2, []),
        (False, 1, [(40.0, STARTS)]),
    ],
)
def test_a_take_whose_lines_died_with_an_engine_is_on_the_log_all_the_same(
    tmp_path: Path, ended: bool, written: int, left_out: list[tuple[float, str]]
) -> None:
    """What plays was kept at 50 s, the next engine is there at 90 s; a take before it is on the log."""
    path = tmp_path / "x.log.jsonl"
    first = Engine(path).begin()
    first.send(TakeStart(setup="0"))
    first.send(TakeEnd())
    before = len(first.paper.lines)
    first.now = 40.0
    first.send(TakeStart(setup="A"))
    first.now = 50.0
    if ended:
        first.send(TakeEnd(good=True, note="fine"))
    lines = first.paper.lines[: before + written - 1]
    path.write_text("".join(f"{json.dumps(line, separators=(',', ':'))}\n" for line in lines))
    second = Engine(path)
    second.desk.playback, second.now = first.desk.playback, 90.0
    second.begin(kept_at=50.0)
    told = [(line["mono"], line["text"]) for line in second.paper.lines]
    assert told == [*left_out, (90.0, RESUMES)]
    entries = [from_line(json.dumps(line).encode()) for line in [*lines, *second.paper.lines]]
    take = put_in_order(entry for entry in entries if entry is not None).takes[-1]
    assert (take.setup, take.number, take.cut_short) == ("A", 1, False)
    assert take.length_s == (10.0 if ended else None)
    assert (take.good, take.notes) == ((True, ["fine"]) if ended else (None, []))


def test_a_take_that_an_end_of_the_engine_cut_short_is_not_ended_later(tmp_path: Path) -> None:
    path = tmp_path / "x.log.jsonl"
    one, two, three = Engine(path), Engine(path), Engine(path)
    for engine, command in ((one, TakeStart(setup="A")), (two, Rename(name="Other"))):
        engine.begin()
        engine.send(command)
        with path.open("a") as log:
            log.writelines(f"{json.dumps(line, separators=(',', ':'))}\n" for line in engine.paper.lines)
    three.desk.playback = two.desk.playback
    assert three.begin(kept_at=5.0).told() == [RESUMES]
