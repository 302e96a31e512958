"""What a meter would read now, for clients that have the show and what the lamps do."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Protocol

from onecrew.plan.forecast import Forecast, forecasts
from onecrew.plan.lamp import lamp_of
from onecrew.plan.stage import Stage, stage_of
from onecrew.show.profile import Profile
from onecrew.show.show import Place, Show


class Doing(Protocol):
    """What one lamp does."""

    @property
    def output(self) -> float: ...
    @property
    def xy(self) -> tuple[float, float]: ...


def forecast_now(
    show: Show, profiles: Mapping[str, Profile], lights: Mapping[str, Doing]
) -> tuple[Forecast, ...]:
    """The readings at every subject under ``lights``.

    It takes from a tenth of a second to a second or two: not for a loop that makes light.
    """
    return forecasts(stage_now(show, profiles, lights, {}), show.camera)


def stage_now(
    show: Show,
    profiles: Mapping[str, Profile],
    lights: Mapping[str, Doing],
    moved: Mapping[str, Place],
) -> Stage:
    """The room under ``lights``; ``moved`` are things that stand elsewhere than stored.

    ``moved`` goes by 'lamp ID', 'camera camera' and, for set pieces, 'subject ID' or 'set piece ID'.
    """
    lamps = []
    for fixture in show.rig.fixtures:
        light = lights.get(fixture.id)
        place = moved.get(f"lamp {fixture.id}", fixture.place)
        there = fixture.model_copy(update={"place": place})
        output, xy = (0.0, (0.33, 0.33)) if light is None else (light.output, light.xy)
        lamps.append(lamp_of(there, profiles.get(fixture.profile), output, xy))
    pieces = [
        piece.model_copy(
            update={
                "place": moved.get(f"subject {piece.id}", moved.get(f"set piece {piece.id}", piece.place))
            }
        )
        for piece in show.rig.set_pieces
    ]
    camera = show.camera.model_copy(update={"place": moved.get("camera camera", show.camera.place)})
    return stage_of(lamps, pieces, camera, show.room)
