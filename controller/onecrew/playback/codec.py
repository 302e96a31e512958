"""Codec: the whole playback as plain data and back, moved in time, and rebased on a changed rig.

All three follow from what the fields of the state say of themselves (``fields``). As data it is small and
exact, so that another process goes on with it: arrays travel as blocks of little-endian doubles in base64,
bit for bit, one block for the rows of n lamps and one for those of n + 1; a row whose lamps all agree takes
one number.
"""

from __future__ import annotations

from base64 import b64decode, b64encode
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from types import MappingProxyType
from typing import Any

import numpy as np

from onecrew.colour.arrays import FloatArray
from onecrew.commands.command import PlaybackCommand
from onecrew.commands.running import Recall
from onecrew.commands.table import parse_command, row_of
from onecrew.commands.takes import TakeStart
from onecrew.errors import Mistake
from onecrew.playback.compiled_show import DARK, CompiledShow
from onecrew.playback.fades import STOPS, stop_places
from onecrew.playback.fields import Kind, Per, What, kinds_under
from onecrew.playback.flash_guard import no_flashes
from onecrew.playback.lights import AnyArray
from onecrew.playback.state import Playback
from onecrew.show.base import cue_order
from onecrew.show.light import Effect, Light, White
from onecrew.show.show import Cue

FORMAT = 2
_WHOLE = Kind(What.PART, part=Playback)
_BLOCKS = {Per.LAMP: "rows", Per.LAMP_AND_MEAN: "rows_and_mean"}


def to_json(playback: Playback) -> dict[str, Any]:
    """Return everything that ``from_json`` needs, JSON-ready. Times stay monotonic seconds."""
    rows: dict[Per, list[AnyArray]] = {per: [] for per in _BLOCKS}
    data = _save(playback, _WHOLE, rows)
    return {"format": FORMAT, **data, **{name: _packed(rows[per]) for per, name in _BLOCKS.items()}}


def from_json(data: Mapping[str, Any], compiled: CompiledShow) -> Playback:
    """Return the playback that ``to_json`` wrote, bit for bit; rebased if the rig has changed since.

    ValueError or KeyError for data that ``to_json`` did not write.
    """
    if data["format"] != FORMAT:
        raise ValueError(f"live state of format {data['format']}, this version reads {FORMAT}")
    ids = tuple(data["ids"])
    rows = {
        Per.LAMP: _Rows(_unpacked(data["rows"], len(ids))),
        Per.LAMP_AND_MEAN: _Rows(_unpacked(data["rows_and_mean"], len(ids) + 1)),
    }
    playback: Playback = _load(data, _WHOLE, rows)
    if ids == compiled.ids:
        return playback
    old = replace(compiled, ids=ids, index={name: place for place, name in enumerate(ids)})
    return rebase(playback, old, compiled)


def shift(playback: Playback, by_s: float, *, remembering: bool = False) -> Playback:
    """Return the playback with all its times later by ``by_s``.

    What the flash guard remembers of the last second is dropped, since a machine that starts anew was off for
    longer; ``remembering`` keeps it, for two clocks that both run on.
    """
    moved: Playback = _changed(playback, _WHOLE, lambda value, kind: value + by_s if kind.real else value)
    return moved if remembering else replace(moved, flashes=no_flashes(len(playback.ids)))


NO_NAMES: Mapping[str, str] = MappingProxyType({})


