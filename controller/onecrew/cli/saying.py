"""Typed commands back into plain words, the inverse of ``words.parse`` for everything that changes light."""

from __future__ import annotations

from collections.abc import Mapping

from onecrew.cli.remotes import words_of_remote
from onecrew.commands import models as c
from onecrew.commands.models import AnyCommand
from onecrew.show.light import Effect
from onecrew.show.show import Camera, Cue, Fade, Output, Show


def words_of(command: AnyCommand, before: Show | None = None) -> str:
    """The command as ``onecrew send`` would take it; edits in a summary of what they change in a show."""
    match command:
        case c.Recall():
            return f"recall {command.cue}{_in(command.fade_s)}"
        case c.Hold() | c.Blackout() | c.Lock() | c.Compare():
            return command.kind + {None: "", True: " on", False: " off"}[command.on]
        case c.Master():
            return f"master {per_cent(command.level)}"
        case c.SetLight():
            return _set(command)
        case c.Solo() | c.Without() | c.Identify():
            return f"{command.kind} {','.join(command.fixtures) or 'off'}"
        case c.Revert():
            return f"revert {','.join(command.fixtures)}".rstrip()
        case c.Countdown():
            return f"countdown {number(command.seconds)} {words_of(command.command)}"
        case c.CancelCountdown():
            return "countdown cancel"
        case c.TakeStart():
            setup = f" {command.setup}" if command.setup else ""
            return f"take start{setup}" + (f" from {command.chain_from}" if command.chain_from else "")
        case c.TakeEnd():
            verdict = {None: "", True: " good", False: " bad"}[command.good]
            return f"take end{verdict}" + (f" note {command.note}" if command.note else "")
        case c.Note():
            return f"take note {command.text}" if command.take else f"note {command.text}"
        case c.Store():
            return " ".join(part for part in ("store", command.cue, command.name) if part)
        case c.TakeOver():
            return "takeover off" if command.on is False else "takeover"
        case c.Stop():
            return f"stop{' confirmed' if command.confirmed else ''}{_in(command.fade_s)}"
        case _:
            return _edit(command, before)


def _edit(command: AnyCommand, before: Show | None) -> str:
    match command:
        case c.PutCue(cue=cue):
            was = before.cue(cue.number) if before is not None else None
            return " ".join(
                part for part in (f"cue {cue.number} {cue.name}".rstrip(), *_of_cue(cue, was)) if part
            )
        case c.RemoveCue():
            return f"remove {command.number}"
        case c.PutFixture(fixture=lamp):
            said = (
                f"patch {lamp.id} {lamp.profile}/{lamp.mode} {lamp.universe}.{lamp.address} role={lamp.role}"
            )
            old = before.fixture(lamp.id) if before is not None else None
            fields = {"mixing": lamp.mixing, "even": _on(lamp.even), "note": lamp.note}
            had = {} if old is None else {"mixing": old.mixing, "even": _on(old.even), "note": old.note}
            return " ".join(
                [said, *_changed(fields, had or {"mixing": "most-light", "even": "off", "note": ""})]
            )
        case c.RemoveFixture():
            return f"unpatch {command.id}"
        case c.SetCamera():
            return _camera(command.camera, before.camera if before is not None else Camera())
        case c.SetOutput():
            return _output(command.output, before.output if before is not None else Output())
        case c.SetRemote():
            return words_of_remote(command.remote)
        case c.Rename():
            return f"rename {command.name}"
        case _:
            return command.kind


def _of_cue(cue: Cue, was: Cue | None) -> list[str]:
    """What a cue has otherwise than before, as pairs."""
    old = was if was is not None else Cue(number=cue.number)
    fades = _changed(_fade(cue.fade), _fade(old.fade))
    if cue.fade.in_s == cue.fade.out_s and (old.fade.in_s, old.fade.out_s) != (cue.fade.in_s, cue.fade.out_s):
        fades = [f"fade={number(cue.fade.in_s)}s", *(one for one in fades if one.startswith("curve"))]
    rest = [
        {
            "shortcut": one.shortcut or "none",
            "delay": f"{number(one.delay_s)}s",
            "auto-follow": "off" if one.auto_follow_s is None else f"{number(one.auto_follow_s)}s",
            "guard": _on(one.flash_guard),
            "note": one.note,
        }
        for one in (cue, old)
    ]
    return fades + _changed(*rest)


