"""Scenes of the show over its one patch: open, make, rename, delete; and a lamp under another name."""

from __future__ import annotations

from typing import Literal, TypeVar

from onecrew.commands.command import Command, Log, Reader, Row, ShowCommand
from onecrew.commands.context import Context
from onecrew.commands.running import rest
from onecrew.errors import Misuse, Refused
from onecrew.language.names import fixture_id, no_fixture
from onecrew.language.phrases import build
from onecrew.show.base import Name, known_as
from onecrew.show.faults import meant
from onecrew.show.scenes import open_scene, scenes_of, with_scenes
from onecrew.show.show import Cue, Scene, SceneName, Show

T = TypeVar("T")


def _names(show: Show) -> list[str]:
    return [scene.name for scene in scenes_of(show)]


def _known(show: Show, name: str) -> str:
    """The name of a scene as the show writes it. Refused if there is none."""
    names = _names(show)
    found = known_as(name, names)
    if found is None:
        close = meant(name, names)
        guess = f"perhaps {close} was meant" if close else f"the show has {', '.join(names)}"
        raise Refused(f"There is no scene {name}; {guess}.")
    return found


def _new_name(show: Show, name: str, *, of: str = "") -> str:
    """A name for a scene, ``of`` being its present one: other capitals make it another name too."""
    name = name.strip()
    if not name:
        raise Refused("A scene needs a name.")
    if known_as(name, [one for one in _names(show) if one != of]) is not None:
        raise Refused(f"There is a scene {name} already; give the new one another name.")
    return name


def _named(model: type[Command], verb: str) -> Reader:
    return rest(model, verb, "the name of the scene")


# ── Opening ─────────────────────────────────────────────────────────────────────────────────────────


class OpenScene(ShowCommand):
    """Go on with another scene of the show. The lights stay as they are until one of its cues is run."""

    kind: Literal["open-scene"] = "open-scene"
    name: SceneName


OPEN_SCENE = Row(
    model=OpenScene,
    forms={"scene Delivery": "go on with another scene; the lights stay until one of its cues runs"},
    reads={"scene": _named(OpenScene, "scene")},
    writes=lambda command, _: f"scene {command.name}",
    says=lambda command, _: f"open the scene {command.name}",
    log=Log.SHOW,
    edit=lambda show, command: open_scene(show, _known(show, command.name)),
)


# ── Making, renaming, removing ──────────────────────────────────────────────────────────────────────


class NewScene(ShowCommand):
    """Add a scene and open it: the lamps as the open scene has them, or not placed yet."""

    kind: Literal["new-scene"] = "new-scene"
    name: SceneName
    empty: bool = False
    """Keep only the roles: no places, modifiers, notes and set pieces."""
    cues: tuple[Cue, ...] = ()
    """Cues that it begins with, as a breakdown does."""


def _read_new(words: list[str], _: Context) -> Command:
    empty = bool(words) and words[-1].lower() == "empty"
    name = " ".join(words[:-1] if empty else words)
    if not name:
        raise Misuse("'new-scene' needs a name for the scene")
    return build(NewScene, name=name, empty=empty)


def _with_new_scene(show: Show, command: NewScene) -> Show:
    scenes = scenes_of(show)
    name = _new_name(show, command.name)
    like = scenes[show.scene_at].model_copy(update={"name": name, "cues": command.cues})
    if command.empty:
        roles = {one: arranged.role for one, arranged in like.arrangement.items()}
        like = Scene.model_validate(
            {
                "name": name,
                "arrangement": {one: {"role": role} for one, role in roles.items()},
                "cues": command.cues,
            }
        )
    at = show.scene_at + 1
    return with_scenes(show, (*scenes[:at], like, *scenes[at:]), name)


NEW_SCENE = Row(
    model=NewScene,
    forms={"new-scene Delivery [empty]": "add a scene arranged as the open one, or with nothing placed"},
    reads={"new-scene": _read_new},
    writes=lambda command, _: f"new-scene {command.name}{' empty' if command.empty else ''}",
    says=lambda command, _: f"add the scene {command.name}",
    log=Log.SHOW,
    edit=_with_new_scene,
)


