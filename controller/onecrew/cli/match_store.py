"""A match stored as a cue: never over another one unasked, and with its errors and pictures on record."""

from __future__ import annotations

import base64
import contextlib
import hashlib
from collections.abc import Mapping
from pathlib import Path

import numpy as np

from onecrew.cli.document import carry_out, current_show, has_engine
from onecrew.cli.reach import with_client
from onecrew.colour.arrays import FloatArray
from onecrew.commands.cues import PutCue, cue_in, refuse_taken
from onecrew.engine.client import Client
from onecrew.errors import Refused
from onecrew.language.names import cue_number
from onecrew.log.matched import MOST_PICTURE, matched, note_alone
from onecrew.show.show import Show
from onecrew.show.snapshot import LightState
from onecrew.stills.cue import cue_of
from onecrew.stills.result import Match
from onecrew.stills.run import Run
from onecrew.stills.show_picture import jpeg

SMALL_PX = 240
"""Width of the pictures that are kept."""


def store_match(
    path: Path,
    found: Match,
    said: str,
    reference: str,
    present: FloatArray | None,
    *,
    replace: bool,
    or_else: str,
    said_of_it: str = "",
) -> str:
    """Store a match as the cue ``said``; returns what was done.

    ``present`` is the picture of what shows now, where that is known. Raises ``Refused`` for a number that a
    cue has, unless its look is to be replaced, and then for one that no cue has; ``or_else`` says how one
    asks for that. ``said_of_it`` is the refusal that was answered so: where it would be another now, that one
    is raised.
    """
    show = current_show(path)
    number = cue_number(said.strip(), show, "match")
    if not replace:
        refuse_taken(show, number, or_else)
    else:
        cue_in(show, number)
        if said_of_it:
            _refuse_another(show, number, or_else, said_of_it)
    seen = {"reference": found.reference, "predicted": found.predicted}
    if present is not None:
        seen["present"] = present
    pictures = {name: small for name, one in seen.items() if len(small := _small(one)) <= MOST_PICTURE}
    digest = hashlib.sha256("".join(pictures.values()).encode()).hexdigest()[:16]
    cue = cue_of(show, found, number, reference, digest)
    if has_engine(path):

        async def ask(client: Client) -> None:
            await client.ask(
                "store-match",
                cue=cue.model_dump(mode="json", exclude_defaults=True),
                replace=replace,
                pictures=pictures,
            )

        with_client(path, ask)
        return f"stored as cue {number} in the running engine"
    where = carry_out(path, [PutCue(cue=cue, new=not replace)])
    with contextlib.suppress(OSError):  # the cue is stored; a log that cannot be written says so elsewhere
        note_alone(path.expanduser().resolve(), matched(cue, pictures))
    return f"stored as cue {number} {where}"


def _refuse_another(show: Show, number: str, or_else: str, said_of_it: str) -> None:
    try:
        refuse_taken(show, number, or_else)
    except Refused as refused:
        if str(refused) != said_of_it:
            raise


def now_shown(lights: Mapping[str, LightState], stills: Run) -> FloatArray:
    """Return the picture (h, w, 3) of what the lamps give now, as far as the stills show them."""
    xyz = []
    for shown in stills.lamps:
        state = lights.get(shown.lamp.id)
        mired = None if state is None or state.white is None else 1e6 / state.white.cct_k
        if mired is None and not shown.lamp.one_colour:
            mired = 1e6 / 4300.0
        output = 0.0 if state is None else state.output
        xyz.append(shown.lamp.leaves(output, mired).xyz if output > 0.0 else np.zeros(3))
    return stills.predicted(xyz)


def _small(picture: FloatArray) -> str:
    return base64.b64encode(jpeg(picture, width=SMALL_PX)).decode("ascii")
