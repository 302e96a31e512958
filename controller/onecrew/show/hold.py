"""Hold: one engine at a time has a show, whatever folders it keeps its own files in.

An advisory lock (flock) on the file itself. The system lets go of it the moment its process is gone, so none
is ever left over; another name of the file, a hard link, leads to the same lock; a folder that may only be
read has it as well. A save puts a new file in the place, which is locked before it takes the name. Where an
editor puts one there, the lock follows a moment later; the folder of its versions, which an engine locks
too, covers that moment.
"""

from __future__ import annotations

import contextlib
import errno
import os
import sys
from collections.abc import Iterator
from pathlib import Path

from onecrew.errors import Trouble

if sys.platform != "win32":
    import fcntl

    LOCK = fcntl.LOCK_EX | fcntl.LOCK_NB

AGAIN = 20
"""Looks at a name that others give to one file after the other, at most."""
CANNOT = frozenset(
    code for name in ("ENOLCK", "EOPNOTSUPP", "ENOTSUP", "ENOSYS", "EINVAL", "EBADF", "EIO")
    if (code := getattr(errno, name, None))
)  # fmt: skip
"""What file systems answer that know no locks: those of a network, as a rule."""


class Hold:
    """The lock on one file, which goes on with its name when another file takes that."""

    def __init__(self, path: Path, show: Path | None = None) -> None:
        """Locks the file, where there is one; raises ``Trouble``. ``show`` is whose file it is, if not the
        show itself."""
        self.path = path
        self._show = show or path
        self.remark = ""
        """What there is to say where the folder of the file knows no locks."""
        self._descriptor: int | None = None
        self.follow()

    def follow(self) -> None:
        """Locks what has the name by now, where that is another file; raises ``Trouble``."""
        for _ in range(AGAIN):
            if self._is_there():
                return
            try:
                descriptor = self._locked(self.path)
            except OSError:
                return  # there is none yet, or whoever reads it says what is wrong there
            self._go_on_with(descriptor)
            if descriptor is None:
                return

    @contextlib.contextmanager
    def passed_on(self, fresh: Path) -> Iterator[None]:
        """While ``fresh`` takes the name: it is locked before it does, and the old lock goes after it has."""
        descriptor = self._locked(fresh)
        try:
            yield
        except BaseException:
            if descriptor is not None:
                os.close(descriptor)
            raise
        self._go_on_with(descriptor)

    def release(self) -> None:
        """Lets go of it."""
        self._go_on_with(None)

    def _go_on_with(self, descriptor: int | None) -> None:
        old, self._descriptor = self._descriptor, descriptor
        if old is not None:
            os.close(old)

    def _is_there(self) -> bool:
        """Whether the file that is locked still has the name."""
        if self._descriptor is None:
            return False
        try:
            return os.path.samestat(os.fstat(self._descriptor), self.path.stat())
        except OSError:
            return False

    def _locked(self, path: Path) -> int | None:
        """The file, open and locked, None where there are no locks; raises ``Trouble``, ``OSError``."""
        if sys.platform == "win32":
            return None
        # A file that is open to write to would keep its disk from being made read-only.
        descriptor = os.open(path, os.O_RDONLY | os.O_NONBLOCK)
        try:
            try:
                fcntl.flock(descriptor, LOCK)
            except OSError as error:
                if error.errno != errno.EBADF:
                    raise
                os.close(descriptor)
                descriptor = os.open(path, os.O_RDWR)  # as a network's lock wants it
                fcntl.flock(descriptor, LOCK)
        except OSError as error:
            holder = _holder(descriptor)
            os.close(descriptor)
            if error.errno in CANNOT:
                self.remark = (
                    f"the folder {self.path.parent} knows no locks, as some of a network do: make sure "
                    "that no other engine opens this show"
                )
                return None
            raise Trouble(
                f"{self._show} is held by an engine that was started with another XDG_RUNTIME_DIR or on "
                f"another machine{holder}: end that one, or go on with it where it was started"
            ) from None
        return descriptor


def _holder(descriptor: int) -> str:
    """' (process 123)', where the system lists who has a lock; empty elsewhere."""
    with contextlib.suppress(OSError, ValueError):
        inode = os.fstat(descriptor).st_ino
        for line in Path("/proc/locks").read_text(encoding="ascii").splitlines():
            # 1: FLOCK  ADVISORY  WRITE 4711 08:01:12345 0 EOF
            words = line.split()
            if words[1:2] == ["FLOCK"] and int(words[5].rpartition(":")[2]) == inode and int(words[4]) > 0:
                return f" (process {words[4]})"
    return ""
