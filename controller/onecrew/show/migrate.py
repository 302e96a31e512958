"""Old documents → the present version of the format."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

VERSION = 2
"""The version of the show format that this program writes."""
FORMAT = "onecrew-show"
FORMER_FORMAT = "lampwright-show"
"""What version 1 of a show called itself."""

FIRST_SCENE = "Scene 1"
ARRANGED = ("role", "modifiers", "place", "note")
"""What a fixture of version 1 said of itself that is true in one scene only."""

Step = Callable[[dict[str, Any]], dict[str, Any]]


def _to_version_2(data: dict[str, Any]) -> dict[str, Any]:
    """The program, a role and the ways of mixing have other names; what is true of one setup is a scene."""
    if data.get("format") == FORMER_FORMAT:
        data = {**data, "format": FORMAT}
    of_a_scene = ("camera", "cues")
    scene: dict[str, Any] = {"name": FIRST_SCENE, **{name: data[name] for name in of_a_scene if name in data}}
    if isinstance(cues := scene.get("cues"), (list, tuple)):
        scene["cues"] = tuple(_cue_of_version_2(cue) for cue in cues)
    data = _without(data, of_a_scene)
    rig = data.get("rig")
    if isinstance(rig, dict):
        if "set_pieces" in rig:
            scene["set_pieces"] = rig["set_pieces"]
        rig = _without(rig, ("set_pieces",))
        if isinstance(fixtures := rig.get("fixtures"), (list, tuple)):
            renamed = [_fixture_of_version_2(each) for each in fixtures]
            rig["fixtures"] = tuple(_without(each, ARRANGED) for each in renamed)
            scene["arrangement"] = {
                each["id"]: {name: each[name] for name in ARRANGED if name in each}
                for each in renamed
                if isinstance(each, dict) and isinstance(each.get("id"), str)
            }
        data["rig"] = rig
    return {**data, "scenes": (scene,)}


def _without(value: Any, names: tuple[str, ...]) -> Any:
    return {name: v for name, v in value.items() if name not in names} if isinstance(value, dict) else value


def _cue_of_version_2(data: Any) -> Any:
    if not isinstance(data, dict):
        return data
    renamed = {"key": "shortcut", "follow_s": "auto_follow_s"}
    return {renamed.get(name, name): value for name, value in data.items()}


def _fixture_of_version_2(data: Any) -> Any:
    if not isinstance(data, dict):
        return data
    renamed = {
        "role": {"room tone": "ambience"},
        "mixing": {"brightest": "most-light", "truest": "best-rendition"},
    }
    return {
        name: new.get(value, value) if (new := renamed.get(name)) and isinstance(value, str) else value
        for name, value in data.items()
    }


STEPS: Mapping[int, Step] = {1: _to_version_2}
"""By version: what makes a document of the next version of it. Version 1 is the first there was."""


class NewerVersion(ValueError):
    """The document was written by a later onecrew."""


def migrate(data: dict[str, Any], steps: Mapping[int, Step] = STEPS, to: int = VERSION) -> dict[str, Any]:
    """The data of a show as the present version has it; ``data`` itself is left as it is.

    A document without a version is returned as it is. NewerVersion if it is past ``to``, ValueError
    ("what; fix") if it is no whole number or if nothing leads up from it.
    """
    if "version" not in data:
        return data
    version = data["version"]
    if type(version) is not int:
        raise ValueError(f"the version is not a whole number; write {to}")
    if version > to:
        raise NewerVersion(
            f"the show is of version {version}, this onecrew reads up to {to}; install a newer onecrew"
        )
    while version < to:
        if version not in steps:
            raise ValueError(f"there never was a version {version}; write {to}")
        data = {**steps[version](data), "version": version + 1}
        version += 1
    return data
