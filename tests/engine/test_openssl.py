"""OpenSSL is left out where Python has all hashes itself, and what would use it still works."""

from __future__ import annotations

import hashlib
import subprocess
import sys
from types import SimpleNamespace

import pytest

from onecrew.engine import openssl

# SHA-256 of "abc": FIPS 180-4's example, as NIST's "SHA256" sheet gives it. HMAC: RFC 4231, test case 2. Both
# from memory, and the same with OpenSSL.
SCRIPT = """
from onecrew.engine.openssl import leave_out_openssl
leave_out_openssl()
import asyncio, hashlib, hmac, secrets, sys
print(sorted(name for name in ("_hashlib", "_ssl", "ssl") if sys.modules.get(name) is not None))
print(hashlib.sha256(b"abc").hexdigest()[:16])
print(hmac.new(b"Jefe", b"what do ya want for nothing?", hashlib.sha256).hexdigest()[:16])
print(hmac.compare_digest(secrets.token_hex(), secrets.token_hex()))
"""


def test_without_it_hashes_are_the_same_and_nothing_is_said() -> None:
    done = subprocess.run(
        [sys.executable, "-c", SCRIPT], capture_output=True, text=True, timeout=60, check=True
    )
    assert done.stdout.splitlines() == ["[]", "ba7816bf8f01cfea", "5bdcc146bf60754e", "False"]
    assert done.stderr == ""  # hashlib logs each hash that it cannot find


@pytest.mark.parametrize("missing", openssl.HASHES)
def test_it_stays_where_a_hash_would_be_missing(missing: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(openssl, "find_spec", lambda name: None if name == missing else name)
    python = SimpleNamespace(modules={})
    monkeypatch.setattr(openssl, "sys", python)
    openssl.leave_out_openssl()
    assert python.modules == {}


def test_all_of_hashlibs_own_are_asked_for() -> None:
    own = {hashlib.__get_builtin_constructor(name).__module__ for name in hashlib.algorithms_guaranteed}  # type: ignore[attr-defined]
    assert own == set(openssl.HASHES)
