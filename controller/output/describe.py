"""Describe: what one kind of fixture makes of one light, without a rig. The numbers of a conversion."""

from __future__ import annotations

from typing import Literal

from controller.documents.light import Light
from controller.documents.profile import Mode, Profile
from controller.documents.show import Fixture, Rig, Show
from controller.output.encoder import Encoder
from controller.output.report import FixtureReport
from controller.playback.frame import Frame
from controller.playback.lights import lights_of
from controller.playback.score import compile_score


def describe_colour(
    profile: Profile,
    mode: Mode | str,
    light: Light,
    *,
    mixing: Literal["brightest", "truest"] = "brightest",
    even: bool = False,
    white_balance_k: float = 5600.0,
) -> FixtureReport:
    """Return what a fixture of ``profile`` in ``mode`` does with ``light``: slots, drives, reach and notes.

    A light without a colour takes the one the fixture has by nature. Raises ``Mistake`` for a mode that the
    profile does not have.
    """
    fixture = Fixture(
        id="lamp",
        profile=profile.id,
        mode=mode if isinstance(mode, str) else mode.name,
        universe=1,
        address=1,
        role="key",
        mixing=mixing,
        even=even,
    )
    profiles = {profile.id: profile}
    encoder = Encoder([fixture], profiles)
    natural = compile_score(Show(name="one lamp", rig=Rig(fixtures=(fixture,))), profiles).natural
    lights = lights_of([light], natural)
    mired, duv, u, v = lights.colour
    [report] = encoder.report(Frame(lights.level, lights.white, mired, duv, u, v), white_balance_k)
    return report
