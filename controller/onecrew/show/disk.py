"""What saving asks of a disk, each a step that can fail or be the last one before a power cut."""

from __future__ import annotations

import contextlib
import errno
import os
import stat
from pathlib import Path

from onecrew.plain_files import plain_status


def write_private(path: Path, content: str, *, durable: bool = False) -> None:
    """Puts a small file in place whole, readable by the user alone; ``durable``: on the disk on return."""
    temporary = path.with_name(f"{path.name}.{os.getpid()}.tmp")
    descriptor = os.open(temporary, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
    with os.fdopen(descriptor, "w", encoding="utf-8") as file:
        file.write(content)
        if durable:
            file.flush()
            os.fsync(descriptor)
    temporary.replace(path)


class Disk:
    """Plain files. Every method is one step of a save; each raises OSError as the system does."""

    def read(self, path: Path, limit: int) -> bytes | None:
        """The first ``limit`` bytes of a plain file, None if there is none."""
        try:
            plain_status(path)  # a pipe would keep us waiting
            with path.open("rb") as file:
                return file.read(limit)
        except FileNotFoundError:
            return None

    def names(self, folder: Path) -> list[str]:
        """Names in a folder; none if there is no such folder."""
        try:
            return [entry.name for entry in folder.iterdir()]
        except FileNotFoundError:
            return []

    def make_folder(self, folder: Path) -> None:
        folder.mkdir(exist_ok=True)

    def remove(self, path: Path) -> None:
        path.unlink(missing_ok=True)

    def write(self, path: Path, content: bytes, like: Path | None = None) -> None:
        """A new file with this content, on the disk when this returns, with the permissions of ``like``.

        The file must not be there: nothing is followed and nothing overwritten. Where it finds no room, none
        is left.
        """
        descriptor = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0), 0o666)
        try:
            with os.fdopen(descriptor, "wb") as file:
                if like is not None and hasattr(os, "fchmod"):
                    with contextlib.suppress(OSError):
                        os.fchmod(descriptor, stat.S_IMODE(like.stat().st_mode))
                file.write(content)
                file.flush()
                os.fsync(descriptor)
        except OSError:
            with contextlib.suppress(OSError):
                path.unlink()
            raise

    def replace(self, source: Path, target: Path) -> None:
        """``source`` takes the name of ``target``, at once and whole."""
        source.replace(target)

    def sync_folder(self, folder: Path) -> None:
        """The names in a folder are on the disk when this returns, where the system can do that."""
        if not hasattr(os, "O_DIRECTORY"):
            return
        descriptor = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
        try:
            os.fsync(descriptor)
        except OSError as error:
            if error.errno not in (errno.EINVAL, errno.ENOTSUP):  # some network drives cannot
                raise
        finally:
            os.close(descriptor)
