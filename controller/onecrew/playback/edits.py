"""Edits: lamps changed by hand on top of the cue — set, revert, compare."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from onecrew.colour.arrays import BoolArray, FloatArray
from onecrew.colour.hue import hue_to_xy
from onecrew.colour.limits import CCT_MAX_K, CCT_MIN_K, DUV_LIMIT
from onecrew.colour.locus_table import uv76_to_white_fast
from onecrew.commands.light import Compare, Edits, Revert, SetLight
from onecrew.errors import Refused
from onecrew.playback.compiled_show import DARK, CompiledShow, Target
from onecrew.playback.effect_layers import INCOMING
from onecrew.playback.effects import Effects, effects_of
from onecrew.playback.fades import Affected, Times, dim, is_guarded, move, showing
from onecrew.playback.fields import EditsByCue, LightPerLamp
from onecrew.playback.laws import LOG_END
from onecrew.playback.lights import DUV, MIRED, Lights, light_at, lights_of
from onecrew.playback.single_lamp import SingleMove, can_move_single
from onecrew.playback.state import Playback
from onecrew.show.light import Effect, Light, Look, White
from onecrew.show.show import Cue

PART_FADE_S = 0.15
"""Solo and without: as good as at once, without the bang."""
SHORT_FADE_S = 0.25
"""Revert and compare: short enough to see the difference, long enough not to startle who stands in it."""


def set_light(playback: Playback, compiled: CompiledShow, command: SetLight, now: float) -> Playback:
    """Return the playback with some lamps changed; absolute values first, then relative ones.

    What the command does not name keeps moving as it does. A relative value counts from where the lamp is:
    from what shows where a cue is still fading, from its goal where a hand is already moving it.
    """
    move = single_move(playback, compiled, command, now)
    if move is not None:
        return move.playback
    return set_in_full(playback, compiled, command, compiled.lamps(command.fixtures), now)


def single_move(
    playback: Playback, compiled: CompiledShow, command: SetLight, now: float
) -> SingleMove | None:
    """Return the move of one lamp that ``set_light`` comes to, None where it is more than that."""
    if len(command.fixtures) > 1 or not command.model_fields_set <= _LEVEL_ALONE:
        return None
    (lamp,) = lamps = compiled.lamps(command.fixtures)
    if not can_move_single(playback, lamp, now):
        return None
    light = playback.asked[lamp]
    (level,) = _levels([light.level], lamps, command, compiled)
    return SingleMove(
        playback, compiled, now, lamp, light.model_copy(update={"level": level}), command.fade_s
    )


_LEVEL_ALONE = {"kind", "fixtures", "level", "level_by", "stops_by", "fade_s"}


def set_in_full(
    playback: Playback, compiled: CompiledShow, command: SetLight, lamps: Sequence[int], now: float
) -> Playback:
    """Return what ``set_light`` does, whatever plays and whatever the command names."""
    if playback.aside is not None:
        playback = _show(playback, compiled, playback.aside, now, SHORT_FADE_S)
    before = here_or_goal(playback, compiled, lamps, now)
    after = changed(before, lamps, command, compiled)
    level = any(field is not None for field in (command.level, command.level_by, command.stops_by))
    colour = [
        (light.white, light.xy) != (old.white, old.xy) for light, old in zip(after, before, strict=True)
    ]
    asked = list(playback.asked)
    for lamp, light, recoloured in zip(lamps, after, colour, strict=True):
        was = asked[lamp]
        # A lamp caught on its way to black is not in the colour of the black look: it keeps what it shows.
        tone = light if recoloured or (level and was.level == 0.0) else was
        asked[lamp] = Light(
            level=light.level if level else was.level, white=tone.white, xy=tone.xy, effect=light.effect
        )
    by_hand = playback.by_hand.copy()
    by_hand[lamps] = True
    playback = replace(playback, by_hand=by_hand)
    every = np.zeros(len(compiled.ids), dtype=np.bool_)
    every[lamps] = True
    black = playback.movement.goal.level == 0.0
    tinted = np.zeros(len(compiled.ids), dtype=np.bool_)
    tinted[lamps] = colour
    affected = Affected(
        level=every if level else np.zeros_like(every),
        colour=(tinted | black) & every,
        effect=every if command.effect is not None else np.zeros_like(every),
    )
    # A hand on a level is obeyed at once, whatever the flash guard would say to it.
    return _send(playback, compiled, now, asked, lamps, affected, command.fade_s, urgent=True)


def revert(playback: Playback, compiled: CompiledShow, command: Revert, now: float) -> Playback:
    """Return the playback with edits dropped: all, or those of the named fixtures."""
    before = _unedited(playback, compiled, current(playback, compiled, "revert to"))
    if playback.aside is not None:
        playback = _show(playback, compiled, playback.aside, now, SHORT_FADE_S)
    lamps = compiled.lamps(command.fixtures) if command.fixtures else list(range(len(compiled.ids)))
    asked = list(playback.asked)
    for lamp in lamps:
        asked[lamp] = before[lamp]
    by_hand = playback.by_hand.copy()
    by_hand[lamps] = False
    return _show(replace(playback, by_hand=by_hand), compiled, asked, now, SHORT_FADE_S)


def compare(playback: Playback, compiled: CompiledShow, command: Compare, now: float) -> Playback:
    """Return the playback that shows the look as it was before the edits, or the edited one again."""
    on = not playback.comparing if command.on is None else command.on
    if on == playback.comparing:
        return playback
    if playback.aside is not None:
        return _show(replace(playback, aside=None), compiled, playback.aside, now, SHORT_FADE_S)
    before = _unedited(playback, compiled, current(playback, compiled, "compare with"))
    edited = playback.asked
    shown = [before[i] if playback.by_hand[i] else light for i, light in enumerate(edited)]
    return replace(_show(playback, compiled, shown, now, SHORT_FADE_S), aside=edited)


@dataclass(frozen=True, slots=True)
class Earlier:
    """Light as it was before something was done: what undo puts back."""

    lights: Mapping[str, Light] = field(default_factory=dict)
    """By fixture; of the whole rig, or of the lamps that were changed by hand."""
    by_hand: frozenset[str] = frozenset()
    cue: str | None = None
    whole: bool = False
    """A cue ran: the cue before it comes back too."""
    master: float | None = None
    kept: EditsByCue = ()
    """The edits that were kept with a cue, where those were brought back or dropped."""
    part: tuple[tuple[str, ...], tuple[str, ...]] | None = None
    """The lamps of solo and of without, which a cue that ran has ended."""


def changed_look(look: Look, command: SetLight, compiled: CompiledShow) -> Look:
    """Return a cue's look with lamps changed as the command says, whatever shows; Refused as for a hand."""
    lamps = compiled.lamps(command.fixtures)
    names = [compiled.ids[lamp] for lamp in lamps]
    after = changed([look.get(name, DARK) for name in names], lamps, command, compiled)
    return {
        name: light
        for name, light in {**look, **dict(zip(names, after, strict=True))}.items()
        if light != DARK
    }