def _fade(fade: Fade) -> dict[str, str]:
    return {"fade-in": f"{number(fade.in_s)}s", "fade-out": f"{number(fade.out_s)}s", "curve": fade.curve}


def _camera(camera: Camera, was: Camera) -> str:
    fields, had = ({"wb": number(one.white_balance_k), **_rest(one)} for one in (camera, was))
    return " ".join(["camera", *(_changed(fields, had) or [f"wb={fields['wb']}"])])


def _rest(camera: Camera) -> dict[str, str]:
    shutter = camera.shutter_s
    return {
        "iso": str(camera.iso),
        "shutter": f"1/{number(round(1 / shutter, 3))}" if shutter < 1 else f"{number(shutter)}s",
        "fps": number(camera.fps),
        "aperture": number(camera.aperture),
        "lens": camera.lens,
        "note": camera.note,
    }


def _output(output: Output, was: Output) -> str:
    """The universes as they go now, and what else of sACN is otherwise than before."""
    sacn = output.sacn
    to = [
        f"{n} {','.join(one.to) or 'multicast'}" + (f" interface={one.interface}" if one.interface else "")
        for n, one in sacn.universes.items()
    ]
    artnet = output.artnet.universes if output.artnet is not None else {}
    for n, universe in artnet.items():
        port = f" port_address={universe.port_address}" if universe.port_address is not None else ""
        to.append(f"{n} artnet {','.join(universe.to)}{port}")
    others = [
        {
            "steady": _on(one.steady),
            "sync": "off" if one.sync_universe is None else str(one.sync_universe),
            "name": one.source_name or "",
        }
        for one in (sacn, was.sacn)
    ]
    return " ".join([f"output {'; '.join(to)} priority={sacn.priority}", *_changed(*others)])


def _changed(fields: Mapping[str, str], had: Mapping[str, str]) -> list[str]:
    return [f"{key}={value}" for key, value in fields.items() if value != had[key]]


def _on(on: bool) -> str:
    return "on" if on else "off"


def _set(command: c.SetLight) -> str:
    said = [f"set {','.join(command.fixtures)}"]
    if command.level is not None:
        said.append(f"level={per_cent(command.level)}")
    if command.cct_k is not None:
        said.append(f"cct={number(command.cct_k)}")
    if command.duv is not None:
        said.append(f"tint={number(command.duv)}")
    if command.xy is not None:
        said.append(f"xy={number(command.xy[0])},{number(command.xy[1])}")
    if isinstance(command.effect, Effect):
        effect = command.effect
        said += [f"effect={effect.kind}", f"depth={per_cent(effect.depth)}", f"rate={number(effect.rate)}"]
        said.append(f"seed={effect.seed}")
    elif command.effect is not None:
        said.append("effect=none")
    if command.level_by is not None:
        said.append(_step("level", 100.0 * command.level_by, "%"))
    for key, step in (("stops", command.stops_by), ("mired", command.mired_by), ("tint", command.duv_by)):
        if step is not None:
            said.append(_step(key, step))
    return " ".join(said) + (_in(command.fade_s) if command.fade_s else "")


def _step(key: str, step: float, unit: str = "") -> str:
    return f"{key}{'-' if step < 0 else '+'}={number(abs(step))}{unit}"


def _in(fade_s: float | None) -> str:
    return "" if fade_s is None else f" in {number(fade_s)}s"


def per_cent(level: float) -> str:
    """A level 0–1 as '15%'."""
    return f"{number(100.0 * level)}%"


def number(value: float) -> str:
    """A number without exponent or idle zeros, to nine places."""
    return f"{value:.9f}".rstrip("0").rstrip(".")
