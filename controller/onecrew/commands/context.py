"""What the names in a command are looked up in."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from onecrew.errors import Misuse
from onecrew.show.profile import Profile
from onecrew.show.show import Show


@dataclass(frozen=True, slots=True)
class Context:
    """The show as the engine has it, and the profiles it can use."""

    show: Show | None = None
    profiles: Mapping[str, Profile] = field(default_factory=dict)

    def need_show(self) -> Show:
        if self.show is None:
            raise Misuse("this needs the show that an engine runs")
        return self.show
