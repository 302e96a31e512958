"""Stack: the stills as linear light, all of one size, laid over one another, with what cannot be trusted
masked.

A pixel at the camera's actual clip code is unknown, and so is a channel at code 0: a colour that the camera's
primaries cannot hold is cut off there.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from onecrew.colour.arrays import FloatArray
from onecrew.errors import Mistake
from onecrew.stills.picture import Metadata, Picture, read_picture
from onecrew.stills.transfer import Curve

WORKING_WIDTH = 960
"""Pixels; wider pictures are averaged down to at most this, in linear light."""
_BINS = 256
NEAR_FULL = 0.985
"""Code value from which a pixel counts as clipped whatever the histogram looks like; 8-bit JPEG rings
there."""


@dataclass(frozen=True, slots=True, eq=False)
class Plate:
    """One still in working size."""

    name: str
    linear: FloatArray
    """(h, w, 3), linear light."""
    peak: NDArray[np.float32]
    """(h, w), the highest code value 0–1 of any channel and pixel in each cell."""
    cut: NDArray[np.bool_]
    """(h, w, 3), where the channel is cut off at code 0."""
    grain: FloatArray
    """(h, w, 3), how much light one step of code is there: of 8 bits, or of what the file has."""
    metadata: Metadata
    digest: bytes
    factor: int
    """Pixels of the file to one working pixel, each way."""
    histogram: NDArray[np.int64]

    @property
    def size(self) -> tuple[int, int]:
        """(width, height) in working pixels."""
        return self.linear.shape[1], self.linear.shape[0]


def read_plate(path: Path, curve: Curve) -> Plate:
    """Read a still and turn it into linear light; raises what ``read_picture`` does."""
    return plate(read_picture(path), curve)


def working_size(width: int, height: int) -> tuple[tuple[int, int], int]:
    """Return the (width, height) that a picture is reckoned in, and how many of its pixels are one there."""
    factor = max(1, -(-width // WORKING_WIDTH))
    return (width // factor, height // factor), factor


def plate(picture: Picture, curve: Curve) -> Plate:
    """Turn a picture into linear light in working size."""
    (width, height), factor = working_size(*picture.size)
    codes = picture.codes[: height * factor, : width * factor]
    if codes.dtype == np.float32:  # as many steps as matter
        codes = np.rint(np.clip(codes, 0.0, 1.0) * 65535.0).astype(np.uint16)
    full = 255 if codes.dtype == np.uint8 else 65535
    shares = np.arange(full + 1) / full
    table = shares if picture.linear else np.asarray(curve.decode(shares))
    steps = np.abs(np.gradient(table))
    middle, high, low, linear = codes, codes, codes, table[codes]
    if factor > 1:
        middle = np.rint(_over_cells(np.add, codes.astype(np.float32), factor) / factor**2).astype(
            codes.dtype
        )
        high, low = _over_cells(np.maximum, codes, factor), _over_cells(np.minimum, codes, factor)
        linear = _over_cells(np.add, linear, factor) / factor**2
    return Plate(
        name=picture.path.name,
        linear=linear,
        peak=(high.max(axis=-1) / full).astype(np.float32),
        cut=np.asarray(low == 0),
        grain=np.asarray(steps[middle] / factor),
        metadata=picture.metadata,
        digest=hashlib.sha256(np.ascontiguousarray(codes).tobytes()).digest(),
        factor=factor,
        histogram=np.bincount(codes.ravel(), minlength=full + 1).reshape(_BINS, -1).sum(axis=1),
    )


def _over_cells(reduce: np.ufunc, values: NDArray[Any], factor: int) -> NDArray[Any]:
    """A sum or an extreme over cells of factor × factor pixels; down first, which is many times faster."""
    height, width, channels = values.shape
    lines = reduce.reduce(values.reshape(height // factor, factor, width * channels), axis=1)
    whole = reduce.reduce(lines.reshape(height // factor, width // factor, factor, channels), axis=2)
    return np.asarray(whole)


def clip_code(plates: Sequence[Plate]) -> float:
    """Return the code value, 0–1, from which pixels of this camera are clipped.

    The light piles up there: a log curve clips below full code, at about 0.94 for some. Without a pile it is
    what lies just under full.
    """
    return clip_in(np.sum([plate.histogram for plate in plates], axis=0))


def clip_in(counts: NDArray[Any]) -> float:
    """Return the same from how often each of 256 codes was seen."""
    filled = np.flatnonzero(counts > 8)
    if not len(filled):
        return NEAR_FULL
    top = int(filled[-1])
    window = counts[max(top - 4, 0) : top + 1]
    peak = max(top - 4, 0) + int(window.argmax())
    below = counts[max(peak - 14, 0) : max(peak - 4, 1)]
    piled = counts[peak] > 40 and counts[peak] > 6.0 * max(float(np.median(below)), 1.0)
    if piled and peak > _BINS // 2:
        return min((peak - 1) / _BINS, NEAR_FULL)
    return NEAR_FULL


def alike(plates: Sequence[Plate]) -> None:
    """Raise ``Mistake`` where stills differ in size or one is twice the same as another."""
    seen: dict[bytes, str] = {}
    first = plates[0]
    for one in plates:
        if one.size != first.size or one.factor != first.factor:
            a, b = (f"{p.size[0] * p.factor} × {p.size[1] * p.factor}" for p in (one, first))
            turned = " (turned?)" if one.size == first.size[::-1] else ""
            raise Mistake(
                f"{one.name} has {a} pixels{turned} and {first.name} {b}; all stills need the same size"
            )
        if one.digest in seen:
            raise Mistake(
                f"{one.name} and {seen[one.digest]} are the same picture; take one of the two stills again"
            )
        seen[one.digest] = one.name
