"""What is told of a lamp is what leaves: a law over every kind of lamp, whatever plays or holds it."""

from __future__ import annotations

import contextlib
import json

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from onecrew.commands.command import PlaybackCommand
from onecrew.commands.light import HELD_S, RAMP_S, Identify, RaiseSlots, SetLight, Solo, Without
from onecrew.commands.rig import PutFixture
from onecrew.commands.running import Blackout, Master
from onecrew.commands.stills import ShowStill
from onecrew.engine.desk import Desk
from onecrew.engine.held_lamps import NOTE
from onecrew.engine.recorded_state import recorded_state
from onecrew.engine.snapshots import snapshot_of
from onecrew.engine.state import state_of
from onecrew.errors import Refused
from onecrew.fixtures.decoder import Decoder, Seen
from onecrew.fixtures.report import SAME_SHARE
from onecrew.osc.transport import reported
from onecrew.playback.laws import law_of, level_of
from onecrew.show.light import White
from onecrew.show.profiles import load_profiles
from onecrew.show.show import Rig, Show
from onecrew.show.snapshot import LightState, RaisedState, Saved, Snapshot
from tests.fakes.profiles import kinds, rig

PROFILES = load_profiles()
KINDS = [kind for kind in kinds() if kind[0] in PROFILES]
LAMPS = rig(*KINDS)
SHOW = Show(name="One of each", rig=Rig(fixtures=LAMPS))
names = st.sampled_from([lamp.id for lamp in LAMPS])
some = st.lists(names, max_size=3, unique=True).map(tuple)
shares = st.sampled_from([0.0, 0.003, 0.02, 0.3, 1.0]) | st.floats(0.0, 1.0)
whites = st.builds(White, cct_k=st.floats(1800.0, 12000.0), duv=st.floats(-0.02, 0.02))
sets = st.builds(
    lambda fixtures, level, white, fade_s: SetLight(
        fixtures=fixtures, level=level, cct_k=white.cct_k, duv=white.duv, fade_s=fade_s
    ),
    st.lists(names, min_size=1, max_size=8, unique=True).map(tuple),
    shares,
    whites,
    st.sampled_from([0.0, 2.0]),
)
commands = st.one_of(
    sets,
    sets,
    st.builds(Master, level=shares),
    st.builds(Solo, fixtures=some),
    st.builds(Without, fixtures=some),
    st.builds(Identify, fixtures=some),
    st.builds(Blackout, on=st.booleans()),
    st.builds(ShowStill, fixture=names, output=shares.map(lambda share: max(share, 0.001))),
)


def sent(desk: Desk, now: float) -> dict[int, bytes]:
    return {number: row.tobytes() for number, row in zip(desk.universes, desk.slots(now), strict=True)}


def seen(desk: Desk, now: float) -> dict[str, Seen]:
    decoder = Decoder(desk.show.rig.fixtures, desk.profiles, desk.show.camera.white_balance_k)
    return {one.id: one for one in decoder.decode(sent(desk, now))}


def same(told: float, left: float) -> bool:
    return abs(told - left) <= 2 * SAME_SHARE * max(told, left) + 1e-9


@settings(max_examples=20, deadline=None)
@given(done=st.lists(st.tuples(commands, st.floats(0.05, 3.0)), min_size=1, max_size=6))
def test_law_what_plays_is_told_as_the_decoder_reads_it_from_what_was_sent(
    done: list[tuple[PlaybackCommand, float]],
) -> None:
    """Level and output are against the full light of the white that is asked for, as a meter would find
    them."""
    desk, now = Desk(SHOW, PROFILES, 0.0), 1.0
    for command, wait in done:
        with contextlib.suppress(Refused):
            desk.carry_out(command, now)
        now += wait
        state, read = state_of(desk, now), seen(desk, now)
        slots = sent(desk, now)
        for lamp, report, level in zip(LAMPS, state.reports, state.levels.tolist(), strict=True):
            assert bytes(report.slots) == slots[lamp.universe][lamp.address - 1 :][: len(report.slots)]
            assert same(report.light, read[lamp.id].light)
            assert level == pytest.approx(report.level, rel=1e-12)
            if report.light:
                output = report.output * read[lamp.id].light / report.light
                assert same(report.level, float(level_of(output, law_of(PROFILES[lamp.profile]))))


