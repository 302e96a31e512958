"""Moments to make sheets of: cues of the bakery as the encoder would send them."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from onecrew.engine.sheets import recorded_state_of_cue, with_gamuts
from onecrew.log.recorded_state import RecordedState
from onecrew.show.load import load_show
from onecrew.show.profiles import ProfileLibrary, load_profiles
from onecrew.show.show import Place, SetPiece, Show

BAKERY = Path(__file__).parents[1] / "fakes" / "kitchen.json"
HOSTILE = '"><script>alert(1)</script><img src=x onerror=alert(2)>\u202e\x1b[31m--></style></title>&amp;'


@cache
def profiles() -> ProfileLibrary:
    return load_profiles()


@cache
def bakery() -> Show:
    """The bakery with its baker as the subject."""
    show = load_show(BAKERY, profiles())
    baker = SetPiece(id="baker", kind="subject", place=Place(x_m=2.0, y_m=1.4, height_m=1.6))
    others = tuple(piece for piece in show.rig.set_pieces if piece.id != "baker")
    return show.model_copy(update={"rig": show.rig.model_copy(update={"set_pieces": (*others, baker)})})


@cache
def ovens_on() -> RecordedState:
    return with_gamuts(recorded_state_of_cue(bakery(), profiles(), "3"), profiles())


def hostile() -> RecordedState:
    """The same with text that would like to be markup wherever text may be."""
    show = bakery()
    fixtures = tuple(
        f.model_copy(
            update={
                "note": HOSTILE,
                "modifiers": tuple(m.model_copy(update={"note": HOSTILE[:80]}) for m in f.modifiers),
            }
        )
        for f in show.rig.fixtures
    )
    pieces = tuple(p.model_copy(update={"kind": HOSTILE[:80], "note": HOSTILE}) for p in show.rig.set_pieces)
    bad = show.model_copy(
        update={
            "name": HOSTILE[:80],
            "rig": show.rig.model_copy(update={"fixtures": fixtures, "set_pieces": pieces}),
            "camera": show.camera.model_copy(update={"lens": HOSTILE[:80], "note": HOSTILE}),
            "cues": tuple(
                cue.model_copy(update={"name": HOSTILE[:80], "note": HOSTILE}) for cue in show.cues
            ),
        }
    )
    recorded = recorded_state_of_cue(bad, profiles(), "3")
    return RecordedState.model_validate(
        {
            **recorded.model_dump(mode="json"),
            "at": HOSTILE,
            "take": {"setup": HOSTILE, "number": 1, "notes": [HOSTILE], "length_s": 3.0},
            "events": [{"after_s": 1.0, "kind": HOSTILE, "text": HOSTILE}],
            "solo": [HOSTILE],
        }
    )
