"""A small show for the tests of the remotes. Invented."""

from __future__ import annotations

from onecrew.show.show import Cue, Fixture, Rig, Show


def small_show() -> Show:
    roles = {"window": "key", "tone": "ambience", "edge": "edge", "edge2": "edge"}
    fixtures = tuple(
        Fixture.model_validate(
            {
                "id": name,
                "profile": "panel-cct-tint",
                "mode": "16-bit",
                "universe": 1,
                "address": 1 + 10 * place,
                "role": role,
            }
        )
        for place, (name, role) in enumerate(roles.items())
    )
    cues = tuple(Cue(number=number, name=f"Look {number}") for number in ("1", "2", "2.5"))
    return Show(name="Small", rig=Rig(fixtures=fixtures), cues=cues)
