"""Plain files, told apart from what has no end or keeps its reader waiting."""

from __future__ import annotations

import errno
import os
import stat
from pathlib import Path


def plain_status(file: Path | int) -> os.stat_result:
    """The status of a file, by its path or as it is open.

    Raises ``OSError``, with a reason for a sentence: for a folder, a device, a pipe, or as the system does.
    """
    found = os.fstat(file) if isinstance(file, int) else file.stat()
    if stat.S_ISDIR(found.st_mode):
        raise IsADirectoryError(errno.EISDIR, "it is a folder; name a file in it")
    if not stat.S_ISREG(found.st_mode):
        raise OSError(None, "it is not a plain file")
    return found
