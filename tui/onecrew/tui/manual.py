"""The manual on the screens: its topics, that of the present screen first, and a page of each."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import partial

from onecrew.manual import page, topics
from onecrew.tui.base import BaseScreen
from onecrew.tui.dialogs.listing import Key, Line, Listing
from onecrew.tui.dialogs.page import Page
from onecrew.tui.drawing.markdown import as_text

KEYS = (Key("enter", "Enter", "read it; Esc then leads back here", "read"),)


def ask(screen: BaseScreen, at: str = "") -> None:
    """List the topics, those of the present screen first, and show the one that is chosen."""
    known = topics()
    first = dict.fromkeys((screen.TOPIC, "screens", *known))
    lines = [Line(topic, known[topic]) for topic in first]

    def take(answer: tuple[str, str] | None) -> None:
        if answer is not None:
            read(screen, answer[1], lambda: ask(screen, answer[1]))

    screen.app.push_screen(Listing("The manual", lines, KEYS, at=at, back="close the manual"), take)


def read(screen: BaseScreen, topic: str, then: Callable[[], None] | None = None) -> None:
    """Show a topic; ``then`` what happens after it."""

    def closed(_: None) -> None:
        if then is not None:
            then()

    screen.app.push_screen(Page(as_text(page(topic))), closed)


def entries(screen: BaseScreen) -> Iterator[tuple[str, Callable[[], None]]]:
    """What the palette offers of the manual: (what it is called, what it does)."""
    for topic, title in topics().items():
        yield f"Manual: {title}", partial(read, screen, topic)
