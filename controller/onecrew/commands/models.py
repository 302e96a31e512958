"""Commands: one typed message for each thing a user can do.

Key, clicker, phone, command line and script all send these; the engine alone carries them out. Playback
commands change light, show commands change the document (and can be undone), engine commands end the house.
"""

from __future__ import annotations

from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from onecrew.show.base import CctK, CueNumber, Duv, Level, Model, Name, Seconds
from onecrew.show.light import Effect, Xy
from onecrew.show.show import Camera, Cue, Fixture, LongText, Output, Remote, SetPiece, ShortText

OnOff = bool | None
"""True, False, or None to toggle."""
Stops = Annotated[float, Field(ge=-15.0, le=15.0)]


# ── Playback ────────────────────────────────────────────────────────────────────────────────────────


class Go(Model):
    """Run the next cue."""

    kind: Literal["go"] = "go"


class Back(Model):
    """Run the cue before the current one."""

    kind: Literal["back"] = "back"


class Recall(Model):
    """Run any cue, at its own times or at ``fade_s``."""

    kind: Literal["recall"] = "recall"
    cue: CueNumber
    fade_s: Seconds | None = None


class Hold(Model):
    """Freeze every fade and effect, or release them."""

    kind: Literal["hold"] = "hold"
    on: OnOff = None


class Blackout(Model):
    """All lamps to black by a short fade, or back again."""

    kind: Literal["blackout"] = "blackout"
    on: OnOff = None


class Master(Model):
    """Scale every level."""

    kind: Literal["master"] = "master"
    level: Level


class Lock(Model):
    """Refuse every change of light but unlock and blackout."""

    kind: Literal["lock"] = "lock"
    on: OnOff = None


class SetLight(Model):
    """Change some lamps now. What is not named stays; relative fields nudge each lamp from where it is."""

    kind: Literal["set"] = "set"
    fixtures: Annotated[tuple[Name, ...], Field(min_length=1)]
    level: Level | None = None
    cct_k: CctK | None = None
    duv: Duv | None = None
    xy: Xy | None = None
    effect: Effect | Literal["none"] | None = None
    level_by: Annotated[float, Field(ge=-1.0, le=1.0)] | None = None
    stops_by: Stops | None = None
    mired_by: Annotated[float, Field(ge=-1000.0, le=1000.0)] | None = None
    duv_by: Annotated[float, Field(ge=-0.1, le=0.1)] | None = None
    fade_s: Seconds = 0.0

    @model_validator(mode="after")
    def _says_something(self) -> Self:
        changes = self.model_dump(exclude={"kind", "fixtures", "fade_s"}, exclude_none=True)
        if not changes:
            raise ValueError("nothing is set; say a level, a white, an xy or an effect")
        if self.xy is not None and {"cct_k", "duv", "mired_by", "duv_by"} & changes.keys():
            raise ValueError("both a white and an xy are set; take one of the two away")
        return self


class Revert(Model):
    """Drop unstored edits and return to the current cue's look."""

    kind: Literal["revert"] = "revert"
    fixtures: tuple[Name, ...] = ()
    """Empty: all."""


class Compare(Model):
    """Show the stored look of the current cue instead of the edited one, or come back."""

    kind: Literal["compare"] = "compare"
    on: OnOff = None


class Solo(Model):
    """Show the look with these lamps alone; empty ends it. Changes nothing stored."""

    kind: Literal["solo"] = "solo"
    fixtures: tuple[Name, ...] = ()


class Without(Model):
    """Show the look with these lamps taken away; empty ends it. Changes nothing stored."""

    kind: Literal["without"] = "without"
    fixtures: tuple[Name, ...] = ()


class Identify(Model):
    """Let these lamps pulse gently until released; empty releases all."""

    kind: Literal["identify"] = "identify"
    fixtures: tuple[Name, ...] = ()


class Countdown(Model):
    """Carry out a command after some seconds, visibly, cancellable."""

    kind: Literal["countdown"] = "countdown"
    seconds: Annotated[float, Field(ge=0.0, le=600.0)]
    command: CountdownTarget = Go()


class CancelCountdown(Model):
    """End the countdown; what it would have run is not run."""

    kind: Literal["cancel-countdown"] = "cancel-countdown"


