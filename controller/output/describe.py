"""Describe: what one fixture makes of one light, whatever else is patched. The numbers of a conversion."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from controller.documents.light import Light
from controller.documents.profile import Mode, Profile
from controller.documents.show import Fixture, Mixing, Rig, Show
from controller.output.encoder import Encoder
from controller.output.report import FixtureReport
from controller.playback.frame import Frame
from controller.playback.lights import DUV, MIRED, U, V, lights_of
from controller.playback.score import compile_score


def describe_lights(
    fixture: Fixture,
    profiles: Mapping[str, Profile],
    lights: Iterable[Light],
    white_balance_k: float = 5600.0,
) -> list[FixtureReport]:
    """Return what a fixture does with each of the lights, effects apart, as if nothing else were patched.

    A light without a colour takes the one the fixture has by nature. Raises ``Mistake`` for a profile or
    mode that is not there.
    """
    alone = fixture.model_copy(update={"universe": 1, "address": 1})
    encoder = Encoder([alone], profiles)
    natural = compile_score(Show(name="one lamp", rig=Rig(fixtures=(alone,))), profiles).natural
    reports = []
    for light in lights:
        asked = lights_of([light], natural)
        colour = asked.colour
        frame = Frame(asked.level, asked.white, colour[MIRED], colour[DUV], colour[U], colour[V])
        reports += encoder.report(frame, white_balance_k)
    return reports


def describe_colour(
    profile: Profile,
    mode: Mode | str,
    light: Light,
    *,
    mixing: Mixing = "brightest",
    even: bool = False,
    white_balance_k: float = 5600.0,
) -> FixtureReport:
    """Return what a fixture of ``profile`` in ``mode`` does with ``light``: slots, drives, reach and notes.

    A light without a colour takes the one the fixture has by nature. Raises ``Mistake`` for a mode that the
    profile does not have.
    """
    fixture = of_kind(profile, mode, mixing=mixing, even=even)
    [report] = describe_lights(fixture, {profile.id: profile}, [light], white_balance_k)
    return report


def of_kind(
    profile: Profile,
    mode: Mode | str,
    *,
    mixing: Mixing = "brightest",
    even: bool = False,
) -> Fixture:
    """Return a fixture of a kind that stands for any of it, outside a rig."""
    return Fixture(
        id="lamp",
        profile=profile.id,
        mode=mode if isinstance(mode, str) else mode.name,
        universe=1,
        address=1,
        role="key",
        mixing=mixing,
        even=even,
    )
