"""Show: the rig, the scenes with their cues and camera notes, the outputs."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Literal, get_args

from pydantic import Field, field_validator

from onecrew.show.base import CctK, CueNumber, Duv, Model, Name, Seconds, UniverseKey, cue_order
from onecrew.show.destination import PORT_ADDRESS_MAX, PRIORITY_MAX, SLOTS, UNIVERSE_MAX
from onecrew.show.light import Look, Xy
from onecrew.show.photometry import Metered, Reflectance, Room, SizeM

Role = Literal["key", "fill", "edge", "ambience", "practical", "background", "effect"]
ROLES: tuple[Role, ...] = get_args(Role)
Mixing = Literal["most-light", "best-rendition"]
MIXINGS: tuple[Mixing, ...] = get_args(Mixing)
Curve = Literal["linear", "ease", "stops"]
CURVES: tuple[Curve, ...] = get_args(Curve)
Universe = Annotated[int, Field(ge=1, le=UNIVERSE_MAX)]
Address = Annotated[int, Field(ge=1, le=SLOTS)]
ShortText = Annotated[str, Field(max_length=80)]
LongText = Annotated[str, Field(max_length=2000)]


class Place(Model):
    """Where something stands: metres from the room's lower left corner on the plan."""

    x_m: Annotated[float, Field(ge=-50, le=50)]
    y_m: Annotated[float, Field(ge=-50, le=50)]
    height_m: Annotated[float, Field(ge=0, le=20)] | None = None
    aim_deg: Annotated[float, Field(ge=0, le=360)] | None = None
    """Direction of the beam on the plan, clockwise from the top of the plan (+y)."""
    tilt_deg: Annotated[float, Field(ge=-90, le=90)] | None = None
    """Direction above the horizontal; −90 is straight down."""
    roll_deg: Annotated[float, Field(ge=-180, le=180)] | None = None
    """Turn about the beam; 90 stands a lying tube on end."""


class Modifier(Model):
    """What stands between lamp and subject; ``stops`` is the light it takes.

    One with a size is the source from then on: a diffuse face as large, at the lamp or ``distance_m`` before
    it, that gives the flux which ``stops`` leave. A reflector of a size sends it on towards the subject.
    """

    kind: Literal["diffusion", "softbox", "grid", "gel", "flag", "reflector", "snoot", "other"]
    stops: Annotated[float, Field(ge=0, le=15)] = 0.0
    width_m: SizeM | None = None
    height_m: SizeM | None = None
    distance_m: Annotated[float, Field(ge=0.0, le=20.0)] = 0.0
    """From the lamp to it, along the beam."""
    beam_deg: Annotated[float, Field(ge=2.0, lt=180.0)] | None = None
    """Beam angle that it leaves, as a grid or a snoot does; the light on the axis loses ``stops``."""
    note: ShortText = ""


class Reading(Model):
    """One calibration reading: what was asked of the fixture and what the meter said."""

    asked_cct_k: CctK
    asked_duv: Duv = 0.0
    measured_cct_k: CctK
    measured_duv: Duv
    light: Annotated[float, Field(gt=0.0)]
    """Illuminance read, in any unit, the same for all readings of a fixture."""


class EmitterReading(Model):
    """What a meter said of one emitter alone, the others at nothing."""

    emitter: Name
    level: Annotated[float, Field(gt=0.0, le=1.0)] = 1.0
    """What the channel that carries the level was told."""
    xy: Xy
    light: Annotated[float, Field(gt=0.0)]
    """Illuminance read, in any unit, the same for all emitters of a fixture."""

    @field_validator("xy")
    @classmethod
    def _of_a_light(cls, xy: Xy) -> Xy:
        if sum(xy) > 1.0:
            raise ValueError("x + y is above 1; give the chromaticity of a light that exists")
        return xy


NO_READINGS: Mapping[str, tuple[()]] = {"calibration": (), "emitter_readings": ()}
"""The fields of a fixture that was never read with a colour meter."""


