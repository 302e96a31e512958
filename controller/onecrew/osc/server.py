"""OSC server: datagrams in, commands to the engine, answers and news out. No socket and no clock of its own.

Whatever comes, ``receive`` returns: what cannot be used is counted and, where the sender may be answered,
told in a sentence. Answers are few and short, so that nobody can flood somebody else through the server, and
nothing is ever answered that looks like an answer, so that two servers cannot talk for ever.
"""

from __future__ import annotations

import contextlib
import heapq
import itertools
import logging
from collections import OrderedDict
from collections.abc import Callable, Sequence
from contextlib import AbstractContextManager
from dataclasses import dataclass
from typing import Any

from onecrew.commands.command import ShowCommand
from onecrew.commands.table import TABLE
from onecrew.errors import Mistake, OnecrewError
from onecrew.network.ip import is_loopback, plain_ip
from onecrew.osc.addresses import ROOT, commands_of, controls, find
from onecrew.osc.arguments import Argument, Form, Value, read
from onecrew.osc.faders import Scale
from onecrew.osc.packets import (
    BUNDLE,
    Malformed,
    Message,
    NotRead,
    Timed,
    read_packet,
    write_message,
)
from onecrew.osc.pattern import is_pattern
from onecrew.osc.reports import LEASE_S, RATE_HZ, Address, Reports, State
from onecrew.show.show import Show

log = logging.getLogger(__name__)

Datagrams = list[tuple[bytes, Address]]
CarryOut = Callable[[dict[str, Any]], object]

REPORT = f"/{ROOT}/report"
REPORT_END = f"/{ROOT}/report-end"
REFUSED = f"/{ROOT}/refused"
STATE = f"/{ROOT}/state"

PENDING = 256
"""Most bundles that wait for their moment."""
AHEAD_S = 600.0
"""Furthest moment that is waited for; a bundle for later most likely comes from a clock that is wrong."""
PATTERNS = 8
"""Most patterns in one packet: each is matched against every lamp."""
EDITS = 4
"""Most changes of the show in one bundle: with a large rig each takes some milliseconds, and frames wait for
the end of a bundle. Sent one by one, as many as wanted go through with frames between them."""
EDITING = frozenset(kind for kind, row in TABLE.items() if issubclass(row.model, ShowCommand))
ANSWERS_PER_S = 10.0
"""Answers to one sender; a few may come at once."""
SENDERS = 256
"""Senders whose answers are counted."""

PORT = Argument("port", Form.WHOLE, optional=True, low=1024, high=65535)
RATE = Argument("rate_hz", Form.NUMBER, optional=True, low=0.1, high=30)
SECONDS = Argument("seconds", Form.NUMBER, optional=True, low=1, high=600)
REPORT_ARGUMENTS = (PORT, RATE, SECONDS)


@dataclass(slots=True)
class Counts:
    """What came and what became of it."""

    heard: int = 0
    """Datagrams from senders that are let in."""
    done: int = 0
    """Commands carried out."""
    refused: int = 0
    """Messages answered with a sentence."""
    bad: int = 0
    """Datagrams that were no OSC packet."""
    strangers: int = 0
    """Datagrams from senders that are not let in."""
    sent: int = 0
    """Reports and answers sent, in datagrams."""
    remark: str = ""
    """The last thing that was refused, in words."""


