"""Verbs that change the show: words into show commands, read against the show as it is. Pure."""

from __future__ import annotations

import re
from collections.abc import Mapping

from onecrew.cli.exits import Misuse
from onecrew.commands import models as say
from onecrew.commands.context import Context
from onecrew.commands.models import AnyCommand
from onecrew.language import names, reading
from onecrew.language.names import CUE, address, cue_number, nearest, universe
from onecrew.language.phrases import Pair, build, nothing_more, one_of, plain, split, unknown
from onecrew.show.patching import next_free, next_free_anywhere
from onecrew.show.profile import Mode, Profile
from onecrew.show.show import CURVES, MIXINGS, ROLES, Cue, Fade, Fixture, Rig


def store(words: list[str], _: Context) -> AnyCommand:
    number = words[0] if words and CUE.match(words[0]) else None
    if words and number is None:
        raise Misuse(f"'store' takes a cue number first, as 'store 3 Ovens on', not '{words[0]}'")
    return build(say.Store, cue=number, name=" ".join(words[1:]) or None)


def undo(words: list[str], _: Context) -> AnyCommand:
    nothing_more(words, "undo")
    return say.Undo()


def redo(words: list[str], _: Context) -> AnyCommand:
    nothing_more(words, "redo")
    return say.Redo()


def rename(words: list[str], _: Context) -> AnyCommand:
    if not words:
        raise Misuse("'rename' needs the show's new name")
    return build(say.Rename, name=" ".join(words))


# ── Cues ────────────────────────────────────────────────────────────────────────────────────────────


def remove(words: list[str], context: Context) -> AnyCommand:
    words = words[1:] if words and words[0].lower() == "cue" else words
    return build(say.RemoveCue, number=cue_number(" ".join(words), context.show, "remove"))


def cue(words: list[str], context: Context) -> AnyCommand:
    head, pairs = split(words, texts=frozenset({"name", "note"}))
    number = cue_number(" ".join(head), context.need_show(), "cue")
    present = context.need_show().cue(number)
    if present is None:
        raise Misuse(f"there is no cue {number} yet; store the light that is showing first: store {number}")
    if not pairs:
        raise Misuse("'cue' needs what to change, as 'cue 3 name=\"Ovens on\" shortcut=3 fade=4s'")
    changes: dict[str, object] = {}
    fade: dict[str, object] = {}
    for pair in pairs:
        _cue_field(pair, changes, fade)
    changed = {**present.model_dump(), **changes}
    changed["fade"] = build(Fade, **{**present.fade.model_dump(), **fade})
    return say.PutCue(cue=build(Cue, **changed))


_CUE_FIELDS = (
    "name", "shortcut", "fade", "fade-in", "fade-out", "curve", "delay", "auto-follow", "guard", "note",
)  # fmt: skip


def _cue_field(pair: Pair, changes: dict[str, object], fade: dict[str, object]) -> None:
    key, value = pair.key, plain(pair, "cue")
    if key == "fade":
        fade["in_s"] = fade["out_s"] = reading.seconds(value, "fade")
    elif key in ("fade-in", "fade-out"):
        fade[f"{key.removeprefix('fade-')}_s"] = reading.seconds(value, key)
    elif key == "curve":
        fade["curve"] = one_of(value, CURVES, "curve")
    elif key == "shortcut":
        changes["shortcut"] = None if value.lower() in ("", "none") else value
    elif key == "delay":
        changes["delay_s"] = reading.seconds(value, "delay")
    elif key == "auto-follow":
        changes["auto_follow_s"] = None if value.lower() in ("off", "none") else reading.seconds(value, key)
    elif key == "guard":
        changes["flash_guard"] = reading.yes_no(value, "guard")
    elif key in ("name", "note"):
        changes[key] = value
    else:
        raise unknown("a cue", key, _CUE_FIELDS)


# ── Fixtures ────────────────────────────────────────────────────────────────────────────────────────


