"""The scenes of the show on the screens: the list that F9 opens, and its entries in the palette."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import partial

from onecrew.commands.scenes import NewScene, OpenScene, RemoveScene, RenameScene
from onecrew.language.phrases import build
from onecrew.language.saying import counted
from onecrew.show.base import known_as
from onecrew.show.scenes import scenes_of
from onecrew.show.show import Scene, Show
from onecrew.tui.base import BaseScreen
from onecrew.tui.dialogs.ask import Ask
from onecrew.tui.dialogs.listing import Key, Line, Listing


def keys(show: Show) -> tuple[Key, ...]:
    return (
        Key("enter", "Enter", "open it; the lights stay until one of its cues runs", "open"),
        Key("a", "a", f"add a scene arranged like {show.scene}, without its cues", "add"),
        Key("A", "Shift+A", "add a scene with nothing placed; lamps keep their roles", "add-empty"),
        Key("e", "e", f"rename {show.scene}, the open one", "rename"),
        Key("x,delete", "x", "delete it with its cues; undo brings it back", "delete"),
    )


def line(scene: Scene, show: Show) -> Line:
    said = f"{scene.name} · {counted(len(scene.cues), 'cue')}"
    return Line(scene.name, said + (" · open" if scene.name == show.scene else ""))


def ask(screen: BaseScreen) -> None:
    """List the scenes and do what is asked with one."""
    show = screen.desk.show
    if show is None:
        return
    lines = [line(scene, show) for scene in scenes_of(show)]

    def take(answer: tuple[str, str]) -> None:
        do(screen, *answer)

    screen.ask(Listing(f"Scenes of {show.name}", lines, keys(show), at=show.scene), take)


def do(screen: BaseScreen, what: str, name: str) -> None:
    """One of the answers of ``keys``, for the scene of this name."""
    if what == "open":
        screen.send(OpenScene(name=name), f"{name} is open: the lights stay until one of its cues runs.")
    elif what == "delete":
        screen.send(RemoveScene(name=name), f"{name} deleted: u brings it back.")
    elif what == "rename":
        scene = screen_scene(screen)
        _ask_name(screen, f"Rename the scene {scene}", "", scene, _rename)
    else:
        _ask_new(screen, empty=what == "add-empty")


def screen_scene(screen: BaseScreen) -> str:
    return screen.desk.show.scene if screen.desk.show is not None else ""


def _ask_new(screen: BaseScreen, *, empty: bool) -> None:
    hint = "Every lamp keeps its role; nothing is placed." if empty else "Places, modifiers and set are kept."

    def add(screen: BaseScreen, name: str) -> None:
        screen.send(NewScene(name=name, empty=empty), f"{name} is open. F9 leads back.")

    _ask_name(screen, "Name of the new scene", hint, "", add)


def _rename(screen: BaseScreen, name: str) -> None:
    screen.send(RenameScene(name=name))


def _ask_name(
    screen: BaseScreen, question: str, hint: str, value: str, then: Callable[[BaseScreen, str], None]
) -> None:
    scenes = scenes_of(screen.desk.show) if screen.desk.show else ()
    taken = [scene.name for scene in scenes if scene.name != value]

    def read(text: str) -> str:
        if known_as(text, taken) is not None:
            raise ValueError(f"there is a scene {text} already: give this one another name")
        return build(OpenScene, name=text).name

    def take(name: str) -> None:
        if name != value:
            then(screen, name)

    screen.ask_of_scene(Ask(question, hint, read, value), take)


def entries(screen: BaseScreen) -> Iterator[tuple[str, Callable[[], None]]]:
    """What the palette offers of the scenes: (what it is called, what it does)."""
    show = screen.desk.show
    if show is None:
        return
    yield f"Scene {show.scene}, the open one: list the scenes", partial(ask, screen)
    yield f"Add a scene arranged like {show.scene}", partial(do, screen, "add", "")
    yield "Add an empty scene", partial(do, screen, "add-empty", "")
    yield f"Rename the scene {show.scene}", partial(do, screen, "rename", "")
    for scene in show.other_scenes:
        yield f"Open the scene {scene.name}", partial(do, screen, "open", scene.name)
        yield f"Delete the scene {scene.name}", partial(do, screen, "delete", scene.name)
