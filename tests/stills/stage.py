"""A small spectral room with an invented camera: stills and references whose true levels and whites are
known.

Light is added wavelength by wavelength, from the emitters of the shipped profiles, over invented surfaces,
into a sensor with invented sensitivities; nothing here uses the blend or the tint that the solve relies on.
Own arithmetic.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
import png
from numpy.typing import NDArray
from PIL import Image

from onecrew.colour.arrays import FloatArray
from onecrew.colour.cmf import wavelengths_nm
from onecrew.colour.planck import spectrum
from onecrew.fixtures.describe import describe_lights
from onecrew.fixtures.spectral import spectrum_of
from onecrew.show.light import Light, White
from onecrew.show.load import load_show
from onecrew.show.profiles import load_profiles
from onecrew.show.show import Show
from onecrew.stills.transfer import Curve, curve_called

WIDTH, HEIGHT = 200, 120
PROFILES = load_profiles()
LAMPS = {
    "key": ("panel-bicolour", "16-bit", 2700, 6500),
    "fill": ("panel-rgbww", "16-bit", 2700, 6500),
    "edge": ("tube-rgbww-8", "16-bit", 2700, 6500),
    "bulb": ("bulb-rgbww", "8-bit", 2700, 6500),
}


def show_document(lamps: Mapping[str, tuple[str, str, int, int]] = LAMPS) -> dict[str, Any]:
    """A show whose rig is these lamps."""
    fixtures = [
        {
            "id": name,
            "profile": profile,
            "mode": mode,
            "universe": 1,
            "address": 1 + 60 * n,
        }
        for n, (name, (profile, mode, _, _)) in enumerate(lamps.items())
    ]
    return {"format": "onecrew-show", "version": 2, "name": "Stage", "rig": {"fixtures": fixtures}}


def the_rig(lamps: Mapping[str, tuple[str, str, int, int]] = LAMPS) -> Show:
    """A show whose rig is these lamps, not by way of a file."""
    document = show_document(lamps)
    fixtures = [{**fixture, "role": "key"} for fixture in document["rig"]["fixtures"]]
    return Show.model_validate({"name": "Stage", "rig": {"fixtures": fixtures}})


def write_show(folder: Path) -> Path:
    path = folder / "stage.json"
    path.write_text(json.dumps(show_document()))
    return path


def the_show(folder: Path) -> Show:
    return load_show(write_show(folder), PROFILES)


def _bell(middle_nm: float, width_nm: float) -> FloatArray:
    return np.asarray(np.exp(-0.5 * ((wavelengths_nm() - middle_nm) / width_nm) ** 2))


@dataclass(frozen=True)
class Camera:
    """An invented sensor: bells at these wavelengths, balanced for a white, and a matrix that makes
    colours."""

    middles_nm: tuple[float, float, float] = (605.0, 540.0, 460.0)
    width_nm: float = 38.0
    matrix: tuple[tuple[float, ...], ...] = ((1.5, -0.4, -0.1), (-0.2, 1.4, -0.2), (0.02, -0.32, 1.3))
    white_balance_k: float = 4300.0

    def response(self) -> FloatArray:
        """(471, 3), such that the white of the balance is grey."""
        sensors = np.stack([_bell(middle, self.width_nm) for middle in self.middles_nm], axis=1)
        white = spectrum(self.white_balance_k) @ sensors
        return np.asarray(sensors / white) @ np.array(self.matrix).T


@dataclass(frozen=True)
class Stage:
    """The room: where each lamp falls, and what the surfaces are."""

    camera: Camera = field(default_factory=Camera)
    moved: int = 0
    """By so many pixels the person sits further right."""
    walls: float = 1.0
    """Brightness of the walls against the usual; another room has others."""

    def spectra(self) -> FloatArray:
        """(5, 471): wall, skin, cloth, wood, paper."""
        nm = wavelengths_nm()
        skin = 0.25 + 0.35 / (1.0 + np.exp(-(nm - 590.0) / 18.0))
        cloth = 0.1 + 0.3 * _bell(525.0, 40.0)
        wood = 0.08 + 0.3 / (1.0 + np.exp(-(nm - 600.0) / 30.0))
        return np.stack((np.full_like(nm, 0.28 * self.walls), skin, cloth, wood, np.full_like(nm, 0.75)))

    def surfaces(self) -> NDArray[np.intp]:
        """(HEIGHT, WIDTH), which surface each pixel shows."""
        y, x = np.mgrid[:HEIGHT, :WIDTH]
        x = x - self.moved
        what = np.zeros((HEIGHT, WIDTH), dtype=np.intp)
        what[(y > 75) & (abs(x - 100) < 45)] = 2
        what[(x - 100) ** 2 / 400 + (y - 55) ** 2 / 700 < 1] = 1
        back = x + self.moved
        what[(y > 85) & (back < 50)] = 3
        what[(y > 95) & (back > 150)] = 4
        return what

    def falls(self) -> dict[str, FloatArray]:
        """Where each lamp falls, (HEIGHT, WIDTH), relative."""
        y, x = np.mgrid[:HEIGHT, :WIDTH].astype(float)
        side = (x - 100 - self.moved) / 20.0
        face = self.surfaces() == 1
        key = 0.2 + 0.3 * np.exp(-(((x - 40) / 60) ** 2)) + face * np.clip(0.7 - 0.6 * side, 0.0, 1.6)
        fill = 0.25 + 0.05 * x / WIDTH + face * np.clip(0.2 + 0.12 * side, 0.0, 0.6)
        edge = 0.02 + 0.9 * np.exp(-((x - 185) ** 2 + (y - 15) ** 2) / 900)
        edge += face * np.clip(side - 0.6, 0.0, 1.0) * 1.8
        bulb = 0.01 + 3.0 * np.exp(-((x - 22) ** 2 + (y - 70) ** 2) / 300)
        return {"key": key, "fill": fill, "edge": edge, "bulb": bulb}

    def light(
        self, outputs: Mapping[str, float], whites: Mapping[str, float], ambient: float = 0.0004
    ) -> FloatArray:
        """Linear RGB (HEIGHT, WIDTH, 3) as the camera's sensor and matrix see it."""
        seen = self.spectra()[:, :, None] * self.camera.response()[None]
        falls, what = self.falls(), self.surfaces()
        picture = np.full((HEIGHT, WIDTH, 3), ambient)
        for name, output in outputs.items():
            if output > 0.0:
                power = spectrum_of_lamp(name, output, whites[name])
                picture += falls[name][:, :, None] * np.einsum("w,swc->sc", power, seen)[what]
        return picture