def rebase(
    playback: Playback, old: CompiledShow, new: CompiledShow, renamed: Mapping[str, str] = NO_NAMES
) -> Playback:
    """Return the playback on the edited show, with the light as it was.

    Fixtures keep their light wherever they stand in the rig now, under the new name that ``renamed`` gives
    for an old one; new ones are black, removed ones gone. An edited cue changes nothing before it is run
    again. What was edited by hand and is stored now counts as stored; where a cue takes the number of a
    deleted one that shows, all that is otherwise in it counts as edited.
    """
    if new.ids != old.ids:
        alone = playback.still is not None and playback.still.fixtures
        playback = replace(_on_rig(playback, old, new, renamed), ids=new.ids)
        if alone and playback.still is not None and not playback.still.fixtures:
            playback = replace(playback, still=None)  # its lamp is gone; without one, all would be out
    movement = playback.movement
    if (movement.curve == STOPS).any():  # the lamps may have other dimming laws now
        places = stop_places(movement.start.level, movement.goal.level, new)
        playback = replace(playback, movement=replace(movement, stops=places))
    cue = new.cue(playback.cue)
    by_hand = playback.by_hand
    if cue is not None:
        stored = new.target(cue).asked
        asked = playback.asked if playback.aside is None else playback.aside
        other = np.array([a != b for a, b in zip(asked, stored, strict=True)], dtype=np.bool_)
        by_hand = other if old.cue(playback.cue) is None else by_hand & other
    after = new.after(playback.cue)
    waiting = playback.waiting
    return replace(
        playback,
        by_hand=by_hand,
        next=after.number if after else None,
        waiting=waiting if waiting is not None and new.cue(waiting.cue) is not None else None,
    )


def leave_cues(playback: Playback, new: CompiledShow) -> Playback:
    """Return the playback on a scene without the cue that ran: the light stays, its first cue is next."""
    if playback.cue is None or new.cue(playback.cue) is not None:
        return playback
    first = new.after(None)
    return replace(playback, cue=None, next=first.number if first else None, waiting=None, follow_at=None)


def follow_numbers(playback: Playback, before: Sequence[Cue], new: CompiledShow) -> Playback:
    """Return the playback, not yet rebased, with every cue that has another number now by that number."""
    numbers = _renumbered(before, new)
    if not numbers:
        return playback

    def now(number: str) -> str:
        return numbers.get(cue_order(number), number)

    waiting, counting = playback.waiting, playback.countdown
    return replace(
        playback,
        cue=None if playback.cue is None else now(playback.cue),
        waiting=None if waiting is None else replace(waiting, cue=now(waiting.cue)),
        countdown=None if counting is None else replace(counting, command=_told(counting.command, now)),
        ran=tuple((now(number), at) for number, at in playback.ran),
        kept=tuple((now(number), edits) for number, edits in playback.kept),
    )


def _renumbered(before: Sequence[Cue], new: CompiledShow) -> dict[tuple[int, int], str]:
    """The new numbers of cues by the order of their old ones, as far as name and look tell which is which."""
    known = {cue_order(cue.number) for cue in before}
    come = [cue for cue in new.cues if cue_order(cue.number) not in known]
    numbers = {}
    for cue in before if come else ():
        same = [one.number for one in come if (one.name, one.look) == (cue.name, cue.look)]
        if len(same) == 1 and new.cue(cue.number) is None:
            numbers[cue_order(cue.number)] = same[0]
    return numbers


def _told(command: PlaybackCommand, now: Callable[[str], str]) -> PlaybackCommand:
    """The command with the cue that it runs by its number of now."""
    if isinstance(command, Recall):
        return command.model_copy(update={"cue": now(command.cue)})
    if isinstance(command, TakeStart) and command.chain_from is not None:
        return command.model_copy(update={"chain_from": now(command.chain_from)})
    return command


