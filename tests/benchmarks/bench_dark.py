"""Dark scenes in few bits: colour and light of every shipped 8-bit mode with emitters, from 0.5 to 15 %.

Three ways side by side: every channel rounded by itself, the encoder, and the best of all neighbouring points
by exhaustive search (chromaticity alone, light within 0.05 stop or half a step; under a dimmer over four of
its steps). Run ``python -m tests.benchmarks dark``.
"""

from __future__ import annotations

from itertools import product
from time import thread_time

import numpy as np
from numpy.typing import NDArray

from onecrew.colour.locus_table import white_to_uv76_fast
from onecrew.fixtures.decoder import Decoder
from onecrew.fixtures.dimming import slots_of_level, slots_of_output, slots_of_share
from onecrew.fixtures.encoder import Encoder
from onecrew.fixtures.modes import EmitterMode
from onecrew.playback.laws import law_of, output_of
from onecrew.playback.lights import Frame
from onecrew.shipped import shipped
from onecrew.show.profile import Mode, Profile
from onecrew.show.profiles import load_profiles
from onecrew.show.show import Fixture
from tests.benchmarks.report import Row

Array = NDArray[np.float64]
LEVELS = (0.005, 0.01, 0.02, 0.03, 0.05, 0.08, 0.10, 0.15)
WHITES_K = tuple(np.linspace(2800.0, 6400.0, 19))
TINTS = (-0.006, 0.0, 0.006)
COLOUR_GOAL, LIGHT_GOAL, STEP_GOAL = 0.0015, 0.05, 0.03
FRAME_GOAL_S = 1e-3


def kinds() -> list[tuple[Profile, Mode]]:
    """Shipped modes with at least three emitters told in 8 bits."""
    library = load_profiles([shipped("profiles")])
    return [
        (profile, mode)
        for profile in library.values()
        for mode in profile.modes
        if len(mode.emitters) > 2
        and not mode.two_parts
        and all(channel.bits == 8 for channel in mode.channels)
    ]


class Stand:
    """One lamp of a kind, its emitters, and what comes out of channel values."""

    def __init__(self, profile: Profile, mode: Mode) -> None:
        lamp = Fixture(id="lamp", profile=profile.id, mode=mode.name, universe=1, address=1, role="key")
        self.mode, self.law = mode, law_of(profile)
        self.encoder = Encoder([lamp], {profile.id: profile})
        self.kind = EmitterMode(profile, mode, "most-light", False)
        self.at = [i for i, channel in enumerate(mode.channels) if channel.emitter is not None]
        self.dimmer_at = next((i for i, channel in enumerate(mode.channels) if channel.dimmer), None)
        self.width = sum(channel.width for channel in mode.channels)

    def gives(self, values: Array) -> tuple[Array, Array]:
        """Colour and light of channel values (k, channels)."""
        return self.kind.seen(self.kind.shares_of(values.astype(np.int64))[:, None, :])

    def now(self, level: float, mired: float, duv: float) -> Array:
        slots = self.encoder.encode(_white(level, mired, duv))[0]
        return slots[None, : self.width].astype(float)

    def before(self, drives: Array, level: float) -> Array:
        values = np.array([[float(channel.fixed or 0) for channel in self.mode.channels]])
        if self.dimmer_at is None:
            values[0, self.at] = slots_of_output(drives * output_of(level, self.law), self.law, 255)
        else:
            values[0, self.dimmer_at] = slots_of_level(level, self.law, 255)
            values[0, self.at] = slots_of_share(drives, 255)
        return values

    def best(self, drives: Array, level: float, uv: Array, light: float) -> Array:
        output = float(output_of(level, self.law))
        found = []
        if self.dimmer_at is None:
            exact = np.asarray(slots_exact(drives * output, self.law))
            found.append(self._around(exact, None))
        else:
            first = int(np.ceil(level * 255 - 1e-9))
            for dimmer in range(max(first, 1), min(max(first, 1) + 4, 256)):
                share = output / float(output_of(dimmer / 255, self.law))
                found.append(self._around(drives * min(share, 1.0) * 255, dimmer))
        values = np.concatenate(found)
        colour, given = self.gives(values)
        apart = np.hypot(*(colour - uv).T)
        off = np.abs(np.log2(np.maximum(given, 1e-9) / light))
        apart[(off > max(LIGHT_GOAL, off.min() + 1e-9)) & (off > LIGHT_GOAL)] = 9.0
        return values[[int(apart.argmin())]]

    def _around(self, exact: Array, dimmer: int | None) -> Array:
        low = np.floor(exact + 1e-9)
        points = [low + np.array(step) for step in product((0, 1), repeat=len(exact))]
        values = np.repeat(
            [[float(channel.fixed or 0) for channel in self.mode.channels]], len(points), axis=0
        )
        values[:, self.at] = np.minimum(np.array(points), 255.0)
        if dimmer is not None and self.dimmer_at is not None:
            values[:, self.dimmer_at] = dimmer
        return values


