"""The frame loop: on its beat while the frame of a change takes long to make, in simulated time."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Iterator
from contextlib import closing
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from onecrew.commands.command import Command
from onecrew.commands.countdown import Countdown
from onecrew.commands.light import RaiseSlots, SetLight
from onecrew.commands.running import Recall
from onecrew.engine.desk import Desk
from onecrew.engine.frame_clock import FRAME_S
from onecrew.engine.frames import INSTEAD, PATIENCE_S, FrameLoop
from onecrew.network.pacing import PERIOD_S
from onecrew.show.show import Show
from tests.benchmarks.bench_soak import every_kind
from tests.fakes.profiles import all_profiles
from tests.fakes.simulated import SimulatedLoop

Slots = NDArray[np.uint8]

SHOW = Show.model_validate(every_kind())
LAMPS = tuple(fixture.id for fixture in SHOW.rig.fixtures)
FADE = Recall(cue="1", fade_s=20.0)
BEGIN = 100.0
SLOW_S = 0.004
"""A part of the work takes so long, all of them about 60 ms."""


class Wire:
    """Takes what would be sent."""

    def __init__(self) -> None:
        self.sent: list[tuple[float, Slots]] = []
        self.holds_until: float | None = None
        """When slots that were given to it too early may leave; None: there are none."""

    def send(self, slots: Slots | None, now: float) -> None:
        if self.holds_until is not None and now >= self.holds_until:
            self.holds_until = None
        if slots is not None:
            self.sent.append((now, slots.copy()))

    def expect(self, until: float) -> None:
        pass

    def next_due(self, now: float) -> float:
        return now + 1.0 if self.holds_until is None else self.holds_until

    def may_send_at(self) -> float:
        return 0.0


class Stand:
    """A desk in the middle of a long fade of every lamp, whose frames leave in simulated time."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.loop = SimulatedLoop(BEGIN)
        self.desk = Desk(SHOW, all_profiles(), BEGIN)
        self.part_s = 0.0
        """What a part of the work on a frame that is not known takes."""
        self.begun = 0
        """How often the frame of a change was begun before it was due."""
        self.moments: list[float] = []
        """What the frames show."""
        self.left: list[float] = []
        """When they left."""
        self.passed: list[float] = []
        """When something happened by itself."""
        self._making, self._make = self.desk.making, self.desk.prerenderer.make
        monkeypatch.setattr(self.desk, "making", self._counted)
        monkeypatch.setattr(self.desk.prerenderer, "make", self._slow)
        monkeypatch.setattr("onecrew.engine.idle_work.time.perf_counter", self.loop.time)
        self.wire = Wire()
        wire: Any = self.wire
        self.frames = FrameLoop(
            self.desk, wire, self.loop.time, sent=self._sent, passed=lambda _, at: self.passed.append(at)
        )
        self._do(self.frames.start)
        self.tell(Recall(cue="1", fade_s=0.0))
        self.run(0.1)
        self.tell(Recall(cue="2", fade_s=20.0))
        self.run(1.0)
        self.wire.sent.clear()
        self.moments.clear()
        self.begun = 0

    def run(self, for_s: float) -> None:
        self.loop.run_until_complete(asyncio.sleep(for_s))

    def tell(self, *commands: Command) -> None:
        def each() -> None:
            for command in commands:
                self._carry_out(command)

        self._do(each)

    def tell_together(self, *commands: Command) -> None:
        def all_at_once() -> None:
            with self.frames.together():
                for command in commands:
                    self._carry_out(command)

        self._do(all_at_once)

    def change(self) -> None:
        """Something changes that is not in what plays, as slots raised by hand are."""
        self._do(lambda: self.frames.changed(self.loop.time()))

    def look_after_outputs(self) -> None:
        self._do(lambda: self.frames.plan(self.loop.time()))

    def just_after_a_frame(self) -> None:
        count = len(self.moments)
        while len(self.moments) == count:
            self.run(0.001)

    def while_the_frame_of_an_event_waits(self, event: Command) -> None:
        """It is ready, and its moment is still to come."""
        self.tell(Countdown(seconds=1.0, command=event))
        self.run(0.9)
        while self.desk.playback.countdown is not None:
            self.run(0.001)
        assert self.frames._held is not None and self.frames._held > self.loop.time() + 0.005

    def would_send(self, moments: list[float]) -> list[Slots]:
        """What a desk sends that knows nothing ahead."""
        fresh = Desk(SHOW, all_profiles(), BEGIN)
        fresh.playback = self.desk.playback
        return [fresh.encoder.encode(fresh.frame(moment)) for moment in moments]

    def close(self) -> None:
        self.frames.close()
        self.loop.close()

    def _carry_out(self, command: Command) -> None:
        now = self.loop.time()
        self.desk.carry_out(command, self.frames.earliest(now))
        self.frames.changed(now)

    def _do(self, act: Callable[[], object]) -> None:
        async def done() -> None:
            act()

        self.loop.run_until_complete(done())

    def _counted(self, now: float) -> Iterator[None]:
        self.begun += 1
        return self._making(now)

    def _slow(self, *what: Any) -> Iterator[None]:
        for _ in self._make(*what) or ():
            self.loop.advance(self.part_s)
            yield

    def _sent(self, now: float, moment: float | None) -> float:
        if moment is not None:
            self.moments.append(moment)
            self.left.append(now)
        return now + 1.0


