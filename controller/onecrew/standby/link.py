"""Standby link: what a main engine and its standby say to each other, and how each knows the other. Pure.

TCP, one JSON object a line, UTF-8. The standby calls, the main engine answers:

=================  ==================================================================================
main → standby     ``{"feed": 1, "nonce": …}``
standby → main     ``{"standby": 1, "nonce": …, "proof": …}``
main → standby     ``{"proof": …}`` and from then on, signed:
main → standby     ``{"show": "text", "profiles": {…}}`` · ``{"playback": {…}}`` · ``{"tock": [t, now]}`` ·
                   ``{"end": true}``
standby → main     ``{"tick": t, "in_charge": false}``
=================  ==================================================================================

Both prove by HMAC-SHA-256 (RFC 2104) over both nonces that they hold the same secret, which never travels.
Every later line is signed: an HMAC over its direction, its place in the order and its text. Nobody can pose
as either side, change a line, leave one out, or play one again. The lines are not encrypted: who listens on
the network reads the show and what plays.
"""

from __future__ import annotations

import hashlib
import hmac
import secrets
from typing import Any

from onecrew.network.json_lines import unpack

VERSION = 1
HELLO_LIMIT = 1024
"""Longest line, bytes, before the other side is known, and of every line from a standby."""
FEED_LIMIT = 32 << 20
"""Longest line, bytes, from a main engine: the largest show, its text quoted once more."""
NONCE_BYTES = 32
TICK_S = 0.5
"""How often a standby asks for the time; the answers also tell it that the main engine lives."""
SILENCE_S = 2.5
"""Silence after which the other side counts as gone, as receivers count a source (E1.31-2018 §6.7.1)."""


class Authenticator:
    """One direction of a session: authenticators lines on one side, opens them on the other."""

    def __init__(self, key: bytes) -> None:
        self._key = key
        self._count = 0

    def sign(self, text: bytes) -> bytes:
        """A message, as JSON without a line break, as a signed line."""
        return self._mark(text).encode() + b" " + text + b"\n"

    def verify(self, line: bytes) -> dict[str, Any]:
        """The message of a signed line; raises ``ValueError`` where the signature does not fit."""
        mark, _, text = line.rstrip(b"\n").partition(b" ")
        if not hmac.compare_digest(mark, self._mark(text).encode()):
            raise ValueError("a line was not signed by the other side")
        return unpack(text)

    def _mark(self, text: bytes) -> str:
        self._count += 1
        return hmac.new(self._key, self._count.to_bytes(8, "big") + text, hashlib.sha256).hexdigest()


class Session:
    """What both sides derive from the secret and the two nonces."""

    def __init__(self, secret: bytes, main_nonce: bytes, standby_nonce: bytes) -> None:
        key = _derived(secret, b"onecrew standby 1" + main_nonce + standby_nonce)
        self.main_proof = _derived(key, b"main proof").hex()
        self.standby_proof = _derived(key, b"standby proof").hex()
        self._keys = {side: _derived(key, side.encode()) for side in ("main", "standby")}

    def authenticators(self, side: str) -> tuple[Authenticator, Authenticator]:
        """The authenticators of ``side`` ("main", "standby"): for what it says, and for what it hears."""
        other = "standby" if side == "main" else "main"
        return Authenticator(self._keys[side]), Authenticator(self._keys[other])


def nonce() -> bytes:
    return secrets.token_bytes(NONCE_BYTES)


def greeting(word: str, own_nonce: bytes, **more: str) -> dict[str, Any]:
    """The first message of a side: ``word`` is "feed" or "standby"."""
    return {word: VERSION, "nonce": own_nonce.hex(), **more}


def read_greeting(message: dict[str, Any], word: str) -> bytes:
    """The nonce of a greeting; raises ``ValueError`` with a sentence where it is none."""
    version = message.get(word)
    if not isinstance(version, int) or isinstance(version, bool):
        raise ValueError("the other side is no onecrew engine of this kind")
    if version != VERSION:
        raise ValueError(f"the other side speaks version {version}, this one {VERSION}: update the older one")
    text = message.get("nonce")
    try:
        given = bytes.fromhex(text) if isinstance(text, str) else b""
    except ValueError:
        given = b""
    if len(given) != NONCE_BYTES:
        raise ValueError(f"a greeting has a nonce of {NONCE_BYTES} bytes; this one has not")
    return given


def proves(message: dict[str, Any], proof: str) -> bool:
    """Whether a message carries the proof that is expected."""
    given = message.get("proof")
    return isinstance(given, str) and hmac.compare_digest(given.encode(), proof.encode())


def _derived(key: bytes, purpose: bytes) -> bytes:
    return hmac.new(key, purpose, hashlib.sha256).digest()
