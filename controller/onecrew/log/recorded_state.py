"""Recorded state: the light at one moment, as it was sent. What a take begins with and a sheet shows."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import Field, ValidationError

from onecrew.errors import Trouble
from onecrew.show.base import Model
from onecrew.show.faults import plain_faults
from onecrew.show.json_reading import decode, read_bytes
from onecrew.show.light import Light, Look, White
from onecrew.show.photometry import Room
from onecrew.show.show import Camera, Fixture, Predicted, SetPiece

FORMAT = "onecrew-sheet"
Share = Annotated[float, Field(ge=0.0, le=1.0)]
Slot = Annotated[int, Field(ge=0, le=255)]


class Sent(Model):
    """What one lamp was told and gave."""

    level: Share
    output: Share
    """Fraction of the full light of its colour, through its dimming law."""
    xy: tuple[float, float]
    """CIE 1931 chromaticity that it reached."""
    white: White | None = None
    """The same as a white, where it is one."""
    off_by: Annotated[float, Field(ge=0.0)] = 0.0
    """Δu′v′ from the colour asked for."""
    slots: tuple[Slot, ...]
    swatch: Annotated[str, Field(pattern=r"^#[0-9a-f]{6}$")]
    """As the camera saw it at its white balance."""
    notes: tuple[str, ...] = ()


class Lamp(Model):
    """One lamp: what it is and where it stands, what was asked of it, what was sent."""

    fixture: Fixture
    light: Light
    """As a document says it: level with master, blackout, solo and without; the effect as an effect."""
    sent: Sent


class Block(Model):
    """One channel of a mode: what it does in words, and the slots it takes."""

    does: str
    slots: Annotated[int, Field(ge=1, le=512)] = 1


class Kind(Model):
    """A profile in one mode."""

    name: str
    channels: tuple[Block, ...] = ()
    segments: Annotated[int, Field(ge=1, le=512)] = 1
    gamut: tuple[tuple[float, float], ...] = ()
    """Outline of what it can give, CIE 1976 u′v′; a line where that is all."""


class CueThen(Model):
    """The cue that was running, and what its note said."""

    number: str
    name: str = ""
    note: str = ""
    predicted: Predicted | None = None
    """Where its look was found by a match."""


class FadeThen(Model):
    progress: Share
    left_s: Annotated[float, Field(ge=0.0)]


class TakeThen(Model):
    setup: str
    number: int
    clip: str = ""
    """Name of the camera's clip; empty where nobody gave it."""
    good: bool | None = None
    notes: tuple[str, ...] = ()
    length_s: float | None = None


class Happened(Model):
    """Something that happened after the moment: seconds into the take, and what in words."""

    after_s: float
    kind: str
    text: str


class RecordedState(Model):
    """The whole state. A cue that is looked up in the show has no time: ``at`` is None then."""

    format: Literal["onecrew-sheet"] = "onecrew-sheet"
    version: Literal[1] = 1
    show: str
    scene: str = ""
    """The scene that was open; empty where the show has but one."""
    at: str | None = None
    """ISO 8601, UTC."""
    local: str = "+00:00"
    """Offset of the clock on the wall."""
    cue: CueThen | None = None
    edited: tuple[str, ...] = ()
    """Lamps whose light was changed by hand and differs from the cue's."""
    fade: FadeThen | None = None
    master: Share = 1.0
    blackout: bool = False
    held: bool = False
    locked: bool = False
    comparing: bool = False
    solo: tuple[str, ...] = ()
    without: tuple[str, ...] = ()
    identify: tuple[str, ...] = ()
    take: TakeThen | None = None
    lamps: tuple[Lamp, ...] = ()
    set_pieces: tuple[SetPiece, ...] = ()
    camera: Camera = Camera()
    room: Room = Room()
    kinds: dict[str, Kind] = Field(default_factory=dict)
    """By ``kind_of``."""
    events: tuple[Happened, ...] = ()
    """What happened during the take."""

    @property
    def look(self) -> Look:
        """The light of every lamp that gave any."""
        return {lamp.fixture.id: lamp.light for lamp in self.lamps if lamp.light.level > 0.0}

    @property
    def heading(self) -> str:
        """The show, and the scene where it has several."""
        return f"{self.show}: {self.scene}" if self.scene else self.show

    @property
    def title(self) -> str:
        """What it is a moment of, in words."""
        cue = "no cue" if self.cue is None else f"cue {self.cue.number} {self.cue.name}".rstrip()
        return cue if self.take is None else f"take {self.take.number} of setup {self.take.setup}, {cue}"


def kind_of(fixture: Fixture) -> str:
    """How a moment names the kind of a fixture: profile/mode."""
    return f"{fixture.profile}/{fixture.mode}"


def dump_recorded_state(recorded: RecordedState) -> str:
    """The moment as the text of a sheet's JSON file."""
    content = {"format": recorded.format, "version": recorded.version, **recorded.model_dump(
        mode="json", exclude_defaults=True, exclude={"format", "version"}
    )}  # fmt: skip
    return json.dumps(content, ensure_ascii=False, indent=1, allow_nan=False) + "\n"


def load_recorded_state(path: Path) -> RecordedState:
    """The moment in a sheet's JSON file; raises ``Trouble`` with a sentence where there is none in it."""
    text = decode(read_bytes(path), str(path))
    try:
        content = json.loads(text)
    except (ValueError, RecursionError):
        raise Trouble(f"{path} is not JSON; name a sheet that was written with --to FILE.json") from None
    return parse_recorded_state(content, str(path))


def parse_recorded_state(content: Any, source: str) -> RecordedState:
    """The moment in plain data; raises ``Trouble`` with a sentence where there is none in it."""
    if not isinstance(content, dict) or content.get("format") != FORMAT:
        raise Trouble(f"{source} is not a look sheet; name a sheet that was written with --to FILE.json")
    if content.get("version") != 1:
        raise Trouble(f"{source} is a sheet of a version that this onecrew does not know")
    try:
        return RecordedState.model_validate(content)
    except ValidationError as error:
        fault = plain_faults(error, RecordedState.model_json_schema())[0]
        raise Trouble(f"{source} cannot be used: {fault}") from None