def unpatch(words: list[str], context: Context) -> AnyCommand:
    if len(words) != 1:
        raise Misuse("'unpatch' takes the id of one fixture")
    known = [fixture.id for fixture in context.need_show().rig.fixtures]
    if words[0].lower() not in known:
        raise Misuse(f"there is no fixture '{words[0]}'{nearest(words[0].lower(), known)}")
    return build(say.RemoveFixture, id=words[0].lower())


def patch(words: list[str], context: Context) -> AnyCommand:
    rig = context.need_show().rig
    head, pairs = split(words, texts=frozenset({"note", "role"}))
    if not head:
        raise Misuse(
            "'patch' needs an id, a kind and an address, as 'patch window panel-cct-tint/16-bit 1.1 role=key'"
        )
    name, rest = head[0].lower(), head[1:]
    present = next((fixture for fixture in rig.fixtures if fixture.id == name), None)
    fields: dict[str, object] = present.model_dump() if present else {"id": name}
    if name in ROLES:
        fields.setdefault("role", name)
    for pair in pairs:
        _fixture_field(pair, fields)
    address = rest.pop() if rest and re.fullmatch(r"\d+(\.\d+)?|next", rest[-1].lower(), re.ASCII) else None
    if len(rest) > 1:
        raise Misuse(f"'{rest[1]}' is not an address; write universe.address, as 1.33")
    if rest:
        fields["profile"], fields["mode"] = _kind(rest[0].lower(), context.profiles)
    elif present is None:
        raise Misuse(f"say what kind of fixture {name} is; `onecrew profiles` lists the kinds")
    if address is not None or present is None:
        others = Rig(fixtures=tuple(fixture for fixture in rig.fixtures if fixture.id != name))
        fields["universe"], fields["address"] = _address(address or "next", others, fields, context.profiles)
    if "role" not in fields:
        raise Misuse(f"say the role of {name}: role=key, {', '.join(ROLES[1:])}")
    return say.PutFixture(fixture=build(Fixture, **fields))


def _fixture_field(pair: Pair, fields: dict[str, object]) -> None:
    key, value = pair.key, plain(pair, "patch")
    if key == "role":
        fields["role"] = names.role(value)
    elif key == "even":
        fields["even"] = reading.yes_no(value, "even")
    elif key == "mixing":
        fields["mixing"] = one_of(value, MIXINGS, "mixing")
    elif key == "note":
        fields["note"] = value
    else:
        raise unknown("a fixture", key, ("role", "even", "mixing", "note"))


def _kind(said: str, profiles: Mapping[str, Profile]) -> tuple[str, str]:
    name, slash, mode = said.partition("/")
    profile = profiles.get(name)
    if profile is None:
        raise Misuse(f"there is no profile '{name}'{nearest(name, profiles)}; `onecrew profiles` has all")
    modes = [known.name for known in profile.modes]
    if not slash and len(modes) == 1:
        return name, modes[0]
    if mode not in modes:
        raise Misuse(f"say the mode of {name}: {' or '.join(f'{name}/{known}' for known in modes)}")
    return name, mode


def _address(
    said: str, others: Rig, fields: Mapping[str, object], profiles: Mapping[str, Profile]
) -> tuple[int, int]:
    """Universe and address from '1.33', '2' (the next free place of universe 2) or 'next' (of any)."""
    universe_said, dot, address_said = said.partition(".")
    if dot:
        return universe(universe_said), address(address_said)
    width = _mode_of(fields, profiles).width
    if said.lower() == "next":
        place = next_free_anywhere(others, profiles, width)
        if place is None:
            raise Misuse(f"no universe has {width} slots in a row left")
        return place
    wanted = universe(universe_said)
    free = next_free(others, profiles, wanted, width)
    if free is None:
        raise Misuse(f"universe {wanted} has no {width} slots in a row left; name another universe")
    return wanted, free


def _mode_of(fields: Mapping[str, object], profiles: Mapping[str, Profile]) -> Mode:
    profile = profiles.get(str(fields["profile"]))
    mode = profile.mode(str(fields["mode"])) if profile else None
    if mode is None:
        raise Misuse(
            f"{fields['profile']}/{fields['mode']} is not among the profiles; write universe.address"
        )
    return mode
