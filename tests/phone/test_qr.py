"""The QR code in the terminal, read back by a library that reads QR codes for a living (zxing-cpp)."""

from __future__ import annotations

import re

import numpy as np
import pytest
import zxingcpp

from onecrew.phone.qr import lines, painted

URLS = [
    "http://127.0.0.1:9080/#ABCDEFGHJKMNPQRS",
    "http://192.168.100.100:65535/#23456789ABCDEFGH",
    "http://[fd12:3456:789a:bcde:f012:3456:789a:bcde]:9080/#ZZZZZZZZZZZZZZZZ",
]
UPPER = {"█": (255, 255), "▀": (255, 0), "▄": (0, 255), " ": (0, 0)}
"""How light the upper and the lower half of a character are, on a dark terminal."""
PIXELS = 6


def seen(drawn: list[str]) -> str:
    """What a camera reads off a dark terminal that shows these lines."""
    rows = []
    for line in drawn:
        halves = np.array([UPPER[character] for character in line], dtype=np.uint8)
        rows += [halves[:, 0], halves[:, 1]]
    screen = np.pad(np.array(rows), 8)  # the terminal around it is dark
    picture = np.ascontiguousarray(screen.repeat(PIXELS, axis=0).repeat(PIXELS, axis=1))
    (found,) = zxingcpp.read_barcodes(picture)
    return str(found.text)


@pytest.mark.parametrize("url", URLS)
def test_a_camera_reads_it_off_the_screen(url: str) -> None:
    assert seen(lines(url)) == url


def test_it_fits_a_small_terminal() -> None:
    drawn = lines(URLS[1])
    assert len(drawn) <= 22
    assert {len(line) for line in drawn} == {len(drawn[0])}
    assert len(drawn[0]) <= 80


def test_painted_it_brings_its_own_colours() -> None:
    # ECMA-48 §8.3.117: 40 is a black background, 0 the default; 97, bright white, is common practice.
    for plain, line in zip(lines(URLS[0]), painted(URLS[0]), strict=True):
        assert re.fullmatch(r"\x1b\[40;97m(.*)\x1b\[0m", line)
        assert plain in line