def put_back(playback: Playback, compiled: CompiledShow, earlier: Earlier, now: float) -> Playback:
    """Return the playback with light as it was; Refused while locked."""
    if playback.locked:
        raise Refused("the light is locked, so nothing was taken back: unlock first")
    if earlier.master is not None:
        return dim(playback, compiled, now, "master", earlier.master, 0.0, urgent=True)
    for cue, edits in earlier.kept:
        kept = without_kept(playback, cue)
        playback = replace(playback, kept=(*kept, (cue, edits)) if edits else kept)
    if earlier.kept and not earlier.lights:
        return playback
    if playback.aside is not None:
        playback = _show(playback, compiled, playback.aside, now, SHORT_FADE_S)
    asked, by_hand = list(playback.asked), playback.by_hand.copy()
    for name, light in earlier.lights.items():
        lamp = compiled.index.get(name)
        if lamp is not None:
            asked[lamp] = light
            by_hand[lamp] = name in earlier.by_hand or (playback.cue != earlier.cue and not earlier.whole)
    playback = replace(playback, by_hand=by_hand)
    if earlier.whole:
        after = compiled.after(earlier.cue)
        playback = replace(
            playback,
            cue=earlier.cue,
            next=after.number if after else None,
            waiting=None,
            follow_at=None,
            kept=without_kept(playback, earlier.cue),
        )
    if earlier.part is not None:
        solo, without = (tuple(name for name in names if name in compiled.index) for names in earlier.part)
        playback = show_part(playback, compiled, now, solo, without)
    return _show(playback, compiled, asked, now, SHORT_FADE_S)


def show_part(
    playback: Playback, compiled: CompiledShow, now: float, solo: tuple[str, ...], without: tuple[str, ...]
) -> Playback:
    """Return the playback that shows these lamps alone, or all where none is named, and not those."""
    shown = _shares(compiled, solo, without)
    return dim(replace(playback, solo=solo, without=without), compiled, now, "shown", shown, PART_FADE_S)


