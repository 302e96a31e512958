"""Show files of one scene, written down flat: a test says a lamp with its role, its cues, its camera."""

from __future__ import annotations

from typing import Any

from onecrew.show.scenes import ARRANGED, SCENE_FIELDS


def document(flat: dict[str, Any]) -> dict[str, Any]:
    """The data of a show file: ``cues``, ``camera``, set pieces, roles and places go into its first scene."""
    scene: dict[str, Any] = {"name": "Scene 1"}
    whole = {name: value for name, value in flat.items() if name not in SCENE_FIELDS}
    scene |= {name: flat[name] for name in SCENE_FIELDS if name in flat}
    rig = whole.get("rig")
    if isinstance(rig, dict):
        if "set_pieces" in rig:
            scene["set_pieces"] = rig["set_pieces"]
        fixtures = rig.get("fixtures", ())
        if isinstance(fixtures, list | tuple):
            lamps = [one for one in fixtures if isinstance(one, dict)]
            scene["arrangement"] = {
                one["id"]: {name: one[name] for name in ARRANGED if name in one}
                for one in lamps
                if "id" in one
            }
            fixtures = [
                {name: value for name, value in one.items() if name not in ARRANGED}
                if isinstance(one, dict)
                else one
                for one in fixtures
            ]
        whole["rig"] = {name: value for name, value in rig.items() if name != "set_pieces"} | {
            "fixtures": fixtures
        }
    return {"format": "onecrew-show", "version": 2, **whole, "scenes": [scene]}