class Patched(Model):
    """What is true of a fixture in every scene: profile + mode + universe + address, and how it is driven."""

    id: Name
    profile: Name
    mode: Name
    universe: Universe
    address: Address
    mixing: Mixing = "most-light"
    even: bool = False
    """Keep the same light at every white, so that a change of CCT does not change exposure."""
    sharing: bool = False
    """Segments take different steps, so that their mean is nearest to what is asked: it would show on a lamp
    that is in the picture."""
    meter: Metered | None = None
    pwm_hz: Annotated[float, Field(gt=0.0, le=1e7)] | None = None
    """Rate at which its dimming switches, where it is known otherwise than by its profile."""
    calibration: tuple[Reading, ...] = ()
    emitter_readings: tuple[EmitterReading, ...] = ()
    """Each emitter alone; ``calibration`` is what is left after these (``playback.measured``)."""


class Arrangement(Model):
    """What a fixture does in one scene, and where."""

    role: Role = "fill"
    modifiers: tuple[Modifier, ...] = ()
    place: Place | None = None
    note: LongText = ""


class Fixture(Arrangement, Patched):
    """One lamp of the rig as the open scene has it."""

    role: Role


class SetPiece(Model):
    """Something in the room that shapes light without a cable: negative fill, reflector, wall."""

    id: Name
    kind: ShortText
    place: Place | None = None
    """Of a flat thing its middle and where it faces; of furniture ``height_m`` is its top; of a subject the
    height of the face and where it looks."""
    width_m: SizeM | None = None
    height_m: SizeM | None = None
    """From its lower to its upper edge; furniture without it stands on the floor."""
    depth_m: SizeM | None = None
    reflectance: Reflectance | None = None
    """How much of the light it gets it sends back: dark, mid, white or a share 0–1."""
    note: LongText = ""


class Rig(Model):
    """The fixtures and the set pieces of the open scene."""

    fixtures: tuple[Fixture, ...] = ()
    set_pieces: tuple[SetPiece, ...] = ()


class SacnUniverse(Model):
    """Where one universe goes: ``to`` empty means multicast, else unicast addresses, maybe with a port."""

    to: tuple[str, ...] = ()
    interface: str | None = None
    """Address of the interface that multicast leaves by; None lets the system choose."""


class Sacn(Model):
    priority: Annotated[int, Field(ge=0, le=PRIORITY_MAX)] = 100
    source_name: Annotated[str, Field(max_length=60)] | None = None
    """None: 'onecrew' and the show's name."""
    steady: bool = False
    """Send every frame at the full rate even when nothing changes."""
    wifi: bool = False
    """Repeat changes for half a second, unchanged light ten times a second: for lossy networks."""
    sync_universe: Universe | None = None
    """Synchronise all universes of the show by E1.31 sync packets on this universe."""
    universes: dict[UniverseKey, SacnUniverse] = Field(default_factory=dict)
    """By universe number; a patched universe that is not listed goes out by multicast."""


class ArtnetUniverse(Model):
    to: Annotated[tuple[str, ...], Field(min_length=1)]
    port_address: Annotated[int, Field(ge=0, le=PORT_ADDRESS_MAX)] | None = None
    """Art-Net port-address; None means universe − 1."""


class Artnet(Model):
    sync: bool = False
    universes: dict[UniverseKey, ArtnetUniverse] = Field(default_factory=dict)


class Output(Model):
    sacn: Sacn = Sacn()
    artnet: Artnet | None = None


class Osc(Model):
    listen: str = "127.0.0.1:9001"
    allow: tuple[str, ...] = ()
    """Addresses that may send, and get reports, besides this machine."""
    feedback: Annotated[tuple[str, ...], Field(max_length=8)] = ()
    """``address:port`` of control surfaces that get reports without asking for them."""


class Page(Model):
    listen: str = "127.0.0.1:9080"
    trim: bool = False
    """A phone may move a lamp's light by parts of a stop."""


class Remote(Model):
    osc: Osc | None = None
    page: Page | None = None


