"""Grey cards under lamps whose emitters are off, seen by cameras of many kinds: what a judge of the camera
as the meter needs. Light is added wavelength by wavelength. Own arithmetic; the two published sensors are
colour-science's.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import numpy as np

from onecrew.colour.adaptation import RGB_FROM_XYZ
from onecrew.colour.arrays import FloatArray
from onecrew.colour.cmf import matching_functions, wavelengths_nm
from onecrew.colour.planck import spectrum
from onecrew.colour.spaces import xy_to_uv76, xyz_to_xy
from onecrew.colour.spectra import at_unit_light, bells
from onecrew.fixtures.describe import describe_lights
from onecrew.show.light import Light, White
from onecrew.show.show import Fixture, Reading
from tests.stills.stage import PROFILES, Recorder

WHITES_K = (2700.0, 3200.0, 4300.0, 5600.0, 6500.0)


@dataclass(frozen=True)
class Sample:
    """One lamp as it was made: its emitters are not quite the profile's."""

    fixture: Fixture
    emitters: Mapping[str, tuple[FloatArray, float]]
    """By name: spectrum (471,) at unit light, and flux."""

    @classmethod
    def made(cls, kind: tuple[str, str], rng: np.random.Generator, off: float = 1.0) -> Sample:
        """A lamp of a kind; ``off`` scales how far it is from its profile."""
        profile = PROFILES[kind[0]]
        emitters = {}
        for name, emitter in profile.emitters.items():
            moved = rng.normal(0.0, 3.0 * off)
            peaks = [
                (bell.peak_nm + moved, bell.fwhm_nm * (1 + rng.normal(0, 0.06 * off)),
                 bell.share * (1 + rng.normal(0, 0.06 * off)))
                for bell in emitter.spectrum
            ]  # fmt: skip
            emitters[name] = (at_unit_light(bells(peaks)), emitter.flux * np.exp(rng.normal(0.0, 0.07 * off)))
        fixture = Fixture(id="lamp", profile=kind[0], mode=kind[1], universe=1, address=1, role="key")
        return cls(fixture, emitters)

    def power(
        self, cct_k: float, duv: float = 0.0, calibration: tuple[Reading, ...] = (), output: float = 1.0
    ) -> FloatArray:
        """(471,) of what leaves it when it is asked for a white, under these readings."""
        fixture = self.fixture.model_copy(update={"calibration": calibration})
        [report] = describe_lights(fixture, PROFILES, [Light(level=1.0, white=White(cct_k=cct_k, duv=duv))])
        total = np.zeros(471)
        for name, drive in report.drives.items():
            shape, flux = self.emitters[name]
            total += drive * flux * shape
        return total * output


@dataclass(frozen=True)
class Camera:
    sensor: FloatArray
    """(471, 3)."""
    matrix: FloatArray
    """(3, 3), balanced sensor → linear sRGB."""
    balance: FloatArray
    """(3,), such that a white is grey."""

    @classmethod
    def of(
        cls, sensor: FloatArray, balance_k: float, rng: np.random.Generator, strength: float = 1.0
    ) -> Camera:
        """The matrix is the best for black-body light on invented smooth surfaces, as makers do it."""
        nm = wavelengths_nm()
        light = spectrum(balance_k)
        surfaces = np.stack(
            [
                0.15 + 0.7 * np.exp(-0.5 * ((nm - rng.uniform(400, 680)) / rng.uniform(25, 90)) ** 2)
                for _ in range(40)
            ]
        )
        balance = 1.0 / (light @ sensor)
        seen = (surfaces * light) @ (sensor * balance)
        white = light @ matching_functions()
        d65 = np.linalg.inv(RGB_FROM_XYZ) @ np.ones(3)
        wanted = ((surfaces * light) @ matching_functions() / white * d65) @ RGB_FROM_XYZ.T
        matrix = np.linalg.lstsq(seen, wanted, rcond=None)[0].T
        if abs(matrix / matrix.sum(axis=1, keepdims=True)).max() > 3.0:
            strength = min(strength, 0.3)  # no maker would let a matrix amplify noise so much
        matrix = strength * matrix + (1 - strength) * np.eye(3)
        matrix /= matrix.sum(axis=1, keepdims=True)
        return cls(sensor, matrix, balance)

    def rgb(self, power: FloatArray) -> FloatArray:
        """Linear (3,) as in the picture."""
        return self.matrix @ ((power @ self.sensor) * self.balance)

    def uv(self, power: FloatArray) -> FloatArray:
        """Where the picture's linear colour lies, in CIE 1976."""
        return xy_to_uv76(xyz_to_xy(np.linalg.inv(RGB_FROM_XYZ) @ self.rgb(power)))


def invented(rng: np.random.Generator) -> FloatArray:
    nm = wavelengths_nm()
    out = []
    for middle, second in ((rng.normal(600, 8), 0.1), (rng.normal(535, 8), 0.05), (rng.normal(460, 8), 0.03)):
        left, right = rng.uniform(22, 50), rng.uniform(22, 50)
        bell = np.exp(-0.5 * ((nm - middle) / np.where(nm < middle, left, right)) ** 2)
        leak = rng.uniform(0, second) * np.exp(-0.5 * ((nm - rng.uniform(430, 620)) / 40) ** 2)
        out.append(bell + leak)
    return np.stack(out, axis=1)


@lru_cache(maxsize=1)
def published() -> tuple[FloatArray, ...]:
    import colour

    nm = wavelengths_nm()
    found = []
    for sensor in colour.MSDS_CAMERA_SENSITIVITIES.values():
        values = np.stack(
            [np.interp(nm, sensor.wavelengths, sensor.values[:, i], left=0, right=0) for i in range(3)],
            axis=1,
        )
        found.append(np.maximum(values, 0.0))
    return tuple(found)


def shots(
    folder: Path,
    lamps: Mapping[str, Sample],
    camera: Camera,
    recorder: Recorder,
    asks: Mapping[str, Sequence[tuple[float, float]]],
    falls: Mapping[str, float],
    calibration: Mapping[str, tuple[Reading, ...]] | None = None,
) -> Path:
    """Write stills of a grey card in a dark room and their list; returns the list.

    ``falls``: how bright the card is under each lamp at 4300 K, linear.
    """
    names, entries = [], []
    card = np.zeros((96, 128, 1))
    card[34:62, 44:84] = 1.0
    for name, asked in ({"": [(4300.0, 0.0)]} | dict(asks)).items():
        for n, (cct_k, duv) in enumerate(asked):
            picture = np.full((96, 128, 3), 0.0005)
            if name:
                lamp, table = lamps[name], (calibration or {}).get(name, ())
                scale = falls[name] / camera.rgb(lamp.power(4300.0))[1]
                picture = picture + (0.05 + card) * camera.rgb(lamp.power(cct_k, duv, table)) * scale
            file = f"{name or 'dark'}{n}.png"
            recorder.write(folder / file, np.maximum(picture, 0.0))
            entry = {"file": file, "lamp": name or None}
            entries.append(entry | ({"cct_k": cct_k, "duv": duv, "output": 1.0} if name else {}))
            names.append(file)
    (folder / "stills.json").write_text(json.dumps({"stills": entries}))
    return folder / "stills.json"
