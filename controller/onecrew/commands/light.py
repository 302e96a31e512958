"""Light changed by hand, lamp by lamp, and looking at what a lamp does."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from typing import Annotated, Any, Literal, Self

from pydantic import Field, model_validator

from onecrew.commands.command import (
    Command,
    EngineCommand,
    Log,
    OnOff,
    PlaybackCommand,
    Reader,
    Row,
    plainly,
)
from onecrew.commands.context import Context
from onecrew.commands.running import in_time, switch, write_switch
from onecrew.errors import Misuse
from onecrew.language import reading, writing
from onecrew.language.colours import named
from onecrew.language.light import lettered, marked_word
from onecrew.language.names import lamps, nearest, patch_address
from onecrew.language.phrases import Pair, build, plain, split, timed
from onecrew.show.base import CctK, Duv, Level, Name, Seconds
from onecrew.show.destination import SLOTS
from onecrew.show.light import Effect, Xy
from onecrew.show.show import Address, Show, Universe

Stops = Annotated[float, Field(ge=-15.0, le=15.0)]


HueSaturation = tuple[Annotated[float, Field(ge=0.0, le=360.0)], Level]
_WHITE = frozenset({"cct_k", "duv", "mired_by", "duv_by"})


class SetLight(PlaybackCommand):
    """Change some lamps now. What is not named stays; relative fields nudge each lamp from where it is."""

    kind: Literal["set"] = "set"
    fixtures: Annotated[tuple[Name, ...], Field(min_length=1)]
    level: Level | None = None
    cct_k: CctK | None = None
    duv: Duv | None = None
    xy: Xy | None = None
    hue: HueSaturation | None = None
    """Hue in degrees and saturation 0–1, around the camera's white balance."""
    effect: Effect | Literal["none"] | None = None
    level_by: Annotated[float, Field(ge=-1.0, le=1.0)] | None = None
    stops_by: Stops | None = None
    mired_by: Annotated[float, Field(ge=-1000.0, le=1000.0)] | None = None
    duv_by: Annotated[float, Field(ge=-0.1, le=0.1)] | None = None
    lead: Name | None = None
    """The level is this lamp's; the others go by as many stops, so that all keep their ratio."""
    fade_s: Seconds = 0.0

    @model_validator(mode="after")
    def _says_something(self) -> Self:
        said = self.model_fields_set - {"kind", "fixtures", "lead", "fade_s"}
        changes = {name for name in said if getattr(self, name) is not None}
        if not changes:
            raise ValueError("nothing is set; say a level, a white, an xy or an effect")
        if len({"xy", "hue"} & changes) + bool(_WHITE & changes) > 1:
            raise ValueError("two of a white, an xy and a hue are set; remove all but one")
        if self.lead is not None and self.lead not in self.fixtures:
            raise ValueError(f"{self.lead} leads and is none of the lamps that are set; name it among them")
        if self.lead is not None and not {"level", "level_by"} & changes:
            raise ValueError("a lamp leads by its level; say one, as level=30%")
        return self


def _read_set(words: list[str], context: Context) -> Command:
    words, fade_s = timed(words)
    by_name, rest = named(words[1:])  # the first word is a lamp, whatever else it could be
    by_letter, rest = lettered(rest)
    by_level, rest = _full_or_off(words[:1], rest)
    words = [*words[:1], *rest]
    marked = [
        *(found for found in map(marked_word, words) if found is not None),
        *by_name,
        *by_letter,
        *by_level,
    ]
    head, pairs = split([word for word in words if marked_word(word) is None])
    if not head or not (pairs or marked):
        raise Misuse("'set' needs lamps and what to set, as 'set key level=22% cct=3400'")
    names = lamps(" ".join(head), context.show, "set")
    changes = _changes(pairs, marked)
    if "lead" in changes:
        changes["lead"] = _one_lamp(str(changes["lead"]), context.show)
    fade = {} if fade_s is None else {"fade_s": fade_s}
    return build(SetLight, fixtures=names, **changes, **fade)