class Camera(Model):
    iso: Annotated[int, Field(gt=0, le=1_000_000)] = 800
    shutter_s: Annotated[float, Field(gt=0, le=3600)] = 0.02
    fps: Annotated[float, Field(gt=0, le=1000)] = 25.0
    aperture: Annotated[float, Field(gt=0, le=64)] = 2.8
    white_balance_k: CctK = 5600.0
    t_stop: Annotated[float, Field(gt=0, le=64)] | None = None
    """Aperture by the light that passes; counts in place of ``aperture`` where it is known."""
    nd_stops: Annotated[float, Field(ge=0, le=30)] = 0.0
    """Neutral density before the lens, in stops."""
    shutter_deg: Annotated[float, Field(gt=0, le=360)] | None = None
    """Shutter angle; counts in place of ``shutter_s`` where it is given."""
    lens: ShortText = ""
    place: Place | None = None
    note: LongText = ""


class Fade(Model):
    in_s: Seconds = 2.0
    """Time of levels that rise."""
    out_s: Seconds = 2.0
    """Time of levels that fall; colour takes the longer of the two."""
    curve: Curve = "linear"


class PredictedRegion(Model):
    """How near one marked place comes."""

    name: ShortText
    stops: Annotated[float, Field(ge=-99.0, le=99.0)]
    """Luminance of the prediction against the reference."""
    delta_e: Annotated[float, Field(ge=0.0, le=999.0)]
    """ΔE2000."""


class Predicted(Model):
    """What a match predicted of a cue's look; it goes with that look."""

    id: Annotated[str, Field(min_length=1, max_length=32)]
    """Of the match in the log, where its pictures are."""
    reference: ShortText
    """Name of the reference picture."""
    exposure_stops: Annotated[float, Field(ge=-99.0, le=99.0)] = 0.0
    """By so much more the camera is to be exposed than for the stills."""
    delta_e: Annotated[float, Field(ge=0.0, le=999.0)] | None = None
    """Median ΔE2000 over the frame; None against another room."""
    regions: Annotated[tuple[PredictedRegion, ...], Field(max_length=60)] = ()


class Cue(Model):
    number: CueNumber
    name: ShortText = ""
    shortcut: Annotated[str, Field(min_length=1, max_length=1)] | None = None
    """The key that runs the cue on the Shoot screen."""
    fade: Fade = Fade()
    delay_s: Seconds = 0.0
    auto_follow_s: Seconds | None = None
    """Run the next cue by itself this long after this one was run."""
    flash_guard: bool = True
    note: LongText = ""
    look: Look = Field(default_factory=dict)
    predicted: Predicted | None = None
    """Of a look that a match found."""


SceneName = Annotated[str, Field(min_length=1, max_length=40)]
FIRST_SCENE = "Scene 1"


def in_order(cues: tuple[Cue, ...]) -> tuple[Cue, ...]:
    """Cues in the order of their numbers."""
    return tuple(sorted(cues, key=lambda cue: cue_order(cue.number)))


class Scene(Model):
    """One setup of the room over the rig's patch, and its cues."""

    name: SceneName = FIRST_SCENE
    arrangement: dict[Name, Arrangement] = Field(default_factory=dict)
    """By fixture: its role, place and modifiers here."""
    set_pieces: tuple[SetPiece, ...] = ()
    camera: Camera = Camera()
    room: Room = Room()
    cues: tuple[Cue, ...] = ()
    """In the order of their numbers; a number is unique in the whole show."""

    _in_order = field_validator("cues")(staticmethod(in_order))


class Show(Model):
    """A show with one of its scenes open; ``scenes.document_of`` is what is saved."""

    name: Annotated[str, Field(min_length=1, max_length=80)]
    scene: SceneName = FIRST_SCENE
    """The scene that is open: role and place of the fixtures, set pieces, camera and cues are its own."""
    scene_at: Annotated[int, Field(ge=0)] = 0
    """Its place among all scenes."""
    other_scenes: tuple[Scene, ...] = ()
    rig: Rig = Rig()
    output: Output = Output()
    remote: Remote = Remote()
    camera: Camera = Camera()
    room: Room = Room()
    cues: tuple[Cue, ...] = ()
    """In the order of their numbers, however they were given."""

    _in_order = field_validator("cues")(staticmethod(in_order))

    def fixture(self, fixture_id: str) -> Fixture | None:
        return next((fixture for fixture in self.rig.fixtures if fixture.id == fixture_id), None)

    def cue(self, number: str | None) -> Cue | None:
        return next((cue for cue in self.cues if cue.number == number), None)
