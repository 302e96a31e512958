"""The command palette: everything that has a key, every cue and every lamp, found by typing."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import partial

from textual.command import DiscoveryHit, Hit, Hits, Provider

from onecrew.commands.light import Identify, Solo, Without
from onecrew.commands.running import Recall
from onecrew.tui import cue_list, manual, scenes, versions
from onecrew.tui.base import BaseScreen

Entry = tuple[str, str, Callable[[], None]]


class Finder(Provider):
    """Feeds the palette from the action registry and the show."""

    def entries(self) -> Iterator[Entry]:
        """(what it is called, its key, what it does), this screen's actions first."""
        screen = self.screen
        if not isinstance(screen, BaseScreen):
            return
        desk = screen.desk
        for action in screen.all_actions():
            yield action.words, action.shown, partial(action.run, screen)
        for name, run in screen.more_entries():
            yield name, "", run
        for name, run in (*scenes.entries(screen), *cue_list.entries(screen), *manual.entries(screen)):
            yield name, "", run
        for name, settled in versions.entries(screen):
            yield name, "", partial(desk.send, settled)
        show = desk.show
        if show is None:
            return
        for cue in show.cues:
            name = f"Recall cue {cue.number} {cue.name}".rstrip()
            yield name, cue.shortcut or "", partial(desk.send, Recall(cue=cue.number))
        for fixture in show.rig.fixtures:
            for verb, kind in (("Solo", Solo), ("Without", Without), ("Identify", Identify)):
                yield f"{verb} {fixture.id}", "", partial(desk.send, kind(fixtures=(fixture.id,)))

    async def discover(self) -> Hits:
        for name, key, run in self.entries():
            yield DiscoveryHit(name, run, help=f"key {key}" if key else None)

    async def search(self, query: str) -> Hits:
        matcher = self.matcher(query)
        for name, key, run in self.entries():
            score = matcher.match(name)
            if score > 0:
                yield Hit(score, matcher.highlight(name), run, help=f"key {key}" if key else None)
