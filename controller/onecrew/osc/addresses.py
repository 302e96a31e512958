"""OSC addresses: the one table of what can be sent to onecrew, made from the types of the commands.

Every command has an address of its own, ``/onecrew/`` and its kind, with its fields as arguments in their
order. What a light can be given has an address a lamp besides: ``/onecrew/light/window/level 0.15``.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from itertools import chain
from typing import Any, get_args

from onecrew.commands.command import Row
from onecrew.commands.light import SetLight
from onecrew.commands.table import TABLE
from onecrew.errors import Mistake
from onecrew.language.light import read_colour
from onecrew.osc.arguments import PRESSED, Argument, Form, Value, argument_of, read
from onecrew.osc.faders import CCT, FIELDS, TINT, Scale
from onecrew.osc.pattern import BadPattern, compile_part, is_pattern
from onecrew.show.faults import few, meant
from onecrew.show.light import Effect
from onecrew.show.show import Show

ROOT = "onecrew"
LAMP, CUE = "<lamp>", "<cue>"
"""Parts of an address that stand for the lamps and the cues of the show."""
FADERS = {
    CCT: "Set a lamp's CCT by a fader: 0 its warmest white, 1 its coolest",
    TINT: "Set a lamp's tint by a fader: 0 most magenta, 0.5 neutral, 1 most green",
}
LIGHT_WORDS = {"cct_k": "cct", "duv": "tint", "duv_by": "tint-by"}
"""Fields of a light whose address is another word than their name."""
ALL = "all"
COLOUR = "colour"
"""The address that takes a colour in words, by the grammar of the command line."""


@dataclass(frozen=True, slots=True)
class Method:
    """What one address does."""

    parts: tuple[str, ...]
    kind: str
    """The kind of command; empty where the first argument is the whole command."""
    arguments: tuple[Argument, ...]
    does: str

    @property
    def address(self) -> str:
        return "/" + "/".join((ROOT, *self.parts))


@dataclass(frozen=True, slots=True)
class Hit:
    """A method that an address reaches, with the lamps or the cue that it names."""

    method: Method
    names: tuple[str, ...] = ()


# ── The table ───────────────────────────────────────────────────────────────────────────────────────


@cache
def methods() -> tuple[Method, ...]:
    """Every method for commands, in the order in which people look for them."""
    plain = [_method(row) for row in TABLE.values() if row.model is not SetLight]
    at = next(index for index, method in enumerate(plain) if method.kind == "recall") + 1
    button = Method(("cue", CUE), "recall", (), "Run this cue: an address for a button")
    whole = Method(
        ("command",),
        "",
        (Argument("command", Form.DOCUMENT),),
        "Carry out any command, given as JSON with its kind",
    )
    return (*plain[:at], button, *plain[at:], *_light_methods(), whole)


UNSAID = ("kind", "words")
"""Fields of a command that no address says."""


def _method(row: Row[Any]) -> Method:
    fields = {name: field for name, field in row.model.model_fields.items() if name not in UNSAID}
    arguments = tuple(argument_of(name, field) for name, field in fields.items())
    return Method((row.kind,), row.kind, arguments, row.does)


def _light_methods() -> Iterator[Method]:
    said = ("fixtures", "lead", *UNSAID)
    fields = {name: field for name, field in SetLight.model_fields.items() if name not in said}
    fade = argument_of("fade_s", fields.pop("fade_s"))
    for name, field in fields.items():
        word = LIGHT_WORDS.get(name, name.replace("_", "-"))
        if name == "xy":
            arguments = [Argument("x", Form.NUMBER, low=0, high=1), Argument("y", Form.NUMBER, low=0, high=1)]
            does = "Give a lamp a chromaticity, CIE 1931 2°"
        elif name == "hue":
            arguments = [
                Argument("hue_deg", Form.NUMBER, low=0, high=360),
                Argument("saturation", Form.NUMBER, low=0, high=1),
            ]
            does = "Give a lamp a hue and a saturation around the camera's white balance"
        elif name == "effect":
            arguments = [argument_of(part, one) for part, one in Effect.model_fields.items()]
            does = f"Give a lamp an effect: {', '.join(_effects())}; or none"
        else:
            one = argument_of(name, field)
            arguments = [Argument(name, one.form, False, one.low, one.high)]
            does = _LIGHT_DOES[name]
        yield Method(("light", LAMP, word), "set", (*arguments, fade), does)
        if name == "hue":
            text = Argument(COLOUR, Form.TEXT)
            does = "Give a lamp a colour in words: half cto, daylight, h 30 80, 3400K"
            yield Method(("light", LAMP, COLOUR), "set", (text, fade), does)
        if name == "duv":
            white = tuple(
                Argument(part, Form.NUMBER, part == "duv", *_range(fields[part])) for part in ("cct_k", "duv")
            )
            yield Method(("light", LAMP, "white"), "set", (*white, fade), "Give a lamp a white: CCT and tint")
            for fader, does in FADERS.items():
                share = Argument("share", Form.NUMBER, low=0, high=1)
                yield Method(("light", LAMP, fader), "set", (share, fade), does)


_LIGHT_DOES = {
    "level": "Set a lamp's level",
    "cct_k": "Set a lamp's CCT in kelvin",
    "duv": "Set a lamp's tint (Duv: + green, − magenta)",
    "level_by": "Nudge a lamp's level",
    "stops_by": "Nudge a lamp's light by stops",
    "mired_by": "Nudge a lamp's CCT by mired",
    "duv_by": "Nudge a lamp's tint",
}


def _effects() -> tuple[str, ...]:
    return get_args(Effect.model_fields["kind"].annotation)


def _range(field: Any) -> tuple[float | None, float | None]:
    one = argument_of("", field)
    return one.low, one.high


# ── From an address to its method ───────────────────────────────────────────────────────────────────


def find(address: str, show: Show, *, guess: bool = True) -> Hit:
    """What an address or a pattern reaches; raises ``Mistake`` where that is nothing, or more than one thing.

    With ``guess`` the sentence says what was probably meant, which takes about a millisecond to find out.

    A pattern may stand for several lamps, which then get one command together. It may not stand for several
    methods or cues: OSC would have them all run, and a stray asterisk would end the engine.
    """
    parts = address.split("/")[1:]
    try:
        hits = list(_reached(parts, show))
    except BadPattern as bad:
        raise Mistake(f"the pattern cannot be read: {bad}") from None
    if len(hits) == 1:
        return hits[0]
    if hits:
        what = few(
            ["/".join((*hit.method.parts[:1], *hit.names, *hit.method.parts[2:])) for hit in hits], most=4
        )
        raise Mistake(f"the pattern matches {what}; it may match several lamps, but one command only")
    raise Mistake(_nothing_there(parts, guess))


def _reached(parts: Sequence[str], show: Show) -> Iterator[Hit]:
    if len(parts) not in (2, 3, 4) or not _fitting(parts[0], (ROOT,)):
        return
    firsts, inner = parts[1], parts[2:]
    for first in _fitting(firsts, _firsts()):
        for method in _firsts()[first]:
            if len(method.parts) != len(parts) - 1:
                continue
            if not inner:
                yield Hit(method)
            elif method.parts[1] == CUE:
                for number in _fitting(inner[0], tuple(cue.number for cue in show.cues), strange=True):
                    yield Hit(method, (number,))
            elif _fitting(inner[1], method.parts[2:]) and (lamps := _lamps(inner[0], show)):
                yield Hit(method, lamps)


@cache
def _firsts() -> dict[str, list[Method]]:
    """The methods by the part that follows the root."""
    found: dict[str, list[Method]] = {}
    for method in methods():
        found.setdefault(method.parts[0], []).append(method)
    return found


def _fitting(part: str, names: Any, *, strange: bool = False) -> tuple[str, ...]:
    """The names that a part of an address fits; with ``strange``, also a name that is not known here."""
    if not is_pattern(part):
        return (part,) if strange or part in names else ()
    if part == "*":
        return tuple(names)
    pattern = compile_part(part)
    return tuple(name for name in names if pattern.matches(name))


def _lamps(part: str, show: Show) -> tuple[str, ...]:
    ids = tuple(fixture.id for fixture in show.rig.fixtures)
    return _fitting(part, ids) if is_pattern(part) else named(part, show)


def named(name: str, show: Show) -> tuple[str, ...]:
    """The lamps that a name means: an id, a role (its blanks as -), or all; an unknown one stays as it is."""
    fixtures = show.rig.fixtures
    if show.fixture(name) is None:
        by_role = tuple(fixture.id for fixture in fixtures if fixture.role.replace(" ", "-") == name)
        if by_role:
            return by_role
        if name == ALL and fixtures:
            return tuple(fixture.id for fixture in fixtures)
    return (name,)


def _nothing_there(parts: Sequence[str], guess: bool) -> str:
    said = "/" + "/".join(parts)
    if any(map(is_pattern, parts)):
        return f"nothing matches {said}; `onecrew osc` prints every address"
    known = [method.address.removeprefix("/") for method in methods()]
    if len(parts) == 4 and parts[1] == "light":
        known = [address.replace(LAMP, parts[2]) for address in known]
    close = meant("/".join(parts), known) if guess else None
    fix = f"perhaps /{close} was meant" if close else "`onecrew osc` prints every address"
    return f"there is nothing at {said}; {fix}"


def controls(hit: Hit) -> list[str]:
    """The addresses of what a message moves, one for each lamp: where its feedback goes to as well."""
    first, *rest = hit.method.parts
    return ["/".join(("", ROOT, first, *([name] if rest else []), *rest[1:])) for name in hit.names or ("",)]


# ── From arguments to a command ─────────────────────────────────────────────────────────────────────


def commands_of(
    hit: Hit, values: Sequence[Value], show: Show, scale_of: Callable[[str], Scale | None]
) -> list[dict[str, Any]]:
    """The commands, as the link takes them; none for a button's release. Raises ``Mistake`` with a sentence.

    ``scale_of`` gives what a lamp's faders run over, None for a lamp that there is not.
    """
    fader = hit.method.parts[-1]
    command = command_of(hit, values, show)
    if command is None or fader not in FADERS:
        return [] if command is None else [command]
    share = float(command.pop("share"))
    if not 0.0 <= share <= 1.0:
        raise Mistake(f"{fader}: {share:g} is no place of a fader; send a number from 0 to 1")
    scales = {lamp: scale_of(lamp) for lamp in hit.names}
    return [
        {
            **command,
            "fixtures": (lamp,),
            FIELDS[fader]: 0.0 if scale is None else scale.value(fader, share, lamp),
        }
        for lamp, scale in scales.items()
    ]


def command_of(hit: Hit, values: Sequence[Value], show: Show) -> dict[str, Any] | None:
    """The command, as the link takes it; None for a button's release. Raises ``Mistake`` with a sentence."""
    method = hit.method
    if not method.arguments and values:
        if len(values) > 1:
            raise Mistake(f"{len(values)} arguments came, and this takes none, or 1 and 0 from a button")
        if not read(PRESSED, values[0]):
            return None
    fields = _fields(method.arguments, values if method.arguments else (), show)
    if not method.kind:
        return _whole(fields["command"])
    command = {"kind": method.kind, **fields}
    if method.parts[0] == "cue":
        command["cue"] = hit.names[0]
    elif method.parts[0] == "light":
        command = _light(method.parts[-1], fields, hit.names)
    return command


