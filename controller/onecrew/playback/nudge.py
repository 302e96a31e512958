"""Nudge: what a change by hand makes of each lamp's light."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from onecrew.colour.table import uv76_to_white_fast
from onecrew.commands.models import SetLight
from onecrew.errors import Refused
from onecrew.playback.frame import FloatArray
from onecrew.playback.lights import DUV, MIRED
from onecrew.playback.score import Score
from onecrew.show.base import CCT_MAX_K, CCT_MIN_K, DUV_LIMIT
from onecrew.show.light import Effect, Light, White

_LOG_END = 0.001
"""Output at which the log law goes out (IEC 62386-102)."""


def changed(lights: Sequence[Light], lamps: Sequence[int], command: SetLight, score: Score) -> list[Light]:
    """Return the lights of ``lamps`` (places in rig order) after the command; Refused where it means nothing.

    Levels stay in 0–1, CCT in 1000–25000 K, Duv in ±0.05.
    """
    levels = _levels(np.array([light.level for light in lights]), lamps, command, score)
    return [
        _recoloured(light, level, lamp, command, score)
        for light, level, lamp in zip(lights, levels.tolist(), lamps, strict=True)
    ]


def _levels(level: FloatArray, lamps: Sequence[int], command: SetLight, score: Score) -> FloatArray:
    if command.level is not None:
        level = np.full(len(lamps), command.level)
    if command.level_by is not None:
        level = np.clip(level + command.level_by, 0.0, 1.0)
    if command.stops_by is not None:
        level = _by_stops(level, lamps, command.stops_by, score)
    return level


def _by_stops(level: FloatArray, lamps: Sequence[int], stops: float, score: Score) -> FloatArray:
    """Levels whose outputs are all 2^stops times as bright, as far as every one of them can follow.

    Lamps nudged together keep their ratio: the step ends where the first reaches full, or the end of a log
    law. Lamps at black stay there.
    """
    whole = np.zeros(len(score.ids))
    whole[lamps] = level
    output = score.laws.output(whole)[lamps]
    lit = output > 0.0
    if not lit.any():
        names = ", ".join(score.ids[lamp] for lamp in lamps)
        raise Refused(f"{names} at black: stops multiply light, so set a level first")
    if stops > 0.0:
        stops = max(0.0, min(stops, -float(np.log2(output[lit].max()))))
    else:
        logs = np.isin(lamps, score.laws.log) & lit
        if logs.any():
            stops = min(0.0, max(stops, float(np.log2(_LOG_END / output[logs].min()))))
    whole[lamps] = np.minimum(output * 2.0**stops, 1.0)
    return np.where(lit, score.laws.level(whole)[lamps], level)


def _recoloured(light: Light, level: float, lamp: int, command: SetLight, score: Score) -> Light:
    white, xy = light.white, light.xy
    if command.xy is not None:
        white, xy = None, command.xy
    elif command.cct_k is not None:
        duv = command.duv if command.duv is not None else white.duv if white is not None else 0.0
        white, xy = White(cct_k=command.cct_k, duv=duv), None
    elif command.duv is not None or command.mired_by is not None or command.duv_by is not None:
        now = _white(light, lamp, score)
        white, xy = White(cct_k=now.cct_k, duv=now.duv if command.duv is None else command.duv), None
    if white is not None and command.mired_by is not None:
        mired = min(max(1e6 / white.cct_k + command.mired_by, 1e6 / CCT_MAX_K), 1e6 / CCT_MIN_K)
        white = White(cct_k=min(max(1e6 / mired, CCT_MIN_K), CCT_MAX_K), duv=white.duv)
    if white is not None and command.duv_by is not None:
        duv = min(max(white.duv + command.duv_by, -DUV_LIMIT), DUV_LIMIT)
        white = White(cct_k=white.cct_k, duv=duv)
    return Light(level=level, white=white, xy=xy, effect=_effect(light, command))


def _white(light: Light, lamp: int, score: Score) -> White:
    if light.white is not None:
        return light.white
    if light.xy is not None:
        raise Refused(f"{score.ids[lamp]} has a colour, not a white: give it a CCT before its tint or warmth")
    if score.natural.white[lamp]:
        mired, duv = score.natural.colour[[MIRED, DUV], lamp].tolist()
    else:
        uv = score.natural.colour[2:, lamp]
        mired, duv = (float(value) for value in uv76_to_white_fast(uv))
    return White(cct_k=min(max(1e6 / mired, CCT_MIN_K), CCT_MAX_K), duv=min(max(duv, -DUV_LIMIT), DUV_LIMIT))


def _effect(light: Light, command: SetLight) -> Effect | None:
    if command.effect is None:
        return light.effect
    return None if command.effect == "none" else command.effect
