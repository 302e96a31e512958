"""Pairing: one-time codes that let a phone in, and the phones that were let in.

Two files, each written by one process alone and readable by the user alone. The engine writes the codes that
it gave out; the page writes the phones that it let in and the codes that they used. Neither holds a secret:
of codes and phones only digests are kept, so a copy of the files opens nothing.

Every code carries 79 bits of chance and lives ten minutes of the machine's present run (``clock``): a clock
on the wall that is set makes its life neither longer nor shorter. Until when a phone is let in is in Unix
seconds, since it outlives that run.
"""

from __future__ import annotations

import hashlib
import hmac
import json
import secrets
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from onecrew.clock import boot
from onecrew.errors import Trouble
from onecrew.show.disk import write_private

ALPHABET = "ABCDEFGHJKMNPQRSTUVWXYZ23456789"
"""Letters and digits that nobody takes for one another."""
CODE_LENGTH = 16
CODE_S = 600.0
CODES = 8
"""Codes that are good at the same time; one more ends the oldest."""
PHONES = 32
PHONE_S = 365.0 * 86400.0


class Codes:
    """The codes given out: the engine's side."""

    def __init__(self, path: Path) -> None:
        self.path = path

    def new(self, now: float) -> str:
        """A new code, good once and for ``CODE_S``; raises ``Trouble`` where it cannot be kept.

        ``now``: seconds since the machine was started.
        """
        content = _read(self.path)
        good = {key: until for key, until in _of_this_run(content, "codes").items() if until > now}
        code = "".join(secrets.choice(ALPHABET) for _ in range(CODE_LENGTH))
        good[_digest(code)] = now + CODE_S
        newest = dict(sorted(good.items(), key=lambda one: one[1])[-CODES:])
        _write(self.path, {"generation": _generation(content), "boot": boot(), "codes": newest})
        return code

    def forget(self) -> None:
        """Ends every code and lets no phone in that was let in before."""
        _write(self.path, {"generation": _generation(_read(self.path)) + 1, "codes": {}})


class Phones:
    """The phones let in: the page's side."""

    def __init__(self, path: Path, codes: Path) -> None:
        self.path = path
        self._codes = codes
        self._codes_seen: object = None
        self._generation = -1
        content = _read(path)
        self._kept_generation = _generation(content)
        self._phones = _times(content, "phones")
        """Until when each phone is let in, by the digest of its token."""
        self._used = _of_this_run(content, "used")
        """Codes that were used, and when they would have ended."""

    def claim(self, code: str, now: float, wall: float) -> str | None:
        """Lets a phone in for a code that is good: its token, or None where the code is not.

        A code is good once: it is on record as used before the phone gets its token. Raises ``Trouble`` where
        that cannot be kept. ``now``: seconds since the machine was started; ``wall``: Unix seconds.
        """
        self.follow()
        key = _digest(plain_code(code))
        until = _found(_of_this_run(_read(self._codes), "codes"), key)
        if until is None or not now < until <= now + CODE_S or key in self._used:
            return None
        token = secrets.token_urlsafe(32)
        used = {one: end for one, end in self._used.items() if end > now} | {key: until}
        phones = {one: end for one, end in self._phones.items() if end > wall}
        phones = dict(list(phones.items())[-(PHONES - 1) :]) | {_digest(token): wall + PHONE_S}
        content = {"generation": self._generation, "phones": phones, "boot": boot(), "used": used}
        _write(self.path, content, durable=True)
        self._kept_generation = self._generation
        self._phones, self._used = phones, used
        return token

    def knows(self, token: str, wall: float) -> bool:
        """Whether this token belongs to a phone that was let in and not forgotten."""
        self.follow()
        until = _found(self._phones, _digest(token))
        return until is not None and until > wall

    @property
    def count(self) -> int:
        self.follow()
        return len(self._phones)

    def follow(self) -> None:
        """Looks whether the engine has forgotten the phones since; cheap when nothing changed."""
        seen = _stamp(self._codes)
        if seen == self._codes_seen and self._generation >= 0:
            return
        self._codes_seen = seen
        self._generation = _generation(_read(self._codes))
        if self._generation != self._kept_generation:
            self._phones = {}
            self._kept_generation = self._generation


def plain_code(text: str) -> str:
    """A code as it was given out, however it was typed: lower case, with blanks and dashes.

    >>> plain_code(" abcd-efgh jkmn-pqrs")
    'ABCDEFGHJKMNPQRS'
    """
    return "".join(text.split()).replace("-", "").upper()


def shown_code(code: str) -> str:
    """A code in groups of four, for typing.

    >>> shown_code("ABCDEFGHJKMNPQRS")
    'ABCD-EFGH-JKMN-PQRS'
    """
    return "-".join(code[at : at + 4] for at in range(0, len(code), 4))


# ── Files ───────────────────────────────────────────────────────────────────────────────────────────


def _digest(secret: str) -> str:
    return hashlib.sha256(secret.encode("utf-8", "replace")).hexdigest()


def _found(known: Mapping[str, float], key: str) -> float | None:
    """The entry for a digest, compared in the same time whether it is there or not."""
    found = None
    for other, until in known.items():
        if hmac.compare_digest(other.encode(), key.encode()):
            found = until
    return found


def _read(path: Path) -> dict[str, Any]:
    """What a file holds; nothing where it is missing or makes no sense, which lets nobody in."""
    try:
        content = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError, RecursionError):
        return {}
    return content if isinstance(content, dict) else {}


def _times(content: Mapping[str, Any], name: str) -> dict[str, float]:
    entries = content.get(name)
    if not isinstance(entries, dict):
        return {}
    return {key: float(until) for key, until in entries.items() if isinstance(until, int | float)}


def _of_this_run(content: Mapping[str, Any], name: str) -> dict[str, float]:
    """Times by a clock that begins anew with the machine: none where it has been started since."""
    return _times(content, name) if content.get("boot") == boot() else {}


def _generation(content: Mapping[str, Any]) -> int:
    number = content.get("generation")
    return number if isinstance(number, int) and number >= 0 else 0


def _write(path: Path, content: Mapping[str, Any], *, durable: bool = False) -> None:
    """Puts the content in place whole. What the engine writes is not ``durable``: its frames cannot wait."""
    try:
        write_private(path, json.dumps(content), durable=durable)
    except OSError as error:
        raise Trouble(f"{path} cannot be written ({error.strerror}): no phone can be paired") from error


def _stamp(path: Path) -> object:
    try:
        status = path.stat()
    except OSError:
        return None
    return status.st_mtime_ns, status.st_size, status.st_ino
