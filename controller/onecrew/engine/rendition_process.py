"""Rendition process: how surfaces fare under a lamp, worked out in a process of its own.

The libraries behind it take a second to load and more memory than the whole engine, so the engine never
loads them: run as a module, this is a helper as ``engine.helper`` has them.
"""

from __future__ import annotations

import sys
from dataclasses import asdict
from typing import Any

from onecrew.engine.helper import asked, main
from onecrew.show.light import Light
from onecrew.show.profile import Profile
from onecrew.show.show import MIXINGS, Fixture


async def rendition(fixture: Fixture, profile: Profile, light: Light) -> dict[str, Any]:
    """The rendition of ``light`` on a fixture as it is set, and by the other way of mixing.

    ``{"mixes": [{"mixing", "used", "stops", "rendition"}], "note"}``: ``stops`` is what the mix costs against
    the brightest, ``rendition`` has ``ra, rf, rg, ssi, cct_k, duv`` or is None, ``note`` says how far to
    trust it or why it is not known. Raises ``Trouble`` as ``helper.asked`` does.
    """
    question = {
        "fixture": fixture.model_dump(mode="json"),
        "profile": profile.model_dump(mode="json", exclude_none=True),
        "light": light.model_dump(mode="json", exclude_none=True),
    }
    return await asked(__name__, question, "the rendition")


# ── In the helper ───────────────────────────────────────────────────────────────────────────────────


def worked_out(question: dict[str, Any]) -> dict[str, Any]:
    """The answer to a question of ``rendition``."""
    from onecrew.fixtures.describe import describe_lights
    from onecrew.fixtures.spectral import best_rendition_stops, rendition_of

    fixture = Fixture.model_validate(question["fixture"])
    profile = Profile.model_validate(question["profile"])
    light = Light.model_validate(question["light"])
    mode = profile.mode(fixture.mode)
    assert mode is not None  # the engine has checked
    mixes, note = [], ""
    for mixing in MIXINGS:
        lamp = fixture.model_copy(update={"mixing": mixing})
        [report] = describe_lights(lamp, {profile.id: profile}, [light])
        stops = best_rendition_stops(profile, mode, report.xy)
        if mixing == "best-rendition" and stops is None:
            break  # it has no other way of mixing
        found, note = rendition_of(profile, mode, report.drives)
        mixes.append(
            {
                "mixing": mixing,
                "used": stops is None or mixing == fixture.mixing,
                "stops": stops if mixing == "best-rendition" else 0.0,
                "rendition": None if found is None else asdict(found),
            }
        )
    return {"mixes": mixes, "note": note}


if __name__ == "__main__":
    sys.exit(main(worked_out))