class RenameScene(ShowCommand):
    """Give the open scene another name."""

    kind: Literal["rename-scene"] = "rename-scene"
    name: SceneName


RENAME_SCENE = Row(
    model=RenameScene,
    forms={"rename-scene Before dawn": "give the open scene another name"},
    reads={"rename-scene": _named(RenameScene, "rename-scene")},
    writes=lambda command, _: f"rename-scene {command.name}",
    says=lambda command, _: f"rename the scene to {command.name}",
    log=Log.SHOW,
    edit=lambda show, command: show.model_copy(
        update={"scene": _new_name(show, command.name, of=show.scene)}
    ),
)


class RemoveScene(ShowCommand):
    """Delete a scene that is not open, with its cues; undo brings it back."""

    kind: Literal["remove-scene"] = "remove-scene"
    name: SceneName


def _without_scene(show: Show, command: RemoveScene) -> Show:
    name = _known(show, command.name)
    if name == show.scene:
        raise Refused(f"{name} is the open scene; open another one, then delete it.")
    return with_scenes(show, (scene for scene in scenes_of(show) if scene.name != name), show.scene)


REMOVE_SCENE = Row(
    model=RemoveScene,
    forms={"remove-scene Delivery": "delete a scene that is not open; undo brings it back"},
    reads={"remove-scene": _named(RemoveScene, "remove-scene")},
    writes=lambda command, _: f"remove-scene {command.name}",
    says=lambda command, _: f"delete the scene {command.name}",
    log=Log.SHOW,
    edit=_without_scene,
)


# ── A lamp under another name ───────────────────────────────────────────────────────────────────────


class RenameFixture(ShowCommand):
    """Give a lamp another name, in the rig and in every look of every scene."""

    kind: Literal["rename-fixture"] = "rename-fixture"
    id: Name
    to: Name


def _read_rename(words: list[str], context: Context) -> Command:
    if len(words) != 2:
        raise Misuse("'rename-lamp' takes the lamp's name and the new one, as 'rename-lamp sky wall'")
    show = context.need_show()
    old, new = (word.lower() for word in words)
    if show.fixture(old) is None:
        raise Misuse(no_fixture(show, old))
    return build(RenameFixture, id=old, to=fixture_id(new))


def _renamed(show: Show, command: RenameFixture) -> Show:
    old, new = command.id, command.to
    if show.fixture(old) is None:
        raise Refused(no_fixture(show, old))
    if show.fixture(new) is not None:
        raise Refused(f"There is a lamp {new} already; give this one another name.")
    fixtures = tuple(
        one.model_copy(update={"id": new}) if one.id == old else one for one in show.rig.fixtures
    )
    others = tuple(
        scene.model_copy(
            update={
                "arrangement": _under(scene.arrangement, old, new),
                "cues": _cues_under(scene.cues, old, new),
            }
        )
        for scene in show.other_scenes
    )
    return show.model_copy(
        update={
            "rig": show.rig.model_copy(update={"fixtures": fixtures}),
            "cues": _cues_under(show.cues, old, new),
            "other_scenes": others,
        }
    )


def _cues_under(cues: tuple[Cue, ...], old: str, new: str) -> tuple[Cue, ...]:
    return tuple(cue.model_copy(update={"look": _under(cue.look, old, new)}) for cue in cues)


def _under(by_fixture: dict[str, T], old: str, new: str) -> dict[str, T]:
    """The same, in the same order, with one fixture under another name."""
    return {new if name == old else name: value for name, value in by_fixture.items()}


RENAME_FIXTURE = Row(
    model=RenameFixture,
    forms={"rename-lamp sky wall": "give a lamp another name, in every look too"},
    reads={"rename-lamp": _read_rename},
    writes=lambda command, _: f"rename-lamp {command.id} {command.to}",
    says=lambda command, _: f"rename {command.id} to {command.to}",
    log=Log.SHOW,
    edit=_renamed,
)

ROWS = (OPEN_SCENE, NEW_SCENE, RENAME_SCENE, REMOVE_SCENE, RENAME_FIXTURE)
