"""Cue: the result of a match as a look."""

from __future__ import annotations

from onecrew.show.light import Light, White
from onecrew.show.show import Cue, Show
from onecrew.stills.result import Match


def cue_of(show: Show, match: Match, number: str) -> Cue:
    """Return the cue of this number with the look of a match, its name and times kept where it exists.

    Lamps that give nothing are not in the look, as those that no still shows.
    """
    look = {
        lamp.id: Light(
            level=lamp.level,
            white=None if lamp.asked_cct_k is None else White(cct_k=round(lamp.asked_cct_k, 1)),
        )
        for lamp in match.lamps
        if lamp.level > 0.0
    }
    old = show.cue(number)
    if old is None:
        return Cue(number=number, name="Match", note=_note(match), look=look)
    return old.model_copy(update={"look": look, "note": _note(match)})


def _note(match: Match) -> str:
    parts = [f"Matched; camera {match.exposure_stops:+.2f} stops against the stills."]
    if match.delta_e is not None:
        parts.append(f"Predicted ΔE2000 {match.delta_e:.1f}.")
    if match.regions:
        worst = max(match.regions, key=lambda one: abs(one.stops))
        parts.append(f"Predicted within {abs(worst.stops):.1f} stop ({worst.name}).")
    return " ".join(parts)
