"""Plan of a run of stills: a dark one, then every lamp alone at its warmest and coolest white."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from onecrew.show.profile import Profile
from onecrew.show.show import Fixture
from onecrew.stills.guided import LEAST_OUTPUT
from onecrew.stills.kit import Lamp
from onecrew.stills.shotlist import Shot

DEFAULT_OUTPUT = 1.0
LADDER_STEPS = 11


def planned(
    fixtures: Sequence[Fixture],
    profiles: Mapping[str, Profile],
    *,
    one_white: bool = False,
    output: float = DEFAULT_OUTPUT,
    ladder: str | None = None,
) -> list[Shot]:
    """Return what to take, in order; files are still to be named.

    ``one_white`` takes one still a lamp, at the middle of its whites; ``ladder`` names the lamp that also
    steps down in whole stops, eleven of them, for a camera whose curve is not known.
    """
    shots = [Shot("", None)]
    for fixture in fixtures:
        lamp = Lamp(fixture, profiles)
        whites = lamp.range_k()
        if whites is None:
            shots.append(Shot("", fixture.id, output=output))
            continue
        warm, cool = whites
        middle = round(2.0 / (1.0 / warm + 1.0 / cool), -2)
        for cct_k in (middle,) if one_white else (warm, cool):
            shots.append(Shot("", fixture.id, output=output, cct_k=cct_k))
        if fixture.id == ladder:
            last = shots[-1].cct_k
            shots += [
                Shot("", fixture.id, output=output * 2.0**-step, cct_k=last)
                for step in range(1, LADDER_STEPS)
                if output * 2.0**-step >= LEAST_OUTPUT
            ]
    return shots


def left_of(planned: Sequence[Shot], taken: Sequence[Shot]) -> list[Shot]:
    """Return what of a planned run was not taken yet; a still may have been taken with less light."""
    left = list(planned)
    for one in taken:
        alike = [shot for shot in left if _light_of(shot) == _light_of(one)]
        exactly = [shot for shot in alike if abs(shot.output - one.output) < 1e-6]
        for shot in (exactly or alike)[:1]:
            left.remove(shot)
    return left


def _light_of(shot: Shot) -> tuple[str | None, float | None, float]:
    return shot.lamp, shot.cct_k, shot.duv
