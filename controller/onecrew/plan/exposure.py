"""Exposure: what the camera notes come to. Constants and relations of ISO 2720:1974."""

from __future__ import annotations

import math
from dataclasses import dataclass

from onecrew.show.show import Camera

INCIDENT_C = 250.0
"""Incident-light calibration constant, lux, for a flat receptor (ISO 2720:1974 allows 240 to 400)."""
LUX_PER_FOOTCANDLE = 1.0 / 0.3048**2
"""One lumen a square foot, in lux."""


@dataclass(frozen=True, slots=True)
class Exposure:
    """What aperture N, time t, speed S and neutral density come to."""

    ev: float
    """log₂(N²/t)."""
    ev_100: float
    """The same light at ISO 100: EV − log₂(S/100), and a stop more for each stop of neutral density."""
    lux: float
    """Illuminance of nominal exposure on a flat receptor: C·N²/(t·S), doubled by each stop of density."""
    shutter_s: float
    shutter_deg: float | None
    """Shutter angle at the frame rate; None where the time is longer than a frame."""

    @property
    def footcandles(self) -> float:
        return self.lux / LUX_PER_FOOTCANDLE

    def stops(self, lux: float) -> float:
        """Stops of a reading above (+) or below (−) nominal exposure; −inf for no light."""
        return math.log2(lux / self.lux) if lux > 0.0 else -math.inf


def shutter_s_of(camera: Camera) -> float:
    """Exposure time of the camera notes: of the shutter angle where there is one, t = angle / (360 fps)."""
    return camera.shutter_s if camera.shutter_deg is None else camera.shutter_deg / (360.0 * camera.fps)


def exposure_of(camera: Camera) -> Exposure:
    """The exposure of the camera notes; a T-stop counts before the aperture.

    >>> round(exposure_of(Camera(iso=800, shutter_s=1 / 48, aperture=2.8)).lux, 1)
    117.6
    """
    time = shutter_s_of(camera)
    light = (camera.t_stop or camera.aperture) ** 2 / time
    angle = 360.0 * time * camera.fps
    return Exposure(
        ev=math.log2(light),
        ev_100=math.log2(light) - math.log2(camera.iso / 100.0) + camera.nd_stops,
        lux=INCIDENT_C * light / camera.iso * 2.0**camera.nd_stops,
        shutter_s=time,
        shutter_deg=angle if angle <= 360.0 + 1e-9 else None,
    )
