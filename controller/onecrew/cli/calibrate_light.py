"""``onecrew calibrate --lux``: one reading of a light meter corrects how much light a lamp gives."""

from __future__ import annotations

import argparse
import math
from pathlib import Path

import numpy as np

from onecrew.cli.document import carry_out, current_show, fixture_called
from onecrew.cli.parts import answer
from onecrew.commands.rig import PutFixture
from onecrew.errors import Misuse
from onecrew.language import reading
from onecrew.language.places import length, read_place
from onecrew.plan.lamp import Lamp, guessed, photometry_at_white
from onecrew.plan.metered import in_place, on_axis
from onecrew.plan.saying import lux as say_lux
from onecrew.plan.saying import stops
from onecrew.playback.laws import law_of, output_of
from onecrew.playback.measured import measured_profile
from onecrew.show.photometry import Metered
from onecrew.show.profiles import load_profiles


def from_light_meter(path: Path, arguments: argparse.Namespace) -> int:
    """Stores what the meter makes of the lamp."""
    show, profiles = current_show(path), load_profiles(beside=path)
    fixture = fixture_called(show, arguments.fixture)
    profile = measured_profile(fixture, profiles[fixture.profile])
    lux = reading.within(
        reading.number(arguments.lux.lower().removesuffix("lx"), "lux"), 0.01, 1e6, "lux", " lx"
    )
    level = 1.0 if arguments.level is None else reading.level(arguments.level)
    white = None if arguments.cct is None else reading.kelvin(arguments.cct)
    output = float(output_of(np.array([level]), law_of(profile))[0])
    if output <= 0.0:
        raise Misuse("at that level the lamp is dark; measure it brighter")
    stated = photometry_at_white(fixture, profile, white)
    lamp = Lamp(fixture, output, stated or guessed(profile), stated is not None)
    if arguments.distance is not None:
        away = reading.within(length(arguments.distance, "distance"), 0.1, 50.0, "distance", " m")
        found = on_axis(lamp, lux, away)
    else:
        place = read_place(arguments.at, "--at") if arguments.at is not None else None
        at = None if place is None else (place.x_m, place.y_m, place.height_m)
        found = in_place(lamp, lux, show.rig.set_pieces, show.camera, show.room, at)
    meter = Metered(lux_at_1m=float(f"{found.lux_at_1m:.5g}"), cct_k=white)
    where = carry_out(path, [PutFixture(fixture=fixture.model_copy(update={"meter": meter}))])
    apart = math.log2(lux / found.promised_lux)
    told = {
        "fixture": fixture.id,
        "lux": lux,
        "promised_lux": found.promised_lux,
        "stops": apart,
        "doubts": list(found.doubts),
    }
    promise = "its profile promises" if stated is not None else "its flux figures would make"
    said = [
        f"{fixture.id}: {say_lux(lux)} where {promise} {say_lux(found.promised_lux)} ({stops(apart)})",
        f"bare and at full that is {say_lux(meter.lux_at_1m)} at 1 m; stored {where}",
        *(f"check: {doubt}" for doubt in found.doubts),
    ]
    return answer(arguments, {**told, "meter": meter.model_dump(mode="json")}, said)