@pytest.fixture
def stand(monkeypatch: pytest.MonkeyPatch) -> Iterator[Stand]:
    with closing(Stand(monkeypatch)) as stand:
        yield stand


@pytest.mark.parametrize("part_s", [0.0, SLOW_S])
def test_a_command_does_not_keep_slots_that_the_limit_holds_back(part_s: float, stand: Stand) -> None:
    """They left only with the next frame: a gap of two."""
    stand.part_s = part_s
    stand.just_after_a_frame()
    stand.wire.holds_until = stand.loop.time() + 0.0005
    stand.tell(SetLight(fixtures=LAMPS[:1], level=0.3))
    stand.run(0.006)
    assert stand.wire.holds_until is None


@pytest.mark.parametrize("command", [False, True])
def test_a_frame_is_told_when_it_leaves_though_it_was_ready_before(
    command: bool, stand: Stand, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Also where a command comes while it waits."""
    slots, sent = stand.desk.slots, stand.frames._sent
    takes_s, told = 0.006, []

    def slow(moment: float) -> Slots:
        stand.loop.advance(takes_s)
        return slots(moment)

    def tell(now: float, moment: float | None) -> float:
        shown = stand.frames.shown(now)
        if moment is not None:
            told.append(now)
            assert shown == moment or not stand.frames._was_moving
        assert shown <= now + 1e-9
        return sent(now, moment)

    monkeypatch.setattr(stand.desk, "slots", slow)
    stand.tell(Recall(cue="1", fade_s=20 * FRAME_S))
    stand.run(15 * FRAME_S)
    monkeypatch.setattr(stand.frames, "_sent", tell)
    takes_s = 0.0
    ready, due = len(stand.wire.sent), stand.moments[-1] + FRAME_S
    stand.run(due - 0.004 - stand.loop.time())
    stand.look_after_outputs()
    assert stand.frames._held == due and len(stand.wire.sent) == ready  # it waits for its moment
    if command:
        stand.tell(FADE)
    stand.run(10 * FRAME_S)
    assert stand.wire.sent[ready][0] == told[0] == pytest.approx(due, abs=1e-6)
    assert all(PERIOD_S - 1e-6 < b - a < 0.035 for a, b in pairwise(told))


def longest(stand: Stand) -> float:
    return max(b - a for (a, _), (b, _) in pairwise(stand.wire.sent))


@pytest.mark.parametrize("part_s", [0.0, 0.01])
def test_the_frame_of_a_change_leaves_as_soon_as_the_limit_allows(part_s: float, stand: Stand) -> None:
    """However long parts of the work took before."""
    stand.just_after_a_frame()
    stand.part_s = part_s
    stand.tell(Recall(cue="1", fade_s=30.0))
    stand.run(0.4)
    stand.wire.sent.clear()
    stand.moments.clear()
    stand.just_after_a_frame()
    stand.part_s = 1e-4
    (left, _), *_ = stand.wire.sent[-1:]
    stand.run(left + 0.019 - stand.loop.time())
    stand.tell(FADE)
    stand.run(0.2)
    assert stand.moments[1] == pytest.approx(left + PERIOD_S)
    assert [moment for moment, _ in stand.wire.sent[1:]] == pytest.approx(stand.moments[1:], abs=1e-4)
    for (_, slots), expected in zip(stand.wire.sent[1:], stand.would_send(stand.moments[1:]), strict=True):
        np.testing.assert_array_equal(slots, expected)


@pytest.mark.parametrize("wait_s", [0.0, (PERIOD_S + FRAME_S) / 2])
def test_while_it_is_not_ready_the_frames_before_the_change_go_on_in_time(
    wait_s: float, stand: Stand
) -> None:
    """Also where the limit would let the frame of the change leave at once."""
    stand.just_after_a_frame()
    moments = [stand.moments[-1] + frame * FRAME_S for frame in range(1, 1 + INSTEAD)]
    before = stand.would_send(moments)
    stand.part_s = SLOW_S
    stand.run(max(0.0, stand.wire.sent[-1][0] + wait_s - stand.loop.time()))
    stand.tell(FADE)
    stand.run(0.3)
    assert longest(stand) < 0.035
    sent = [slots for _, slots in stand.wire.sent[1:]]
    np.testing.assert_array_equal(sent[:INSTEAD], before)
    after = stand.moments[1:]  # none of those is told as a moment of what plays now
    assert len(after) > 3
    np.testing.assert_array_equal(sent[INSTEAD:], stand.would_send(after))


def test_so_does_one_that_is_ready_before_its_moment(stand: Stand) -> None:
    """As where something happens by itself in it."""
    stand.tell(Countdown(seconds=1.0, command=FADE))
    stand.run(1.0 - 1.6 * FRAME_S)
    stand.just_after_a_frame()
    moments = [stand.moments[-1] + frame * FRAME_S for frame in range(1, 1 + INSTEAD)]
    before, count = stand.would_send(moments), len(stand.wire.sent)
    stand.part_s = SLOW_S
    stand.tell(FADE)
    stand.run(0.3)
    sent = [slots for _, slots in stand.wire.sent[count:]]
    np.testing.assert_array_equal(sent[:INSTEAD], before)


@pytest.mark.parametrize("wait_s", [0.005, 0.02, PERIOD_S - 0.0005, (PERIOD_S + FRAME_S) / 2])
def test_it_is_waited_for_a_little(wait_s: float, stand: Stand) -> None:
    """Whenever in a frame the command comes: where the work is short no frame is sent in its place."""
    stand.just_after_a_frame()
    stand.run(stand.wire.sent[-1][0] + wait_s - stand.loop.time())
    stand.part_s = PATIENCE_S / 30
    before = len(stand.moments)
    stand.tell(FADE)
    stand.look_after_outputs()
    stand.run(0.2)
    sent = [slots for _, slots in stand.wire.sent]
    np.testing.assert_array_equal(sent[before:], stand.would_send(stand.moments[before:]))
    assert longest(stand) < FRAME_S + 0.75 * PATIENCE_S


def test_a_cut_to_light_that_rests_leaves(stand: Stand) -> None:
    stand.part_s = SLOW_S
    stand.tell(Recall(cue="1", fade_s=0.0))
    stand.run(0.2)
    np.testing.assert_array_equal(stand.wire.sent[-1][1], stand.would_send([stand.loop.time()])[0])


@pytest.mark.parametrize("together", [1, 3])
def test_among_many_changes_none_is_made_ahead_but_the_first(together: int, stand: Stand) -> None:
    stand.just_after_a_frame()
    for level in range(1, 8):
        stand.tell(*(SetLight(fixtures=LAMPS[:1], level=level / 10 + 0.02 * n) for n in range(together)))
        stand.run(0.02)
    assert stand.begun == 1
    stand.run(0.2)
    np.testing.assert_array_equal(stand.wire.sent[-1][1], stand.would_send(stand.moments[-1:])[0])


def test_an_end_while_the_work_goes_on_is_sent(stand: Stand) -> None:
    stand.just_after_a_frame()
    stand.part_s = SLOW_S
    now = stand.loop.time()
    moment = stand.frames.earliest(now)
    stand.desk.fade_away(moment, FRAME_S)
    stand.frames.ends_at = moment + FRAME_S
    stand.change()
    stand.run(0.3)
    assert stand.frames.ended.is_set()
    np.testing.assert_array_equal(stand.wire.sent[-1][1], stand.would_send([moment + FRAME_S])[0])


@pytest.mark.parametrize("fade_s", [0.0, 0.2])
def test_an_end_is_sent_though_a_frame_made_before_it_waits(fade_s: float, stand: Stand) -> None:
    stand.while_the_frame_of_an_event_waits(FADE)
    end = stand.loop.time() + fade_s
    stand.desk.fade_away(stand.loop.time(), fade_s)
    stand.frames.ends_at = end
    stand.change()
    stand.run(fade_s + 0.1)
    assert stand.frames.ended.is_set()
    np.testing.assert_array_equal(stand.wire.sent[-1][1], stand.would_send([end])[0])


def test_a_frame_that_waits_leaves_though_a_universe_comes_meanwhile(stand: Stand) -> None:
    stand.while_the_frame_of_an_event_waits(FADE)
    due, count = stand.frames._held, len(stand.wire.sent)
    assert due is not None
    expected = stand.would_send([due])[0]
    stand.desk.raise_slots(RaiseSlots(universe=7, address=1, slots=(9,)), stand.loop.time())
    stand.change()
    stand.run(0.1)
    assert longest(stand) < 0.035
    np.testing.assert_array_equal(stand.wire.sent[count][1], [*expected, np.zeros(512)])
    assert {slots.shape for _, slots in stand.wire.sent[count:]} == {(2, 512)}


def test_an_end_comes_where_no_frame_can_be_sent_any_more(
    stand: Stand, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    def fails(*_: object) -> None:
        raise RuntimeError("a bug")

    monkeypatch.setattr(stand.wire, "send", fails)
    stand.frames.ends_at = stand.loop.time() + 0.2
    stand.change()
    stand.run(0.15)
    assert "a frame failed" in caplog.text and not stand.frames.ended.is_set()
    stand.run(0.15)
    assert stand.frames.ended.is_set()


def test_what_is_changed_together_at_rest_leaves_at_once_and_in_one_frame(stand: Stand) -> None:
    stand.tell(Recall(cue="1", fade_s=0.0))
    stand.run(0.5)
    count = len(stand.moments)
    stand.tell_together(*(SetLight(fixtures=(lamp,), level=0.37, fade_s=0.0) for lamp in LAMPS[:2]))
    stand.run(0.001)
    assert len(stand.moments) == count + 1
    np.testing.assert_array_equal(stand.wire.sent[-1][1], stand.would_send([stand.loop.time() + 1.0])[0])


def test_clients_see_the_latest_frame_while_the_light_moves_and_now_where_it_rests(stand: Stand) -> None:
    stand.just_after_a_frame()
    now = stand.loop.time() + 0.01
    assert stand.frames.shown(now) == stand.moments[-1]
    stand.tell(Recall(cue="1", fade_s=0.0))
    stand.run(0.5)
    now = stand.loop.time() + 0.01
    assert stand.frames.shown(now) == now


def test_what_happens_by_itself_is_told_at_its_own_moment_however_late_it_is_done(stand: Stand) -> None:
    stand.tell(Countdown(seconds=1.0, command=FADE))
    due = stand.desk.next_of_playback()
    assert due is not None and stand.passed == []
    stand.frames.advance(due + 0.4)
    assert stand.passed == [due]


def test_the_frame_of_what_happens_by_itself_leaves_on_the_beat(stand: Stand) -> None:
    """It is not worked out ahead, and takes 5 ms here."""
    stand.tell(Countdown(seconds=1.0, command=FADE))
    stand.part_s = SLOW_S / 20
    stand.left.clear()
    stand.run(1.5)
    assert len(stand.passed) == 1
    assert max(b - a for a, b in pairwise(stand.left)) < FRAME_S + 1e-6


def test_after_a_change_beside_what_plays_frames_are_worked_out_ahead_again(
    stand: Stand, monkeypatch: pytest.MonkeyPatch
) -> None:
    stand.just_after_a_frame()
    stand.change()
    stand.run(0.1)
    monkeypatch.setattr(stand.desk.encoder, "encode", None)
    monkeypatch.setattr(stand.desk.prerenderer, "make", None)
    stand.wire.sent.clear()
    stand.run(3.0)
    assert len(stand.wire.sent) == pytest.approx(3.0 / FRAME_S, abs=2)


def test_a_part_that_took_longer_than_a_frame_does_not_end_the_work_ahead(
    stand: Stand, monkeypatch: pytest.MonkeyPatch
) -> None:
    stand.just_after_a_frame()
    stand.part_s = 2 * FRAME_S
    stand.tell(FADE)
    stand.run(1.0)
    stand.part_s = 0.0
    stand.run(3.0)
    monkeypatch.setattr(stand.desk.prerenderer, "make", None)
    stand.wire.sent.clear()
    stand.run(3.0)
    assert len(stand.wire.sent) == pytest.approx(3.0 / FRAME_S, abs=2)


def test_the_frame_of_a_change_after_one_by_itself_is_preceded_by_nothing_older(stand: Stand) -> None:
    cut = Countdown(seconds=1.0, command=Recall(cue="1", fade_s=0.0))
    stand.tell(cut)
    while stand.desk.playback.countdown is not None:
        stand.just_after_a_frame()
    stand.part_s = SLOW_S
    stand.wire.sent.clear()
    stand.moments.clear()
    stand.tell(FADE)
    stand.run(0.3)
    np.testing.assert_array_equal([slots for _, slots in stand.wire.sent], stand.would_send(stand.moments))


@pytest.mark.parametrize("by_itself", [False, True])
def test_a_frame_at_rest_that_failed_is_made_again(
    by_itself: bool, stand: Stand, monkeypatch: pytest.MonkeyPatch
) -> None:
    stand.tell(Recall(cue="1", fade_s=0.0))
    stand.run(2.0)
    slots, calls = stand.desk.slots, []

    def fails_once(moment: float) -> Slots:
        calls.append(moment)
        if len(calls) == 1:
            raise RuntimeError("a bug")
        return slots(moment)

    change = Recall(cue="2", fade_s=0.0)
    monkeypatch.setattr(stand.desk, "slots", fails_once)
    stand.tell(Countdown(seconds=0.5, command=change) if by_itself else change)
    stand.run(1.5)
    assert len(calls) > 1
    np.testing.assert_array_equal(stand.wire.sent[-1][1], stand.would_send([stand.loop.time()])[0])