def _fields(arguments: Sequence[Argument], values: Sequence[Value], show: Show) -> dict[str, Any]:
    fields: dict[str, Any] = {}
    rest = values
    for at, argument in enumerate(arguments):
        count = _many(argument, rest, arguments[at + 1 :]) if argument.many else 1
        own, rest = rest[:count], rest[count:]
        if argument.form is Form.COMMAND and own:
            fields[argument.name] = _inner((*own, *rest), show)
            return fields
        if not own or own[0] is None:
            if not argument.optional:
                raise Mistake(f"{argument.name} is missing; send {argument.words}")
        elif argument.form is Form.NAME:
            fields[argument.name] = _names(argument, own, show)
        else:
            read_ones = tuple(read(argument, value) for value in own)
            fields[argument.name] = read_ones if argument.many else read_ones[0]
    if rest:
        raise Mistake(f"{len(values)} arguments came, and this takes {len(arguments)} at most")
    return fields


def _many(argument: Argument, values: Sequence[Value], later: Sequence[Argument]) -> int:
    """How many of the values are those of an argument that may be many, before the ``later`` ones."""
    most = max(len(values) - sum(not one.optional for one in later), 0)
    fit = next((at for at, value in enumerate(values[:most]) if not argument.fits(value)), most)
    return fit if len(values) - fit <= len(later) else most


