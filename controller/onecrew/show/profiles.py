"""Profiles from their TOML files: the shipped ones, the user's own, and those beside a show."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable
from datetime import date, datetime, time
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from onecrew.errors import DocumentFaults, Fault, Mistake, OnecrewError, Trouble
from onecrew.shipped import shipped
from onecrew.show.base import SHORT_NAME
from onecrew.show.disk import Disk
from onecrew.show.faults import bounded, plain_faults
from onecrew.show.json_reading import decode, plain, read_bytes
from onecrew.show.profile import Profile
from onecrew.show.toml_faults import one_bracket, syntax_fault

MAX_PROFILE_BYTES = 1024 * 1024
MAX_FILES = 2000
"""Files looked at in one folder."""

_ID = re.compile(SHORT_NAME)


class ProfileLibrary(dict[str, Profile]):
    """Profiles by id. A file that cannot be used stands in ``broken`` and hides no good one."""

    def __init__(self) -> None:
        super().__init__()
        self.broken: dict[str, OnecrewError] = {}
        """By id: what is wrong with the file that has the name of this profile."""
        self.files: dict[str, Path] = {}
        """By id: where a good profile came from."""

    @property
    def faults(self) -> tuple[str, ...]:
        """What is wrong with the broken files, one sentence each."""
        return tuple(line for error in self.broken.values() for line in str(error).splitlines())


def user_folder() -> Path:
    """Where the user keeps profiles of their own."""
    from platformdirs import user_config_path

    return user_config_path("onecrew") / "profiles"


def profiles_beside(show: Path) -> Path:
    """Where profiles travel with a show file."""
    return show.resolve().parent / "profiles"


def load_profiles(folders: Iterable[Path] | None = None, *, beside: Path | None = None) -> ProfileLibrary:
    """Every profile of some folders; a later folder's profile takes the place of an earlier one's.

    Without ``folders``: the shipped ones, then the user's, then a folder ``profiles`` beside the show file
    ``beside``. A folder that is not there is passed over. Faults never raise: they stand in ``broken``.
    """
    if folders is None:
        folders = [shipped("profiles"), user_folder()]
        if beside is not None:
            folders.append(profiles_beside(beside))
    library = ProfileLibrary()
    for folder in dict.fromkeys(folders):
        for file in _files(folder, library):
            try:
                profile = load_profile(file)
            except OnecrewError as error:
                library.broken[file.stem] = error
            else:
                library[profile.id] = profile
                library.files[profile.id] = file
                library.broken.pop(profile.id, None)
    return library


def no_name(profile_id: str) -> str:
    """Why this cannot be what a profile is called."""
    return f"'{profile_id}' cannot be a profile's name: a–z, 0–9, '-' and '_', at most 32"


def keep_profile(profile_id: str, text: str) -> Path:
    """Writes a new profile into the user's folder; returns its file. Never over one that is there.

    Raises ``Mistake`` where there is one of that name or it cannot be one, ``Trouble`` where the disk fails.
    """
    if not _ID.fullmatch(profile_id):
        raise Mistake(no_name(profile_id))
    target = user_folder() / f"{profile_id}.toml"
    if target.exists():
        raise Mistake(f"there is a profile {profile_id} already: give another name")
    disk, fresh = Disk(), target.with_name(f".{target.name}.new")
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        disk.remove(fresh)
        disk.write(fresh, text.encode())
        disk.replace(fresh, target)
    except OSError as error:
        raise Trouble(f"{target} cannot be written ({error.strerror or 'no reason given'})") from None
    return target


def load_profile(file: Path) -> Profile:
    """One profile; its id is the file's name without ending. DocumentFaults with every fault, or Trouble."""
    content = read_bytes(file, noun="profile", limit=MAX_PROFILE_BYTES)
    return parse_profile(decode(content, str(file)), file.stem, str(file))


def parse_profile(text: str, profile_id: str, source: str) -> Profile:
    """A profile from TOML text. DocumentFaults with every fault; ``source`` names the file in it."""
    faults: list[Fault] = []
    if not _ID.fullmatch(profile_id):
        fix = 'rename it with a–z, 0–9, "-" and "_", at most 32'
        faults.append(Fault("", f"the file's name \"{profile_id}\" cannot be a profile's id", fix))
    try:
        raw = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise DocumentFaults(source, [*faults, syntax_fault(error, text)]) from None
    except RecursionError:
        deep = Fault(
            "", "the tables are nested too deep", "a profile has no more than five within each other"
        )
        raise DocumentFaults(source, [*faults, deep]) from None
    if "id" in raw:
        del raw["id"]
        faults.append(Fault("id", "a profile does not name its id", "remove it, the file's name is the id"))
    parsed = plain(_without_dates(raw))
    faults += [*parsed.faults, *(single := one_bracket(raw))]
    unusable = {fault.where for fault in [*parsed.faults, *single]}
    data = {**parsed.data, "id": profile_id if _ID.fullmatch(profile_id) else "unnamed"}
    try:
        profile = Profile.model_validate(data, strict=True)
    except ValidationError as error:
        found = plain_faults(error, Profile.model_json_schema())
        faults += [fault for fault in found if fault.where not in unusable]
    if faults:
        raise DocumentFaults(source, bounded(faults))
    return profile


def _files(folder: Path, library: ProfileLibrary) -> list[Path]:
    """The TOML files of a folder by name; a folder that cannot be listed is reported once."""
    try:
        found = sorted(file for file in folder.iterdir() if file.suffix == ".toml")
    except (FileNotFoundError, NotADirectoryError):
        return []
    except OSError as error:
        reason = error.strerror or "no reason given"
        library.broken[str(folder)] = Trouble(f"The folder {folder} cannot be listed ({reason}).")
        return []
    if len(found) > MAX_FILES:
        library.broken[str(folder)] = Trouble(
            f"The folder {folder} has {len(found)} profiles; only the first {MAX_FILES} are read."
        )
    return found[:MAX_FILES]


def _without_dates(value: Any) -> Any:
    """TOML has dates and times, a profile has none: as text they are refused like any wrong value."""
    if isinstance(value, dict):
        return {key: _without_dates(inner) for key, inner in value.items()}
    if isinstance(value, list):
        return [_without_dates(inner) for inner in value]
    return value.isoformat() if isinstance(value, datetime | date | time) else value
