"""Every command by its name: see the families for what they are."""

from __future__ import annotations

from onecrew.commands.command import Command as AnyCommand
from onecrew.commands.command import EngineCommand, OnOff, PlaybackCommand, ShowCommand
from onecrew.commands.countdown import CancelCountdown, Countdown
from onecrew.commands.countdown import Counted as CountdownTarget
from onecrew.commands.cues import PutCue, RemoveCue, Store
from onecrew.commands.house import Redo, Rename, SettleFile, Stop, TakeOver, Undo
from onecrew.commands.light import Compare, Edits, Identify, Revert, SetLight, Solo, Without
from onecrew.commands.rig import PutFixture, PutSetPiece, RemoveFixture, RemoveSetPiece, SetCamera
from onecrew.commands.room import SetRoom
from onecrew.commands.running import Back, Blackout, Go, Hold, Lock, Master, Recall
from onecrew.commands.scenes import NewScene, OpenScene, RemoveScene, RenameFixture, RenameScene
from onecrew.commands.takes import Note, TakeEnd, TakeStart
from onecrew.commands.wires import SetOutput, SetRemote

__all__ = [
    "AnyCommand",
    "Back",
    "Blackout",
    "CancelCountdown",
    "Compare",
    "Countdown",
    "CountdownTarget",
    "Edits",
    "EngineCommand",
    "Go",
    "Hold",
    "Identify",
    "Lock",
    "Master",
    "NewScene",
    "Note",
    "OnOff",
    "OpenScene",
    "PlaybackCommand",
    "PutCue",
    "PutFixture",
    "PutSetPiece",
    "Recall",
    "Redo",
    "RemoveCue",
    "RemoveFixture",
    "RemoveScene",
    "RemoveSetPiece",
    "Rename",
    "RenameFixture",
    "RenameScene",
    "Revert",
    "SetCamera",
    "SetLight",
    "SetOutput",
    "SetRemote",
    "SetRoom",
    "SettleFile",
    "ShowCommand",
    "Solo",
    "Stop",
    "Store",
    "TakeEnd",
    "TakeOver",
    "TakeStart",
    "Undo",
    "Without",
]
