"""The command palette: every action of every screen, every lamp, cue, scene and take, found by typing."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Iterable, Iterator
from functools import partial
from typing import Any

from textual.command import CommandPalette, DiscoveryHit, Hit, Hits, Provider
from textual.content import Content
from textual.fuzzy import Matcher

from onecrew.commands.light import Identify, Solo, Without
from onecrew.commands.running import Recall
from onecrew.commands.scenes import OpenScene
from onecrew.show.show import Show
from onecrew.tui import cue_list, manual, scenes, takes, versions
from onecrew.tui.base import BaseScreen
from onecrew.tui.dialogs.dialog import SingleAnswerScreen
from onecrew.tui.drawing.canvas import clean

Entry = tuple[str, str, Callable[[], None]]
"""What it is called, its key, what it does."""
TAKES_S = 5.0
"""How long the list of takes may take to come; the rest is found meanwhile."""


class Palette(CommandPalette, SingleAnswerScreen[None]):
    """Textual's palette; a click beside it closes it and nothing else."""


class Finder(Provider):
    """Feeds the palette from the action registry, the show and the log."""

    _takes: asyncio.Future[list[takes.Taken]] | None = None

    async def startup(self) -> None:
        """Asks for the takes, so that they are there once something is typed."""
        screen, coming = self.screen, asyncio.get_running_loop().create_future()
        self._takes = coming

        def have(answer: dict[str, Any]) -> None:
            if not coming.done():
                coming.set_result(takes.takes_of(answer))

        if isinstance(screen, BaseScreen):
            screen.desk.fetch("takes", have, quiet=True)

    def entries(self) -> Iterator[Entry]:
        """All but the takes: this screen's actions first, then the others', then what the show has."""
        screen = self.screen
        if not isinstance(screen, BaseScreen):
            return
        yield from _actions(screen)
        for name, run in screen.more_entries():
            yield name, "", run
        for name, run in (*scenes.entries(screen), *cue_list.entries(screen), *manual.entries(screen)):
            yield name, "", run
        for name, settled in versions.entries(screen):
            yield name, "", partial(screen.desk.send, settled)
        if screen.desk.show is not None:
            yield from _cues(screen, screen.desk.show)
            yield from _lamps(screen, screen.desk.show)

    async def filmed(self) -> list[Entry]:
        """The takes, newest first; none where the engine does not say in time."""
        screen = self.screen
        if self._takes is None or not isinstance(screen, BaseScreen):
            return []
        try:
            found = await asyncio.wait_for(asyncio.shield(self._takes), TAKES_S)
        except TimeoutError:
            return []
        return [(f"Take {one.name} {one.cue} {one.note}".rstrip(), "", _listed(screen, one)) for one in found]

    async def discover(self) -> Hits:
        for name, key, run in _shown(self.entries()):
            yield DiscoveryHit(Content(name), run, text=name, help=key or None)

    async def search(self, query: str) -> Hits:
        matcher = self.matcher(query)

        def hits(entries: Iterable[Entry]) -> Iterator[Hit]:
            for name, key, run in _shown(entries):
                score = matcher.match(name)
                if score > 0:
                    yield Hit(score, _highlighted(matcher, name), run, help=key or None)

        for hit in hits(self.entries()):
            yield hit
        for hit in hits(await self.filmed()):
            yield hit


def _shown(entries: Iterable[Entry]) -> Iterator[Entry]:
    """The entries as they may stand on a terminal, whatever the show and the log name things."""
    return ((clean(name), clean(key), run) for name, key, run in entries)


def _highlighted(matcher: Matcher, name: str) -> Content:
    """The name, what was typed in it marked; ``Matcher.highlight`` would take brackets in it for markup."""
    content = Content(name)
    for offset in matcher.fuzzy_search.match(matcher.query, name)[1]:
        if not name[offset].isspace():
            content = content.stylize(matcher.match_style, offset, offset + 1)
    return content


def _actions(screen: BaseScreen) -> Iterator[Entry]:
    """The actions of this screen, then those that only others have, which open that screen first."""
    seen: set[str] = set()
    for action in screen.all_actions():
        seen.add(action.words)
        yield action.words, _key(action.shown), partial(action.run, screen)
    for mode, title, actions in screen.desk.screens():
        for action in actions:
            if action.words not in seen:
                seen.add(action.words)
                where = f"{_key(action.shown)} on {title}".strip()
                yield action.words, where, partial(screen.desk.do_on, mode, action.run)


def _key(shown: str) -> str:
    return f"key {shown}" if shown else ""


def _cues(screen: BaseScreen, show: Show) -> Iterator[Entry]:
    """The cues of the open scene, then those of the others, whose scene is opened for them."""
    send = screen.desk.send
    for cue in show.cues:
        name = f"Recall cue {cue.number} {cue.name}".rstrip()
        yield name, _key(cue.shortcut or ""), partial(send, Recall(cue=cue.number))
    for scene in show.other_scenes:
        for cue in scene.cues:

            def recall(scene: str = scene.name, number: str = cue.number) -> None:
                send(OpenScene(name=scene))
                send(Recall(cue=number))

            yield f"Recall cue {cue.number} {cue.name} in {scene.name}", "", recall


def _lamps(screen: BaseScreen, show: Show) -> Iterator[Entry]:
    desk = screen.desk
    for fixture in show.rig.fixtures:

        def choose(name: str = fixture.id) -> None:
            desk.cursor.id = name
            desk.turn_to("light")

        yield f"Lamp {fixture.id}, {fixture.role}: choose it on Light", "", choose
        for verb, kind in (("Solo", Solo), ("Without", Without), ("Identify", Identify)):
            yield f"{verb} {fixture.id}", "", partial(desk.send, kind(fixtures=(fixture.id,)))


def _listed(screen: BaseScreen, take: takes.Taken) -> Callable[[], None]:
    return partial(takes.ask, screen, str(take.id))
