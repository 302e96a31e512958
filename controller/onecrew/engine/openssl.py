"""OpenSSL: left out of the engine, whose link and feed use no TLS. Its libraries would take 5 MB of memory.

asyncio, hashlib and hmac load it where they can, and do without it where they cannot.
"""

from __future__ import annotations

import sys
from importlib.util import find_spec
from typing import Any

OPENSSL = ("_hashlib", "_ssl")
"""The modules of Python that bring in OpenSSL."""
HASHES = (
    "_blake2",
    "_md5",
    "_sha1",
    "_sha3",
    *(("_sha2",) if sys.version_info >= (3, 12) else ("_sha256", "_sha512")),
)
"""Python's own hashes, without which hashlib needs OpenSSL: some builds lack them (from memory)."""


def leave_out_openssl() -> None:
    """Makes every import after it do without OpenSSL, where Python has all hashes itself."""
    if all(map(find_spec, HASHES)):
        modules: dict[str, Any] = sys.modules
        for name in OPENSSL:
            modules.setdefault(name, None)  # the import system raises ImportError for these
