"""Verbs that change light: words into playback and engine commands. Pure."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence

from onecrew.cli.exits import Misuse
from onecrew.commands import models as say
from onecrew.commands.context import Context
from onecrew.commands.models import AnyCommand
from onecrew.language import names, reading
from onecrew.language.names import cue_number, nearest
from onecrew.language.phrases import Pair, build, nothing_more, plain, split, timed
from onecrew.show.light import Effect


def go(words: list[str], _: Context) -> AnyCommand:
    nothing_more(words, "go")
    return say.Go()


def back(words: list[str], _: Context) -> AnyCommand:
    nothing_more(words, "back")
    return say.Back()


def recall(words: list[str], context: Context) -> AnyCommand:
    named, fade_s = timed(words)
    return build(say.Recall, cue=cue_number(" ".join(named), context.show, "recall"), fade_s=fade_s)


def hold(words: list[str], _: Context) -> AnyCommand:
    return say.Hold(on=reading.on_off(words, "hold"))


def blackout(words: list[str], _: Context) -> AnyCommand:
    return say.Blackout(on=reading.on_off(words, "blackout"))


def lock(words: list[str], _: Context) -> AnyCommand:
    return say.Lock(on=reading.on_off(words, "lock"))


def compare(words: list[str], _: Context) -> AnyCommand:
    return say.Compare(on=reading.on_off(words, "compare"))


def master(words: list[str], _: Context) -> AnyCommand:
    if len(words) != 1:
        raise Misuse("'master' takes one level, as 'master 80%'")
    return build(say.Master, level=reading.level(words[0], "master"))


def set_light(words: list[str], context: Context) -> AnyCommand:
    words, fade_s = timed(words)
    head, pairs = split([_named(word) for word in words])
    if not head or not pairs:
        raise Misuse("'set' needs lamps and what to set, as 'set key level=22% cct=3400'")
    lamps = names.lamps(" ".join(head), context.show, "set")
    return build(
        say.SetLight, fixtures=lamps, **_changes(pairs), **({} if fade_s is None else {"fade_s": fade_s})
    )


def _named(word: str) -> str:
    """'15%' and '2800K' say by their unit what they are."""
    if re.fullmatch(r"[\d.]+%", word, re.ASCII):
        return f"level={word}"
    return f"cct={word}" if re.fullmatch(r"[\d.]+[kK]", word, re.ASCII) else word


_ABSOLUTE: dict[str, tuple[str, Callable[[str], object]]] = {
    "level": ("level", reading.level),
    "cct": ("cct_k", reading.kelvin),
    "mired": ("cct_k", reading.mired),
    "tint": ("duv", reading.tint),
    "xy": ("xy", reading.xy),
    "effect": ("effect", str.lower),
}
_NUDGE: dict[str, tuple[str, Callable[[str], float]]] = {
    "level": ("level_by", reading.level_step),
    "stops": ("stops_by", lambda text: reading.within(reading.number(text, "stops"), 0, 15, "stops")),
    "mired": ("mired_by", lambda text: reading.within(reading.number(text, "mired"), 0, 1000, "mired")),
    "tint": ("duv_by", lambda text: reading.within(reading.number(text, "tint"), 0, 0.1, "tint")),
}
_EFFECT = ("depth", "rate", "seed")


def _changes(pairs: Sequence[Pair]) -> dict[str, object]:
    changes: dict[str, object] = {}
    effect: dict[str, object] = {}
    said: set[str] = set()
    for pair in pairs:
        if pair.key in said:
            raise Misuse(f"{pair.key} is said twice")
        said.add(pair.key)
        if pair.key in _EFFECT:
            effect[pair.key] = _effect_value(pair)
            continue
        table: Mapping[str, tuple[str, Callable[[str], object]]] = _ABSOLUTE if pair.sign == "=" else _NUDGE
        if pair.key not in table:
            raise _no_such_key(pair)
        name, read = table[pair.key]
        if name in changes:
            raise Misuse("the colour temperature is said twice: cct and mired")
        value = read(pair.value)
        changes[name] = -value if pair.sign == "-=" and isinstance(value, float) else value
    if effect and changes.get("effect") in (None, "none"):
        raise Misuse(f"{', '.join(effect)} belongs to an effect: write effect=flame as well")
    if changes.get("effect") not in (None, "none"):
        changes["effect"] = build(Effect, kind=changes["effect"], **effect)
    return changes


def _effect_value(pair: Pair) -> object:
    value = plain(pair, "set")
    if pair.key == "depth":
        return reading.level(value, "depth")
    if pair.key == "seed":
        if not re.fullmatch(r"\d{1,10}", value, re.ASCII):
            raise Misuse(f"seed '{value}' is not a whole number")
        return int(value)
    return reading.number(value, "rate")


def _no_such_key(pair: Pair) -> Misuse:
    if pair.sign == "=" and pair.key in _NUDGE:
        return Misuse(f"{pair.key} is a nudge: write {pair.key}+={pair.value} or {pair.key}-={pair.value}")
    if pair.sign != "=" and pair.key == "cct":
        return Misuse("kelvins are not even steps; nudge with mired+=20 (warmer) or mired-=20 (cooler)")
    if pair.sign != "=" and pair.key in _ABSOLUTE:
        return Misuse(f"{pair.key} cannot be nudged; write {pair.key}=…")
    known = sorted({*_ABSOLUTE, *_NUDGE, *_EFFECT})
    return Misuse(f"a light has no '{pair.key}'{nearest(pair.key, known)}; it has {', '.join(known)}")


def _lamps(words: list[str], context: Context, verb: str) -> tuple[str, ...]:
    said = " ".join(words)
    return () if said.lower() in ("", "off") else names.lamps(said, context.show, verb)


def solo(words: list[str], context: Context) -> AnyCommand:
    return say.Solo(fixtures=_lamps(words, context, "solo"))


def without(words: list[str], context: Context) -> AnyCommand:
    return say.Without(fixtures=_lamps(words, context, "without"))


def identify(words: list[str], context: Context) -> AnyCommand:
    return say.Identify(fixtures=_lamps(words, context, "identify"))


def revert(words: list[str], context: Context) -> AnyCommand:
    return say.Revert(fixtures=_lamps(words, context, "revert"))


def take(words: list[str], context: Context) -> AnyCommand:
    what, rest = (words[0].lower() if words else ""), words[1:]
    if what == "start":
        at = next((index for index, word in enumerate(rest) if word.lower() == "from"), len(rest))
        chain = (
            cue_number(" ".join(rest[at + 1 :]), context.show, "take start from") if at < len(rest) else None
        )
        return build(say.TakeStart, setup=" ".join(rest[:at]) or None, chain_from=chain)
    if what == "end":
        good = {"good": True, "bad": False}.get(rest[0].lower()) if rest else None
        rest = rest if good is None else rest[1:]
        if rest and rest[0].lower() == "note":
            rest = rest[1:]
        elif rest:
            raise Misuse(f"after 'take end' come good or bad and note …, not '{rest[0]}'")
        return build(say.TakeEnd, good=good, note=" ".join(rest))
    if what == "note":
        return _remark(rest, "take note", take=True)
    raise Misuse("'take' is followed by start, end or note")


def note(words: list[str], _: Context) -> AnyCommand:
    return _remark(words, "note", take=False)


def _remark(words: list[str], verb: str, take: bool) -> AnyCommand:
    if not words:
        raise Misuse(f"'{verb}' needs some words")
    return build(say.Note, text=" ".join(words), take=take)


def takeover(words: list[str], _: Context) -> AnyCommand:
    on = reading.on_off(words, "takeover")
    return say.TakeOver(on=on is not False)


def stop(words: list[str], _: Context) -> AnyCommand:
    rest, fade_s = timed(words, high=60.0)
    confirmed = rest == ["confirmed"]
    nothing_more([] if confirmed else rest, "stop")
    given = {} if fade_s is None else {"fade_s": fade_s}
    return build(say.Stop, confirmed=confirmed, **given)
