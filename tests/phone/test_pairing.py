"""One-time codes and the phones that they let in; time is handed in."""

from __future__ import annotations

import json
import os
from pathlib import Path

import pytest

from onecrew.errors import Trouble
from onecrew.phone.pairing import (
    ALPHABET,
    CODE_LENGTH,
    CODE_S,
    CODES,
    PHONE_S,
    PHONES,
    Codes,
    Phones,
    shown_code,
)

NOW, WALL = 5_000.0, 1_700_000_000.0
"""Since the machine was started, and since 1970."""


@pytest.fixture
def codes(tmp_path: Path) -> Codes:
    return Codes(tmp_path / "codes")


@pytest.fixture
def phones(tmp_path: Path, codes: Codes) -> Phones:
    return Phones(tmp_path / "phones", codes.path)


def again(phones: Phones) -> Phones:
    """The phones as another process reads them."""
    return Phones(phones.path, phones._codes)


def test_a_code_lets_one_phone_in(codes: Codes, phones: Phones) -> None:
    token = phones.claim(codes.new(NOW), NOW + 1, WALL + 1)
    assert token is not None
    assert phones.knows(token, WALL + 2)
    assert not phones.knows(token[:-1] + "x", WALL + 2)
    assert not phones.knows("", WALL + 2)


def test_a_code_is_good_once(codes: Codes, phones: Phones) -> None:
    code = codes.new(NOW)
    assert phones.claim(code, NOW, WALL) is not None
    assert phones.claim(code, NOW, WALL) is None
    assert again(phones).claim(code, NOW, WALL) is None  # nor after a restart
    codes.new(NOW + 1)  # nor when the engine has written its file anew
    assert again(phones).claim(code, NOW + 2, WALL + 2) is None


def test_a_code_ends_by_itself(codes: Codes, phones: Phones) -> None:
    code = codes.new(NOW)
    assert phones.claim(code, NOW + CODE_S + 0.1, WALL + CODE_S + 0.1) is None
    assert phones.claim(code, NOW + CODE_S - 0.1, WALL + CODE_S - 0.1) is not None


@pytest.mark.parametrize("set_by", [-3600.0, 3600.0])
def test_a_clock_on_the_wall_that_is_set_changes_nothing_of_a_code(
    codes: Codes, phones: Phones, set_by: float
) -> None:
    late, early = codes.new(NOW), codes.new(NOW)
    assert phones.claim(late, NOW + CODE_S + 0.1, WALL + set_by) is None
    assert phones.claim(early, NOW + CODE_S - 0.1, WALL + set_by) is not None


def test_no_code_outlives_the_run_of_the_machine_that_it_was_given_out_in(
    codes: Codes, phones: Phones, monkeypatch: pytest.MonkeyPatch
) -> None:
    used, unused = codes.new(NOW), codes.new(NOW)
    token = phones.claim(used, NOW, WALL)
    monkeypatch.setattr("onecrew.phone.pairing.boot", lambda: "another run")
    for code in (used, unused):
        assert again(phones).claim(code, NOW, WALL) is None
    assert again(phones).knows(str(token), WALL)
    assert again(phones).claim(codes.new(NOW), NOW, WALL) is not None


def test_a_code_may_be_typed_by_hand(codes: Codes, phones: Phones) -> None:
    assert phones.claim(" " + shown_code(codes.new(NOW)).lower() + "\n", NOW, WALL) is not None


@pytest.mark.parametrize("wrong", ["", "A" * CODE_LENGTH, "\ud800", "x" * 100_000, "-" * 20])
def test_anything_else_lets_nobody_in(codes: Codes, phones: Phones, wrong: str) -> None:
    codes.new(NOW)
    assert phones.claim(wrong, NOW, WALL) is None
    assert phones.count == 0


def test_phones_stay_through_restarts_of_both_sides(codes: Codes, phones: Phones) -> None:
    token = phones.claim(codes.new(NOW), NOW, WALL)
    assert token is not None
    Codes(codes.path).new(NOW + 5)
    assert again(phones).knows(token, WALL + 10)
    assert not again(phones).knows(token, WALL + PHONE_S + 1)


