"""Typed commands back into plain words, the inverse of ``words.parse`` for everything that changes light."""

from __future__ import annotations

from controller.cli.remotes import words_of_remote
from controller.documents import commands as c
from controller.documents.commands import AnyCommand
from controller.documents.light import Effect


def words_of(command: AnyCommand) -> str:
    """The command as ``lampwright send`` would take it; edits of the show in a summary."""
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
            return f"stop{_in(command.fade_s)}"
        case _:
            return _edit(command)


def _edit(command: AnyCommand) -> str:
    match command:
        case c.PutCue():
            return f"cue {command.cue.number} {command.cue.name}".rstrip()
        case c.RemoveCue():
            return f"remove {command.number}"
        case c.PutFixture():
            lamp = command.fixture
            return (
                f"patch {lamp.id} {lamp.profile}/{lamp.mode} {lamp.universe}.{lamp.address} role={lamp.role}"
            )
        case c.RemoveFixture():
            return f"unpatch {command.id}"
        case c.SetCamera():
            return f"camera wb={number(command.camera.white_balance_k)}"
        case c.SetOutput():
            sacn = command.output.sacn
            to = [f"{n} {','.join(one.to) or 'multicast'}" for n, one in sacn.universes.items()]
            artnet = command.output.artnet.universes if command.output.artnet is not None else {}
            to += [f"{n} artnet {','.join(one.to)}" for n, one in artnet.items()]
            return f"output {'; '.join(to)} priority={sacn.priority}"
        case c.SetRemote():
            return words_of_remote(command.remote)
        case c.Rename():
            return f"rename {command.name}"
        case _:
            return command.kind


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
