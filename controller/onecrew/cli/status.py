"""``onecrew status``: what a running engine is doing."""

from __future__ import annotations

import argparse

from onecrew.cli.parts import answer, table
from onecrew.cli.reach import with_client
from onecrew.engine.client import Client
from onecrew.language.saying import counted
from onecrew.show.snapshot import LightState, RemoteState, Snapshot
from onecrew.terminal import printable

SLOTS_SHOWN = 8


def run(arguments: argparse.Namespace) -> int:
    async def latest(client: Client) -> Snapshot:
        assert client.snapshot is not None  # attaching waits for the first one
        return client.snapshot

    snapshot = with_client(arguments.show, latest)
    return answer(arguments, snapshot.model_dump(mode="json"), lines(snapshot))


def lines(snapshot: Snapshot) -> list[str]:
    """The state in words, for reading; nothing that a show or a network says reaches the terminal raw."""
    return [printable(line) for line in _lines(snapshot)]


def _lines(snapshot: Snapshot) -> list[str]:
    said = [f"{snapshot.show}  ({snapshot.path}, engine {snapshot.engine_pid})"]
    said += table(
        [
            ["now", _cue(snapshot.cue, snapshot.cue_name) or "no cue yet"],
            ["next", _cue(snapshot.next, snapshot.next_name) or "no cue after it"],
            ["fade", _fade(snapshot)],
            ["master", f"{100 * snapshot.master:.0f} %"],
        ]
    )
    said += _conditions(snapshot)
    said += _standby(snapshot)
    if snapshot.lights:
        head = ["lamp", "level", "output", "colour", "camera", "slots"]
        rows = [[name, *_light(light)] for name, light in snapshot.lights.items()]
        said += ["", *table([head, *rows], right=frozenset({1, 2}))]
        said += [f"  {name}: {note}" for name, light in snapshot.lights.items() for note in light.notes]
    if snapshot.outputs:
        said += ["", *table(_outputs(snapshot), right=frozenset({3, 4}))]
    if remotes := _remotes(snapshot.remote):
        said += ["", *remotes]
    if snapshot.supervisor_pid is None:
        said += ["", "no supervisor: an engine that dies is started again only by the next command or screen"]
    if not snapshot.saved.ok:
        said += ["", f"not saved: {snapshot.saved.error}"]
    if not snapshot.logged.ok:
        said += ["", f"not logged: {snapshot.logged.error}"]
    return said


def _cue(number: str | None, name: str) -> str:
    return "" if number is None else f"{number} {name}".rstrip()


def _fade(snapshot: Snapshot) -> str:
    if snapshot.fade is None:
        return "none running"
    return f"{100 * snapshot.fade.progress:.0f} %, {snapshot.fade.left_s:.1f} s left"


def _conditions(snapshot: Snapshot) -> list[str]:
    said = [word for word in ("blackout", "held", "locked", "comparing") if getattr(snapshot, word)]
    said += [
        f"{word} {', '.join(lamps)}"
        for word, lamps in (
            ("solo", snapshot.solo),
            ("without", snapshot.without),
            ("identify", snapshot.identify),
        )
        if lamps
    ]
    if snapshot.still is not None:
        said.append(snapshot.still or "one lamp alone, for a still")
    if snapshot.raised is not None:
        said.append(f"slots {snapshot.raised.words} raised by hand")
    if snapshot.countdown is not None:
        said.append(f"{snapshot.countdown.command} in {snapshot.countdown.left_s:.1f} s")
    if snapshot.auto_follow_left_s is not None:
        said.append(f"auto-follow in {snapshot.auto_follow_left_s:.1f} s")
    if snapshot.take is not None:
        running = "running" if snapshot.take.running else "ended"
        said.append(f"take {snapshot.take.number} of setup {snapshot.take.setup} {running}")
    return [f"state   {', '.join(said)}"] if said else []


def _standby(snapshot: Snapshot) -> list[str]:
    pair = snapshot.standby
    if pair is None:
        return []
    others = ", ".join(pair.others)
    if pair.part == "main":
        said = f"followed by {others}" if others else "no standby follows"
        said += ", which has taken over" if pair.taken_over else ""
    else:
        said = {
            "following": f"stands by for {others} and follows it",
            "alone": f"stands by for {others}, which is not heard, and carries on alone",
            "in control": f"in control in place of {others}",
        }[pair.part]
    return [f"standby {said}" + (f" ({pair.error})" if pair.error else "")]


def _light(light: LightState) -> list[str]:
    if light.white is not None:
        colour = f"{light.white.cct_k:.0f} K {light.white.duv:+.4f}"
    else:
        colour = f"x {light.xy[0]:.4f} y {light.xy[1]:.4f}"
    slots = " ".join(str(slot) for slot in light.slots[:SLOTS_SHOWN])
    more = f" … {len(light.slots)} in all" if len(light.slots) > SLOTS_SHOWN else ""
    level = f"{100 * light.level:.1f} %" + ("*" if light.edited else "")
    return [level, f"{100 * light.output:.2f} %", colour, light.swatch, slots + more]


def _remotes(remote: RemoteState) -> list[str]:
    said = []
    osc, page = remote.osc, remote.page
    if osc.state != "off":
        said.append(f"OSC: {osc.error or f'listening at {osc.at}'}")
        turned_away = osc.refused + osc.bad + osc.strangers
        if osc.heard or osc.strangers:
            said.append(
                f"  {osc.heard} packets received, {osc.done} commands done, {turned_away} messages refused, "
                f"{osc.receivers} receivers of reports"
            )
        if osc.remark:
            said.append(f"  refused last: {osc.remark}")
    if page.state != "off":
        served = f"served at {page.at}" if page.state == "listening" else f"starts at {page.at}"
        phones = counted(page.phones, "phone")
        said.append(f"phone page: {page.error or f'{served}, {phones} connected'}")
    return said


def _outputs(snapshot: Snapshot) -> list[list[str]]:
    head = ["universe", "to", "state", "sent", "errors", ""]
    rows = [
        [str(out.universe), f"{out.protocol} {out.to}", out.state, str(out.sent), str(out.errors), out.error]
        for out in snapshot.outputs
    ]
    return [head, *rows]
