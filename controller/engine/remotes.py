"""Remotes: what else reaches the engine, as the show asks for it. A part is loaded when it is first wanted."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import AbstractContextManager
from typing import TYPE_CHECKING, Any

from controller.documents.show import Remote
from controller.engine.desk import Desk

if TYPE_CHECKING:
    from controller.engine.osc import OscRim


class Remotes:
    """The remotes of one engine."""

    def __init__(
        self,
        carry_out: Callable[[dict[str, Any]], None],
        together: Callable[[], AbstractContextManager[object]],
        desk: Callable[[], Desk],
        say: Callable[[str], None],
    ) -> None:
        """``carry_out`` takes raw commands, ``together`` holds their frame back until all are carried out,
        ``say`` takes a remark for every client."""
        self._given = (carry_out, together, desk, say)
        self._osc: OscRim | None = None

    def follow(self, wanted: Remote) -> None:
        """Opens, changes or closes what the show asks for; called again whenever that may have changed."""
        if wanted.osc is not None and self._osc is None:
            from controller.engine.osc import OscRim

            self._osc = OscRim(*self._given)
        if self._osc is not None:
            self._osc.follow(wanted.osc)

    def state(self) -> dict[str, Any]:
        """What a snapshot says of them."""
        return {} if self._osc is None else {"osc": self._osc.state()}

    def close(self) -> None:
        if self._osc is not None:
            self._osc.close()
