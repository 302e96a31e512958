"""Scenes: the document as it is saved, and the show of its open scene.

A file holds a rig and, over its one patch, any number of scenes. What works on the show (playback, screens,
sheet) sees one scene of it: ``Show``, whose fixtures have the role and the place of that scene. The other
scenes ride along in it untouched. ``document_of`` and ``show_of`` turn one into the other without loss.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from re import fullmatch
from typing import Annotated, Literal

from pydantic import Field, field_validator

from onecrew.show.base import CUE_NUMBER, Model, cue_order, folded
from onecrew.show.show import (
    Arrangement,
    Fixture,
    Output,
    Patched,
    Remote,
    Rig,
    Scene,
    SceneName,
    Show,
)

SCENE_FIELDS = ("camera", "room", "cues")
"""What a scene and the show of a scene have in common, field by field."""
ARRANGED = tuple(Arrangement.model_fields)
PATCHED = tuple(Patched.model_fields)


class PatchedRig(Model):
    """What is true of the fixtures in every scene."""

    fixtures: tuple[Patched, ...] = ()


class Document(Model):
    """The whole file, valid in itself; what needs the profiles is checked in ``check``."""

    format: Literal["onecrew-show"] = "onecrew-show"
    version: Literal[2] = 2
    name: Annotated[str, Field(min_length=1, max_length=80)]
    rig: PatchedRig = PatchedRig()
    output: Output = Output()
    remote: Remote = Remote()
    scene: SceneName | None = None
    """The scene that is open; None: the first."""
    scenes: tuple[Scene, ...] = (Scene(),)
    """In the order in which they are listed; none is one empty scene."""

    @field_validator("scenes")
    @classmethod
    def _one_at_least(cls, scenes: tuple[Scene, ...]) -> tuple[Scene, ...]:
        return scenes or (Scene(),)


def show_of(document: Document, scene: str | None = None) -> Show:
    """The show of a scene of the document, by default of the one that is open. KeyError if there is none."""
    wanted = scene or document.scene or document.scenes[0].name
    at = next((i for i, one in enumerate(document.scenes) if one.name == wanted), None)
    if at is None:
        raise KeyError(wanted)
    this = document.scenes[at]
    fixtures = tuple(
        _fixture(one, this.arrangement.get(one.id, Arrangement())) for one in document.rig.fixtures
    )
    return Show(
        name=document.name,
        rig=Rig(fixtures=fixtures, set_pieces=this.set_pieces),
        output=document.output,
        remote=document.remote,
        scene=this.name,
        scene_at=at,
        other_scenes=document.scenes[:at] + document.scenes[at + 1 :],
        **{name: getattr(this, name) for name in SCENE_FIELDS},
    )


def document_of(show: Show) -> Document:
    """The document that a show is saved as."""
    return Document(
        name=show.name,
        rig=PatchedRig(
            fixtures=tuple(
                Patched.model_construct(**{name: getattr(one, name) for name in PATCHED})
                for one in show.rig.fixtures
            )
        ),
        output=show.output,
        remote=show.remote,
        scene=show.scene if show.other_scenes else None,
        scenes=scenes_of(show),
    )


def scenes_of(show: Show) -> tuple[Scene, ...]:
    """Every scene in the order of the document, the open one with what the show now says of it."""
    this = Scene(
        name=show.scene,
        arrangement={one.id: arrangement_of(one) for one in show.rig.fixtures},
        set_pieces=show.rig.set_pieces,
        **{name: getattr(show, name) for name in SCENE_FIELDS},
    )
    return (*show.other_scenes[: show.scene_at], this, *show.other_scenes[show.scene_at :])


def arrangement_of(fixture: Fixture) -> Arrangement:
    """What a fixture does in the scene that it is seen in."""
    return Arrangement.model_construct(**{name: getattr(fixture, name) for name in ARRANGED})


def open_scene(show: Show, name: str) -> Show:
    """The show with another of its scenes open. KeyError if it has none of that name."""
    return show_of(document_of(show), name)


def each_opened(show: Show) -> Iterator[Show]:
    """The show with each of its scenes open in turn, in the order of the document."""
    for scene in scenes_of(show):
        yield show if scene.name == show.scene else open_scene(show, scene.name)


def scene_with_cue(show: Show, said: str) -> Show:
    """The show with the scene open that has the cue of this number or whole name; as it is where none has."""
    number = cue_order(said) if fullmatch(CUE_NUMBER, said) else None
    for scene in (None, *show.other_scenes):
        for cue in show.cues if scene is None else scene.cues:
            named = folded(cue.name) == folded(said) if number is None else False
            if named or cue_order(cue.number) == number:
                return show if scene is None else open_scene(show, scene.name)
    return show


def with_scenes(show: Show, scenes: Iterable[Scene], name: str) -> Show:
    """The show with these scenes, ``name`` open among them."""
    document = document_of(show)
    return show_of(document.model_copy(update={"scenes": tuple(scenes), "scene": name}))


def _fixture(patched: Patched, arranged: Arrangement) -> Fixture:
    fields = {name: getattr(patched, name) for name in PATCHED} | {
        name: getattr(arranged, name) for name in ARRANGED
    }
    return Fixture.model_construct(**fields)
