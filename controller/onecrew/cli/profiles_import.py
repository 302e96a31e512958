"""The body of ``onecrew profiles import``: GDTF files become profiles of one's own."""

from __future__ import annotations

import re
from collections.abc import Iterable
from pathlib import Path

from onecrew.cli.exits import DONE, FAILED, complain
from onecrew.errors import Mistake, Misuse, OnecrewError, Trouble
from onecrew.fixtures.describe import describe_lights, of_kind
from onecrew.fixtures.gdtf.convert import import_gdtf, imported_from
from onecrew.fixtures.gdtf.work import name_of
from onecrew.show.base import SHORT_NAME
from onecrew.show.light import Light, White
from onecrew.show.profile import Profile
from onecrew.show.profiles import keep_profile, load_profiles, no_name, user_folder
from onecrew.terminal import printable

MOST_FILES = 2000
_LONGEST_LINE = 1000


def run_import(paths: list[str], wanted: str | None) -> int:
    """Imports files and whole folders; says what became of each. Status 1 where one could not be."""
    if not paths:
        raise Misuse("name the GDTF file or the folder to import: `onecrew profiles import FILE.gdtf`")
    files = [file for path in paths for file in _files(Path(path))]
    if wanted is not None and len(files) > 1:
        raise Misuse(f"--as gives one name, and there are {len(files)} files: import them one by one")
    if wanted is not None and not re.fullmatch(SHORT_NAME, wanted):
        raise Misuse(no_name(wanted))
    status, made = DONE, 0
    for file in files:
        try:
            if wanted is None and (before := _imported_before(file)) is not None:
                print(f"{printable(file.name)}: imported before as {before}, which is left as it is")
                continue
            print("\n".join(_import(file, wanted)))
            made += 1
        except OnecrewError as error:
            complain(str(error))
            status = FAILED
    if made:
        print("See what a profile reaches with `onecrew profiles NAME`; its text can be changed.")
    return status


def _files(path: Path) -> list[Path]:
    if not path.is_dir():
        if not path.exists():
            raise Trouble(f"there is no file {path}")
        return [path]
    found = sorted(file for file in path.iterdir() if file.suffix.lower() == ".gdtf")
    if not found:
        raise Mistake(f"there is no GDTF file in {path}")
    return found[:MOST_FILES]


def _import(file: Path, wanted: str | None) -> list[str]:
    """Imports one file; returns what there is to say about it."""
    profile_id = wanted or _free_name(file)
    target = user_folder() / f"{profile_id}.toml"
    if target.exists():
        raise Mistake(f"{file.name}: there is a profile {profile_id} already; give another name with --as")
    imported = import_gdtf(file, profile_id)
    _try_out(imported.profile)
    keep_profile(profile_id, imported.text)
    said = [f"{printable(file.name)} → {target}"]
    for mode in imported.profile.modes:
        segments = f", {mode.parts} segments" if mode.parts > 1 else ""
        said.append(f"  mode {mode.name}, in its menu “{mode.menu}”: {mode.width} slots{segments}")
    return [*said, *(f"  {remark}" for remark in imported.remarks)]


def _imported_before(file: Path) -> str | None:
    """The profile of one's own that says in its first line that it is from this file."""
    for profile_id in _names(file):
        try:
            with (user_folder() / f"{profile_id}.toml").open(encoding="utf-8") as profile:
                if profile.readline(_LONGEST_LINE).startswith(f"# {printable(imported_from(file.name))}"):
                    return profile_id
        except (OSError, ValueError):
            continue
    return None


def _free_name(file: Path) -> str:
    """A name for the profile of a file that no other profile has, the last one if all are taken."""
    taken, names = load_profiles(), _names(file)
    return next((name for name in names if name not in taken and name not in taken.broken), names[-1])


def _names(file: Path) -> list[str]:
    """What the profile of a file can be called, ``Maker@Kind@Comment.gdtf`` as a rule."""
    maker, _, rest = file.stem.partition("@")
    kind = rest.partition("@")[0]
    return [name_of(kind), name_of(f"{maker} {kind}")] if kind else [name_of(maker)]


def _try_out(profile: Profile) -> None:
    """Encodes a few lights in every mode: what cannot be encoded must not be patched."""
    asked: Iterable[Light] = [
        Light(level=0.5, white=White(cct_k=cct_k)) for cct_k in (2700.0, 4300.0, 6500.0)
    ]
    for mode in profile.modes:
        describe_lights(of_kind(profile, mode), {profile.id: profile}, asked)
