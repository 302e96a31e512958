"""The standby link: who knows the secret is known, and no line can be changed, left out or played again."""

from __future__ import annotations

import hashlib
import json
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from onecrew.shipped import shipped
from onecrew.show.profile import Profile
from onecrew.show.profiles import load_profiles
from onecrew.standby.link import (
    NONCE_BYTES,
    VERSION,
    Authenticator,
    Session,
    greeting,
    nonce,
    proves,
    read_greeting,
)

SECRET = b"sixteen characters or more"
MAIN, OTHER = b"m" * NONCE_BYTES, b"s" * NONCE_BYTES


def authenticators() -> tuple[Authenticator, Authenticator]:
    """What the main engine says with, and what the standby hears it with."""
    outgoing, _ = Session(SECRET, MAIN, OTHER).authenticators("main")
    _, incoming = Session(SECRET, MAIN, OTHER).authenticators("standby")
    return outgoing, incoming


def hmac_sha256(key: bytes, text: bytes) -> bytes:
    """RFC 2104 §2, written out; SHA-256 has blocks of 64 bytes."""
    padded = (hashlib.sha256(key).digest() if len(key) > 64 else key).ljust(64, b"\0")
    inner = hashlib.sha256(bytes(b ^ 0x36 for b in padded) + text).digest()
    return hashlib.sha256(bytes(b ^ 0x5C for b in padded) + inner).digest()


MESSAGES = st.dictionaries(st.text(max_size=8), st.integers() | st.text(max_size=20) | st.none(), max_size=4)


@settings(max_examples=50)
@given(st.lists(MESSAGES, max_size=5))
def test_what_is_signed_is_verified(messages: list[dict[str, Any]]) -> None:
    outgoing, incoming = authenticators()
    for message in messages:
        assert incoming.verify(outgoing.sign(json.dumps(message).encode())) == message


@settings(max_examples=50)
@given(at=st.integers(min_value=0, max_value=10_000), bit=st.integers(min_value=0, max_value=7))
def test_no_bit_of_a_line_can_be_changed(at: int, bit: int) -> None:
    outgoing, incoming = authenticators()
    line = bytearray(outgoing.sign(b'{"playback":{"cue":"1"}}')[:-1])
    line[at % len(line)] ^= 1 << bit
    with pytest.raises(ValueError):
        incoming.verify(bytes(line) + b"\n")


def test_no_line_can_be_left_out_changed_in_order_or_played_again() -> None:
    outgoing, incoming = authenticators()
    first, second, third = (outgoing.sign(b'{"n":%d}' % n) for n in range(3))
    assert incoming.verify(first) == {"n": 0}
    for wrong in (first, third):
        with pytest.raises(ValueError):
            after_one(first).verify(wrong)
    assert after_one(first).verify(second) == {"n": 1}


def after_one(first: bytes) -> Authenticator:
    _, incoming = authenticators()
    incoming.verify(first)
    return incoming


def test_a_line_cannot_be_sent_back_to_the_one_who_said_it() -> None:
    outgoing, _ = Session(SECRET, MAIN, OTHER).authenticators("main")
    _, incoming = Session(SECRET, MAIN, OTHER).authenticators("main")
    with pytest.raises(ValueError):
        incoming.verify(outgoing.sign(b"{}"))


def test_another_secret_or_another_session_opens_nothing() -> None:
    line = authenticators()[0].sign(b"{}")
    for session in (Session(b"another secret of some length", MAIN, OTHER), Session(SECRET, OTHER, MAIN)):
        with pytest.raises(ValueError):
            session.authenticators("standby")[1].verify(line)


def test_proofs_and_signatures_are_hmac_sha_256_over_both_nonces() -> None:
    key = hmac_sha256(SECRET, b"onecrew standby 1" + MAIN + OTHER)
    session = Session(SECRET, MAIN, OTHER)
    assert session.main_proof == hmac_sha256(key, b"main proof").hex()
    assert session.standby_proof == hmac_sha256(key, b"standby proof").hex()
    mark, text = session.authenticators("main")[0].sign(b"{}").split(b" ")
    assert mark.decode() == hmac_sha256(hmac_sha256(key, b"main"), (1).to_bytes(8, "big") + b"{}").hex()
    assert text == b"{}\n"


def test_a_proof_is_worth_nothing_to_the_other_side_nor_in_another_session() -> None:
    session = Session(SECRET, MAIN, OTHER)
    assert proves({"proof": session.standby_proof}, session.standby_proof)
    assert not proves({"proof": session.standby_proof}, session.main_proof)
    assert not proves({"proof": session.standby_proof}, Session(SECRET, b"n" * 32, OTHER).standby_proof)
    assert not proves({}, session.main_proof)
    assert not proves({"proof": 7}, session.main_proof)


def test_a_greeting_is_read_back_and_carries_no_secret() -> None:
    own = nonce()
    said = greeting("standby", own, proof=Session(SECRET, MAIN, own).standby_proof)
    assert read_greeting(said, "standby") == own
    assert SECRET.decode() not in str(said)
    assert SECRET.hex() not in str(said)
    assert nonce() != own


@pytest.mark.parametrize(
    ("message", "words"),
    [
        ({}, "no onecrew engine"),
        ({"feed": "1", "nonce": "00" * 32}, "no onecrew engine"),
        ({"feed": True, "nonce": "00" * 32}, "no onecrew engine"),
        ({"feed": VERSION + 1, "nonce": "00" * 32}, "update the older one"),
        ({"feed": VERSION}, "a nonce of 32 bytes"),
        ({"feed": VERSION, "nonce": "00" * 31}, "a nonce of 32 bytes"),
        ({"feed": VERSION, "nonce": "zz" * 32}, "a nonce of 32 bytes"),
        ({"feed": VERSION, "nonce": 7}, "a nonce of 32 bytes"),
    ],
)
def test_what_is_no_greeting_is_refused_with_a_sentence(message: dict[str, Any], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        read_greeting(message, "feed")


@pytest.mark.parametrize(
    "profile", load_profiles([shipped("profiles")]).values(), ids=lambda profile: profile.id
)
def test_every_profile_arrives_as_it_was_sent(profile: Profile) -> None:
    sent = json.loads(json.dumps(profile.model_dump(mode="json", exclude_none=True)))
    assert Profile.model_validate(sent) == profile
