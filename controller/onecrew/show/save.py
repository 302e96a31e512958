"""Saving a show so that no moment can spoil it, and finding the newest good one when something else did.

The order of a save: what stands in the file and is not kept yet becomes a version; the new text goes into a
file beside it and onto the disk; that file takes the show's name; the new text is kept as a version as well.
A cut at any point leaves the old file or the new one, whole. The last 20 versions stand in
``.<name>.versions`` beside the show, numbered upward.

A file that is not what was last loaded or saved here was changed by someone else: that is said, offered where
it reads as a show, and not overwritten until somebody decides so; then it is kept as a version first.
"""

from __future__ import annotations

import contextlib
import errno
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path

from onecrew.errors import OnecrewError, Trouble
from onecrew.show.disk import Disk
from onecrew.show.dump import dump_show
from onecrew.show.hold import Hold
from onecrew.show.json_reading import MAX_BYTES, decode, read_bytes
from onecrew.show.load import parse_model, parse_show
from onecrew.show.profile import Profile
from onecrew.show.show import Show

KEPT_VERSIONS = 20

_VERSION = re.compile(r"v([0-9]{6,12})\.json")
DISK_FULL = frozenset(code for name in ("ENOSPC", "EDQUOT") if (code := getattr(errno, name, None)))
NOT_ALLOWED = frozenset({errno.EACCES, errno.EPERM, errno.EROFS})


@dataclass(frozen=True, slots=True)
class Outside:
    """What somebody else put into the file."""

    digest: str
    show: Show | None
    """None where it does not read as a show."""
    sentence: str


class ShowFile:
    """A show file that is open: remembers what it last read or wrote, so that a foreign change is seen."""

    def __init__(
        self,
        path: Path,
        disk: Disk | None = None,
        before_change: Callable[[str | None, str], None] | None = None,
        hold: Hold | None = None,
    ) -> None:
        """``before_change`` is called just before the file changes, with the digest of what it holds, None
        where there is no file, and the digest of what it will hold. ``hold`` is the lock on the file, which
        goes on with its name."""
        self.path = path.resolve()
        self._fresh = self.path.with_name(f".{self.path.name}.saving")
        self._disk = disk or Disk()
        self._before_change = before_change
        self._hold = hold
        self._known: str | None = None
        self._profiles: Mapping[str, Profile] = {}
        self._looked_at: tuple[int, ...] | None = None
        self._outside: Outside | None = None

    @property
    def digest(self) -> str | None:
        """SHA-256 of what was last loaded or saved here, None before that and where it was disowned."""
        return self._known or None

    def load(self, profiles: Mapping[str, Profile]) -> Show:
        """As ``load.load_show``."""
        content = read_bytes(self.path)
        show = parse_show(decode(content, str(self.path)), str(self.path), profiles)
        self._known, self._profiles = _digest(content), profiles
        return show

    def outside(self) -> Outside | None:
        """What somebody else put into the file since it was last read or written here, None if nobody did.

        The file is read again only when it looks changed. Raises ``OSError`` where it is gone or unreadable.
        """
        found = self.path.stat()
        looks = (found.st_mtime_ns, found.st_size, found.st_ino)
        if looks != self._looked_at:
            present = self._disk.read(self.path, MAX_BYTES + 1)
            self._looked_at = looks
            ours = present is None or _digest(present) == self._known
            self._outside = None if present is None or ours else self._judged(present)
        return self._outside if self._outside is None or self._outside.digest != self._known else None

    def follow_lock(self) -> None:
        """Locks what has the name by now; raises ``Trouble`` as long as another engine has locked that."""
        if self._hold is not None:
            self._hold.follow()

    def clear_up(self) -> None:
        """Removes what a save left that was cut short. For whoever has the lock."""
        for left in (self._fresh, _Versions(self.path, self._disk).fresh):
            with contextlib.suppress(OSError):
                self._disk.remove(left)

    def disown(self) -> None:
        """What was loaded is not ours: it is told as what somebody else put there, and not written over."""
        self._known = ""

    def accept(self, outside: Outside) -> None:
        """From now on the file may be written over; what is in it becomes a version first."""
        self._known = outside.digest

    def keep(self, show: Show) -> bool:
        """Keeps a show as a version beside the file; false where one holds it already."""
        content, versions = dump_show(show).encode(), _Versions(self.path, self._disk)
        if any(self._disk.read(file, MAX_BYTES + 1) == content for file in versions.files()):
            return False
        versions.keep(content)
        return True

    def _judged(self, present: bytes) -> Outside:
        name, digest = self.path.name, _digest(present)
        try:
            if len(present) > MAX_BYTES:
                raise Trouble(f"{self.path} is too large for a show.")
            text, where = decode(present, str(self.path)), str(self.path)
            show = parse_show(text, where, self._profiles) if self._profiles else parse_model(text, where)
        except OnecrewError:
            spoilt = (
                f"{name} was changed by another program, no longer reads as a show and is not overwritten; "
                "fix it or move it away, or have this desk's version written over it (file keep)"
            )
            return Outside(digest, None, spoilt)
        offer = (
            f"{name} was changed by another program and is not overwritten: load that version (file take) "
            "or write this desk's over it (file keep)"
        )
        return Outside(digest, show, offer)

    def save(self, show: Show) -> str:
        """Saves the show; returns a remark for the user, mostly empty. Trouble if it was not saved."""
        content = dump_show(show).encode()
        if len(content) > MAX_BYTES:
            raise Trouble(f"The show is larger than {MAX_BYTES // 1024 // 1024} MB and was not saved.")
        try:
            return self._save(content)
        except OSError as error:
            raise _trouble(error, self.path) from error

    def _save(self, content: bytes) -> str:
        disk, path, folder = self._disk, self.path, self.path.parent
        present = disk.read(path, MAX_BYTES + 1)
        remark = self._remark(present)
        versions = _Versions(path, disk)
        if present is not None and present != content and present != versions.newest():
            versions.keep(present)
        if present != content:
            fresh = self._fresh
            disk.remove(fresh)
            try:
                disk.write(fresh, content, like=path if present is not None else None)
                if self._before_change is not None:
                    self._before_change(None if present is None else _digest(present), _digest(content))
                with self._hold.passed_on(fresh) if self._hold is not None else contextlib.nullcontext():
                    disk.replace(fresh, path)
            except OSError:
                with contextlib.suppress(OSError):
                    disk.remove(fresh)
                raise
            disk.sync_folder(folder)
        self._known = _digest(content)
        try:
            if content != versions.newest():
                versions.keep(content)
            versions.prune()
        except OSError as error:
            remark = f"The show was saved, but no version beside it ({_reason(error)})."
        return remark

    def _remark(self, present: bytes | None) -> str:
        """What there is to say about the file that is about to be replaced. Trouble if it must stay."""
        if present is None:
            gone = f"{self.path.name} had gone from its folder and was written again."
            return gone if self._known is not None else ""
        if _digest(present) == self._known:
            return ""
        if self._known is not None:
            raise Trouble(self._judged(present).sentence)
        if self._judged(present).show is None:
            raise Trouble(
                f"{self.path} no longer reads as a show and was not overwritten; "
                "fix it or move it away, and the show will be saved."
            )
        return ""