class OscServer:
    """Hears OSC packets for one engine. Times are monotonic seconds."""

    def __init__(
        self,
        carry_out: CarryOut,
        together: Callable[[], AbstractContextManager[object]],
        show: Callable[[], Show],
        state: Callable[[float], State],
        *,
        allow: Sequence[str] = (),
        own: Address | None = None,
        fixed: Sequence[Address] = (),
        scale_of: Callable[[str], Scale | None] = lambda _: None,
    ) -> None:
        """``carry_out`` takes a raw command and raises ``OnecrewError`` to refuse it; what is carried out
        ``together`` changes the light in one frame; ``state`` gives what is reported; ``allow`` are
        the addresses let in besides this machine, ``own`` is the address of the socket, ``fixed`` get reports
        unasked; ``scale_of`` says what a lamp's faders run over."""
        self._carry_out = carry_out
        self._together = together
        self._show = show
        self._state = state
        self._allow = frozenset(plain_ip(text) for text in allow)
        self._own = own
        self.counts = Counts()
        self._scale_of = scale_of
        self.reports = Reports(fixed)
        self._pending: list[tuple[float, int, Timed, Address]] = []
        self._order = itertools.count()
        self._answered: OrderedDict[str, tuple[float, float]] = OrderedDict()
        """By sender: how many answers it may still get, and when that was counted."""

    # ── in ──────────────────────────────────────────────────────────────────────────────────────

    def lets_in(self, sender: Address) -> bool:
        """Whether this sender is this machine or on the list."""
        host = plain_ip(sender[0])
        here = is_loopback(host) or (self._own is not None and host == plain_ip(self._own[0]))
        if here and self._own is not None and sender[1] == self._own[1]:
            return False  # what comes from the server's own socket is an echo
        return here or host in self._allow

    def receive(self, data: bytes, sender: Address, now: float, wall: float) -> Datagrams:
        """Carries out what a datagram says, now or at its time; returns the answers.

        ``wall`` is Unix time, which the time tags of bundles are in.
        """
        if not self.lets_in(sender):
            self.counts.strangers += 1
            self.counts.remark = f"{sender[0]} is not on the list of remote.osc.allow"
            return []
        self.counts.heard += 1
        self.reports.renew(sender[0], now)
        answers: Datagrams = []
        try:
            parcels = read_packet(data)
            if sum(is_pattern(message.address) for one in parcels for message in one.messages) > PATTERNS:
                raise Malformed(f"a packet has at most {PATTERNS} patterns, this one more")
        except NotRead as error:
            self._refuse(_address_in(data), str(error), sender, now, answers)
        except Malformed as error:
            self.counts.bad += 1
            self.counts.remark = f"from {sender[0]}: {error}"
            if data.startswith((b"/" + ROOT.encode() + b"/", BUNDLE)):
                self._answer(_address_in(data), str(error), sender, now, answers)
        else:
            for parcel in parcels:
                self._take(parcel, sender, now, wall, answers)
        return answers

    def _take(self, parcel: Timed, sender: Address, now: float, wall: float, answers: Datagrams) -> None:
        wait = 0.0 if parcel.at is None else parcel.at - wall
        if wait <= 0.0:
            self._run(parcel, sender, now, answers)
        elif wait > AHEAD_S:
            said = f"a bundle is waited for {AHEAD_S:g} s at most, this one is {wait:.0f} s ahead"
            self._refuse(parcel.messages[0].address, said, sender, now, answers)
        elif len(self._pending) >= PENDING:
            said = f"{PENDING} bundles wait already, and that is the most"
            self._refuse(parcel.messages[0].address, said, sender, now, answers)
        else:
            heapq.heappush(self._pending, (now + wait, next(self._order), parcel, sender))

    def _run(self, parcel: Timed, sender: Address, now: float, answers: Datagrams) -> None:
        """OSC 1.0: the methods of a bundle run in immediate succession; the lamps show it in one frame."""
        one = len(parcel.messages) == 1 and not is_pattern(parcel.messages[0].address)
        together = contextlib.nullcontext() if one else self._together()
        edits = 0
        with together:
            for message in parcel.messages:
                try:
                    for command in self._commands_in(message, sender, now):
                        editing = command.get("kind") in EDITING
                        edits += editing
                        if editing and edits > EDITS:
                            raise Mistake(
                                f"a bundle changes the show {EDITS} times at most; send the rest by itself"
                            )
                        self._carry_out(command)
                        self.counts.done += 1
                except OnecrewError as error:
                    self._refuse(message.address, str(error), sender, now, answers)
                except Exception:
                    log.exception("an OSC message failed: %r from %s", message, sender[0])
                    said = "the engine failed at this message; its log says more"
                    self._refuse(message.address, said, sender, now, answers)

    def _commands_in(self, message: Message, sender: Address, now: float) -> list[dict[str, Any]]:
        """The commands that a message is; none of an echo, or of what asks the server itself."""
        address, values = message.address, message.arguments
        if address == REPORT:
            self._report(values, sender, now)
        elif address == REPORT_END:
            self.reports.remove((sender[0], self._port(values, sender)))
        elif address == REFUSED or address.startswith(STATE):
            self.counts.bad += 1  # an answer that lost its way: never answered
        else:
            show = self._show()
            hit = find(address, show, guess=self._may_be_answered(sender, now))
            moved = controls(hit)
            if self.reports.is_echo(sender[0], address, values, now):
                return []
            for where in moved:
                self.reports.touch(sender[0], where, now)
            commands = commands_of(hit, values, show, self._scale_of)
            for command in commands:
                _unless_too_far(command, sender)
            return commands
        return []

    # ── out ─────────────────────────────────────────────────────────────────────────────────────

    def due(self, now: float) -> Datagrams:
        """Runs the bundles whose moment has come and reports what has changed; returns what to send."""
        datagrams: Datagrams = []
        while self._pending and self._pending[0][0] <= now:
            _, _, parcel, sender = heapq.heappop(self._pending)
            self._run(parcel, sender, now, datagrams)
        tell = self.reports.next_due()
        if tell is not None and tell <= now:
            news = self.reports.news(self._state(now), now)
            self.counts.sent += len(news)
            datagrams += news
        return datagrams

    def next_due(self) -> float | None:
        """When ``due`` wants to be called; None while there is nothing to wait for."""
        moments = [self._pending[0][0]] if self._pending else []
        tell = self.reports.next_due()
        return min([*moments, *([] if tell is None else [tell])], default=None)

    def _report(self, values: Sequence[Value], sender: Address, now: float) -> None:
        rate = self._number(RATE, values[1:2], RATE_HZ)
        lease = self._number(SECONDS, values[2:3], LEASE_S)
        if len(values) > len(REPORT_ARGUMENTS):
            raise Mistake(f"{len(values)} arguments came, and this takes {len(REPORT_ARGUMENTS)} at most")
        receiver = (sender[0], self._port(values, sender))
        if not self.lets_in(receiver):
            raise Mistake(
                f"port: {receiver[1]} is where this OSC server listens; send the port that you listen on"
            )
        self.reports.add(receiver, now, rate, lease)

    def _port(self, values: Sequence[Value], sender: Address) -> int:
        port = int(self._number(PORT, values[:1], sender[1])) or sender[1]
        if not 0 < port <= 65535:
            raise Mistake(f"port: {port} is not a port; send {PORT.words}")
        return port

    @staticmethod
    def _number(argument: Argument, values: Sequence[Value], otherwise: float) -> float:
        return otherwise if not values or values[0] is None else float(read(argument, values[0]))

    def _refuse(self, address: str, said: str, sender: Address, now: float, answers: Datagrams) -> None:
        self.counts.refused += 1
        self.counts.remark = f"{address} from {sender[0]}: {said}"
        if address.startswith(f"/{ROOT}/"):
            self._answer(address, said, sender, now, answers)

    def _answer(self, address: str, said: str, sender: Address, now: float, answers: Datagrams) -> None:
        """Adds an answer unless the sender had its share, or it says what an answer says."""
        if address == REFUSED or address.startswith(STATE):
            return
        left = self._answers_left(sender, now)
        if left >= 1.0:
            answers.append((write_message(REFUSED, (address, said[:1000])), sender))
            self.counts.sent += 1
            left -= 1.0
        self._answered[sender[0]] = (left, now)
        self._answered.move_to_end(sender[0])
        if len(self._answered) > SENDERS:
            self._answered.popitem(last=False)

    def _may_be_answered(self, sender: Address, now: float) -> bool:
        return self._answers_left(sender, now) >= 1.0

    def _answers_left(self, sender: Address, now: float) -> float:
        left, counted = self._answered.get(sender[0], (ANSWERS_PER_S, now))
        return min(ANSWERS_PER_S, left + (now - counted) * ANSWERS_PER_S)


def _unless_too_far(command: dict[str, Any], sender: Address) -> None:
    """Who may reach the engine is changed on its own machine: a sender's address is easily forged."""
    if command.get("kind") == "set-remote" and not is_loopback(plain_ip(sender[0])):
        raise Mistake("who may reach the engine can be changed from its own machine alone")


def _address_in(data: bytes) -> str:
    """The address of a message that could not be used, as far as it can be printed."""
    if data.startswith(BUNDLE):
        return BUNDLE[:-1].decode()
    return data[:256].partition(b"\0")[0].decode("ascii", "replace").replace("\ufffd", "?")
