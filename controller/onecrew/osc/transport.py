"""OSC in and out of the engine: the socket around ``osc.server``, and the state that it tells of.

The socket is the show's to open, move and close while the engine runs. A port that is taken is a state with a
sentence, tried again until it is free; nothing that comes or fails here reaches the light.
"""

from __future__ import annotations

import asyncio
import logging
import socket
import time
from collections.abc import Callable, Sequence
from contextlib import AbstractContextManager
from dataclasses import asdict
from typing import Any, Protocol

from onecrew.colour.arrays import FloatArray
from onecrew.network.listen_faults import why_not
from onecrew.osc.addresses import ROOT
from onecrew.osc.faders import CCT, TINT, Scale, scale_of
from onecrew.osc.packets import MAX_BYTES, Argument
from onecrew.osc.server import STATE, CarryOut, Datagrams, OscServer
from onecrew.playback.lights import Lights
from onecrew.playback.state import Playback
from onecrew.show.listener import parse_listener, parse_receiver
from onecrew.show.profile import Mode
from onecrew.show.show import Cue, Osc, Show
from onecrew.show.snapshot import CountdownState, FadeState, RaisedState

log = logging.getLogger(__name__)

RETRY_S = 2.0
"""How often a port that is taken is tried again, and what failed."""


class State(Protocol):
    """What is reported: the desk at one moment."""

    @property
    def show(self) -> Show: ...
    @property
    def playback(self) -> Playback: ...
    @property
    def cue_name(self) -> str: ...
    @property
    def next(self) -> Cue | None: ...
    @property
    def fade(self) -> FadeState | None: ...
    @property
    def countdown(self) -> CountdownState | None: ...
    @property
    def raised(self) -> RaisedState | None: ...
    @property
    def levels(self) -> FloatArray: ...
    @property
    def before_master(self) -> Lights: ...
    @property
    def modes(self) -> Sequence[Mode]: ...


class OscTransport:
    """OSC of one engine. It needs a running loop that can watch sockets."""

    def __init__(
        self,
        carry_out: CarryOut,
        together: Callable[[], AbstractContextManager[object]],
        state: Callable[[float], State],
        say: Callable[[str], None],
    ) -> None:
        """``carry_out`` takes raw commands, ``together`` holds their frame back until all are carried out,
        ``state`` gives the desk at a monotonic time, ``say`` takes a remark for every client."""
        self._carry_out = carry_out
        self._together = together
        self._state_at = state
        self._say = say
        self._wanted: Osc | None = None
        self._socket: socket.socket | None = None
        self._server: OscServer | None = None
        self._error = ""
        self._timer: asyncio.TimerHandle | None = None
        self._retry: asyncio.TimerHandle | None = None

    def follow(self, wanted: Osc | None) -> None:
        """Opens, moves or closes OSC as the show wants it."""
        if wanted != self._wanted:
            self.close()
            self._wanted = wanted
            self._open()

    def state(self) -> dict[str, Any]:
        """What a snapshot says of it."""
        if self._wanted is None:
            return {}
        known: dict[str, Any] = {
            "state": "failing" if self._socket is None else "listening",
            "at": self._wanted.listen,
            "error": self._error,
        }
        if self._server is not None:
            known |= {**asdict(self._server.counts), "receivers": len(self._server.reports)}
        return known

    def close(self) -> None:
        """Closes the socket; waiting bundles and reports are dropped."""
        for timer in (self._timer, self._retry):
            if timer is not None:
                timer.cancel()
        self._timer = self._retry = None
        if self._socket is not None:
            asyncio.get_running_loop().remove_reader(self._socket)
            self._socket.close()
        self._socket = self._server = self._wanted = None
        self._error = ""

    # ── the socket ──────────────────────────────────────────────────────────────────────────────

    def _open(self) -> None:
        wanted = self._wanted
        if wanted is None:
            return
        try:
            self._socket = _listening(wanted.listen)
        except (OSError, ValueError) as error:
            self._fail(wanted, error)
            return
        if self._error:
            self._say(f"OSC is received at {wanted.listen} again")
        self._error = ""
        self._server = OscServer(
            self._carry_out,
            self._together,
            lambda: self._state_at(time.monotonic()).show,
            lambda now: reported(self._state_at(now)),
            allow=wanted.allow,
            own=self._socket.getsockname()[:2],
            fixed=tuple(map(parse_receiver, wanted.feedback)),
            scale_of=self._scale_of,
        )
        asyncio.get_running_loop().add_reader(self._socket, self._readable)
        self._plan()

    def _fail(self, wanted: Osc, error: Exception) -> None:
        said = f"OSC cannot be received at {wanted.listen}: {why_not(error)}"
        if said != self._error:
            self._error = said
            self._say(said)
        self._retry = asyncio.get_running_loop().call_later(RETRY_S, self._open)

    def _readable(self) -> None:
        """One datagram a turn of the loop, so that a flood of them leaves the frames their time."""
        if self._socket is None or self._server is None:
            return
        try:
            data, sender = self._socket.recvfrom(MAX_BYTES + 1)
        except OSError:
            return  # gone again, or an earlier datagram of ours that nobody received
        try:
            self._send(self._server.receive(data, sender[:2], time.monotonic(), time.time()))
        except Exception:
            log.exception("a datagram of %d bytes from %s failed", len(data), sender[0])
        self._plan()

    def _on_time(self) -> None:
        self._timer = None
        if self._server is not None:
            try:
                self._send(self._server.due(time.monotonic()))
            except Exception:
                log.exception("OSC failed at what was due")
                self._timer = asyncio.get_running_loop().call_later(RETRY_S, self._on_time)
                return  # it is still due: at once again would leave the frames no time
        self._plan()

    def _send(self, datagrams: Datagrams) -> None:
        for data, to in datagrams:
            if self._socket is None:  # a command has just closed it
                return
            try:
                self._socket.sendto(data, to)
            except OSError:
                continue  # full, or no way there: the next news says it anew

    def _scale_of(self, lamp: str) -> Scale | None:
        state = self._state_at(time.monotonic())
        ids = state.playback.ids
        return scale_of(state.modes[ids.index(lamp)]) if lamp in ids else None

    def _plan(self) -> None:
        due = None if self._server is None else self._server.next_due()
        if self._timer is not None:
            self._timer.cancel()
            self._timer = None
        if due is not None:
            wait = max(0.0, due - time.monotonic())
            self._timer = asyncio.get_running_loop().call_later(wait, self._on_time)