def _names(argument: Argument, values: Sequence[Value], show: Show) -> tuple[str, ...]:
    if not all(isinstance(value, str) for value in values):
        raise Mistake(f"{argument.name}: a name is not a text; send {argument.words}")
    return tuple(dict.fromkeys(chain.from_iterable(named(str(value), show) for value in values)))


def _inner(values: Sequence[Value], show: Show) -> dict[str, Any]:
    """A command inside another: its kind, then its arguments."""
    kind = values[0]
    method = next((one for one in methods() if one.parts == (kind,) and one.kind), None)
    if method is None or any(argument.form is Form.COMMAND for argument in method.arguments):
        raise Mistake(f"command: {kind!r} is no command that can run later; send its name, such as go")
    return {"kind": method.kind, **_fields(method.arguments, values[1:], show)}


def _whole(command: object) -> dict[str, Any]:
    if not isinstance(command, dict) or not isinstance(command.get("kind"), str):
        raise Mistake('command: this is no command; send JSON such as {"kind": "go"}')
    return command


def _light(word: str, fields: dict[str, Any], lamps: tuple[str, ...]) -> dict[str, Any]:
    fade = {"fade_s": fields.pop("fade_s")} if "fade_s" in fields else {}
    if word == "xy":
        fields = {"xy": (fields["x"], fields["y"])}
    elif word == "hue":
        fields = {"hue": (fields["hue_deg"], fields["saturation"])}
    elif word == COLOUR:
        fields = read_colour(fields[COLOUR])
    elif word == "effect":
        fields = {"effect": "none" if fields["kind"] == "none" else fields}
    return {"kind": "set", "fixtures": lamps, **fields, **fade}
