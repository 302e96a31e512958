"""Resume: the whole playback as plain data, small and exact, so that another process goes on with it.

Arrays travel as two blocks of little-endian doubles in base64, bit for bit; a row whose lamps all agree takes
one number. Two shapes: rows of n lamps, and the watch's rows of n + 1.
"""

from __future__ import annotations

from base64 import b64decode, b64encode
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import numpy as np

from onecrew.commands.parse import hear
from onecrew.errors import Mistake
from onecrew.playback.carry import carry
from onecrew.playback.frame import AnyArray, FloatArray
from onecrew.playback.glide import Glide
from onecrew.playback.lights import Lights
from onecrew.playback.score import DARK, Score
from onecrew.playback.state import (
    CountdownCommand,
    Counting,
    Movement,
    Playback,
    Take,
    Voices,
    Waiting,
    voices_of,
)
from onecrew.playback.watch import Watch
from onecrew.show.light import Effect, Light, White

FORMAT = 1
_VOICE_ROWS = ("kind", "rate", "depth", "seed", "guarded", "since", "weight", "residue")
_PLAIN = ("cue", "next", "follow_at", "held_at", "behind_s", "dark", "breath_since", "locked", "remark")
_NAMES = ("solo", "without", "identify")


def to_json(playback: Playback) -> dict[str, Any]:
    """Return everything that ``from_json`` needs, JSON-ready. Times stay monotonic seconds."""
    movement, voices, watch = playback.movement, playback.voices, playback.watch
    rows: list[AnyArray] = [
        *_of_lights(movement.start),
        *_of_lights(movement.goal),
        movement.begin,
        movement.end,
        movement.curve[None],
        movement.by_white[None],
        movement.stops,
        *(getattr(voices, name) for name in _VOICE_ROWS),
        playback.marked[None],
        *_of_glide(playback.shown),
        *_of_glide(playback.breath),
    ]
    history: list[AnyArray] = [
        watch.way[None],
        watch.extreme[None],
        watch.was_way[None],
        watch.was_extreme[None],
        watch.turns,
    ]
    counting, waiting, take = playback.countdown, playback.waiting, playback.take
    return {
        "format": FORMAT,
        "ids": list(playback.ids),
        "rows": _packed(rows),
        "watch": _packed(history),
        "settled_at": movement.settled_at,
        "shown_at": playback.shown.settled_at,
        "breath_at": playback.breath.settled_at,
        "master": _of_scalar(playback.master),
        "blackout": _of_scalar(playback.blackout),
        "asked": [_of_light(light) for light in playback.asked],
        "aside": None if playback.aside is None else [_of_light(light) for light in playback.aside],
        "waiting": None if waiting is None else [waiting.cue, waiting.at],
        "countdown": None if counting is None else [counting.at, counting.command.model_dump(mode="json")],
        "take": None
        if take is None
        else [take.setup, take.number, take.running, take.since, take.good, take.note],
        "takes": [list(pair) for pair in playback.takes],
        **{name: getattr(playback, name) for name in _PLAIN},
        **{name: list(getattr(playback, name)) for name in _NAMES},
    }


def from_json(data: Mapping[str, Any], score: Score) -> Playback:
    """Return the playback that ``to_json`` wrote, bit for bit; carried over if the rig has changed since.

    ValueError or KeyError for data that ``to_json`` did not write.
    """
    if data["format"] != FORMAT:
        raise ValueError(f"live state of format {data['format']}, this version reads {FORMAT}")
    ids = tuple(data["ids"])
    n = len(ids)
    rows = _Reader(_unpacked(data["rows"], n))
    start, goal = _to_lights(rows), _to_lights(rows)
    movement = Movement(
        start=start,
        goal=goal,
        begin=rows.take(3),
        end=rows.take(3),
        curve=rows.take(1)[0].astype(np.int8),
        by_white=rows.take(1)[0] > 0.0,
        stops=rows.take(2),
        settled_at=data["settled_at"],
    )
    voices = _to_voices(rows)
    marked = rows.take(1)[0] > 0.0
    shown, breath = (_to_glide(rows.take(4), data[f"{name}_at"]) for name in ("shown", "breath"))
    waiting, counting, take = data["waiting"], data["countdown"], data["take"]
    plain: dict[str, Any] = {name: data[name] for name in _PLAIN}
    plain |= {name: tuple(data[name]) for name in _NAMES}
    playback = Playback(
        ids=ids,
        movement=movement,
        voices=voices,
        asked=tuple(_to_light(light) for light in data["asked"]),
        marked=marked,
        waiting=None if waiting is None else Waiting(*waiting),
        blackout=_to_scalar(data["blackout"]),
        master=_to_scalar(data["master"]),
        shown=shown,
        breath=breath,
        aside=None if data["aside"] is None else tuple(_to_light(light) for light in data["aside"]),
        countdown=None if counting is None else Counting(counting[0], _to_command(counting[1])),
        take=None if take is None else Take(*take),
        takes=tuple((setup, count) for setup, count in data["takes"]),
        watch=_to_watch(data["watch"], n + 1),
        **plain,
    )
    if ids == score.ids:
        return playback
    old = replace(score, ids=ids, index={name: place for place, name in enumerate(ids)})
    return carry(playback, old, score, 0.0)


