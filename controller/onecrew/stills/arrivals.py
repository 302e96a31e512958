"""Arrivals: the pictures that a camera, or what it is tied to, puts into a folder while a run goes on."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from onecrew.errors import OnecrewError, Trouble
from onecrew.stills.picture import taken_at
from onecrew.stills.regions import Region, cells
from onecrew.stills.stack import Plate, clip_in, read_plate
from onecrew.stills.transfer import curve_called

NO_PICTURES = (".json", ".txt", ".xmp")
MOST_TRIES = 20
"""So many looks a file may take until it can be read: it may still be on its way."""
CLIPPED_SHARE = 0.002
"""Share of a region's pixels that are clipped, from which the still is taken again with less light."""


@dataclass(frozen=True, slots=True)
class Arrival:
    """A picture that came."""

    name: str
    clipped: str
    """The marked region that is clipped in it, '' for none."""
    light: float | None = None
    """Of the card, linear; None where there is none to look at."""
    unreadable: str = ""
    """Why it cannot be read, in a sentence; '' for a picture that can."""


@dataclass(slots=True)
class Folder:
    """A folder that is looked into time and again; what lay there before does not count."""

    path: Path
    regions: Sequence[Region] = ()
    curve: str = "linear"
    """What the pictures are read by, for their light."""
    _known: set[str] = field(default_factory=set)
    _seen: dict[str, tuple[int, int, int]] = field(default_factory=dict)
    """By file: size, time of change, and how often it was looked at like that."""

    _counts: NDArray[Any] = field(default_factory=lambda: np.zeros(256, dtype=np.int64))
    """How often each code was seen: where they pile up, the camera clips."""

    def __post_init__(self) -> None:
        if not self.path.is_dir():
            raise Trouble(f"there is no folder {self.path}")
        self.pass_over()

    def pass_over(self) -> None:
        """Let what lies there now count for nothing, as what came before a light that is set."""
        self._known |= {file.stem for file in pictures_in(self.path)}

    def look(self) -> Arrival | None:
        """Return the next picture that came and is whole, or never will be, None while there is none.

        A raw file and a JPEG of one name are one still: the first of them counts.
        """
        for file in pictures_in(self.path):
            if file.stem in self._known:
                continue
            try:
                found = file.stat()
            except OSError:
                continue
            size, changed, looks = self._seen.get(file.name, (-1, 0, 0))
            looks = looks + 1 if (size, changed) == (found.st_size, found.st_mtime_ns) else 0
            self._seen[file.name] = (found.st_size, found.st_mtime_ns, looks)
            if looks == 0 or looks > MOST_TRIES:
                continue
            try:
                plate = read_plate(file, curve_called(self.curve))
                clipped, light = self.clipped(plate), self.light(plate)
            except OnecrewError as error:
                if looks == MOST_TRIES:
                    return Arrival(file.name, "", unreadable=str(error))
                continue
            self._known.add(file.stem)
            return Arrival(file.name, clipped, light)
        return None

    def fresh(self) -> list[Path]:
        """Return the pictures that have come and were not returned by ``look``, one for each name."""
        by_name = {
            file.stem: file for file in reversed(pictures_in(self.path)) if file.stem not in self._known
        }
        return sorted(by_name.values())

    def light(self, _: Plate, /) -> float | None:
        """Return the light of what a run is about, None where nothing follows from it."""
        return None

    def clipped(self, plate: Plate) -> str:
        """Return the marked region that is clipped in a picture, '' for none."""
        self._counts = self._counts + plate.histogram
        clip = clip_in(self._counts)
        for region in self.regions:
            here = cells(region.own, plate.size, plate.factor, region.name, plate.name)
            if float((plate.peak[here] >= clip).mean()) > CLIPPED_SHARE:
                return region.name
        return ""


def taken_s(path: Path) -> float:
    """Return when a picture was taken, by its metadata or else by its file, in seconds."""
    said = taken_at(path)
    if said is not None:
        return datetime.strptime(said, "%Y:%m:%d %H:%M:%S").timestamp()
    return path.stat().st_mtime


def pictures_in(folder: Path) -> list[Path]:
    """Return the files of a folder that may be pictures, by name."""
    return [
        path
        for path in sorted(folder.iterdir())
        if path.is_file() and not path.name.startswith(".") and path.suffix.lower() not in NO_PICTURES
    ]