def on_rig(playback: Playback, compiled: CompiledShow, now: float) -> Playback:
    """Return the playback after a change of the rig: a solo whose last lamp is gone ends, as by a command."""
    solo, without = playback.solo, playback.without
    if playback.shown.goal.tolist() == _shares(compiled, solo, without):
        return playback
    return show_part(playback, compiled, now, solo, without)


def _shares(compiled: CompiledShow, solo: tuple[str, ...], without: tuple[str, ...]) -> list[float]:
    """What solo and without leave of each lamp, 0 or 1."""
    return [float((not solo or name in solo) and name not in without) for name in compiled.ids]


def keep_edits(playback: Playback, compiled: CompiledShow, coming: str) -> Playback:
    """Return the playback before cue ``coming`` runs, with the edits that nobody stored kept with their cue.

    Its advice says so, and of which edits the coming cue has. The newest edits of a cue stand in place of
    those kept before; where the very cue comes, beside them, since nobody had a chance to choose.
    """
    told = ""
    cue = compiled.cue(playback.cue)
    look = playback.edited_look()
    edits = tuple((name, look[name]) for name in sorted(edited(playback, compiled)))
    if edits and cue is None and playback.cue is not None:
        told = f"edits of {_names(edits)} are not kept, since their cue {playback.cue} was deleted"
    if edits and cue is not None:
        if cue.number == coming:
            edits = tuple({**dict(dict(playback.kept).get(coming, ())), **dict(edits)}.items())
        playback = replace(playback, kept=(*without_kept(playback, cue.number), (cue.number, edits)))
        if cue.number != coming:
            told = f"edits of {_names(edits)} are kept with cue {cue.number}"
    waiting = dict(playback.kept).get(coming)
    if waiting:
        told = f"cue {coming} has edits of {_names(waiting)} that were not stored; they can be brought back"
    return replace(playback, advice=told)


def bring_back(playback: Playback, compiled: CompiledShow, command: Edits, now: float) -> Playback:
    """Return the playback with the edits that were kept with its cue, or without them."""
    edits = dict(playback.kept).get(playback.cue or "")
    if not edits:
        raise Refused(f"no edits are kept with {'cue ' + playback.cue if playback.cue else 'no cue'}")
    playback = replace(playback, kept=without_kept(playback, playback.cue))
    if command.drop:
        return playback
    earlier = Earlier(dict(edits), frozenset(name for name, _ in edits), playback.cue)
    return put_back(playback, compiled, earlier, now)


def without_kept(playback: Playback, cue: str | None) -> EditsByCue:
    """Return the edits that are kept, but for those of this cue."""
    return tuple(pair for pair in playback.kept if pair[0] != cue)


def without_gone(playback: Playback, compiled: CompiledShow) -> tuple[Playback, EditsByCue]:
    """Return the playback without the edits kept with cues that no scene has any more, and those.

    Its advice says so: whoever deleted such a cue may not be the one who edited it.
    """
    gone = tuple(
        pair for pair in playback.kept if compiled.cue(pair[0]) is None and pair[0] not in compiled.elsewhere
    )
    if not gone:
        return playback, ()
    told = "; ".join(
        f"edits of {_names(edits)} that were not stored went with cue {cue} and come back with it"
        for cue, edits in gone
    )
    kept = tuple(pair for pair in playback.kept if pair not in gone)
    return replace(playback, kept=kept, advice=told), gone


def with_kept(earlier: Earlier | None, kept: EditsByCue) -> Earlier | None:
    """Return light to put back with edits that come back with it."""
    if not kept:
        return earlier
    earlier = earlier or Earlier()
    return replace(earlier, kept=tuple({**dict(earlier.kept), **dict(kept)}.items()))


def _names(edits: Sequence[tuple[str, Light]]) -> str:
    return ", ".join(name for name, _ in edits)


def edited(playback: Playback, compiled: CompiledShow) -> set[str]:
    """Return the fixtures whose light was changed by hand and differs from the stored look of the cue.

    While the cue waits out its delay, also from the light that shows until then.
    """
    lamps = np.flatnonzero(playback.by_hand).tolist()
    cue = compiled.cue(playback.cue)
    if cue is None:
        return {compiled.ids[lamp] for lamp in lamps}
    asked = playback.asked if playback.aside is None else playback.aside
    stored, before = compiled.target(cue).asked, _unedited(playback, compiled, cue)
    return {compiled.ids[lamp] for lamp in lamps if asked[lamp] not in (stored[lamp], before[lamp])}


