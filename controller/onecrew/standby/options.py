"""Options of an engine in a pair: which part it has in it, and the secret that both know."""

from __future__ import annotations

import os
import secrets
import stat
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from onecrew.errors import Mistake, Trouble
from onecrew.plain_files import plain_status
from onecrew.show.destination import parse_destination
from onecrew.show.listener import parse_listener

PORT = 9056
"""Where a main engine is called if no port is named; ours, none is registered for this."""
SHORTEST_SECRET = 16


@dataclass(frozen=True, slots=True)
class Options:
    """What an engine was started as: one that feeds standbys at an address, or one that follows another."""

    secret: bytes
    feed: tuple[str, int] | None = None
    follow: tuple[str, int] | None = None


def read_options(options: Sequence[str]) -> Options | None:
    """The plan in an engine's options: ``--feed ADDRESS`` or ``--standby ADDRESS``, and ``--secret FILE``.

    None without either. Raises ``OnecrewError`` with a sentence where they make no sense.
    """
    given = dict(zip(options[::2], options[1::2], strict=False))
    feed, follow = given.get("--feed"), given.get("--standby")
    if feed is None and follow is None:
        return None
    try:
        listen = None if feed is None else parse_listener(feed)
        main = None if follow is None else parse_destination(follow, PORT)
    except ValueError as error:
        raise Mistake(str(error)) from None
    return Options(read_secret(Path(given["--secret"]), make=feed is not None), listen, main)


def read_secret(path: Path, *, make: bool) -> bytes:
    """The secret in a file; with ``make``, a new one in a new file if there is none.

    Raises ``Trouble`` where it cannot be read, may be read by others, or is too short to be one.
    """
    try:
        if make and not path.exists():
            path.touch(mode=0o600, exist_ok=False)
            path.write_text(secrets.token_urlsafe(32) + "\n", encoding="ascii")
        mode = plain_status(path).st_mode
        secret = path.read_bytes().strip()
    except OSError as error:
        raise Trouble(
            f"the secret in {path} cannot be read ({error.strerror}): copy the main engine's file there"
        ) from error
    if os.name == "posix" and stat.S_IMODE(mode) & 0o077:
        raise Trouble(f"the secret in {path} may be read by others of this computer: `chmod 600 {path}`")
    if len(secret) < SHORTEST_SECRET:
        raise Trouble(f"the secret in {path} is too short: delete the file, and the main engine makes one")
    return secret
