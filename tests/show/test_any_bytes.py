"""Whatever bytes stand in a file: a show, or faults in sentences, never anything else."""

from __future__ import annotations

from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st

from onecrew.errors import DocumentFaults
from onecrew.shipped import shipped
from onecrew.show.json_reading import decode
from onecrew.show.load import parse_show
from onecrew.show.profiles import parse_profile
from tests.show.shows import PROFILES

SHOW = (Path(__file__).resolve().parents[2] / "examples" / "night-baker.json").read_bytes()
PROFILE = (shipped("profiles") / "panel-cct-tint.toml").read_bytes()

cuts = st.lists(st.tuples(st.floats(0, 1), st.integers(0, 30), st.binary(max_size=6)), min_size=1, max_size=4)
"""Where, how much is taken out, and what is put in its place."""


def spoilt(content: bytes, where: list[tuple[float, int, bytes]]) -> bytes:
    for share, taken, put in where:
        at = int(share * len(content))
        content = content[:at] + put + content[at + taken :]
    return content


@settings(max_examples=150, deadline=None, derandomize=True)
@given(cuts)
def test_a_spoilt_show_is_told_in_sentences(where: list[tuple[float, int, bytes]]) -> None:
    try:
        parse_show(decode(spoilt(SHOW, where), "show.json"), "show.json", PROFILES)
    except DocumentFaults as error:
        assert error.faults


@settings(max_examples=100, deadline=None, derandomize=True)
@given(cuts)
def test_a_spoilt_profile_is_told_in_sentences(where: list[tuple[float, int, bytes]]) -> None:
    try:
        parse_profile(decode(spoilt(PROFILE, where), "p.toml"), "panel", "p.toml")
    except DocumentFaults as error:
        assert error.faults


@settings(max_examples=150, deadline=None, derandomize=True)
@given(st.binary(max_size=200))
def test_noise_is_told_in_sentences(content: bytes) -> None:
    for parse in (
        lambda text: parse_show(text, "x", PROFILES),
        lambda text: parse_profile(text, "x", "x"),
    ):
        try:
            parse(decode(content, "x"))
        except DocumentFaults as error:
            assert error.faults


def test_a_show_cut_off_anywhere_is_told() -> None:
    text = SHOW.decode()
    for end in range(0, len(text) - 2, 97):
        try:
            parse_show(decode(text[:end].encode(), "show.json"), "show.json", PROFILES)
        except DocumentFaults as error:
            assert len(error.faults) == 1
        else:
            raise AssertionError(f"the first {end} characters were taken for a show")