class TakeStart(Model):
    """The camera rolls. With ``chain_from``, run that cue and its auto-follows from the start, repeatably."""

    kind: Literal["take-start"] = "take-start"
    setup: ShortText | None = None
    """None: stay in the present setup. A new setup numbers its takes from 1."""
    chain_from: CueNumber | None = None


class TakeEnd(Model):
    """The camera stops."""

    kind: Literal["take-end"] = "take-end"
    good: bool | None = None
    note: LongText = ""


# ── The show ────────────────────────────────────────────────────────────────────────────────────────


class Store(Model):
    """Store what is showing (edits included) as the look of this cue, new or existing."""

    kind: Literal["store"] = "store"
    cue: CueNumber | None = None
    """None: into the current cue."""
    name: ShortText | None = None


class PutCue(Model):
    """Add a cue, or replace the one with this number."""

    kind: Literal["put-cue"] = "put-cue"
    cue: Cue


class RemoveCue(Model):
    """Take a cue out of the show."""

    kind: Literal["remove-cue"] = "remove-cue"
    number: CueNumber


class PutFixture(Model):
    """Patch a fixture, or replace the one with this id."""

    kind: Literal["put-fixture"] = "put-fixture"
    fixture: Fixture


class RemoveFixture(Model):
    """Take a fixture out of the rig and out of every look."""

    kind: Literal["remove-fixture"] = "remove-fixture"
    id: Name


class PutSetPiece(Model):
    """Add a set piece, or replace the one with this id."""

    kind: Literal["put-set-piece"] = "put-set-piece"
    set_piece: SetPiece


class RemoveSetPiece(Model):
    """Take a set piece out of the room."""

    kind: Literal["remove-set-piece"] = "remove-set-piece"
    id: Name


class SetCamera(Model):
    """Change the camera notes; the white balance is what the swatches are seen through."""

    kind: Literal["set-camera"] = "set-camera"
    camera: Camera


class SetOutput(Model):
    """Change where the universes go, and how."""

    kind: Literal["set-output"] = "set-output"
    output: Output


class SetRemote(Model):
    """Change who may reach the engine by OSC and by phone."""

    kind: Literal["set-remote"] = "set-remote"
    remote: Remote


class Rename(Model):
    """Give the show another name."""

    kind: Literal["rename"] = "rename"
    name: Annotated[str, Field(min_length=1, max_length=80)]


class Undo(Model):
    """Take back the last change of the show."""

    kind: Literal["undo"] = "undo"


class Redo(Model):
    """Do again what was taken back."""

    kind: Literal["redo"] = "redo"


# ── The engine ──────────────────────────────────────────────────────────────────────────────────────


class Note(Model):
    """Write add a note to the log; with ``take``, onto the last take."""

    kind: Literal["note"] = "note"
    text: LongText
    take: bool = False


class TakeOver(Model):
    """Put a standby engine in control, so that it takes commands and receivers show its light; or not."""

    kind: Literal["takeover"] = "takeover"
    on: OnOff = True


class Stop(Model):
    """Fade to black and end the engine. Refused while the desk is locked or not saved, unless confirmed."""

    kind: Literal["stop"] = "stop"
    fade_s: Annotated[float, Field(ge=0.0, le=60.0)] = 1.0
    confirmed: bool = False


CountdownTarget = Annotated[
    Go | Back | Recall | Hold | Blackout | Lock | TakeStart | TakeEnd, Field(discriminator="kind")
]
PlaybackCommand = (
    Go | Back | Recall | Hold | Blackout | Master | Lock | SetLight | Revert | Compare | Solo | Without
    | Identify | Countdown | CancelCountdown | TakeStart | TakeEnd
)  # fmt: skip
ShowCommand = (
    Store | PutCue | RemoveCue | PutFixture | RemoveFixture | PutSetPiece | RemoveSetPiece | SetCamera
    | SetOutput | SetRemote | Rename | Undo | Redo
)  # fmt: skip
EngineCommand = Note | TakeOver | Stop
AnyCommand = PlaybackCommand | ShowCommand | EngineCommand

Countdown.model_rebuild()