def _full_or_off(before: Sequence[str], words: Sequence[str]) -> tuple[list[dict[str, object]], list[str]]:
    """The levels that are words, and the words that are left; behind a comma it is a lamp's name."""
    found: list[dict[str, object]] = []
    left: list[str] = []
    for last, word in zip([*before, *words], words, strict=False):
        if word.lower() in ("full", "off") and not last.endswith(","):
            found.append({"level": reading.level(word)})
        else:
            left.append(word)
    return found, left


def _one_lamp(text: str, show: Show | None) -> str:
    found = lamps(text, show, "lead")
    if len(found) > 1:
        raise Misuse(f"lead is one lamp, and '{text}' is {', '.join(found)}")
    return found[0]


_ABSOLUTE: dict[str, tuple[str, Callable[[str], object]]] = {
    "level": ("level", reading.level),
    "cct": ("cct_k", reading.kelvin),
    "mired": ("cct_k", reading.mired),
    "tint": ("duv", reading.tint),
    "xy": ("xy", reading.xy),
    "hue": ("hue", reading.hue_saturation),
    "effect": ("effect", str.lower),
    "lead": ("lead", str),
}
_NUDGE: dict[str, tuple[str, Callable[[str], float]]] = {
    "level": ("level_by", reading.level_step),
    "stops": ("stops_by", lambda text: reading.within(reading.number(text, "stops"), 0, 15, "stops")),
    "mired": ("mired_by", lambda text: reading.within(reading.number(text, "mired"), 0, 1000, "mired")),
    "tint": ("duv_by", lambda text: reading.within(reading.number(text, "tint"), 0, 0.1, "tint")),
}
_EFFECT = ("depth", "rate", "seed")


def _changes(pairs: Sequence[Pair], marked: Sequence[Mapping[str, object]]) -> dict[str, object]:
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
    for word in marked:
        for name, value in word.items():
            if name in changes:
                raise Misuse(f"{_WORDS.get(name, name)} is said twice")
            changes[name] = value
    if effect and changes.get("effect") in (None, "none"):
        raise Misuse(f"{', '.join(effect)} belongs to an effect: write effect=flame as well")
    if changes.get("effect") not in (None, "none"):
        changes["effect"] = build(Effect, kind=changes["effect"], **effect)
    return changes


_WORDS = {"cct_k": "cct", "duv": "tint", "stops_by": "stops", "mired_by": "mired", "duv_by": "tint"}


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
        return Misuse("steps in kelvin are not even; nudge with mired+=20 (warmer) or mired-=20 (cooler)")
    if pair.sign != "=" and pair.key in _ABSOLUTE:
        return Misuse(f"{pair.key} cannot be nudged; write {pair.key}=…")
    known = sorted({*_ABSOLUTE, *_NUDGE, *_EFFECT})
    return Misuse(f"a light has no '{pair.key}'{nearest(pair.key, known)}; it has {', '.join(known)}")


def _write_set(command: SetLight, _: Show | None) -> str:
    said = [f"set {','.join(command.fixtures)}"]
    if command.level is not None:
        said.append(f"level={writing.level(command.level)}")
    if command.cct_k is not None:
        said.append(f"cct={writing.number(command.cct_k)}")
    if command.duv is not None:
        said.append(f"tint={writing.number(command.duv)}")
    if command.xy is not None:
        said.append(f"xy={writing.xy(command.xy)}")
    if command.hue is not None:
        hue_deg, saturation = command.hue
        said.append(f"hue={writing.number(hue_deg)},{writing.level(saturation)}")
    if isinstance(command.effect, Effect):
        effect = command.effect
        said += [f"effect={effect.kind}", f"depth={writing.level(effect.depth)}"]
        said += [f"rate={writing.number(effect.rate)}", f"seed={effect.seed}"]
    elif command.effect is not None:
        said.append("effect=none")
    if command.level_by is not None:
        said.append(_step("level", 100.0 * command.level_by, "%"))
    for key, step in (("stops", command.stops_by), ("mired", command.mired_by), ("tint", command.duv_by)):
        if step is not None:
            said.append(_step(key, step))
    if command.lead is not None:
        said.append(f"lead={command.lead}")
    return " ".join(said) + (in_time(command.fade_s) if command.fade_s else "")