class _Reader:
    """Hands out the rows of a block one after the other."""

    def __init__(self, block: FloatArray) -> None:
        self._block = block
        self._at = 0

    def take(self, rows: int) -> FloatArray:
        self._at += rows
        if self._at > len(self._block):
            raise ValueError("live state with too few rows of numbers")
        return self._block[self._at - rows : self._at]


def _packed(rows: list[AnyArray]) -> list[str]:
    block = np.concatenate(rows).astype("<f8")
    if not block.shape[1]:
        return ["", ""]
    bits = block.view(np.int64)
    varied = (bits != bits[:, :1]).any(axis=1)
    return [b64encode(part.tobytes()).decode() for part in (block[:, 0], block[varied], varied)]


def _unpacked(data: list[str], n: int) -> FloatArray:
    if len(data) != 3:
        return np.zeros((200, 0))
    first = np.frombuffer(b64decode(data[0]), "<f8")
    varied = np.frombuffer(b64decode(data[2]), np.bool_)
    block = np.repeat(first[:, None], n, axis=1).astype(np.float64)
    block[varied] = np.frombuffer(b64decode(data[1]), "<f8").reshape(-1, n)
    return block


def _of_lights(lights: Lights) -> tuple[AnyArray, ...]:
    return lights.level[None], lights.white[None], lights.colour


def _to_lights(rows: _Reader) -> Lights:
    return Lights(rows.take(1)[0], rows.take(1)[0] > 0.0, rows.take(4))


def _to_voices(rows: _Reader) -> Voices:
    kind, rate, depth, seed, guarded, since, weight = (rows.take(2) for _ in range(7))
    return voices_of(
        kind=kind.astype(np.int8),
        rate=rate,
        depth=depth,
        seed=seed.astype(np.int64),
        guarded=guarded > 0.0,
        since=since,
        weight=weight,
        residue=rows.take(3),
    )


def _to_watch(data: list[str], width: int) -> Watch:
    rows = _Reader(_unpacked(data, width))
    way, extreme, was_way, was_extreme = (rows.take(1)[0] for _ in range(4))
    return Watch(way.astype(np.int8), extreme, was_way.astype(np.int8), was_extreme, rows.take(8))


def _of_glide(glide: Glide) -> tuple[AnyArray, ...]:
    return glide.start[None], glide.goal[None], glide.begin[None], glide.end[None]


def _to_glide(rows: FloatArray, settled_at: float) -> Glide:
    return Glide(rows[0], rows[1], rows[2], rows[3], settled_at)


def _of_scalar(glide: Glide) -> list[float]:
    return [float(glide.start), float(glide.goal), float(glide.begin), float(glide.end), glide.settled_at]


def _to_scalar(numbers: list[float]) -> Glide:
    start, goal, begin, end = (np.asarray(number, dtype=np.float64) for number in numbers[:4])
    return Glide(start, goal, begin, end, numbers[4])


def _of_light(light: Light) -> list[Any] | None:
    if light is DARK:
        return None
    white, effect = light.white, light.effect
    return [
        light.level,
        None if white is None else [white.cct_k, white.duv],
        None if light.xy is None else list(light.xy),
        None if effect is None else [effect.kind, effect.rate, effect.depth, effect.seed],
    ]


def _to_light(data: list[Any] | None) -> Light:
    if data is None:
        return DARK
    level, white, xy, effect = data
    return Light(
        level=level,
        white=None if white is None else White(cct_k=white[0], duv=white[1]),
        xy=None if xy is None else (xy[0], xy[1]),
        effect=None
        if effect is None
        else Effect(kind=effect[0], rate=effect[1], depth=effect[2], seed=effect[3]),
    )


def _to_command(data: dict[str, Any]) -> CountdownCommand:
    try:
        command = hear(data)
    except Mistake as error:
        raise ValueError(str(error)) from None
    if not isinstance(command, CountdownCommand):
        raise ValueError(f"{command.kind} is nothing a countdown runs")
    return command
