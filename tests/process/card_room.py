"""A dark room with a grey card, two lamps and a camera, that knows the lamps by the packets alone.

The lamps' emitters are not quite those of their profile. Light is added wavelength by wavelength; own
arithmetic, as in ``tests/stills/cards.py``.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np

from tests.process.sandbox import WAIT_S, Sandbox
from tests.stills.cards import Camera, FloatArray, Sample, published
from tests.stills.stage import Recorder

KIND = ("panel-rgbww", "16-bit")
EMITTERS = ("red", "green", "blue", "warm", "cool")
"""In the order of its channels, after the dimmer; each of two slots (profiles/panel-rgbww.toml)."""
LAMPS = {"sky": 1, "hood": 21}
"""By id: the address."""


def show() -> dict[str, Any]:
    fixtures = [
        {"id": name, "profile": KIND[0], "mode": KIND[1], "universe": 1, "address": address, "role": "fill"}
        for name, address in LAMPS.items()
    ]
    look = {name: {"level": 0.3, "white": {"cct_k": 4300}} for name in LAMPS}
    cue = {"number": "1", "name": "Half", "fade": {"in_s": 0.0, "out_s": 0.0}, "look": look}
    return {"name": "Two panels", "rig": {"fixtures": fixtures}, "cues": [cue]}


@dataclass
class CardRoom:
    """``folder`` is where the camera puts its pictures."""

    sandbox: Sandbox
    folder: Path
    seed: int = 4
    pictured: list[str] = field(default_factory=list)
    """What the engine said of each still that a picture was taken of."""

    def __post_init__(self) -> None:
        rng = np.random.default_rng(self.seed)
        self.lamps = {name: Sample.made(KIND, rng) for name in LAMPS}
        self.camera = Camera.of(published()[0], 4300.0, rng)
        self.recorder = Recorder(noise=0.004)
        self.scale = {name: 0.3 / self.camera.rgb(lamp.power(4300.0))[1] for name, lamp in self.lamps.items()}

    def power(self, name: str, slots: bytes) -> FloatArray:
        """(471,) of what leaves a lamp, by a universe's slots."""
        first = LAMPS[name] - 1
        dimmer, *drives = (
            int.from_bytes(slots[first + at : first + at + 2], "big") / 65535.0 for at in range(0, 12, 2)
        )
        total = np.zeros(471)
        for emitter, drive in zip(EMITTERS, drives, strict=True):
            shape, flux = self.lamps[name].emitters[emitter]
            total += dimmer * drive * flux * shape
        return total

    def apart(self, slots: dict[str, bytes]) -> float:
        """Difference of the two on the camera under slots of their own, Δu′v′ in CIE 1976."""
        one, other = (self.camera.uv(self.power(name, slots[name])) for name in LAMPS)
        return float(np.hypot(*(one - other)))

    def picture(self, file: str) -> None:
        """Take a picture of what the last packet makes of the room."""
        slots = bytes(self.sandbox.receiver.packets[-1][1].slots)
        card = np.zeros((96, 128, 1))
        card[34:62, 44:84] = 1.0
        light = np.full((96, 128, 3), 0.0005)
        for name in LAMPS:
            light = light + (0.05 + card) * self.camera.rgb(self.power(name, slots)) * self.scale[name]
        self.recorder.write(self.folder / f".{file}", np.maximum(light, 0.0))
        (self.folder / f".{file}").rename(self.folder / file)

    def shoot(self, goes_on: Callable[[], bool], most: int = 99) -> None:
        """Picture each still that is shown, as long as the run goes on or until so many are taken."""
        deadline = time.monotonic() + 4.0 * WAIT_S
        while goes_on() and len(self.pictured) < most:
            assert time.monotonic() < deadline, self.pictured
            status = self.sandbox.status()
            words = None if status is None else status["still"]
            if words is not None and words not in self.pictured[-1:]:
                self.wait_steady()
                self.picture(f"{len(self.pictured):02}.png")
                self.pictured.append(words)
            self.sandbox.receiver.pause(0.05)

    def wait_steady(self) -> None:
        """Wait until two looks at the wire, a few frames apart, see the same."""
        before = None
        while before != (now := bytes(self.sandbox.receiver.packets[-1][1].slots)):
            before = now
            self.sandbox.receiver.pause(0.1)
            self.sandbox.receiver.catch_up()
