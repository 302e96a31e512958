"""Regions: the parts of a picture that are compared. Rectangles marked on both pictures, or blocks of one's
own.

On the command line ``NAME=X,Y,W,H`` or ``NAME=X,Y,W,H:X,Y,W,H``: the place in one's own stills, then in the
reference where it lies elsewhere; pixels from the upper left, or fractions of the picture where none is
above 1.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from onecrew.colour.arrays import FloatArray
from onecrew.errors import Mistake, Misuse
from onecrew.stills.shotlist import json_of

BLOCK = 10
"""Working pixels, each way."""
MOST_REGIONS = 60
FACES = ("face", "skin", "cheek", "forehead")
"""Parts of a region's name that make it weigh double."""

Box = tuple[float, float, float, float]
"""x, y, width, height."""


@dataclass(frozen=True, slots=True)
class Region:
    """The same place in both pictures."""

    name: str
    own: Box
    reference: Box
    weight: float = 1.0


WHOLE = Region("picture", (0, 0, 1, 1), (0, 0, 1, 1))


def read_regions(path: Path) -> tuple[Region, ...]:
    """Read regions from JSON: a list of {name, own, reference, weight}, or {name: box} with box [x, y, w, h].

    ``own`` may be missing, then the place is the same in both. Raises ``Trouble`` and ``Mistake``.
    """
    return regions_of(json_of(path, "list regions, each with name, own and reference"), path.name)


def regions_of(document: Any, name: str) -> tuple[Region, ...]:
    """Return the regions of a JSON document."""
    if isinstance(document, Mapping) and "regions" in document:
        document = document["regions"]
    if isinstance(document, Mapping):
        entries = [
            {"name": key, **value} if isinstance(value, Mapping) else {"name": key, "box": value}
            for key, value in document.items()
        ]
    elif isinstance(document, Sequence) and not isinstance(document, str):
        entries = list(document)
    else:
        entries = []
    if not entries or len(entries) > MOST_REGIONS:
        raise Mistake(
            f"{name} lists {len(entries)} regions; give 1 to {MOST_REGIONS}, each with name and own"
        )
    return tuple(_region(entry, f"{name}, region {n}") for n, entry in enumerate(entries, 1))


def region_said(text: str) -> Region:
    """Return the region that an option of the command line says."""
    name, equals, places = text.partition("=")
    own, colon, reference = places.partition(":")
    if not equals or not name.strip():
        raise Mistake(f"'{text[:60]}' is no region; write NAME=X,Y,W,H, as in face=310,120,40,50")
    here = _box(own.split(","), name)
    there = _box(reference.split(","), name) if colon else here
    return Region(name.strip(), here, there, _weight(name, None))


def marked(file: Path | None, said: Sequence[str]) -> tuple[Region, ...]:
    """Return the regions of a file and of options of the command line; raises ``Misuse`` for a name twice."""
    regions = (*(() if file is None else read_regions(file)), *(region_said(text) for text in said))
    names = [region.name for region in regions]
    for name in names:
        if names.count(name) > 1:
            raise Misuse(f"two regions are called {name}; give each its own name")
    return regions


def _region(entry: Any, where: str) -> Region:
    if not isinstance(entry, Mapping):
        raise Mistake(f"{where} is no region; give it a name and own: [x, y, w, h]")
    name = str(entry.get("name", entry.get("id", where.rsplit(" ", 1)[-1]))).strip()
    own = _first(entry, ("own", "present", "stills", "still", "mine", "box", "rect", "here", "xywh"))
    reference = _first(entry, ("reference", "target", "ref", "there"))
    if own is None and {"x", "y", "w", "h"} <= entry.keys():
        own = [entry[key] for key in "xywh"]
    own = reference if own is None else own
    if own is None:
        raise Mistake(f"{where} ({name[:40]}) has no place; give it own: [x, y, w, h]")
    weight = entry.get("weight", 2.0 if entry.get("face") is True else None)
    here = _box(own, name)
    return Region(name, here, here if reference is None else _box(reference, name), _weight(name, weight))


def _first(entry: Mapping[str, Any], names: Sequence[str]) -> Any:
    return next((entry[name] for name in names if entry.get(name) is not None), None)


def _weight(name: str, weight: Any) -> float:
    if weight is None:
        return 2.0 if any(part in name.lower() for part in FACES) else 1.0
    if isinstance(weight, bool) or not isinstance(weight, int | float) or not 0.0 < weight <= 100.0:
        raise Mistake(f"region {name[:40]}: the weight is {str(weight)[:20]!r}; give a number from 0 to 100")
    return float(weight)


def _box(values: Any, name: str) -> Box:
    if isinstance(values, Mapping):
        values = [values.get(key, values.get(long)) for key, long in zip("xywh", _LONG, strict=True)]
    try:
        x, y, width, height = (float(value) for value in values)
    except (TypeError, ValueError):
        raise Mistake(f"region {name.strip()[:40]} is no rectangle; give x,y,width,height") from None
    if not (
        np.isfinite([x, y, width, height]).all() and width > 0.0 and height > 0.0 and x >= 0.0 and y >= 0.0
    ):
        raise Mistake(f"region {name.strip()[:40]} has no area in the picture; give x,y,width,height above 0")
    return x, y, width, height


_LONG = ("x", "y", "width", "height")


def cells(box: Box, size: tuple[int, int], factor: int, name: str, picture: str) -> tuple[slice, slice]:
    """Return (rows, columns) of a rectangle in working pixels; ``size`` is the working (width, height).

    Raises ``Mistake`` for one that lies outside the picture.
    """
    width, height = size
    scale = (width, height, width, height) if max(box) <= 1.0 else (1.0 / factor,) * 4
    x, y, w, h = (value * each for value, each in zip(box, scale, strict=True))
    left, top = round(x), round(y)
    right, bottom = min(max(round(x + w), left + 1), width), min(max(round(y + h), top + 1), height)
    if left >= width or top >= height:
        raise Mistake(
            f"region {name[:40]} lies outside {picture}, of {width * factor} × {height * factor} pixels"
        )
    return slice(top, bottom), slice(left, right)


def block_means(picture: NDArray[Any], valid: FloatArray | None = None) -> FloatArray:
    """Means over blocks of ``BLOCK`` pixels, (blocks, …) of (h, w, …), weighted by ``valid`` (h, w)."""
    if valid is None:
        return block_sums(picture) / BLOCK**2
    weights = valid.reshape(*valid.shape, *(1,) * (picture.ndim - 2))
    count = block_sums(valid).reshape(-1, *(1,) * (picture.ndim - 2))
    return np.asarray(block_sums(picture * weights) / np.maximum(count, 1e-9))


def block_sums(picture: NDArray[Any]) -> FloatArray:
    """Sums over blocks of ``BLOCK`` pixels, (blocks, …) of (h, w, …)."""
    rows, columns = picture.shape[0] // BLOCK, picture.shape[1] // BLOCK
    whole = picture[: rows * BLOCK, : columns * BLOCK]
    # Down first, over whole lines, then across: many times faster than both at once.
    lines = whole.reshape(rows, BLOCK, -1).sum(axis=1, dtype=np.float64)
    blocks = lines.reshape(rows * columns, BLOCK, *picture.shape[2:]).sum(axis=1)
    return np.asarray(blocks)