def save_show(show: Show, path: Path) -> None:
    """Saves a show once. Trouble in one sentence if it cannot be, or if the file there is not a show."""
    ShowFile(path).save(show)


def newest_good_version(path: Path, profiles: Mapping[str, Profile]) -> tuple[Path, Show] | None:
    """The newest kept version of a show that still loads without a fault, and where it is; None if none."""
    for file in reversed(_Versions(path.resolve(), Disk()).files()):
        try:
            return file, parse_show(decode(read_bytes(file), str(file)), str(file), profiles)
        except OnecrewError:
            continue
    return None


def versions_folder(path: Path) -> Path:
    """Where the versions of a show are kept, whether there are any or not."""
    return path.with_name(f".{path.name}.versions")


def versions_of(path: Path) -> list[Path]:
    """The kept versions of a show, oldest first."""
    return _Versions(path.resolve(), Disk()).files()


def number_of(version: Path) -> int:
    """The number of a file of ``versions_of``."""
    match = _VERSION.fullmatch(version.name)
    return int(match[1]) if match else 0


# ── Versions ────────────────────────────────────────────────────────────────────────────────────────


class _Versions:
    """The numbered versions beside a show."""

    def __init__(self, path: Path, disk: Disk) -> None:
        self._folder = versions_folder(path)
        self._disk = disk
        self.fresh = self._folder / "v.saving"
        """Where a version is written before it has its number."""

    def files(self) -> list[Path]:
        """Oldest first."""
        names = self._disk.names(self._folder)
        numbered = [(int(match[1]), name) for name in names if (match := _VERSION.fullmatch(name))]
        return [self._folder / name for _, name in sorted(numbered)]

    def newest(self) -> bytes | None:
        files = self.files()
        return self._disk.read(files[-1], MAX_BYTES + 1) if files else None

    def keep(self, content: bytes) -> None:
        """Writes a version with the next number, whole or not at all."""
        self._disk.make_folder(self._folder)
        files = self.files()
        target = self._folder / f"v{number_of(files[-1]) + 1 if files else 1:06d}.json"
        self._disk.remove(self.fresh)
        self._disk.write(self.fresh, content)
        self._disk.replace(self.fresh, target)
        self._disk.sync_folder(self._folder)

    def prune(self) -> None:
        for file in self.files()[:-KEPT_VERSIONS]:
            self._disk.remove(file)


def _digest(content: bytes) -> str:
    return sha256(content).hexdigest()


def _trouble(error: OSError, path: Path) -> Trouble:
    """What the system said, as a sentence with what to do."""
    if error.errno in DISK_FULL:
        return Trouble(f"The disk is full and {path.name} was not saved; free some space, nothing is gone.")
    if error.errno in NOT_ALLOWED:
        return Trouble(f"{path} was not saved: its folder {path.parent} may not be written; allow it there.")
    if isinstance(error, FileNotFoundError | NotADirectoryError):
        return Trouble(f"{path} was not saved: its folder {path.parent} is not there; put it back.")
    if isinstance(error, IsADirectoryError):
        return Trouble(f"{path} was not saved: a folder stands in its place; move it away.")
    return Trouble(f"{path} was not saved ({_reason(error)}); look at the disk, nothing is gone.")


def _reason(error: OSError) -> str:
    return error.strerror or type(error).__name__