def current(playback: Playback, compiled: CompiledShow, purpose: str) -> Cue:
    """Return the current cue; Refused if there is none."""
    cue = compiled.cue(playback.cue)
    if cue is None and playback.cue is not None:
        raise Refused(f"cue {playback.cue} was deleted, so there is no look to {purpose}: recall one first")
    if cue is None:
        raise Refused(f"no cue is showing, so there is no look to {purpose}: recall one first")
    return cue


def _unedited(playback: Playback, compiled: CompiledShow, cue: Cue) -> LightPerLamp:
    """The light that edits lie on: that of the current cue, or what shows while it waits out its delay."""
    waiting = playback.waiting
    return compiled.target(cue).asked if waiting is None or waiting.over is None else waiting.over


def here_or_goal(playback: Playback, compiled: CompiledShow, lamps: Sequence[int], now: float) -> list[Light]:
    """Return the light of these lamps as asked where they are there or moved by hand, else as it shows."""
    time = playback.show_time(now)
    if time >= playback.movement.settled_at:
        return [playback.asked[lamp] for lamp in lamps]
    moving: BoolArray = (playback.movement.end > time).any(axis=0) & ~playback.by_hand
    here = showing(playback.movement, time, compiled)
    return [
        light_at(here, lamp, playback.asked[lamp].effect) if moving[lamp] else playback.asked[lamp]
        for lamp in lamps
    ]


def _show(
    playback: Playback, compiled: CompiledShow, asked: Sequence[Light], now: float, fade_s: float
) -> Playback:
    """Send the lamps whose light differs from what is asked of them now; at once while the show is held."""
    fade_s = 0.0 if playback.held else fade_s
    playback = replace(playback, aside=None)
    lamps = [i for i, (new, old) in enumerate(zip(asked, playback.asked, strict=True)) if new != old]
    every = np.zeros(len(compiled.ids), dtype=np.bool_)
    every[lamps] = True
    return _send(playback, compiled, now, asked, lamps, Affected(every, every, every), fade_s)


def _send(
    playback: Playback,
    compiled: CompiledShow,
    now: float,
    asked: Sequence[Light],
    lamps: Sequence[int],
    affected: Affected,
    fade_s: float,
    *,
    urgent: bool = False,
) -> Playback:
    goal, layers = playback.movement.goal, playback.effects
    lights = Lights(goal.level.copy(), goal.white.copy(), goal.colour.copy())
    effects = Effects(
        layers.kind[INCOMING].copy(),
        layers.rate[INCOMING].copy(),
        layers.depth[INCOMING].copy(),
        layers.seed[INCOMING].copy(),
    )
    if lamps:
        new = lights_of([asked[lamp] for lamp in lamps], compiled.natural.of_lamps(lamps))
        lights.level[lamps], lights.white[lamps] = new.level, new.white
        lights.colour[:, lamps] = new.colour
        new_effects = effects_of([asked[lamp] for lamp in lamps])
        for field in ("kind", "rate", "depth", "seed"):
            getattr(effects, field)[lamps] = getattr(new_effects, field)
    return move(
        playback,
        compiled,
        now,
        Target(tuple(asked), lights, effects),
        affected,
        Times(fade_s, fade_s),
        guarded=is_guarded(playback, compiled),
        urgent=urgent,
    )


def changed(
    lights: Sequence[Light], lamps: Sequence[int], command: SetLight, compiled: CompiledShow
) -> list[Light]:
    """Return the lights of ``lamps`` (places in rig order) after the command; Refused where it means nothing.

    Levels stay in 0–1, CCT in 1000–25000 K, Duv in ±0.05.
    """
    levels = _levels([light.level for light in lights], lamps, command, compiled)
    return [
        _recoloured(light, level, lamp, command, compiled)
        for light, level, lamp in zip(lights, levels, lamps, strict=True)
    ]


def _levels(
    levels: list[float], lamps: Sequence[int], command: SetLight, compiled: CompiledShow
) -> list[float]:
    if command.lead is not None:
        return [float(level) for level in _in_ratio(np.array(levels), lamps, command, compiled)]
    if command.level is not None:
        levels = [command.level] * len(lamps)
    if command.level_by is not None:
        levels = [min(max(level + command.level_by, 0.0), 1.0) for level in levels]
    if command.stops_by is not None:
        levels = _by_stops(np.array(levels), lamps, command.stops_by, compiled).tolist()
    return levels


