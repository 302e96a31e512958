"""Held lamps: lamps whose slots are raised by hand, as these slots say that they shine.

What plays under raised slots does not leave: what is told of such a lamp is read back from its slots alone.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from onecrew.engine.raw_slots import RawSlots
from onecrew.fixtures.decoder import Decoder, Seen
from onecrew.fixtures.report import FixtureReport
from onecrew.show.light import White
from onecrew.show.patching import footprint
from onecrew.show.profile import Profile
from onecrew.show.show import Show

NOTE = "held by hand: a probe or a reading sets its slots, and the look waits under them"


@dataclass(frozen=True, slots=True)
class HeldLamp:
    """A lamp that raised slots hold."""

    seen: Seen
    slots: tuple[int, ...]
    """All of its slots, as they leave."""

    def instead_of(self, report: FixtureReport) -> FixtureReport:
        """Return the report on what leaves in place of the one on what plays under it."""
        seen = self.seen
        white = None if seen.cct_k is None or seen.duv is None else White(cct_k=seen.cct_k, duv=seen.duv)
        return replace(
            report,
            level=seen.level,
            output=seen.output,
            light=seen.light,
            xy=seen.xy,
            white=white,
            off_by=0.0,
            rounding=0.0,
            notes=(NOTE,),
            slots=self.slots,
            swatch=seen.swatch,
        )


def held_lamps(
    raw: RawSlots, sent: Mapping[int, bytes], show: Show, profiles: Mapping[str, Profile]
) -> dict[int, HeldLamp]:
    """Return the lamps that the raised slots lie on, by their place in the rig; ``sent`` are the slots of
    every universe as they leave, 512 each."""
    held = {}
    raised = range(raw.address, raw.address + len(raw.goal))
    for row, fixture in enumerate(show.rig.fixtures):
        taken = footprint(fixture, profiles)
        if fixture.universe != raw.universe or taken.start >= raised.stop or raised.start >= taken.stop:
            continue
        [seen] = Decoder([fixture], profiles, show.camera.white_balance_k).decode(sent)
        slots = sent[fixture.universe][taken.start - 1 : taken.stop - 1]
        held[row] = HeldLamp(seen, tuple(slots))
    return held