def _listening(listen: str) -> socket.socket:
    """A socket of ours alone: without SO_REUSEADDR, which would let a second program take the port over."""
    address = parse_listener(listen)
    family = socket.AF_INET6 if ":" in address[0] else socket.AF_INET
    opened = socket.socket(family, socket.SOCK_DGRAM)
    try:
        opened.setblocking(False)
        opened.bind(address)
    except BaseException:
        opened.close()
        raise
    return opened


def reported(state: State) -> dict[str, tuple[Argument, ...]]:
    """What is reported, by address. Levels and shares are 0–1, times seconds, 1 is yes and 0 no."""
    playback, fade, countdown = state.playback, state.fade, state.countdown
    take, raised = playback.take, state.raised
    told: dict[str, tuple[Argument, ...]] = {
        "show": (state.show.name,),
        "cue": (playback.cue or "", state.cue_name),
        "next": (playback.next or "", state.next.name if state.next is not None else ""),
        "fade": (1.0, 0.0) if fade is None else (round(fade.progress, 3), round(fade.left_s, 2)),
        "countdown": (0.0, "") if countdown is None else (round(countdown.left_s, 1), countdown.command),
        "take": ("", 0, 0) if take is None else (take.setup, take.number, int(take.running)),
        "held": (int(playback.held),),
        "locked": (int(playback.locked),),
        "blackout": (int(playback.dark),),
        "raised": ("" if raised is None else raised.words,),
        "master": (float(playback.master.goal),),
    }
    for lamp, level in zip(playback.ids, state.levels.tolist(), strict=True):
        told[f"light/{lamp}/level"] = (round(level, 4),)
    return {f"{STATE}/{where}": arguments for where, arguments in told.items()} | feedback(state)


def feedback(state: State) -> dict[str, tuple[Argument, ...]]:
    """Where every fader and button stands, by the address that moves it; all are numbers, 1 is on and 0 off.

    A lamp's level is without master and blackout, as its fader is; a lamp in a colour has no white to report.
    """
    playback, lights = state.playback, state.before_master
    on = {
        "hold": playback.held,
        "lock": playback.locked,
        "blackout": playback.dark,
        "compare": playback.aside is not None,
        **{f"cue/{cue.number}": cue.number == playback.cue for cue in state.show.cues},
    }
    told = {where: float(is_on) for where, is_on in on.items()}
    told["master"] = float(playback.master.goal)
    scales: dict[int, Scale] = {}  # lamps of a kind share one
    columns = (lights.level.tolist(), lights.white.tolist(), *lights.colour[:2].tolist(), state.modes)
    for lamp, level, white, mired, duv, mode in zip(playback.ids, *columns, strict=True):
        where = f"light/{lamp}/"
        told[where + "level"] = round(min(max(level, 0.0), 1.0), 4)
        if not white:
            continue
        if id(mode) not in scales:
            scales[id(mode)] = scale_of(mode)
        scale = scales[id(mode)]
        cct_k = 1e6 / mired
        told |= {where + "cct": round(cct_k), where + "tint": round(duv, 5)}
        for fader, value in ((CCT, cct_k), (TINT, duv)):
            share = scale.share(fader, value)
            if share is not None:
                told[where + fader] = round(share, 4)
    return {f"/{ROOT}/{where}": (float(value),) for where, value in told.items()}
