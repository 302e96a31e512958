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
    """What aperture N, time t and speed S come to."""

    ev: float
    """log₂(N²/t)."""
    ev_100: float
    """The same light at ISO 100: EV − log₂(S/100)."""
    lux: float
    """Illuminance of nominal exposure on a flat receptor: C·N²/(t·S)."""
    shutter_deg: float | None
    """Shutter angle at the frame rate; None where the time is longer than a frame."""

    @property
    def footcandles(self) -> float:
        return self.lux / LUX_PER_FOOTCANDLE


def exposure_of(camera: Camera) -> Exposure:
    """The exposure of the camera notes.

    >>> round(exposure_of(Camera(iso=800, shutter_s=1 / 48, aperture=2.8)).lux, 1)
    117.6
    """
    light = camera.aperture**2 / camera.shutter_s
    angle = 360.0 * camera.shutter_s * camera.fps
    return Exposure(
        ev=math.log2(light),
        ev_100=math.log2(light) - math.log2(camera.iso / 100.0),
        lux=INCIDENT_C * light / camera.iso,
        shutter_deg=angle if angle <= 360.0 + 1e-9 else None,
    )