def _step(key: str, step: float, unit: str = "") -> str:
    return f"{key}{'-' if step < 0 else '+'}={writing.number(abs(step))}{unit}"


SET = Row(
    model=SetLight,
    forms={
        "set key level=22% cct=3400 tint=+0.003 [in 2s]": "change lamps by id, role or 'all'; commas between",
        "set key 22% 3400K +0.003 -1s": "by units and signs; -1s is a stop down, full and off are levels",
        "set key 22% half cto": "a correction from the lamp's white: cto, ctb, plus green, minus green",
        "set key daylight": "a white by use: candle, household, tungsten, daylight, overcast, shade",
        "set oven 30% h 30 80": "a hue in degrees and a saturation in per cent; x .45 .41: a chromaticity",
        "set all stops-=1 mired+=20": "nudge: level, stops, mired and tint take += and -=",
        "set all level=30% lead=key": "a level for one of several lamps; the others keep their ratio to it",
        "set oven xy=0.5,0.4 effect=flame depth=30% rate=1.5 seed=7": "a colour by chromaticity, an effect",
    },
    reads={"set": _read_set},
    writes=_write_set,
    log=Log.LAMPS,
)


def _of_lamps(model: type[Command], verb: str) -> Reader:
    """Reads a command about some lamps, none or 'off'."""

    def read(words: list[str], context: Context) -> Command:
        said = " ".join(words)
        names = () if said.lower() in ("", "off") else lamps(said, context.show, verb)
        return build(model, fixtures=names)

    return read


def _write_lamps(verb: str, none: str) -> Callable[[Any, Show | None], str]:
    return lambda command, _: f"{verb} {','.join(command.fixtures) or none}".rstrip()


class Revert(PlaybackCommand):
    """Drop unstored edits and return to the current cue's look."""

    kind: Literal["revert"] = "revert"
    fixtures: tuple[Name, ...] = ()
    """Empty: all."""


REVERT = Row(
    model=Revert,
    forms={"revert [lamps]": "drop edits that were not stored"},
    reads={"revert": _of_lamps(Revert, "revert")},
    writes=_write_lamps("revert", ""),
    log=Log.LAMPS,
)


class Edits(PlaybackCommand):
    """Bring back the edits that were not stored when its cue was left, or drop them."""

    kind: Literal["edits"] = "edits"
    drop: bool = False


def _read_edits(words: list[str], _: Context) -> Command:
    if (words and words[0].lower() != "drop") or len(words) > 1:
        raise Misuse(f"'edits' takes nothing, or drop, not '{' '.join(words)}'")
    return Edits(drop=bool(words))


EDITS = Row(
    model=Edits,
    forms={"edits": "bring back the edits kept with this cue", "edits drop": "forget them"},
    reads={"edits": _read_edits},
    writes=lambda command, _: "edits drop" if command.drop else "edits",
    says=lambda command, _: "drop the kept edits" if command.drop else "bring back the kept edits",
    log=Log.LAMPS,
)


class Compare(PlaybackCommand):
    """Show the stored look of the current cue instead of the edited one, or come back."""

    kind: Literal["compare"] = "compare"
    on: OnOff = None


COMPARE = Row(
    model=Compare,
    forms={"compare [on|off]": "show the stored look instead of the edited one"},
    reads={"compare": switch(Compare, "compare")},
    writes=write_switch("compare"),
    log=Log.STATE,
)


