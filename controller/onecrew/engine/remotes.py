"""Remotes: what else reaches the engine, as the show asks. A part is loaded when it is first wanted."""

from __future__ import annotations

import logging
from collections.abc import Callable
from contextlib import AbstractContextManager
from typing import TYPE_CHECKING, Any

from onecrew.engine.desk import Desk
from onecrew.engine.endpoint import Files
from onecrew.engine.state import state_of
from onecrew.show.show import Remote

if TYPE_CHECKING:
    from onecrew.osc.transport import OscTransport
    from onecrew.phone.supervisor import PageSupervisor

log = logging.getLogger(__name__)


class Remotes:
    """The remotes of one engine: OSC in its own loop, the phone page as a process beside it."""

    def __init__(
        self,
        files: Files,
        carry_out: Callable[[dict[str, Any]], object],
        together: Callable[[], AbstractContextManager[object]],
        desk: Callable[[], Desk],
        shown: Callable[[float], float],
        say: Callable[[str], None],
    ) -> None:
        """``carry_out`` takes raw commands, ``together`` holds their frame back until all are carried out,
        ``shown`` says what moment clients see at a monotonic time, ``say`` takes a remark for every
        client."""
        self._files = files
        self._given = (carry_out, together, lambda now: state_of(desk(), shown(now)), say)
        self._say = say
        self._wanted = Remote()
        self._osc: OscTransport | None = None
        self._page: PageSupervisor | None = None

    def follow(self, wanted: Remote) -> None:
        """Opens, changes or closes what the show asks for; called again whenever that may have changed.

        Whatever fails here is a state, or a bug that is logged: it reaches neither the light nor the command.
        """
        self._wanted = wanted
        try:
            self._follow_osc()
            self._follow_page()
        except Exception:
            log.exception("the remotes could not be changed")
            self._say("the remotes could not be changed; the engine's log says why")

    def state(self) -> dict[str, Any]:
        """What a snapshot says of them."""
        parts = {"osc": self._osc, "page": self._page}
        return {name: state for name, part in parts.items() if part is not None and (state := part.state())}

    def not_open(self) -> dict[str, str]:
        """What the show asks for and is not open, by name, and why; empty while it is opening."""
        states = self.state()
        wanted = {"osc": self._wanted.osc, "page": self._wanted.page}
        known = {name: states.get(name, {}) for name, asked in wanted.items() if asked is not None}
        return {
            name: str(state.get("error", ""))
            for name, state in known.items()
            if state.get("state") != "listening"
        }

    def pair(self, arguments: dict[str, Any]) -> dict[str, Any]:
        """Answers the question ``pair``; raises ``OnecrewError`` with a sentence."""
        from onecrew.phone.files import page_files
        from onecrew.phone.pair import pair

        error = "" if self._page is None else str(self._page.state().get("error", ""))
        return pair(page_files(self._files), self._wanted.page, error, arguments)

    def close(self) -> None:
        for part in (self._osc, self._page):
            if part is not None:
                part.close()

    def _follow_osc(self) -> None:
        if self._wanted.osc is not None and self._osc is None:
            from onecrew.osc.transport import OscTransport

            self._osc = OscTransport(*self._given)
        if self._osc is not None:
            self._osc.follow(self._wanted.osc)

    def _follow_page(self) -> None:
        if self._wanted.page is not None and self._page is None:
            from onecrew.phone.files import page_files
            from onecrew.phone.supervisor import PageSupervisor

            self._page = PageSupervisor(page_files(self._files), self._say)
        if self._page is not None:
            self._page.follow(self._wanted.page)