def slots_exact(output: Array, law: object) -> Array:
    from onecrew.playback.laws import level_of

    return np.asarray(level_of(output, law) * 255.0)  # type: ignore[arg-type]


def figures(profile: Profile, mode: Mode, level: float) -> dict[str, tuple[float, float]]:
    """Mean Δu′v′ and mean error of light in stops over the whites, for each way."""
    stand = Stand(profile, mode)
    sums: dict[str, list[tuple[float, float]]] = {"before": [], "now": [], "best": []}
    for cct_k, duv in product(WHITES_K, TINTS):
        wanted = white_to_uv76_fast(np.array([1e6 / cct_k]), np.array([duv]))
        blended = stand.kind.blend.solve(wanted, np.ones(1))
        drives, uv = blended.drives[0], blended.reached[0]
        light = float(blended.light[0] * output_of(level, stand.law))
        ways = {
            "before": stand.before(drives, level),
            "now": stand.now(level, 1e6 / cct_k, duv),
            "best": stand.best(drives, level, uv, light),
        }
        for way, values in ways.items():
            colour, given = stand.gives(values)
            stops = abs(float(np.log2(max(float(given[0]), 1e-9) / light)))
            sums[way].append((float(np.hypot(*(colour[0] - uv))), min(stops, 9.0)))
    return {
        way: (float(np.mean([a for a, _ in s])), float(np.mean([b for _, b in s]))) for way, s in sums.items()
    }


def fade(profile: Profile, mode: Mode, cct_k: float = 3200.0) -> tuple[float, float, int, int]:
    """Largest step in stops, how far light goes back at most, distinct lights of a fade from 1 to 20 %, and
    those below 5 %."""
    stand = Stand(profile, mode)
    levels = np.geomspace(0.01, 0.20, 4000)
    values = np.concatenate([stand.now(float(level), 1e6 / cct_k, 0.0) for level in levels])
    _, light = stand.gives(values)
    steps = np.diff(np.log2(light))
    dark = len(np.unique(light[levels < 0.05]))
    return float(steps.max()), float(-min(steps.min(), 0.0)), len(np.unique(light)), dark


def shared(segments: int, level: float = 0.02) -> tuple[float, float, float, float]:
    """Five emitters without a dimmer, so many segments that share out the remainder: mean Δu′v′ and stops at
    ``level``, and largest step and how far light goes back of a fade from 1 to 20 %."""
    tube = load_profiles([shipped("profiles")])["tube-rgbww-8"]
    mode = Mode.model_validate({**tube.modes[0].model_dump(exclude_unset=True), "segments": segments})
    tube = tube.model_copy(update={"modes": (mode,)})
    place = {"universe": 1, "address": 1, "role": "key", "sharing": True}
    lamp = Fixture(id="lamp", profile=tube.id, mode=mode.name, **place)
    encoder, decoder = Encoder([lamp], {tube.id: tube}), Decoder([lamp], {tube.id: tube})
    off = []
    for cct_k, duv in product(WHITES_K, TINTS):
        [one] = encoder.report(_white(level, 1e6 / cct_k, duv), 5600.0)
        off.append((one.rounding, abs(float(np.log2(one.light / one.unrounded.light)))))
    frames = [_white(float(at), 1e6 / 3200.0, 0.0) for at in np.geomspace(0.01, 0.20, 2000)]
    light = [decoder.decode({1: encoder.encode(frame)[0].tobytes()})[0].light for frame in frames]
    steps = np.diff(np.log2(light))
    uv, stops = np.mean(off, axis=0)
    return float(uv), float(stops), float(steps.max()), float(-min(steps.min(), 0.0))


