"""Where the universes go, and who may reach the engine by OSC and by phone."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from typing import Literal

from onecrew.commands.command import Command, Log, Row, ShowCommand, changed, joined, plainly
from onecrew.commands.context import Context
from onecrew.errors import Misuse
from onecrew.language import names, network, reading, writing
from onecrew.language.phrases import Pair, build, plain, split, unknown
from onecrew.show.show import Artnet, ArtnetUniverse, Osc, Output, Page, Remote, Sacn, SacnUniverse, Show

# ── Outputs ─────────────────────────────────────────────────────────────────────────────────────────


class SetOutput(ShowCommand):
    """Change where the universes go, and how."""

    kind: Literal["set-output"] = "set-output"
    output: Output


def _read_output(words: list[str], context: Context) -> Command:
    present = context.need_show().output
    head, pairs = split(words)
    if head and re.fullmatch(r"\d+", head[0], re.ASCII):
        changed = _universe(present, str(names.universe(head[0])), head[1:], pairs)
    elif head or not pairs:
        raise Misuse(
            "'output' needs a universe and where it goes, as 'output 1 to=192.168.1.50', or priority="
        )
    else:
        changed = present.model_copy(update={"sacn": _sending(present.sacn, pairs)})
    return SetOutput(output=build(Output, **changed.model_dump()))


def _universe(present: Output, universe: str, words: Sequence[str], pairs: Sequence[Pair]) -> Output:
    """The output with one universe sent elsewhere, or no longer by one of the two protocols."""
    how = [word.lower() for word in words]
    sacn = dict(present.sacn.universes)
    artnet = dict(present.artnet.universes) if present.artnet is not None else {}
    if how == ["sacn", "off"] and not pairs:
        sacn.pop(universe, None)
    elif how == ["artnet", "off"] and not pairs:
        artnet.pop(universe, None)
    elif how == ["artnet"]:
        artnet[universe] = _artnet(pairs)
    else:
        sacn[universe] = _sacn(how, pairs)
    sync = present.artnet.sync if present.artnet is not None else False
    return present.model_copy(
        update={
            "sacn": present.sacn.model_copy(update={"universes": sacn}),
            "artnet": Artnet(sync=sync, universes=artnet) if artnet else None,
        }
    )


def _sacn(how: Sequence[str], pairs: Sequence[Pair]) -> SacnUniverse:
    fields = _fields(pairs, {"to": network.destinations, "interface": lambda text: text or None})
    multicast = list(how) == ["multicast"]
    if (how and not multicast) or multicast == bool(fields.get("to")):
        raise Misuse("say where the universe goes: to=ADDRESS, the word multicast, or artnet to=ADDRESS")
    return build(SacnUniverse, **fields)


def _artnet(pairs: Sequence[Pair]) -> ArtnetUniverse:
    fields = _fields(
        pairs,
        {"to": network.destinations, "port_address": network.port_address},
    )
    if not fields.get("to"):
        raise Misuse("say where Art-Net goes: artnet to=ADDRESS")
    return build(ArtnetUniverse, **fields)


def _sending(sacn: Sacn, pairs: Sequence[Pair]) -> Sacn:
    fields = {"sync": "sync_universe", "name": "source_name"}
    said = _fields(
        pairs,
        {
            "priority": network.priority,
            "wifi": lambda text: reading.yes_no(text, "wifi"),
            "steady": lambda text: reading.yes_no(text, "steady"),
            "sync": lambda text: None if text.lower() == "off" else names.universe(text),
            "name": lambda text: text or None,
        },
    )
    return build(
        Sacn, **{**sacn.model_dump(), **{fields.get(key, key): value for key, value in said.items()}}
    )


def _fields(pairs: Sequence[Pair], readers: Mapping[str, Callable[[str], object]]) -> dict[str, object]:
    fields: dict[str, object] = {}
    for pair in pairs:
        if pair.key not in readers:
            raise unknown("an output", pair.key, tuple(readers))
        fields[pair.key] = readers[pair.key](plain(pair, "output"))
    return fields


def _write_output(command: SetOutput, show: Show | None) -> str:
    """The universes as they go now, and what else of sACN is otherwise than before."""
    output, was = command.output, show.output if show is not None else Output()
    to = [
        f"{n} {','.join(one.to) or 'multicast'}" + (f" interface={one.interface}" if one.interface else "")
        for n, one in output.sacn.universes.items()
    ]
    for n, universe in (output.artnet.universes if output.artnet is not None else {}).items():
        port = f" port_address={universe.port_address}" if universe.port_address is not None else ""
        to.append(f"{n} artnet {','.join(universe.to)}{port}")
    others = (_others(one.sacn) for one in (output, was))
    return joined([f"output {'; '.join(to)} priority={output.sacn.priority}", *changed(*others)])


def _others(sacn: Sacn) -> dict[str, str]:
    return {
        "wifi": writing.on(sacn.wifi),
        "steady": writing.on(sacn.steady),
        "sync": "off" if sacn.sync_universe is None else str(sacn.sync_universe),
        "name": sacn.source_name or "",
    }


SET_OUTPUT = Row(
    model=SetOutput,
    forms={
        "output 1 to=192.168.1.50,192.168.1.51": "where a universe goes: addresses, or 'multicast'",
        "output 1 artnet to=192.168.1.60": (
            "the same as Art-Net; 'artnet off' and 'sacn off' end one of them"
        ),
        "output priority=120 wifi=on": (
            "how all universes are sent; also steady=on, sync=UNIVERSE, name=SOURCE"
        ),
    },
    reads={"output": _read_output},
    writes=_write_output,
    says=plainly("change the outputs"),
    log=Log.SHOW,
    edit=lambda show, command: show.model_copy(update={"output": command.output}),
)

# ── Remotes ─────────────────────────────────────────────────────────────────────────────────────────

EXAMPLE = "'remote osc=127.0.0.1:9001', 'remote page=192.168.1.5:9080' or 'remote page=off'"


class SetRemote(ShowCommand):
    """Change who may reach the engine by OSC and by phone."""

    kind: Literal["set-remote"] = "set-remote"
    remote: Remote


def _read_remote(words: list[str], context: Context) -> Command:
    head, pairs = split(words)
    if head or not pairs:
        raise Misuse(f"'remote' needs what and where, as {EXAMPLE}")
    present = context.need_show().remote
    osc, page = present.osc, present.page
    for pair in pairs:
        value = plain(pair, "remote")
        if pair.key == "osc":
            kept = (osc or Osc()).model_dump(exclude={"listen"})
            osc = None if value == "off" else build(Osc, **kept, **_listen(value))
        elif pair.key == "page":
            kept = (page or Page()).model_dump(exclude={"listen"})
            page = None if value == "off" else build(Page, **kept, **_listen(value))
        elif pair.key == "trim":
            if page is None:
                raise Misuse("first say where to serve the phone page: remote page=192.168.1.5:9080 trim=on")
            page = page.model_copy(update={"trim": reading.yes_no(value, "trim")})
        elif pair.key in _LISTS:
            if osc is None:
                raise Misuse("first say where to listen for OSC: remote osc=0.0.0.0:9001 allow=192.168.1.20")
            osc = build(
                Osc, **{**osc.model_dump(), pair.key: _LISTS[pair.key]("" if value == "none" else value)}
            )
        else:
            raise Misuse(
                f"there is no remote '{pair.key}'; "
                f"there are osc, allow, feedback, page and trim, as {EXAMPLE}"
            )
    return SetRemote(remote=Remote(osc=osc, page=page))


def _listen(value: str) -> dict[str, object]:
    if value == "on":
        return {}
    return {"listen": network.listener(value)}


_LISTS = {"allow": network.guests, "feedback": network.receivers}


def _write_remote(command: SetRemote, _: Show | None) -> str:
    osc, page = command.remote.osc, command.remote.page
    return joined(
        [
            f"remote osc={osc.listen if osc else 'off'}",
            *(f"{name}={','.join(getattr(osc, name)) or 'none'}" for name in _LISTS if osc is not None),
            f"page={page.listen if page else 'off'}",
            f"trim={writing.on(page.trim)}" if page is not None else None,
        ]
    )


SET_REMOTE = Row(
    model=SetRemote,
    forms={
        "remote page=192.168.1.5:9080": "serve the phone page there; page=off ends it",
        "remote trim=on": "let phones trim a lamp by thirds of a stop; trim=off ends it",
        "remote osc=0.0.0.0:9001 allow=192.168.1.20": (
            "listen for OSC there, from this machine and those named"
        ),
        "remote feedback=192.168.1.20:9002": "send OSC feedback there without being asked; or none",
    },
    reads={"remote": _read_remote},
    writes=_write_remote,
    says=plainly("change the remotes"),
    log=Log.SHOW,
    edit=lambda show, command: show.model_copy(update={"remote": command.remote}),
)

ROWS = (SET_OUTPUT, SET_REMOTE)
