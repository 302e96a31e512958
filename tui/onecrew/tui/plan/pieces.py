"""Set pieces on the plan: one is added in a line, changed in a form, deleted."""

from __future__ import annotations

from collections.abc import Callable

from onecrew.commands.command import Command
from onecrew.commands.context import Context
from onecrew.commands.set_pieces import PutSetPiece, piece_texts
from onecrew.commands.table import read_words
from onecrew.show.show import SetPiece, Show
from onecrew.tui.base import BaseScreen
from onecrew.tui.dialogs.ask import Ask
from onecrew.tui.dialogs.form import Form, following, gone
from onecrew.tui.plan.moving import Walls

KINDS = "Kinds: negative fill, reflector, bounce, wall, curtain, window, furniture, subject."
HINT = (
    f"{KINDS} A subject is drawn as a person. Size: width x height, of "
    "furniture with its depth, as 1.2x1.8 or 4'x-x2'. Reflects: dark, mid, white or 40%."
)


def ask_new(screen: BaseScreen, walls: Callable[[], Walls], added: Callable[[str], None]) -> None:
    """Ask for a set piece in one line, and put it in the middle of the room where no place is said.

    ``added`` is told its id before it is sent.
    """

    def take(command: Command) -> None:
        if isinstance(command, PutSetPiece):
            added(command.set_piece.id)
            screen.send(
                command, f"{command.set_piece.id} is added and selected: arrows move it, u takes it back."
            )

    def read(text: str) -> Command:
        name, _, kind = text.lower().partition(" ")
        if not kind:
            raise ValueError("type a name and a kind, as board bounce 1.2x0.8")
        if find(screen.desk.show, name) is not None:
            raise ValueError(f"there is a set piece {name} already; give another name, or change it by Enter")
        room = walls()
        middle = "" if "at=" in text else f" at={room.width_m / 2:.2f},{room.depth_m / 2:.2f}"
        return screen.read_as("piece ", middle)(text)

    hint = f"A name, a kind, its size: board bounce 1.2x0.8. {KINDS}"
    screen.ask_of_scene(Ask("Add a set piece", hint, read), take)


def ask_edit(screen: BaseScreen, piece_id: str) -> None:
    """Ask what a set piece is."""

    def now() -> SetPiece | None:
        return find(screen.desk.show, piece_id)

    def form_of(piece: SetPiece) -> Form[Command]:
        return piece_form(piece, Context(screen.desk.show))

    def take(command: Command) -> None:
        screen.send(command, f"{piece_id} changed.")

    screen.ask_of_scene(following(now, form_of, gone(piece_id)), take)


def piece_form(piece: SetPiece, context: Context) -> Form[Command]:
    """Changes what a set piece is; where it stands is left as it is."""

    def read(texts: dict[str, str]) -> Command:
        if not texts["kind"]:
            raise ValueError("give a kind: negative fill, reflector, wall, subject")
        if "=" in texts["kind"]:
            raise ValueError(f"kind '{texts['kind']}' has a =, which no kind has")
        pairs = [f"{key}={texts[key] or 'none'}" for key in ("size", "reflects")]
        return read_words(["piece", piece.id, texts["kind"], *pairs, f"note={texts['note']}"], context)

    told = piece_texts(piece)
    fields = {"kind": piece.kind, **{key: told[key].replace("none", "") for key in ("size", "reflects")}}
    return Form(f"Change {piece.id}", {**fields, "note": piece.note}, read, HINT)


def find(show: Show | None, piece_id: str) -> SetPiece | None:
    pieces = show.rig.set_pieces if show is not None else ()
    return next((piece for piece in pieces if piece.id == piece_id), None)
