"""Every row is complete and true, so that no surface forgets a command."""

from __future__ import annotations

import ast
from importlib.resources import files
from typing import Any

import pytest

from onecrew.commands import (
    camera,
    cue_list,
    cues,
    forms,
    light,
    network,
    rig,
    room,
    running,
    scenes,
    session,
    set_pieces,
    takes,
)  # fmt: skip
from onecrew.commands.command import (
    Command,
    EngineCommand,
    Log,
    PlaybackCommand,
    Row,
    ShowCommand,
)
from onecrew.commands.context import Context
from onecrew.commands.countdown import CancelCountdown, Countdown
from onecrew.commands.stills import ShowStill
from onecrew.commands.table import ROWS, TABLE, VERBS, in_words, parse_command, read_words, write_words
from onecrew.engine.desk import Desk
from onecrew.errors import Mistake, Refused
from onecrew.osc.addresses import methods
from onecrew.phone.view import KINDS
from onecrew.shipped import shipped
from onecrew.show.load import load_show
from onecrew.show.photometry import Room
from onecrew.show.profiles import load_profiles
from onecrew.show.show import Artnet, ArtnetUniverse, Camera, Osc, Output, Page, Place, Remote, SetPiece

PROFILES = load_profiles()
_SHIPPED = load_show(shipped("examples") / "night-baker.json", PROFILES)
_PIECES = (SetPiece(id="cloth", kind="negative fill"),)
SHOW = _SHIPPED.model_copy(update={"rig": _SHIPPED.rig.model_copy(update={"set_pieces": _PIECES})})
LAMP = SHOW.rig.fixtures[0]
CUE = SHOW.cues[0]
EXAMPLES: tuple[Command, ...] = (
    running.Go(),
    running.Back(),
    running.Recall(cue=CUE.number, fade_s=2.5),
    running.Hold(on=True),
    running.Blackout(on=False),
    running.Master(level=0.8),
    running.Lock(),
    light.SetLight(fixtures=(LAMP.id,), level=0.22, cct_k=3400, duv=0.003, stops_by=-1, fade_s=2),
    light.Revert(),
    light.Edits(drop=True),
    light.Compare(on=True),
    light.Solo(fixtures=(LAMP.id,)),
    light.Without(),
    light.Identify(fixtures=(LAMP.id,)),
    light.RaiseSlots(universe=1, address=101, slots=(0, 128, 255)),
    ShowStill(fixture=LAMP.id, output=0.5, cct_k=3400, duv=0.003),
    Countdown(seconds=10, command=running.Recall(cue=CUE.number)),
    CancelCountdown(),
    takes.TakeStart(setup="12A", chain_from=CUE.number),
    takes.TakeEnd(good=True, note="the pause worked"),
    takes.TakeClip(name="A003 C012"),
    takes.TakeRecord(setup="A 2", number=3, verdict="good", clip="A003 C012", note="soft focus"),
    takes.Note(text="boom in frame", take=True),
    cues.Store(cue="7", name="Ovens on"),
    cues.PutCue(cue=CUE.model_copy(update={"shortcut": "9", "delay_s": 1.5})),
    cues.RemoveCue(number=CUE.number),
    cue_list.CopyCue(cue=CUE.number, to="77"),
    cue_list.RenumberCue(cue=CUE.number, to="78"),
    cue_list.CopyTimes(cue=CUE.number, to=(SHOW.cues[1].number,)),
    cue_list.Learn(),
    cue_list.SetInCues(cues=(SHOW.cues[1].number,), change=light.SetLight(fixtures=(LAMP.id,), level=0.22)),
    scenes.OpenScene(name="Delivery"),
    scenes.NewScene(name="Dawn", empty=True),
    scenes.RenameScene(name="Four o'clock"),
    scenes.RemoveScene(name="Delivery"),
    scenes.RenameFixture(id=LAMP.id, to="shutter"),
    rig.PutFixture(fixture=LAMP.model_copy(update={"address": 100, "even": not LAMP.even})),
    rig.RemoveFixture(id=LAMP.id),
    rig.SwapAddresses(id=LAMP.id, with_id=SHOW.rig.fixtures[-1].id),
    set_pieces.PutSetPiece(set_piece=SetPiece(id="flag", kind="black flag", place=Place(x_m=1.2, y_m=3.4))),
    set_pieces.RemoveSetPiece(id="cloth"),
    camera.SetCamera(camera=Camera(iso=1600, shutter_s=1 / 47.95, white_balance_k=4300, lens="normal")),
    room.SetRoom(room=Room(width_m=4.0, depth_m=5.2, height_m=2.6, walls="dark", ceiling=0.75, mains_hz=50)),
    network.SetOutput(
        output=Output(
            sacn=SHOW.output.sacn.model_copy(update={"universes": {}}),
            artnet=Artnet(universes={"1": ArtnetUniverse(to=("192.0.2.9",), port_address=0)}),
        )
    ),
    network.SetRemote(remote=Remote(osc=Osc(listen="0.0.0.0:9001", allow=("192.0.2.7",)), page=Page())),
    session.Rename(name="The Night Baker"),
    session.Undo(),
    session.Redo(),
    session.SettleFile(take=False),
    session.BringBack(number=12),
    session.TakeOver(on=False),
    session.Stop(fade_s=3),
)
ONE_LINE = tuple(one for one in EXAMPLES if not isinstance(one, network.SetOutput | camera.SetCamera))
"""Those whose words say all of them: of the outputs and the camera, what is otherwise is said."""


