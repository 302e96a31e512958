"""The same looks with another kind of lamp: its colours, its levels, its place in the patch."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from controller.colour.locus import white_to_uv60
from controller.colour.spaces import xy_to_uv76, xyy_to_xyz, xyz_to_xy
from controller.documents.check import check_show
from controller.documents.light import Effect, Light, White
from controller.documents.show import Camera, Cue, Fixture, Reading, Rig, Show
from controller.errors import DocumentFaults, Mistake
from controller.output.decoder import Decoder
from controller.output.encoder import Encoder
from controller.output.substitution import Substitution, substituted
from tests.fakes.profiles import all_profiles, kinds, whites

PROFILES = all_profiles()
WHITE = Light(level=0.4, white=White(cct_k=4300))


def lamp(profile: str, mode: str, address: int = 1, **more: Any) -> Fixture:
    fields = {"id": "key", "universe": 1, "role": "key", **more}
    return Fixture(profile=profile, mode=mode, address=address, **fields)


def show(old: Fixture, *lights: Light, others: tuple[Fixture, ...] = ()) -> Show:
    cues = tuple(Cue(number=str(n), look={old.id: light}) for n, light in enumerate(lights, start=1))
    return Show(name="one lamp", rig=Rig(fixtures=(*others, old)), cues=cues)


def put(one: Show, profile: str, mode: str, stops: float | None = None) -> Substitution:
    old = one.fixture("key")
    found = PROFILES[profile].mode(mode)
    assert old is not None and found is not None
    return substituted(one, PROFILES, old, PROFILES[profile], found, stops)


def light_on_the_wire(fixture: Fixture, light: Light) -> float:
    """Flux of a lamp of emitters in a look, added up from its slots (CIE 15, additive mixture)."""
    assert light.white is not None
    frame = whites([light.level], [light.white.cct_k], light.white.duv)
    row = Encoder([fixture], PROFILES).encode(frame)[0]
    [seen] = Decoder([fixture], PROFILES).decode({fixture.universe: row.tobytes()})
    names = PROFILES[fixture.profile].mode(fixture.mode).emitters  # type: ignore[union-attr]
    return seen.light * sum(PROFILES[fixture.profile].emitters[name].flux for name in names)


def test_the_new_lamp_gives_the_light_of_the_old_one() -> None:
    before = show(lamp("spot-six", "16-bit"), WHITE, Light(level=0.05, white=White(cct_k=3200)))
    found = put(before, "panel-rgbww", "16-bit")
    for row, cue, was in zip(found.rows, found.show.cues, before.cues, strict=True):
        assert cue.look["key"] == row.now
        old = light_on_the_wire(before.rig.fixtures[0], was.look["key"])
        assert light_on_the_wire(found.fixture, row.now) == pytest.approx(old, rel=2e-3)
        assert row.stops_lost == 0.0
        assert row.off_by == pytest.approx(0.0, abs=1e-6) == row.apart


def test_dimming_laws_are_seen_through() -> None:
    # Square law: half the level is a quarter of the light; that is a quarter of the level by a linear one.
    old = lamp("bulb-rgbww", "8-bit")
    found = put(show(old, Light(level=0.5, white=White(cct_k=4300))), "panel-rgbww", "16-bit", 0.0)
    # Both are as bright as each other at full and at 5600 K; at 4300 K the mixes differ a little.
    assert found.rows[0].now.level == pytest.approx(0.25, rel=0.15)
    same = put(show(old, Light(level=0.5, white=White(cct_k=4300))), "bulb-rgbww", "8-bit")
    assert same.rows[0].now.level == pytest.approx(0.5, abs=1e-4)


def test_what_a_lamp_cannot_give_is_told_in_stops() -> None:
    full = Light(level=1.0, white=White(cct_k=5600))
    found = put(show(lamp("spot-six", "16-bit"), full), "panel-rgbww", "16-bit", -1.0)
    [row] = found.rows
    assert (row.now.level, row.stops_lost) == (1.0, pytest.approx(1.0, abs=1e-9))
    brighter = put(show(lamp("spot-six", "16-bit"), full), "panel-rgbww", "16-bit", +1.0)
    assert (brighter.rows[0].now.level, brighter.rows[0].stops_lost) == (pytest.approx(0.5), 0.0)


def test_brighter_is_meant_at_the_white_balance_of_the_camera() -> None:
    tungsten = show(lamp("panel-bicolour", "16-bit"), Light(level=0.5, white=White(cct_k=2701)))
    tungsten = tungsten.model_copy(update={"camera": Camera(white_balance_k=2701)})
    assert put(tungsten, "spot-six", "16-bit", 0.0).rows[0].now.level == pytest.approx(0.5, rel=1e-3)


def test_a_colour_out_of_reach_is_measured_from_what_was_asked_and_from_what_was_given() -> None:
    asked = Light(level=0.3, white=White(cct_k=4000))
    [row] = put(show(lamp("spot-six", "16-bit"), asked), "panel-bicolour", "16-bit").rows
    # The nearest point of the chord from 2700 K to 6500 K, Duv +0.001, in CIE 1976 (u′, v′).
    ends = xy_to_uv76(np.array([[0.4598, 0.4106], [0.3132, 0.3252]]))
    aim = white_to_uv60(4000.0) * (1.0, 1.5)
    along = (ends[1] - ends[0]) / np.hypot(*(ends[1] - ends[0]))
    across = abs((aim - ends[0])[0] * along[1] - (aim - ends[0])[1] * along[0])
    assert row.off_by == pytest.approx(across, abs=2e-6)
    assert row.apart == pytest.approx(across, abs=2e-6)
    assert any("out of reach" in note for note in row.new.notes)
    # An old lamp that was off itself: what it gave is what the new one is compared with.
    [row] = put(show(lamp("panel-bicolour", "16-bit"), asked), "spot-six", "16-bit").rows
    assert row.off_by == pytest.approx(0.0, abs=1e-6)
    assert row.apart == pytest.approx(across, abs=2e-6)


def test_a_lamp_in_its_own_white_hands_that_white_on() -> None:
    found = put(show(lamp("practical-dimmer", "8-bit"), Light(level=0.6)), "bulb-rgbww", "8-bit")
    now = found.show.cues[0].look["key"]
    assert now.white is not None
    assert (now.white.cct_k, now.white.duv) == (pytest.approx(2700, abs=2), pytest.approx(0.0, abs=1e-4))
    back = put(show(lamp("bulb-rgbww", "8-bit"), Light(level=0.6)), "practical-dimmer", "8-bit")
    assert back.show.cues[0].look["key"].white is None
    red = put(show(lamp("red-lamp", "8-bit"), Light(level=0.6)), "spot-six", "16-bit")
    assert red.show.cues[0].look["key"].xy == pytest.approx((0.69, 0.308))


def test_effects_modifiers_and_what_is_dark_stay() -> None:
    effect = Effect(kind="flame", depth=0.3)
    old = lamp("spot-six", "16-bit", modifiers=({"kind": "grid", "stops": 1.0},), note="by the door")
    lights = (WHITE.model_copy(update={"effect": effect}), Light(level=0.0))
    found = put(show(old, *lights), "panel-rgbww", "16-bit")
    assert found.show.cues[0].look["key"].effect == effect
    assert found.show.cues[1].look["key"] == lights[1]
    assert [row.cue.number for row in found.rows] == ["1"]
    assert (found.fixture.modifiers, found.fixture.note, found.fixture.role) == (
        old.modifiers,
        old.note,
        "key",
    )


def test_readings_and_a_mixing_that_the_new_lamp_has_not_are_left_out_and_told() -> None:
    reading = Reading(asked_cct_k=3200, measured_cct_k=3100, measured_duv=0.0, light=1.0)
    old = lamp("spot-six", "16-bit", calibration=(reading,), mixing="truest")
    found = put(show(old, WHITE), "rgb", "16-bit")
    assert (found.fixture.calibration, found.fixture.mixing) == ((), "brightest")
    assert any("calibrate the new one" in remark for remark in found.remarks)
    assert any("not truest" in remark for remark in found.remarks)
    assert put(show(old, WHITE), "panel-rgbww", "16-bit").fixture.mixing == "truest"


# ── The patch ───────────────────────────────────────────────────────────────────────────────────────


def test_the_address_is_kept_where_the_new_lamp_fits() -> None:
    neighbour = lamp("spot-six", "16-bit", 20, id="other")
    found = put(show(lamp("spot-six", "16-bit", 5), WHITE, others=(neighbour,)), "panel-rgbww", "16-bit")
    assert (found.fixture.universe, found.fixture.address) == (1, 5)
    assert not any("do not fit" in remark for remark in found.remarks)


def test_else_the_next_free_one_is_taken_and_told() -> None:
    neighbour = lamp("spot-six", "16-bit", 9, id="other")
    found = put(
        show(lamp("panel-cct-tint", "16-bit", 1), WHITE, others=(neighbour,)), "panel-rgbww", "16-bit"
    )
    assert (found.fixture.universe, found.fixture.address) == (1, 23)
    assert "its 12 slots do not fit at 1.1: set the new lamp to universe 1, address 23" in found.remarks
    at_the_end = put(show(lamp("practical-dimmer", "8-bit", 512), WHITE), "tube-rgbww-8", "8-segment")
    assert (at_the_end.fixture.universe, at_the_end.fixture.address) == (1, 1)


def test_a_full_universe_moves_it_to_another() -> None:
    full = tuple(lamp("spot-six", "16-bit", 1 + 14 * n, id=f"other-{n}") for n in range(36))
    old = lamp("practical-dimmer", "8-bit", 505)
    found = put(show(old, WHITE, others=full), "spot-six", "16-bit")
    assert (found.fixture.universe, found.fixture.address) == (2, 1)


def test_faults_that_the_show_had_are_not_held_against_it() -> None:
    doubled = lamp("spot-six", "16-bit", 3, id="other")
    faulty = show(lamp("spot-daylight", "8-bit", 100), WHITE, others=(doubled, doubled))
    assert check_show(faulty, PROFILES)
    assert put(faulty, "panel-rgbww", "16-bit").fixture.profile == "panel-rgbww"


def test_the_old_show_is_untouched() -> None:
    before = show(lamp("spot-six", "16-bit"), WHITE)
    copy = before.model_copy(deep=True)
    put(before, "panel-rgbww", "16-bit")
    assert before == copy


LAMPS = st.sampled_from(kinds())


@settings(max_examples=60)
@given(
    old=LAMPS,
    new=LAMPS,
    level=st.floats(0.001, 1.0),
    cct_k=st.floats(1500, 15000),
    duv=st.floats(-0.02, 0.02),
)
def test_any_lamp_can_stand_in_for_any(
    old: tuple[str, str], new: tuple[str, str], level: float, cct_k: float, duv: float
) -> None:
    before = show(lamp(*old), Light(level=level, white=White(cct_k=cct_k, duv=duv)), Light(level=level))
    found = put(before, *new)
    assert check_show(found.show, PROFILES) == []
    for row in found.rows:
        assert 0.0 <= row.now.level <= 1.0
        assert row.stops_lost >= 0.0 and math.isfinite(row.stops_lost)
        assert row.apart >= 0.0
        # Less light than before only where the lamp is at full.
        assert row.stops_lost == 0.0 or row.now.level == 1.0


def test_mixes_of_the_example_add_up_by_hand() -> None:
    """The drives of the new lamp, as slots, give the colour that the report tells."""
    found = put(show(lamp("panel-cct-tint", "16-bit"), WHITE), "panel-rgbww", "16-bit")
    [row] = found.rows
    emitters = PROFILES["panel-rgbww"].emitters
    xyz = sum(
        drive * xyy_to_xyz(np.array(emitters[name].xy), emitters[name].flux)
        for name, drive in row.new.drives.items()
    )
    assert xyz_to_xy(xyz) == pytest.approx(row.new.xy, abs=1e-7)


def test_no_room_anywhere_is_a_mistake(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("controller.output.substitution.next_free", lambda *_: None)
    monkeypatch.setattr("controller.output.substitution.next_free_anywhere", lambda *_: None)
    old = lamp("practical-dimmer", "8-bit", 512)
    with pytest.raises(Mistake, match="no universe has 40 slots"):
        put(show(old, WHITE), "tube-rgbww-8", "8-segment")


def test_a_new_fault_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("controller.output.substitution._fits", lambda *_: True)
    with pytest.raises(DocumentFaults, match="ends at"):
        put(show(lamp("practical-dimmer", "8-bit", 512), WHITE), "tube-rgbww-8", "8-segment")
