"""One meter reading of a lamp in place → what the bare lamp gives at full one metre before its face."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from onecrew.errors import Mistake
from onecrew.plan.beam import Beam
from onecrew.plan.forecast import Spot, forecast
from onecrew.plan.lamp import Lamp
from onecrew.plan.saying import lux as say_lux
from onecrew.plan.source import Source, illuminance
from onecrew.plan.stage import Stage, candela_of, modified, source_of, stage_of
from onecrew.show.photometry import Room
from onecrew.show.show import Camera, Place, SetPiece

MOST_OFF = 64.0
"""A reading further than this from what was promised is a slip of the pen."""


@dataclass(frozen=True, slots=True)
class Correction:
    """What a reading makes of a lamp."""

    promised_lux: float
    lux_at_1m: float
    """Of the bare lamp at full."""
    doubts: tuple[str, ...] = ()
    """What makes the place of the reading doubtful, in sentences."""


def on_axis(lamp: Lamp, lux: float, distance_m: float) -> Correction:
    """From a reading on the beam's axis, where the room's bounce does not count. Raises ``Mistake``."""
    fixture = lamp.fixture.model_copy(
        update={"place": Place(x_m=0, y_m=0, height_m=0, aim_deg=0, tilt_deg=0)}
    )
    gives = lamp.gives
    bare = Source(np.zeros(3), 0.0, 0.0, gives.width_m, gives.height_m, _beam(lamp), 1.0)
    bare = bare.of_candela(candela_of(gives, bare))
    return _corrected(lamp, bare, _before(modified(bare, fixture, None), distance_m) * lamp.output, lux)


def in_place(
    lamp: Lamp, lux: float, set_pieces: Sequence[SetPiece], camera: Camera, room: Room, at: Spot | None
) -> Correction:
    """From a reading at the subject, or at ``at``, facing the lamp, alone. Raises ``Mistake``."""
    stage = stage_of([lamp], set_pieces, camera, room)
    found = forecast(stage, camera, at)
    if not found.lamps:
        raise Mistake(f"{lamp.fixture.id} has no place on the plan; give it one, or measure with --distance")
    made = _corrected(lamp, _bare(lamp, stage), found.lamps[0].lamp_lux, lux)
    return replace(made, doubts=found.doubts)


def _bare(lamp: Lamp, stage: Stage) -> Source:
    plain = lamp.fixture.model_copy(update={"modifiers": ()})
    return source_of(replace(lamp, fixture=plain), stage)


def _beam(lamp: Lamp) -> Beam:
    return Beam(lamp.gives.beam_deg, lamp.gives.field_deg)


def _corrected(lamp: Lamp, bare: Source, promised: float, lux: float) -> Correction:
    most = MOST_OFF if lamp.known else 1e9
    if not lux / most < promised < lux * most:
        raise Mistake(
            f"the meter read {say_lux(lux)} where {say_lux(promised)} were promised: that far apart, "
            "distance, level or aim are not what was said; check them and measure again"
        )
    return Correction(promised, _before(bare, 1.0) * lux / promised)


def _before(source: Source, distance_m: float) -> float:
    """Direct light on the axis, facing the source."""
    place = (source.at + distance_m * source.ahead)[None, :]
    return float(illuminance(source, place, -source.ahead[None, :])[0])