@settings(max_examples=20, deadline=None)
@given(data=st.data())
def test_law_a_lamp_that_is_held_by_hand_is_told_as_its_slots_say(data: st.DataObject) -> None:
    lamp = data.draw(st.sampled_from(LAMPS))
    mode = PROFILES[lamp.profile].mode(lamp.mode)
    assert mode is not None
    desk, now = Desk(SHOW, PROFILES, 0.0), 1.0
    desk.carry_out(SetLight(fixtures=(lamp.id,), level=data.draw(shares), cct_k=3000.0), now)
    desk.carry_out(ShowStill(), now)
    first = data.draw(st.integers(0, mode.width - 1))
    values = data.draw(st.lists(st.integers(0, 255), min_size=1, max_size=mode.width - first))
    raise_own(desk, lamp.id, values, now, first)
    for wait in (RAMP_S / 3, RAMP_S, HELD_S - 0.01):
        state, read = state_of(desk, now + wait), seen(desk, now + wait)[lamp.id]
        [report] = [one for one in state.reports if one.id == lamp.id]
        assert (report.level, report.output, report.light) == (read.level, read.output, read.light)
        assert report.xy == read.xy and report.notes == (NOTE,)
        taken = sent(desk, now + wait)[lamp.universe][lamp.address - 1 :][: mode.width]
        assert bytes(report.slots) == taken
        assert state.levels[LAMPS.index(lamp)] == read.level
    assert [one.notes for one in state_of(desk, now + HELD_S).reports if one.id == lamp.id] == [()]
    assert state_of(desk, now + HELD_S).raised is None


# ── Surfaces ────────────────────────────────────────────────────────────────────────────────────────

KEY = LAMPS[KINDS.index(("spot-daylight", "8-bit"))]


def raise_own(desk: Desk, lamp: str, values: list[int], now: float, first: int = 0) -> None:
    fixture = desk.show.fixture(lamp)
    assert fixture is not None
    place = {"universe": fixture.universe, "address": fixture.address + first}
    desk.raise_slots(RaiseSlots(slots=tuple(values), fixture=lamp, **place), now)


def held() -> Desk:
    desk = Desk(SHOW, PROFILES, 0.0)
    desk.carry_out(ShowStill(words="key is measured"), 1.0)
    raise_own(desk, KEY.id, [128], 1.0)
    return desk


def snapshot(desk: Desk, now: float) -> Snapshot:
    nothing = {"path": "", "outputs": (), "saved": Saved(), "remote": {}, "logged": Saved()}
    fields, parts = snapshot_of(desk, now, pids=(1, None), message=("", 0), **nothing)  # type: ignore[arg-type]
    lights: dict[str, LightState] = {}
    for part in parts:
        lights |= part
    return Snapshot.model_validate({**fields, "lights": lights})


def test_clients_hear_of_the_lamp_that_is_held_and_of_its_slots() -> None:
    now = 1.0 + RAMP_S
    told = snapshot(held(), now)
    place = {"universe": KEY.universe, "address": KEY.address}
    assert told.raised == RaisedState(slots=(128,), fixtures=(KEY.id,), **place)
    assert told.raised.words == f"{KEY.universe}.{KEY.address} of {KEY.id}"
    assert told.lights[KEY.id].slots == (128,)
    assert told.lights[KEY.id].level == pytest.approx(128 / 255)
    assert told.lights[KEY.id].notes == (NOTE,)
    assert all(light.level == 0.0 for name, light in told.lights.items() if name != KEY.id)


def test_osc_and_the_record_tell_it_too() -> None:
    state = state_of(held(), 1.0 + RAMP_S)
    assert reported(state)[f"/onecrew/state/light/{KEY.id}/level"] == (pytest.approx(128 / 255, abs=1e-4),)
    assert reported(state)["/onecrew/state/raised"] == (f"{KEY.universe}.{KEY.address} of {KEY.id}",)
    [lamp] = [one for one in recorded_state(state)["lamps"] if one["fixture"]["id"] == KEY.id]
    assert lamp["sent"]["slots"] == [128] and lamp["sent"]["notes"] == [NOTE]
    assert json.dumps(recorded_state(state))


def test_slots_where_nobody_patched_a_lamp_are_told_without_one() -> None:
    desk = Desk(SHOW, PROFILES, 0.0)
    desk.raise_slots(RaiseSlots(universe=9, address=101, slots=(1, 2, 3)), 1.0)
    told = snapshot(desk, 1.0 + RAMP_S)
    assert told.raised is not None and told.raised.words == "9.101–103"
    assert reported(state_of(Desk(SHOW, PROFILES, 0.0), 1.0))["/onecrew/state/raised"] == ("",)


def test_a_lamp_that_is_patched_under_raised_slots_is_held_by_them() -> None:
    bare = SHOW.model_copy(update={"rig": Rig(fixtures=LAMPS[:1])})
    desk, new = Desk(bare, PROFILES, 0.0), KEY.model_copy(update={"universe": 7, "address": 10})
    desk.raise_slots(RaiseSlots(universe=7, address=10, slots=(255,)), 1.0)
    desk.carry_out(PutFixture(fixture=new), 1.5)
    told = snapshot(desk, 1.0 + RAMP_S)
    assert told.lights[KEY.id].level == 1.0 and told.raised is not None
    assert told.raised.fixtures == (KEY.id,)
