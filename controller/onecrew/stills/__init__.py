"""Stills: a reference frame matched by reckoning, from pictures of one's own frame under one lamp at a time.

Light adds (C. Schoeneman, J. Dorsey, B. Smits, J. Arvo, D. Greenberg, *Painting with Light*, SIGGRAPH 1993):
in linear light a picture under any levels is the sum of pictures under single lamps. Pure: files are read,
nothing is written or sent. Without the libraries of the extra ``match`` the import of what reads a picture is
refused in a sentence; a run of stills and its list need none of them, so screens and phone start without.

transfer             code values ⇄ linear light, by the name of the curve
guided, run_plan     a run of stills as a person takes it, and what to take
shotlist             which still shows which lamp, at which output and white
picture              a file → code values and metadata; needs the extra ``match``, as all below do
stack                the stills as linear light: registered, ambient taken off, masked
ladder               an unknown curve from eleven steps of one lamp
checks               what does not fit: exposure, curve, a lamp that is missing, something that moved
regions              rectangles and blocks
kit                  the light that each lamp gives at each white, by the fixture model
solve, certainty     levels and whites nearest to a reference, and how sure they are
match                the whole way, with its result in words and numbers
"""

from __future__ import annotations

from importlib.util import find_spec

from onecrew.errors import Trouble

LIBRARIES = ("PIL", "png", "rawpy", "scipy", "tifffile")


def need_libraries() -> None:
    """Raise ``Trouble`` where a library of the extra is not installed."""
    for name in LIBRARIES:
        if find_spec(name) is None:
            raise Trouble(
                f"pictures need the extra 'match', and {name} is not installed: "
                "in onecrew's folder, pip install -e '.[match]' brings it"
            )