def test_forgetting_ends_codes_and_phones_at_once(codes: Codes, phones: Phones) -> None:
    token = phones.claim(codes.new(NOW), NOW, WALL)
    waiting = codes.new(NOW)
    assert token is not None
    assert phones.knows(token, WALL)
    codes.forget()
    assert not phones.knows(token, WALL)
    assert phones.claim(waiting, NOW, WALL) is None
    assert not again(phones).knows(token, WALL)
    fresh = phones.claim(codes.new(NOW), NOW, WALL)
    assert fresh is not None
    assert again(phones).knows(fresh, WALL)
    assert not again(phones).knows(token, WALL)


def test_files_hold_no_secret_and_are_the_users_alone(codes: Codes, phones: Phones) -> None:
    code = codes.new(NOW)
    token = phones.claim(code, NOW, WALL)
    for path in (codes.path, phones.path):
        text = path.read_text()
        assert code not in text
        assert str(token) not in text
        assert path.stat().st_mode & 0o777 == 0o600
    # SHA-256 by Python's hashlib: what is kept is the digest of the whole secret.
    import hashlib

    assert hashlib.sha256(str(token).encode()).hexdigest() in json.loads(phones.path.read_text())["phones"]


def test_codes_and_phones_are_bounded(codes: Codes, phones: Phones) -> None:
    given = [codes.new(NOW + number) for number in range(CODES + 3)]
    assert [phones.claim(code, NOW + 60, WALL + 60) is not None for code in given] == [False] * 3 + [
        True
    ] * CODES
    tokens = [phones.claim(codes.new(NOW + 100 + n), NOW + 100 + n, WALL + 100 + n) for n in range(PHONES)]
    assert phones.count == PHONES
    assert all(phones.knows(str(token), WALL + 200) for token in tokens)
    assert len(json.loads(codes.path.read_text())["codes"]) == CODES


def test_a_code_is_as_hard_to_guess_as_its_length_says(codes: Codes) -> None:
    code = codes.new(NOW)
    assert len(code) == CODE_LENGTH
    assert set(code) <= set(ALPHABET)
    # NIST SP 800-63B §5.1.3.2 asks for 20 bits where tries are limited (from memory); this is far beyond.
    assert len(ALPHABET) ** CODE_LENGTH > 2**79
    assert codes.new(NOW) != code


@pytest.mark.parametrize(
    "content", ["", "{", "[]", '{"codes": 7}', '{"phones": {"a": "b"}, "generation": -1}', "\xff"]
)
def test_a_spoiled_file_lets_nobody_in(codes: Codes, phones: Phones, content: str) -> None:
    token = phones.claim(codes.new(NOW), NOW, WALL)
    phones.path.write_text(content, encoding="latin-1")
    assert not again(phones).knows(str(token), WALL)
    codes.path.write_text(content, encoding="latin-1")
    assert again(phones).claim("A" * CODE_LENGTH, NOW, WALL) is None
    assert codes.new(NOW)  # and the next code is good again
    assert again(phones).count == 0


def test_a_lost_file_of_codes_after_forgetting_lets_nobody_back_in(codes: Codes, phones: Phones) -> None:
    codes.forget()
    token = phones.claim(codes.new(NOW), NOW, WALL)
    codes.path.unlink()
    assert not again(phones).knows(str(token), WALL)


@pytest.mark.skipif(os.name != "posix", reason="folders cannot be made read-only this way on Windows")
def test_a_phone_that_cannot_be_kept_is_not_let_in(codes: Codes, tmp_path: Path) -> None:
    code = codes.new(NOW)
    phones = Phones(tmp_path / "missing" / "phones", codes.path)
    with pytest.raises(Trouble, match="cannot be written"):
        phones.claim(code, NOW, WALL)
    assert phones.count == 0