def models_in(family: str) -> set[str]:
    """The commands that a family defines."""
    source = (files("onecrew.commands") / f"{family}.py").read_text(encoding="utf-8")
    bases = {base.__name__ for base in (PlaybackCommand, ShowCommand, EngineCommand)}
    return {
        node.name
        for node in ast.parse(source).body
        if isinstance(node, ast.ClassDef) and bases & {ast.unparse(base) for base in node.bases}
    }


def test_every_model_has_its_row_and_every_row_an_example() -> None:
    defined = set().union(*map(models_in, _modules()))
    assert defined == {row.model.__name__ for row in ROWS}
    assert [type(example) for example in EXAMPLES] == [row.model for row in ROWS]
    assert len(TABLE) == len(ROWS), "two commands have one kind"


def _modules() -> list[str]:
    names = (path.name for path in files("onecrew.commands").iterdir())
    return [name.removesuffix(".py") for name in names if name.endswith(".py")]


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row.kind)
def test_a_row_is_complete(row: Row[Command]) -> None:
    assert row.does and row.does[0].isupper()
    assert row.forms and all(form and does for form, does in row.forms.items())
    assert {_verb(form) for form in row.forms} <= set(row.reads)
    assert isinstance(row.log, Log)
    assert row.countdown <= issubclass(row.model, PlaybackCommand)
    assert (row.edit is None) or issubclass(row.model, ShowCommand)
    runs = issubclass(row.model, PlaybackCommand) or row.log is Log.NOTE
    assert row.phone <= runs, "a phone runs the show and notes what was filmed, no more"


def _verb(form: str) -> str:
    words = form.split()
    two = " ".join(words[:2])
    return two if two in VERBS else words[0]


def test_no_two_rows_take_the_same_words() -> None:
    assert len(VERBS) == sum(len(row.reads) for row in ROWS)


@pytest.mark.parametrize("command", EXAMPLES, ids=lambda command: command.kind)
def test_a_command_is_read_from_json(command: Command) -> None:
    assert parse_command(command.model_dump(mode="json")) == command


@pytest.mark.parametrize(
    "raw",
    [
        {"kind": "master", "level": "0.5"},
        {"kind": "master", "level": True},
        {"kind": "set", "fixtures": ["street"], "level": "50 %"},
        {"kind": "set", "fixtures": ["street"], "cct_k": "3200"},
        {"kind": "set", "fixtures": ["street"], "xy": ["0.3", 0.3]},
        {"kind": "set", "fixtures": ["street"], "effect": {"kind": "flame", "seed": True}},
        {"kind": "set", "fixtures": "street", "level": 0.5},
        {"kind": "lock", "on": 1},
        {"kind": "lock", "on": "yes"},
        {"kind": "countdown", "seconds": "10", "command": {"kind": "go"}},
        {"kind": "recall", "cue": 2},
        {"kind": "rename", "name": "\ud800"},
        {"kind": "master", "level": float("nan")},
        {"kind": "master", "level": 10**400},
        {"kind": "set-room", "room": {"width_m": 4, "depth_m": 5, "height_m": 2.6, "walls": 10**400}},
    ],
    ids=lambda raw: str(raw)[:90],
)
def test_what_is_of_another_kind_is_not_taken_for_what_is_meant(raw: dict[str, Any]) -> None:
    with pytest.raises(Mistake, match=raw["kind"]):
        parse_command(raw)


@pytest.mark.parametrize("command", ONE_LINE, ids=lambda command: command.kind)
def test_a_command_is_read_from_its_words(command: Command) -> None:
    assert read_words(write_words(command, SHOW).split(), Context(SHOW, PROFILES)) == command


@pytest.mark.parametrize("command", EXAMPLES, ids=lambda command: command.kind)
def test_a_command_is_said_in_a_sentence(command: Command) -> None:
    said = in_words(command)
    assert said and said == said.strip() and "_" not in said and not said.endswith(".")


@pytest.mark.parametrize("command", EXAMPLES, ids=lambda command: command.kind)
def test_a_locked_desk_refuses_what_the_table_says(command: Command) -> None:
    if isinstance(command, EngineCommand | session.Undo | session.Redo):
        return  # the engine's own, and those that go by what they bring back
    desk = Desk(SHOW, PROFILES, 0.0)
    desk.carry_out(running.Go(), 0.0)
    desk.carry_out(running.Lock(on=True), 1.0)
    refused = ""
    try:
        desk.carry_out(command, 2.0)
    except Refused as refusal:
        refused = str(refusal)
    assert ("locked" in refused) == TABLE[command.kind].lock_refuses(command), refused


def test_help_reads_the_forms_that_the_rows_have() -> None:
    assert forms.forms() == {form: does for row in ROWS for form, does in row.forms.items()}


def test_osc_and_the_phone_have_what_the_table_says() -> None:
    assert {method.kind for method in methods()} - {""} == set(TABLE)
    assert {kind for kind, row in TABLE.items() if row.phone} == KINDS