def _in_ratio(
    level: FloatArray, lamps: Sequence[int], command: SetLight, compiled: CompiledShow
) -> FloatArray:
    """The leading lamp at the level that is said, the others by as many stops, as far as they can follow.

    Where it is at black, or goes there, there is no ratio: all get the same level.
    """
    (lead,) = compiled.lamps((command.lead or "",))
    place = list(lamps).index(lead)
    wanted = float(level[place]) if command.level is None else command.level
    wanted = min(max(wanted + (command.level_by or 0.0), 0.0), 1.0)
    outputs = np.zeros((2, len(compiled.ids)))
    outputs[:, lead] = level[place], wanted
    before, after = (float(compiled.laws.output(row)[lead]) for row in outputs)
    if before == 0.0 or after == 0.0:
        return np.full(len(lamps), wanted)
    moved = _by_stops(level, lamps, math.log2(after / before), compiled)
    moved[place] = wanted
    return moved


def _by_stops(level: FloatArray, lamps: Sequence[int], stops: float, compiled: CompiledShow) -> FloatArray:
    """Levels whose outputs are all 2^stops times as bright, as far as every one of them can follow.

    Lamps nudged together keep their ratio: the step ends where the first reaches full, or the end of a log
    law. Lamps at black stay there.
    """
    whole = np.zeros(len(compiled.ids))
    whole[lamps] = level
    output = compiled.laws.output(whole)[lamps]
    lit = output > 0.0
    if not lit.any():
        names = ", ".join(compiled.ids[lamp] for lamp in lamps)
        raise Refused(f"{names} at black: stops multiply light, so set a level first")
    if stops > 0.0:
        stops = max(0.0, min(stops, -float(np.log2(output[lit].max()))))
    else:
        logs = np.isin(lamps, compiled.laws.log) & lit
        if logs.any():
            stops = min(0.0, max(stops, float(np.log2(LOG_END / output[logs].min()))))
    whole[lamps] = np.minimum(output * 2.0**stops, 1.0)
    return np.where(lit, compiled.laws.level(whole)[lamps], level)


def _recoloured(light: Light, level: float, lamp: int, command: SetLight, compiled: CompiledShow) -> Light:
    white, xy = light.white, light.xy
    if command.xy is not None:
        white, xy = None, command.xy
    elif command.hue is not None:
        white, xy = None, hue_to_xy(*command.hue, compiled.camera_white_k)
    elif command.cct_k is not None:
        duv = command.duv if command.duv is not None else white.duv if white is not None else 0.0
        white, xy = White(cct_k=command.cct_k, duv=duv), None
    elif command.duv is not None or command.mired_by is not None or command.duv_by is not None:
        now = _white(light, lamp, compiled)
        white, xy = White(cct_k=now.cct_k, duv=now.duv if command.duv is None else command.duv), None
    if white is not None and command.mired_by is not None:
        mired = min(max(1e6 / white.cct_k + command.mired_by, 1e6 / CCT_MAX_K), 1e6 / CCT_MIN_K)
        white = White(cct_k=min(max(1e6 / mired, CCT_MIN_K), CCT_MAX_K), duv=white.duv)
    if white is not None and command.duv_by is not None:
        duv = min(max(white.duv + command.duv_by, -DUV_LIMIT), DUV_LIMIT)
        white = White(cct_k=white.cct_k, duv=duv)
    return Light(level=level, white=white, xy=xy, effect=_effect(light, command))


def _white(light: Light, lamp: int, compiled: CompiledShow) -> White:
    if light.white is not None:
        return light.white
    if light.xy is not None:
        raise Refused(
            f"{compiled.ids[lamp]} has a colour, not a white: give it a CCT before its tint or warmth"
        )
    if compiled.natural.white[lamp]:
        mired, duv = compiled.natural.colour[[MIRED, DUV], lamp].tolist()
    else:
        uv = compiled.natural.colour[2:, lamp]
        mired, duv = (float(value) for value in uv76_to_white_fast(uv))
    return White(cct_k=min(max(1e6 / mired, CCT_MIN_K), CCT_MAX_K), duv=min(max(duv, -DUV_LIMIT), DUV_LIMIT))


def _effect(light: Light, command: SetLight) -> Effect | None:
    if command.effect is None:
        return light.effect
    return None if command.effect == "none" else command.effect