def _on_rig(playback: Playback, old: CompiledShow, new: CompiledShow, renamed: Mapping[str, str]) -> Playback:
    """The playback with every field that counts lamps in the order of the new rig."""
    index = {renamed.get(name, name): place for place, name in enumerate(old.ids)}
    source = np.array([index.get(name, -1) for name in new.ids], dtype=np.int64)
    known = source >= 0

    def pick(values: AnyArray, kind: Kind) -> AnyArray:
        picked = np.empty((*values.shape[:-1], len(source)), dtype=values.dtype)
        picked[...] = kind.new(playback, new) if callable(kind.new) else kind.new
        picked[..., known] = values[..., source[known]]
        return picked

    def move(value: Any, kind: Kind) -> Any:
        match kind.what, kind.per:
            case What.ARRAY, Per.LAMP:
                return pick(value, kind)
            case What.ARRAY, Per.LAMP_AND_MEAN:
                return np.concatenate((pick(value[..., :-1], kind), value[..., -1:]), axis=-1)
            case What.LIGHTS, _:
                return tuple(value[place] if place >= 0 else DARK for place in source.tolist())
            case What.FIXTURES, _:
                return tuple(now for name in value if (now := renamed.get(name, name)) in new.index)
            case What.EDITS, _:
                return tuple(
                    (cue, tuple((renamed.get(name, name), light) for name, light in edits))
                    for cue, edits in value
                )
        return value

    moved: Playback = _changed(playback, _WHOLE, move)
    return moved


# ── along the fields ────────────────────────────────────────────────────────────────────────────


def _changed(value: Any, kind: Kind, change: Callable[[Any, Kind], Any]) -> Any:
    """The value with every field below it changed, but those that are None."""
    if value is None or kind.what is not What.PART:
        return None if value is None else change(value, kind)
    fields = {name: _changed(getattr(value, name), field, change) for name, field in kinds_under(kind)}
    return replace(value, **fields)


def _save(part: Any, kind: Kind, rows: Mapping[Per, list[AnyArray]]) -> dict[str, Any]:
    """The part as plain data without what is None; arrays that count lamps go to ``rows``."""
    data: dict[str, Any] = {}
    array, plain = What.ARRAY, What.PLAIN  # looked up once: this runs at every change
    for name, field in kinds_under(kind):
        value, what = getattr(part, name), field.what
        if value is None:
            continue
        if what is array and field.per in rows:
            rows[field.per].append(value if field.rows else value[None])
        elif what is plain:
            data[name] = value
        else:
            data[name] = _saved(value, field, rows)
    return data


def _saved(value: Any, kind: Kind, rows: Mapping[Per, list[AnyArray]]) -> Any:
    match kind.what:
        case What.ARRAY:
            return float(value)
        case What.PART:
            return _save(value, kind, rows)
        case What.LIGHTS:
            return [_of_light(light) for light in value]
        case What.EDITS:
            return [[cue, [[name, _of_light(light)] for name, light in edits]] for cue, edits in value]
        case What.COMMAND:
            return value.model_dump(mode="json")
    return value


def _load(data: Any, kind: Kind, rows: Mapping[Per, _Rows]) -> Any:
    what = kind.what
    if what is What.ARRAY and kind.per is not Per.DESK:
        block = rows[kind.per].next(kind.rows or 1)
        return (block if kind.rows else block[0]).astype(kind.dtype)
    if data is None:
        if kind.optional:
            return None
        raise KeyError("live state that lacks a field")
    match what:
        case What.ARRAY:
            return np.asarray(data, dtype=kind.dtype)
        case What.PART:
            fields = kinds_under(kind)
            return kind.part(**{name: _load(data.get(name), field, rows) for name, field in fields})
        case What.LIGHTS:
            return tuple(_to_light(light) for light in data)
        case What.EDITS:
            return tuple(
                (cue, tuple((name, _to_light(light)) for name, light in edits)) for cue, edits in data
            )
        case What.COMMAND:
            return _to_command(data)
    return _tuples(data)


def _tuples(data: Any) -> Any:
    return tuple(_tuples(one) for one in data) if isinstance(data, list | tuple) else data


class _Rows:
    """Hands out the rows of a block one after the other."""

    def __init__(self, block: FloatArray) -> None:
        self._block = block
        self._at = 0

    def next(self, rows: int) -> FloatArray:
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


def _to_command(data: dict[str, Any]) -> PlaybackCommand:
    try:
        command = parse_command(data)
    except Mistake as error:
        raise ValueError(str(error)) from None
    if not isinstance(command, PlaybackCommand) or not row_of(command).countdown:
        raise ValueError(f"{command.kind} is nothing a countdown runs")
    return command