def _shows_some(model: type[Solo | Without | Identify], forms: Mapping[str, str]) -> Row[Any]:
    """What some lamps do for the eye alone: nothing stored is changed by it."""
    verb = model.model_fields["kind"].default
    return Row(
        model=model,
        forms=forms,
        reads={verb: _of_lamps(model, verb)},
        writes=_write_lamps(verb, "off"),
        log=Log.STATE,
    )


class Solo(PlaybackCommand):
    """Show the look with these lamps alone; empty ends it. Changes nothing stored."""

    kind: Literal["solo"] = "solo"
    fixtures: tuple[Name, ...] = ()


SOLO = _shows_some(
    Solo,
    forms={"solo pendant": "show these lamps alone; 'solo' ends it"},
)


class Without(PlaybackCommand):
    """Show the look with these lamps taken away; empty ends it. Changes nothing stored."""

    kind: Literal["without"] = "without"
    fixtures: tuple[Name, ...] = ()


WITHOUT = _shows_some(
    Without,
    forms={"without pendant": "show the look without these lamps; 'without' ends it"},
)


class Identify(PlaybackCommand):
    """Let these lamps pulse gently until released; empty releases all."""

    kind: Literal["identify"] = "identify"
    fixtures: tuple[Name, ...] = ()
    briefly: bool = False
    """For ``PULSED_S`` at a time: whoever goes from lamp to lamp asks again, so that no end of it, however
    sudden, leaves a lamp pulsing."""


IDENTIFY = _shows_some(
    Identify,
    forms={"identify van": "pulse these lamps gently to find them; 'identify' ends it"},
)


PULSED_S = 3.0
"""How long a lamp that is to pulse briefly does so after it was asked for."""
PULSE_EVERY_S = PULSED_S / 4
"""How often one asks again."""


RAMP_S = 1.5
"""From one state of raised slots to the next, so that none flashes."""
HELD_S = 2.0
"""How long raised slots stay after they were asked for: whoever wants them longer asks again."""
RISEN_S = RAMP_S + 0.1
"""When raised slots are sure to be there."""
AGAIN_S = HELD_S / 4
"""How often one asks again."""


class RaiseSlots(EngineCommand):
    """Raise slots of a lamp that nobody patched yet, slowly; nothing, or two seconds without it, is black."""

    kind: Literal["raise"] = "raise"
    universe: Universe = 1
    address: Address = 1
    slots: Annotated[tuple[Annotated[int, Field(ge=0, le=255)], ...], Field(max_length=SLOTS)] = ()
    """Values from the address on; empty: black, and an end."""
    fixture: Name | None = None
    """The lamp that these are the slots of, in a still that has every lamp out; or of none."""

    @model_validator(mode="after")
    def _within_the_universe(self) -> Self:
        if self.address + len(self.slots) > SLOTS + 1:
            raise ValueError(f"{len(self.slots)} slots from {self.address} on run past {SLOTS}")
        return self


def _read_raise(words: list[str], _: Context) -> Command:
    if words in ([], ["off"]):
        return RaiseSlots()
    if len(words) != 2:
        raise Misuse("'raise' needs an address and values, as 'raise 1.101 0,0,255', or off")
    number, address = patch_address(words[0])
    values = [reading.whole(value, "value", 0, 255) for value in words[1].split(",")]
    return build(RaiseSlots, universe=number, address=address, slots=tuple(values))


def _write_raise(command: RaiseSlots, _: Show | None) -> str:
    if not command.slots:
        return "raise off"
    return f"raise {command.universe}.{command.address} {','.join(map(str, command.slots))}"


RAISE = Row(
    model=RaiseSlots,
    forms={"raise 1.101 0,0,255": "slots without a lamp, slowly up, for two seconds; see `onecrew probe`"},
    reads={"raise": _read_raise},
    writes=_write_raise,
    says=plainly("raise slots"),
    log=Log.ENGINE,
)

ROWS = (SET, REVERT, EDITS, COMPARE, SOLO, WITHOUT, IDENTIFY, RAISE)
