"""Versions of a show: what stands in each that is kept beside it, and what changed from one to the next."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

from onecrew.errors import OnecrewError, Refused
from onecrew.show.json_reading import decode, read_bytes
from onecrew.show.load import parse_model, parse_show
from onecrew.show.profile import Profile
from onecrew.show.save import number_of, versions_of
from onecrew.show.scenes import Document, document_of
from onecrew.show.show import Scene, Show

NO_DIFFERENCE = "as the one before"


@dataclass(frozen=True, slots=True)
class Version:
    """One kept version; ``at`` is when it was written, in seconds since 1970."""

    number: int
    at: float
    show: Show | None
    """None where it cannot be read any more."""
    changed: str
    """What is otherwise than in the version before it, in words."""


def kept_versions(path: Path) -> list[Version]:
    """The versions beside a show, oldest first."""
    found: list[Version] = []
    before: Show | None = None
    for file in versions_of(path):
        try:
            show, at = read_version(file), file.stat().st_mtime
        except (OnecrewError, OSError):
            found.append(Version(number_of(file), 0.0, None, "cannot be read any more"))
            continue
        said = what_changed(before, show) if before is not None else "the oldest that is kept"
        found.append(Version(number_of(file), at, show, said))
        before = show
    return found


def version(path: Path, number: int, profiles: Mapping[str, Profile] | None = None) -> Show:
    """The show as a kept version has it, checked with ``profiles`` where they are given.

    ``Refused`` where there is none of this number, or one that cannot be used.
    """
    file = next((file for file in versions_of(path) if number_of(file) == number), None)
    if file is None:
        raise Refused(f"there is no version {number} any more: the last ones are kept, list them again")
    try:
        return read_version(file, profiles)
    except OnecrewError as error:
        raise Refused(f"version {number} cannot be used: {error}") from error


def read_version(file: Path, profiles: Mapping[str, Profile] | None = None) -> Show:
    text, where = decode(read_bytes(file), str(file)), str(file)
    return parse_model(text, where) if profiles is None else parse_show(text, where, profiles)


def what_changed(before: Show, after: Show) -> str:
    """What is otherwise in a show than it was, in words: 'cue 3 changed, oven added'."""
    return ", ".join(_changes(document_of(before), document_of(after))) or NO_DIFFERENCE


def _changes(before: Document, after: Document) -> Iterator[str]:
    if after.name != before.name:
        yield f"named {after.name}"
    yield from _listed("", _by_id(before.rig.fixtures), _by_id(after.rig.fixtures))
    was, now = ({scene.name: scene for scene in one.scenes} for one in (before, after))
    gone, new = [name for name in was if name not in now], [name for name in now if name not in was]
    if len(gone) == len(new) == 1 and was[gone[0]].cues == now[new[0]].cues:
        yield f"scene {gone[0]} named {new[0]}"
        now[gone[0]] = now.pop(new[0])
        gone, new = [], []
    yield from (f"scene {name} deleted" for name in gone)
    yield from (f"scene {name} added" for name in new)
    for name, scene in now.items():
        if name in was:
            where = f" in {name}" if len(now) > 1 else ""
            yield from (f"{said}{where}" for said in _in_scene(was[name], scene))
    if after.scene != before.scene and not gone and not new:
        yield f"scene {after.scene or after.scenes[0].name} opened"
    if after.output != before.output:
        yield "outputs changed"
    if after.remote != before.remote:
        yield "remotes changed"


def _in_scene(before: Scene, after: Scene) -> Iterator[str]:
    yield from _listed("cue ", {c.number: c for c in before.cues}, {c.number: c for c in after.cues})
    yield from _listed("", before.arrangement, after.arrangement, arranged=True)
    yield from _listed("", _by_id(before.set_pieces), _by_id(after.set_pieces))
    if after.camera != before.camera:
        yield "camera changed"
    if after.room != before.room:
        yield "room changed"


def _by_id(things: Iterable[object]) -> dict[str, object]:
    return {str(getattr(one, "id", "")): one for one in things}


def _listed(
    word: str, before: Mapping[str, object], after: Mapping[str, object], *, arranged: bool = False
) -> Iterator[str]:
    """What came, went and changed; of what is only arranged, just what changed."""
    for name in () if arranged else (one for one in before if one not in after):
        yield f"{word}{name} deleted"
    for name, thing in after.items():
        if name not in before:
            if not arranged:
                yield f"{word}{name} added"
        elif thing != before[name]:
            yield f"{word}{name} {'placed anew' if arranged else 'changed'}"
