"""Plain words become commands, or a sentence: never anything else."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from onecrew.commands.camera import SetCamera
from onecrew.commands.command import Command
from onecrew.commands.context import Context
from onecrew.commands.countdown import CancelCountdown, Countdown
from onecrew.commands.cues import PutCue, RemoveCue, Store
from onecrew.commands.light import Compare, Identify, Revert, SetLight, Solo, Without
from onecrew.commands.network import SetOutput
from onecrew.commands.rig import PutFixture, RemoveFixture, SwapAddresses
from onecrew.commands.room import SetRoom
from onecrew.commands.running import Back, Blackout, Go, Hold, Lock, Master, Recall
from onecrew.commands.session import Redo, Rename, Stop, Undo
from onecrew.commands.set_pieces import PutSetPiece
from onecrew.commands.table import VERBS, parse_command, read_words, write_words
from onecrew.commands.takes import Note, TakeEnd, TakeStart
from onecrew.errors import DocumentFaults, Misuse
from onecrew.show.light import Effect, Light, White
from onecrew.show.profile import Profile
from onecrew.show.profiles import load_profiles
from onecrew.show.show import (
    ArtnetUniverse,
    Cue,
    Fade,
    Fixture,
    Output,
    Place,
    Reading,
    Rig,
    SacnUniverse,
    Show,
)

PANEL = Profile.model_validate(
    {
        "id": "panel",
        "name": "A panel of no maker",
        "emitters": {"white": {"xy": [0.33, 0.34]}},
        "modes": [
            {"name": "8-bit", "channels": [{"dimmer": True}, {"cct": {"low_k": 2800, "high_k": 6500}}]},
            {"name": "16-bit", "channels": [{"dimmer": True, "bits": 16}]},
        ],
    }
)
DIMMER = Profile.model_validate(
    {
        "id": "dimmer",
        "name": "A dimmed lamp",
        "emitters": {"white": {"xy": [0.45, 0.41]}},
        "modes": [{"name": "8-bit", "channels": [{"dimmer": True}]}],
    }
)


def lamp(name: str, role: str, address: int, profile: str = "dimmer", mode: str = "8-bit") -> Fixture:
    return Fixture.model_validate(
        {"id": name, "profile": profile, "mode": mode, "universe": 1, "address": address, "role": role}
    )


SHOW = Show(
    name="A room",
    rig=Rig(
        fixtures=(
            lamp("window", "key", 1, "panel", "16-bit"),
            lamp("lantern", "key", 3),
            lamp("edge", "practical", 4),
            lamp("bounce", "ambience", 5),
        )
    ),
    cues=(
        Cue(number="1", name="Before dawn", look={"window": Light(level=0.5, white=White(cct_k=3200))}),
        Cue(number="2.5", name="Ovens on", shortcut="5", fade=Fade(in_s=4, out_s=1)),
    ),
)
CONTEXT = Context(SHOW, {"panel": PANEL, "dimmer": DIMMER})


def said(text: str) -> Command:
    return read_words(text.split(), CONTEXT)


@pytest.mark.parametrize(
    ("text", "command"),
    [
        ("go", Go()),
        ("GO", Go()),
        ("back", Back()),
        ("recall 2.5", Recall(cue="2.5")),
        ("recall 1 in 5s", Recall(cue="1", fade_s=5.0)),
        ("recall 1 in 250ms", Recall(cue="1", fade_s=0.25)),
        ("recall ovens ON in 1m", Recall(cue="2.5", fade_s=60.0)),
        ("hold", Hold()),
        ("hold on", Hold(on=True)),
        ("blackout off", Blackout(on=False)),
        ("lock on", Lock(on=True)),
        ("compare", Compare()),
        ("master 80%", Master(level=0.8)),
        ("master full", Master(level=1.0)),
        (
            "set key level=22% cct=3400 tint=+0.003",
            SetLight(fixtures=("window", "lantern"), level=0.22, cct_k=3400, duv=0.003),
        ),
        ("set window 22% 3400K in 2s", SetLight(fixtures=("window",), level=0.22, cct_k=3400, fade_s=2.0)),
        ("set edge level=0.02", SetLight(fixtures=("edge",), level=0.02)),
        ("set ambience, edge level=2%", SetLight(fixtures=("bounce", "edge"), level=0.02)),
        ("set ambience level=0", SetLight(fixtures=("bounce",), level=0.0)),
        ("set all level=off", SetLight(fixtures=("window", "lantern", "edge", "bounce"), level=0.0)),
        ("set key,window mired=250", SetLight(fixtures=("window", "lantern"), cct_k=4000)),
        ("set all off", SetLight(fixtures=("window", "lantern", "edge", "bounce"), level=0.0)),
        ("set window full in 2s", SetLight(fixtures=("window",), level=1.0, fade_s=2)),
        ("set window full cto", SetLight(fixtures=("window",), mired_by=159)),
        ("set window xy=0.5,0.4", SetLight(fixtures=("window",), xy=(0.5, 0.4))),
        ("set window x .5 .4", SetLight(fixtures=("window",), xy=(0.5, 0.4))),
        ("set window hue=30,80%", SetLight(fixtures=("window",), hue=(30.0, 0.8))),
        ("set window 2% h 30 80", SetLight(fixtures=("window",), level=0.02, hue=(30.0, 0.8))),
        ("set window level+=5% tint-=0.002", SetLight(fixtures=("window",), level_by=0.05, duv_by=-0.002)),
        ("set window stops-=1 mired+=20", SetLight(fixtures=("window",), stops_by=-1.0, mired_by=20.0)),
        (
            "set window effect=flame depth=30% seed=7",
            SetLight(fixtures=("window",), effect=Effect(kind="flame", depth=0.3, seed=7)),
        ),
        (
            "set edge,ambience level=4% lead=ambience",
            SetLight(fixtures=("edge", "bounce"), level=0.04, lead="bounce"),
        ),
        ("set window effect=none", SetLight(fixtures=("window",), effect="none")),
        ("solo window", Solo(fixtures=("window",))),
        ("solo", Solo()),
        ("without off", Without()),
        ("identify edge", Identify(fixtures=("edge",))),
        ("revert", Revert()),
        ("countdown 10", Countdown(seconds=10)),
        ("countdown 3s recall 2.5 in 1s", Countdown(seconds=3, command=Recall(cue="2.5", fade_s=1))),
        ("countdown cancel", CancelCountdown()),
        ("take start", TakeStart()),
        ("take start 12A from before dawn", TakeStart(setup="12A", chain_from="1")),
        ("take start from black before dawn", TakeStart(chain_from="1", from_black=True)),
        ("take end good note the pause worked", TakeEnd(good=True, note="the pause worked")),
        ("take end", TakeEnd()),
        ("take note boom in frame", Note(text="boom in frame", take=True)),
        ("note kettle hums", Note(text="kettle hums")),
        ("set window 22% half cto", SetLight(fixtures=("window",), level=0.22, mired_by=109)),
        ("set window quarter minus green in 2s", SetLight(fixtures=("window",), duv_by=-0.0083, fade_s=2)),
        ("set window tungsten", SetLight(fixtures=("window",), cct_k=3200, duv=0)),
        ("store", Store()),
        ("store 3 Ovens on", Store(cue="3", name="Ovens on")),
        ("store Ovens on", Store(name="Ovens on")),
        ("replace", Store(replace=True)),
        ("replace 3 Ovens on", Store(cue="3", name="Ovens on", replace=True)),
        ("remove cue 2.5", RemoveCue(number="2.5")),
        ("unpatch edge", RemoveFixture(id="edge")),
        ("swap Edge window", SwapAddresses(id="edge", with_id="window")),
        ("rename The Night Baker", Rename(name="The Night Baker")),
        ("undo", Undo()),
        ("redo", Redo()),
        ("stop", Stop()),
        ("stop in 3s", Stop(fade_s=3.0)),
    ],
)  # fmt: skip
def test_words_become_the_command_they_say(text: str, command: Command) -> None:
    assert said(text) == command


def test_patch_adds_a_fixture_where_it_is_told() -> None:
    command = said("patch fridge panel/8-bit 2.17 role=background even=on sharing=on note=hums a little")
    assert command == PutFixture(
        fixture=Fixture(
            id="fridge", profile="panel", mode="8-bit", universe=2, address=17, role="background", even=True,
            sharing=True, note="hums a little",
        )
    )  # fmt: skip


def test_patch_finds_the_next_free_address_and_the_only_mode() -> None:
    command = said("patch fridge dimmer role=ambience")
    assert isinstance(command, PutFixture)
    assert (command.fixture.universe, command.fixture.address) == (1, 6)
    assert (command.fixture.mode, command.fixture.role) == ("8-bit", "ambience")


def test_patch_of_a_known_fixture_changes_what_is_said_and_keeps_the_rest() -> None:
    command = said("patch window 3.100")
    assert isinstance(command, PutFixture)
    window = SHOW.fixture("window")
    assert window is not None
    assert command.fixture == window.model_copy(update={"universe": 3, "address": 100})


def test_patch_with_a_kind_whose_file_has_faults_says_which(tmp_path: Path) -> None:
    (tmp_path / "mine.toml").write_text('name = "Mine"\n')
    with pytest.raises(DocumentFaults, match=r"mine\.toml: modes"):
        read_words(
            ["patch", "lamp", "mine/8-bit", "1.1", "role=key"], Context(SHOW, load_profiles([tmp_path]))
        )


def test_patch_with_another_kind_drops_what_a_meter_read_of_the_lamp_before() -> None:
    readings = (Reading(asked_cct_k=3200, measured_cct_k=3150, measured_duv=0.0, light=1),)
    window = SHOW.fixture("window")
    assert window is not None
    read = window.model_copy(update={"calibration": readings})
    show = SHOW.model_copy(update={"rig": Rig(fixtures=(read,))})
    for words, kept in (("patch window dimmer/8-bit", ()), ("patch window 3.100", readings)):
        command = read_words(words.split(), Context(show, {"panel": PANEL, "dimmer": DIMMER}))
        assert isinstance(command, PutFixture)
        assert command.fixture.calibration == kept


def test_cue_changes_what_is_said_and_keeps_the_look() -> None:
    command = said("cue 1 name=Long before dawn shortcut=1 fade-in=3s curve=ease auto-follow=10s")
    assert isinstance(command, PutCue)
    assert command.cue == SHOW.cues[0].model_copy(
        update={
            "name": "Long before dawn",
            "shortcut": "1",
            "fade": Fade(in_s=3.0, out_s=2.0, curve="ease"),
            "auto_follow_s": 10.0,
        }
    )


def test_output_sends_a_universe_to_addresses_or_by_multicast() -> None:
    to = said("output 1 to=192.0.2.7,192.0.2.8:15568")
    assert isinstance(to, SetOutput)
    assert to.output.sacn.universes == {"1": SacnUniverse(to=("192.0.2.7", "192.0.2.8:15568"))}
    many = said("output 1 multicast interface=192.0.2.1")
    assert isinstance(many, SetOutput)
    assert many.output.sacn.universes == {"1": SacnUniverse(interface="192.0.2.1")}
    every = said("output priority=120 steady=on")
    assert isinstance(every, SetOutput)
    assert (every.output.sacn.priority, every.output.sacn.steady) == (120, True)


def test_output_can_be_artnet_beside_or_instead_of_sacn() -> None:
    both = said("output 1 artnet to=192.0.2.9 port_address=0")
    assert isinstance(both, SetOutput) and both.output.artnet is not None
    assert both.output.artnet.universes == {"1": ArtnetUniverse(to=("192.0.2.9",), port_address=0)}
    show = SHOW.model_copy(update={"output": both.output})
    ended = read_words(["output", "1", "artnet", "off"], Context(show))
    assert ended == SetOutput(output=Output())
    listed = read_words(["output", "1", "to=192.0.2.7"], Context(show))
    assert isinstance(listed, SetOutput) and listed.output.artnet == both.output.artnet
    alone = read_words(
        ["output", "1", "sacn", "off"], Context(SHOW.model_copy(update={"output": listed.output}))
    )
    assert alone == both


def test_camera_reads_a_shutter_as_a_fraction() -> None:
    command = said("camera wb=4300K shutter=1/50 lens=40 mm")
    assert isinstance(command, SetCamera)
    assert (command.camera.white_balance_k, command.camera.shutter_s) == (4300.0, 0.02)
    assert (command.camera.lens, command.camera.iso) == ("40 mm", SHOW.camera.iso)


@pytest.mark.parametrize(
    ("text", "fragment"),
    [
        ("recal 2", "did you mean 'recall'?"),
        ("recall", "needs a cue"),
        ("recall 2 in soon", "'soon' is not a time"),
        ("recall before dusk", "did you mean 'Before dawn'?"),
        ("go 2", "stands alone"),
        ("hold maybe", "on, off or nothing"),
        ("master 80", "write 80% or full"),
        ("master 1", "write 1% or full"),
        ("master 120%", "0 to 100 %"),
        ("set wndow level=15%", "did you mean 'window'?"),
        ("set fill level=15%", "no fixture of the rig has the role fill"),
        ("set key", "what to set"),
        ("set level=15%", "needs lamps"),
        ("set key level=+5%", "level+=5%"),
        ("set key stops=1", "stops+=1"),
        ("set key cct+=200", "mired+=20"),
        ("set key brightness=4", "a light has no 'brightness'"),
        ("recall 2 in 12345678", "12345678 s is out of range: 0 to 3600 s"),
        ("copy 1 to x7", "'x7' is no cue number"),
        ("renumber 1 to 12345", "'12345' is no cue number: up to four digits"),
        ("set key off 4%", "said twice"),
        ("set key, off 4%", "no fixture or role 'off'"),
        ("set key levl=4%", "did you mean 'level'?"),
        ("set key cct=200", "1000 to 25000 K"),
        ("set key tint=0.3", "-0.05 to 0.05"),
        ("set key xy=0.7,0.7", "add up to less than 1"),
        ("set key xy=0.7", "two numbers"),
        ("set key level=1% level=2%", "said twice"),
        ("set key cct=2800 mired=250", "said twice"),
        ("set key cct=2800 xy=0.4,0.4", "remove all but one"),
        ("set key hue=30,80 xy=0.4,0.4", "remove all but one"),
        ("set key h 30", "as in: h 30 80"),
        ("set key h 400 10", "0 to 360"),
        ("set key x .7 .7", "add up to less than 1"),
        ("set key depth=4%", "effect=flame"),
        ("set all level=4% lead=all", "lead is one lamp"),
        ("set window level=4% lead=edge", "edge leads and is none of the lamps"),
        ("set all 3400K lead=edge", "leads by its level"),
        ("set key effect=fire", 'one of "television"'),
        ("countdown", "needs seconds"),
        ("countdown 10 master 5%", "cannot run after a countdown"),
        ("countdown 10 take note x", "cannot run after a countdown"),
        ("countdown 1 countdown 1", "cannot run after a countdown"),
        ("countdown 9999", "0 to 600 s"),
        ("take", "start, end, clip, record or note"),
        ("take end maybe", "good or bad"),
        ("note", "some words"),
        ("cue 9 shortcut=1", "it has 1, 2.5; to make it of the light that is showing: store 9"),
        ("cue 1", "what to change"),
        ("cue 1 colour=red", "a cue has no 'colour'"),
        ("patch", "needs an id"),
        ("patch lamp", "what kind"),
        ("patch lamp painel/8-bit 1.1 role=key", "did you mean 'panel'?"),
        ("patch lamp panel 1.1 role=key", "panel/8-bit or panel/16-bit"),
        ("patch lamp panel/8-bit 1.513 role=key", "1 to 512"),
        ("patch lamp panel/8-bit 1.100", "say the role"),
        ("patch lamp panel/8-bit 1.100 role=star", "there is no role 'star'"),
        ("patch Lämp panel/8-bit 1.100 role=key", "id"),
        ("unpatch nobody", "there is no fixture 'nobody'"),
        ("swap window nobody", "there is no fixture 'nobody'"),
        ("swap window", "'swap' takes the ids of two fixtures, as 'swap window van'"),
        ("output", "needs a universe"),
        ("output 1", "say where"),
        ("output 0 multicast", "1 to 63999"),
        ("output 1 artnet", "artnet to=ADDRESS"),
        ("output 1 artnet to=192.0.2.1 port_address=40000", "0 to 32767"),
        ("output 1 broadcast", "multicast"),
        ("output 1 to=192.0.2.1 prio=3", "an output has no 'prio'"),
        ("camera", "what to note"),
        ("camera tstop=x", "T-stop 'x' is not a number"),
        ("camera nd=31", "ND 31 is out of range: 0 to 30"),
        ("rename", "new name"),
        ("stop now", "stands alone"),
    ],
)
def test_misuse_is_a_sentence_that_says_what_would_be_right(text: str, fragment: str) -> None:
    with pytest.raises(Misuse) as caught:
        said(text)
    assert fragment in str(caught.value)
    assert "\n" not in str(caught.value)


def test_nothing_said_is_misuse() -> None:
    with pytest.raises(Misuse):
        read_words([])
    with pytest.raises(Misuse):
        read_words([" "])


def test_without_a_show_ids_are_taken_as_they_are() -> None:
    assert read_words(["solo", "window,van"]) == Solo(fixtures=("window", "van"))
    with pytest.raises(Misuse):
        read_words(["cue", "1", "shortcut=2"])


def test_an_empty_rig_says_how_to_patch() -> None:
    with pytest.raises(Misuse, match="patch ID PROFILE/MODE"):
        read_words(["set", "key", "level=5%"], Context(Show(name="Empty")))


VOCABULARY = st.sampled_from(
    [
        *(word for verb in VERBS for word in verb.split()),
        "in", "on", "off", "from", "good", "cancel", "all", "key", "window", "edge", "room", "tone",
        "panel/8-bit", "1", "2.5", "1.1", "5s", "80%", "level=15%", "level+=1%", "cct=2800", "xy=0.4,0.4",
        "effect=flame", "depth=5%", "role=key", "to=192.0.2.1", "name=a", "shortcut=1", "fade-in=2s", "=",
        "+=", "level=", "end", "start",
    ]
)  # fmt: skip


@settings(max_examples=300, deadline=None)
@given(st.lists(st.one_of(VOCABULARY, st.text(max_size=12)), max_size=6))
def test_any_words_give_a_command_or_a_sentence(words: list[str]) -> None:
    for context in (CONTEXT, Context()):
        try:
            command = read_words(words, context)
        except Misuse as misuse:
            assert str(misuse).strip()
        else:
            assert parse_command(command.model_dump()) == command


LAMPS = st.lists(st.sampled_from([f.id for f in SHOW.rig.fixtures]), min_size=1, unique=True).map(tuple)
PER_CENT = st.integers(0, 1000).map(lambda tenths: tenths / 1000)
TIMES = st.integers(0, 36000).map(lambda tenths: tenths / 10)
SWITCH = st.sampled_from([None, True, False])
SETS = st.one_of(
    st.builds(
        SetLight,
        fixtures=LAMPS,
        level=st.none() | PER_CENT,
        cct_k=st.integers(1000, 25000),
        duv=st.none() | st.integers(-500, 500).map(lambda n: n / 10000),
        fade_s=TIMES,
    ),
    st.builds(SetLight, fixtures=LAMPS, hue=st.just((212.5, 0.35)), level=st.none() | st.just(0.2)),
    st.builds(SetLight, fixtures=LAMPS, xy=st.just((0.31, 0.33)), stops_by=st.none() | st.integers(-15, 15)),
    st.builds(
        SetLight,
        fixtures=LAMPS,
        effect=st.just("none")
        | st.builds(
            Effect, kind=st.sampled_from(["flame", "failing-tube"]), depth=PER_CENT, seed=st.integers(0, 99)
        ),
    ),
)
LIGHT_COMMANDS = st.one_of(
    st.just(Go()),
    st.just(Back()),
    st.builds(Recall, cue=st.sampled_from(["1", "2.5"]), fade_s=st.none() | TIMES),
    st.builds(Hold, on=SWITCH),
    st.builds(Blackout, on=SWITCH),
    st.builds(Lock, on=SWITCH),
    st.builds(Compare, on=SWITCH),
    st.builds(Master, level=PER_CENT),
    st.builds(Solo, fixtures=LAMPS),
    st.builds(Without, fixtures=st.just(()) | LAMPS),
    st.builds(Revert, fixtures=LAMPS),
    st.builds(Countdown, seconds=st.integers(0, 600), command=st.just(Recall(cue="1"))),
    st.builds(TakeStart, setup=st.none() | st.just("12A"), chain_from=st.none() | st.just("2.5")),
    st.builds(TakeStart, chain_from=st.just("2.5"), from_black=st.booleans()),
    st.builds(TakeEnd, good=SWITCH, note=st.sampled_from(["", "the pause worked"])),
    st.builds(Stop, fade_s=st.integers(0, 60)),
    SETS,
)


@settings(max_examples=200, deadline=None)
@given(LIGHT_COMMANDS)
def test_words_of_a_command_say_the_same_command(command: Command) -> None:
    again = said(write_words(command))
    assert again.kind == command.kind
    for name, value in command.model_dump().items():
        other = getattr(again, name)
        if isinstance(value, float):
            assert other == pytest.approx(value, abs=1e-9)
        elif not isinstance(value, dict):
            assert other == value


def test_the_room_reads_its_size_and_surfaces() -> None:
    command = said("room 4x5'11\"x2.6 walls=dark left=60% mains=50")
    assert isinstance(command, SetRoom)
    room = command.room
    assert (room.width_m, round(room.depth_m or 0, 3), room.height_m) == (4.0, 1.803, 2.6)
    assert (room.walls, room.left, room.ceiling, room.mains_hz) == ("dark", 0.6, None, 50)


def test_places_are_read_with_tilt_and_the_camera_with_angle_and_density() -> None:
    lamp = said(f"patch {SHOW.rig.fixtures[0].id} at=0.6,3.4,-,135,-10")
    assert isinstance(lamp, PutFixture)
    assert lamp.fixture.place == Place(x_m=0.6, y_m=3.4, aim_deg=135.0, tilt_deg=-10.0)
    camera = said("camera shutter=172.8° nd=3 tstop=2.9 at=2,0.3")
    assert isinstance(camera, SetCamera)
    assert (camera.camera.shutter_deg, camera.camera.nd_stops, camera.camera.t_stop) == (172.8, 3.0, 2.9)
    piece = said("piece cloth negative fill at=1,2 size=1.2x1.8 reflects=dark")
    assert isinstance(piece, PutSetPiece)
    assert (piece.set_piece.width_m, piece.set_piece.height_m, piece.set_piece.reflectance) == (
        1.2,
        1.8,
        "dark",
    )


def test_modifiers_and_pulses_are_read_and_written_back() -> None:
    context = Context(SHOW)
    name = SHOW.rig.fixtures[0].id
    said = [
        "patch",
        name,
        "modifiers=softbox",
        "1",
        "0.6x2'",
        "ahead 0.3,",
        "grid",
        "0.5",
        "beam 40",
        "pwm=1.2kHz",
    ]
    command = read_words(said, context)
    assert isinstance(command, PutFixture)
    box, grid = command.fixture.modifiers
    assert (box.stops, box.width_m, box.height_m, box.distance_m) == (1.0, 0.6, pytest.approx(0.6096), 0.3)
    assert (grid.kind, grid.stops, grid.beam_deg, command.fixture.pwm_hz) == ("grid", 0.5, 40.0, 1200.0)
    written = write_words(command, SHOW)
    assert "modifiers=softbox 1 0.6x0.6096 ahead 0.3, grid 0.5 beam 40 pwm=1200" in written
    bare = read_words(["patch", name, "modifiers=none", "pwm=none"], context)
    assert isinstance(bare, PutFixture)
    assert (bare.fixture.modifiers, bare.fixture.pwm_hz) == ((), None)
    with pytest.raises(Misuse, match="'smoke' is no modifier"):
        read_words(["patch", name, "modifiers=smoke"], context)


@pytest.mark.parametrize("size", ["1.2x1.8", "1.2x-x0.7", "1.2x0.75x0.7", "none"])
def test_a_piece_keeps_the_sides_that_are_known(size: str) -> None:
    """Furniture may have a width and a depth alone: the depth is not read back as a height."""
    command = said(f"piece table furniture size={size} at=1,2")
    assert isinstance(command, PutSetPiece)
    assert f"size={size}" in write_words(command) or size == "none"
    assert said(write_words(command)) == command
