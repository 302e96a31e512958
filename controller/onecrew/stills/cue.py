"""Cue: the result of a match as a look."""

from __future__ import annotations

from itertools import count
from pathlib import PurePath

from onecrew.commands.cues import free_shortcut
from onecrew.show.base import folded
from onecrew.show.light import Light, White
from onecrew.show.scenes import scenes_of
from onecrew.show.show import Cue, Predicted, PredictedRegion, Show
from onecrew.stills.result import Match


def cue_of(show: Show, match: Match, number: str, reference: str, digest: str) -> Cue:
    """Return the cue of this number with the look of a match and what is predicted of it; all else that it
    has is kept where it exists. ``reference`` names the picture, ``digest`` the match in the log.

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
    predicted = Predicted(
        id=digest,
        reference=reference[:80],
        exposure_stops=round(match.exposure_stops, 3),
        delta_e=None if match.delta_e is None else round(match.delta_e, 3),
        regions=tuple(
            PredictedRegion(name=one.name[:80], stops=round(one.stops, 3), delta_e=round(one.delta_e, 3))
            for one in match.regions
        ),
    )
    old = show.cue(number)
    if old is None:
        shortcut = free_shortcut(show, number)
        return Cue(
            number=number, name=_name(show, reference), shortcut=shortcut, look=look, predicted=predicted
        )
    return old.model_copy(update={"look": look, "predicted": predicted})


def _name(show: Show, reference: str) -> str:
    """By the picture, and told apart from the matches that are there: one recalls a cue by its name, too."""
    name = f"Match {PurePath(reference).stem[:60]}".strip()
    taken = {folded(cue.name) for scene in scenes_of(show) for cue in scene.cues}
    names = (name if n == 1 else f"{name} ({n})" for n in count(1))
    return next(one for one in names if folded(one) not in taken)