def spectrum_of_lamp(name: str, output: float, cct_k: float) -> FloatArray:
    """(471,) of what leaves a lamp at an output and white, its brightest white at full as strong as
    daylight."""
    profile_id, mode_name, _, _ = LAMPS[name]
    profile = PROFILES[profile_id]
    mode = profile.mode(mode_name)
    assert mode is not None
    from onecrew.fixtures.describe import of_kind

    [report] = describe_lights(
        of_kind(profile, mode), {profile.id: profile}, [Light(level=1.0, white=White(cct_k=cct_k))]
    )
    power = spectrum_of(profile, mode, report.drives)
    scale = spectrum(4300.0).sum() / 471.0
    most = sum(emitter.flux for emitter in profile.emitters.values())
    return np.asarray(power / most * 180.0 * output * scale)


@dataclass(frozen=True)
class Recorder:
    """How light becomes a file: exposure, noise, curve, bits, JPEG."""

    curve: Curve = field(default_factory=lambda: curve_called("sRGB"))
    bits: int = 8
    jpeg: bool = False
    noise: float = 0.0
    gain: float = 1.0
    top: float = 1.0
    """Code value at which the camera clips."""
    grade: Callable[[FloatArray], FloatArray] = np.asarray

    def write(self, path: Path, light: FloatArray, shift: tuple[int, int] = (0, 0)) -> Path:
        rng = np.random.default_rng(sum(path.name.encode()))
        light = np.roll(light * self.gain, shift, axis=(1, 0))
        light = light + rng.normal(0.0, 1.0, light.shape) * self.noise * np.sqrt(
            np.maximum(light, 0.0) + 1e-4
        )
        codes = np.clip(self.grade(np.minimum(self.curve.encode(light), self.top)), 0.0, 1.0)
        full = 2**self.bits - 1
        values = np.rint(codes * full).astype(np.uint16)
        if self.bits == 8:
            image = Image.fromarray(values.astype(np.uint8), "RGB")
            how: dict[str, Any] = {"quality": 95, "subsampling": 0} if self.jpeg else {}
            image.save(path, **how)
            return path
        with path.open("wb") as file:
            png.Writer(WIDTH, HEIGHT, greyscale=False, bitdepth=16).write(
                file, values.reshape(HEIGHT, -1).tolist()
            )
        return path


def take_run(
    folder: Path,
    stage: Stage | None = None,
    recorder: Recorder | None = None,
    *,
    gains: Mapping[str, float] | None = None,
    shifts: Mapping[str, tuple[int, int]] | None = None,
    stages: Mapping[str, Stage] | None = None,
    one_still: bool = False,
    curve: str | None = "sRGB",
) -> Path:
    """Write a run of stills and its list; returns the list. What differs for one still is named by its
    file."""
    stage, recorder = stage or Stage(), recorder or Recorder()
    ending = ".jpg" if recorder.jpeg else ".png"
    entries: list[dict[str, Any]] = [{"file": f"dark{ending}", "lamp": None}]
    for name, (_, _, warm, cool) in LAMPS.items():
        entries += [
            {"file": f"{name}-{k}{ending}", "lamp": name, "output": 1.0, "cct_k": k, "duv": 0}
            for k in ((4300,) if one_still else (warm, cool))
        ]
    for entry in entries:
        stem = Path(entry["file"]).stem
        lamp = entry["lamp"]
        at = (stages or {}).get(stem, stage)
        light = at.light({} if lamp is None else {lamp: 1.0}, {} if lamp is None else {lamp: entry["cct_k"]})
        light = light * (gains or {}).get(stem, 1.0)
        recorder.write(folder / entry["file"], light, (shifts or {}).get(stem, (0, 0)))
    listed = folder / "list.json"
    document: dict[str, Any] = {"white_balance_k": 4300, "stills": entries}
    if curve is not None:
        document["curve"] = curve
    listed.write_text(json.dumps(document))
    return listed