def _white(level: float, mired: float, duv: float) -> Frame:
    one = np.ones(1)
    return Frame(level * one, one > 0, mired * one, duv * one, 0.2 * one, 0.48 * one)


def frame_of(profile: Profile, mode: Mode, lamps: int = 64, frames: int = 120) -> float:
    """Seconds of this thread for a frame of lamps that are all dark and fade each to another white, the
    median."""
    draw = np.random.default_rng(7)
    per_universe = 512 // mode.width
    rig = [
        Fixture(
            id=f"lamp{i}",
            profile=profile.id,
            mode=mode.name,
            universe=1 + i // per_universe,
            address=1 + i % per_universe * mode.width,
            role="key",
        )
        for i in range(lamps)
    ]
    encoder = Encoder(rig, {profile.id: profile})
    level, mired = 10.0 ** draw.uniform(-2.3, -1.3, (2, lamps)), draw.uniform(160.0, 350.0, (2, lamps))
    ones, times = np.ones(lamps), []
    for share in np.linspace(0.0, 0.5, frames):
        now = [(1.0 - share) * one + share * other for one, other in (level, mired)]
        frame = Frame(now[0], ones > 0, now[1], 0.0 * ones, 0.2 * ones, 0.48 * ones)
        start = thread_time()
        encoder.encode(frame)
        times.append(thread_time() - start)
    return float(np.median(times))


def frames() -> list[Row]:
    table = []
    for kind, name in (("bulb-rgbw", "8-bit"), ("tube-rgbww-8", "8-segment"), ("spot-six", "8-bit")):
        profile = load_profiles([shipped("profiles")])[kind]
        mode = profile.mode(name)
        assert mode is not None
        if mode.dimmer is not None:  # its emitters alone, as a lamp without a dimmer
            told = [channel for channel in mode.channels if channel.emitter is not None]
            mode = Mode(name=name, channels=tuple(told))
            profile = profile.model_copy(update={"modes": (mode,)})
        took = frame_of(profile, mode)
        title = f"a frame of 64 lamps of {len(mode.emitters)} emitters, all different and dark"
        table.append(
            Row(title, f"{took * 1e3:.2f} ms", "", f"≤ {FRAME_GOAL_S * 1e3:g} ms", took <= FRAME_GOAL_S)
        )
    return table


def rows() -> list[Row]:
    table = frames()
    for segments in (1, 4, 8, 16):
        uv, stops, step, back = shared(segments)
        table.append(
            Row(
                f"five emitters, {segments} segments sharing, at 2 %: mean Δu′v′ / stops",
                f"{uv:.4f} / {stops:.3f}; fade from 1 to 20 %: largest step {step:.3f} stop, back {back:.4f}",
                "",
                f"≤ {COLOUR_GOAL} / {LIGHT_GOAL}",
                uv <= COLOUR_GOAL and stops <= LIGHT_GOAL,
            )
        )
    for profile, mode in kinds():
        for level in LEVELS:
            got = figures(profile, mode, level)
            said = ", ".join(f"{way} {uv:.4f} / {stops:.3f}" for way, (uv, stops) in got.items())
            goal = level == 0.02 and len(mode.emitters) >= 5
            met = got["now"][0] <= COLOUR_GOAL and got["now"][1] <= LIGHT_GOAL
            name = f"{profile.id}/{mode.name} at {100 * level:g} %: mean Δu′v′ / stops"
            table.append(
                Row(name, said, "", f"≤ {COLOUR_GOAL} / {LIGHT_GOAL}" if goal else "", met or not goal)
            )
        step, back, lights, dark = fade(profile, mode)
        dimmed = mode.dimmer is not None
        table.append(
            Row(
                f"{profile.id}/{mode.name}, fade from 1 to 20 %",
                f"largest step {step:.3f} stop, back {back:.4f}, {lights} lights, {dark} below 5 %",
                "",
                f"≤ {STEP_GOAL}, never back" if dimmed else "never back",
                back <= 1e-9 and (step <= STEP_GOAL or not dimmed),
            )
        )
    return table
