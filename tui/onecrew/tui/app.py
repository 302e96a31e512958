"""The terminal program: a client of the engine, and nothing else. It can come and go; the light stays."""

from __future__ import annotations

import asyncio
import gc
import time
from collections.abc import Callable, Coroutine, Iterator
from functools import partial
from pathlib import Path
from typing import Any, ClassVar

from textual import events
from textual.app import App
from textual.binding import BindingType
from textual.driver import Driver
from textual.message import Message
from textual.screen import Screen

from onecrew.commands.command import Command
from onecrew.commands.session import Stop
from onecrew.commands.table import in_words
from onecrew.engine.client import Healed, Lost
from onecrew.errors import OnecrewError, Refused
from onecrew.language.saying import NO_CHANGE
from onecrew.show.show import Show
from onecrew.show.snapshot import Snapshot
from onecrew.tui import actions, cue_list, files, manual, scenes, theme, words
from onecrew.tui.actions import Action
from onecrew.tui.base import BaseScreen
from onecrew.tui.colour.screen import Colour
from onecrew.tui.desk import Cursor, Receiver, TakesClicker
from onecrew.tui.dialogs.choose import Choice, Choose
from onecrew.tui.dialogs.help import Help
from onecrew.tui.dialogs.listing import Listing
from onecrew.tui.dialogs.page import Page
from onecrew.tui.everywhere import EVERYWHERE
from onecrew.tui.light.screen import Light
from onecrew.tui.link import Client, Pace, aged
from onecrew.tui.log.screen import Log
from onecrew.tui.palette import Finder, Palette
from onecrew.tui.plan.screen import Plan
from onecrew.tui.rig.first_lamp import WELCOME
from onecrew.tui.rig.screen import Rig
from onecrew.tui.shoot.screen import Shoot
from onecrew.tui.terminal_input import with_quick_keys
from onecrew.tui.type_ahead import TypeAhead

QUIT = (
    Choice("l", "Leave the lights on", "The engine keeps running; open the show to come back.", "leave"),
    Choice("f", "Fade to black and stop", "The lights fade out and the engine stops.", "fade"),
)
END_ANYWAY = (
    Choice("l", "Leave the lights on", "The engine keeps running.", "leave"),
    Choice("e", "End all the same", "The lights fade out and the engine stops.", "fade"),
)
QUIT_DEMO = (Choice("f", "End the demo", "Its lamps fade out, and nothing is kept.", "fade"),)
BUSY_AFTER_S = 0.5


class OnecrewApp(App[None]):
    """The screens around one client. What they show comes from the engine; no widget holds the only copy."""

    TITLE = "onecrew"
    CSS = (
        "* { scrollbar-size-vertical: 1; } SearchIcon { display: none; }"
        "Input > .input--placeholder { color: $foreground 80%; } "
        "CommandPalette > .command-palette--help-text { color: $foreground; text-style: not bold; }"
    )
    MODES: ClassVar[dict[str, str | Callable[[], Screen[Any]]]] = {
        "shoot": Shoot,
        "light": Light,
        "rig": Rig,
        "log": Log,
        "plan": Plan,
        "colour": Colour,
    }
    DEFAULT_MODE = "shoot"
    COMMANDS: ClassVar[set[Any]] = {Finder}
    BINDINGS: ClassVar[list[BindingType]] = [
        *actions.bindings(EVERYWHERE, always=True),
        *actions.bindings(EVERYWHERE, always=False),
    ]
    ENABLE_COMMAND_PALETTE = True

    def __init__(
        self,
        client: Client,
        receiver: Receiver | None = None,
        *,
        wall: Callable[[], float] = time.time,
        clock: Callable[[], float] = time.monotonic,
        first_run: bool = False,
        colours: theme.Remembered = theme.ON_SET,
    ) -> None:
        super().__init__()
        self.colours = colours
        self.first_run = first_run
        self.client = client
        self.receiver = receiver
        self.wall = wall
        self.clock = clock
        self._heard_at = clock()
        self.lost: str | None = None
        self._missed: list[str] = []
        """What was wanted while the engine was away."""
        self.stopped = False
        """The engine was ended in good order, here or elsewhere: the lights are out."""
        self.message: tuple[str, bool] | None = None
        """The latest message, and whether it is a refusal."""
        self.busy = ""
        self.pace = Pace(clock, self.set_timer, self._paint_soon)
        self.cursor = Cursor()
        self.links = 0
        self._settled: set[str] = set()
        self.ahead = TypeAhead(self, self._take_key)
        self._engine_message = ("", 0)
        self._said: tuple[str, bool] | None = None
        """The message that the engine had for the cue and the kept edits of ``_said_of``."""
        self._said_of: tuple[object, ...] = ()
        self._tasks: set[asyncio.Task[None]] = set()
        self._handled = 0
        """How many events are being handled."""
        theme.dress(self, colours.name)

    # ── what the screens read ───────────────────────────────────────────────────────────────────

    @property
    def snapshot(self) -> Snapshot | None:
        """The latest state; its clocks stand as they stood when it was heard."""
        return self.client.snapshot

    @property
    def snapshot_now(self) -> Snapshot | None:
        """The latest state with its clocks run on to this moment, unless the engine is away."""
        snapshot = self.client.snapshot
        if snapshot is None or self.lost is not None:
            return snapshot
        return aged(snapshot, self.clock() - self._heard_at)

    @property
    def show(self) -> Show | None:
        return self.client.show

    # ── the link ────────────────────────────────────────────────────────────────────────────────

    def on_mount(self) -> None:
        self._settle_in(self.DEFAULT_MODE)
        if self.first_run:
            self.turn_to("rig")
            self.say(WELCOME)
        self.run_worker(self._listen(), name="link", exclusive=True)
        # The terminal comes back empty after a halt (SIGTSTP), and only what changes would be painted.
        self.app_resume_signal.subscribe(self, lambda _: self.refresh())

    def _settle_in(self, mode: str) -> None:
        """What start-up and a screen's first showing have made stays for good: the collector need not walk it
        between a key and its command."""
        if mode not in self._settled:
            self._settled.add(mode)
            self.call_after_refresh(gc.freeze)

    async def _listen(self) -> None:
        async for event in self.client.events():
            if isinstance(event, Lost):
                self.stopped = event.stopped
                self.lost = words.away(event.reason, stopped=event.stopped, given_up=event.given_up)
                if self.message is not None and not self.message[1]:
                    self.message = None  # that it is back, say
            elif isinstance(event, Healed):
                self.lost, self.stopped = None, False
                self.links += 1
                missed, self._missed = self._missed, []
                self.say(words.back(missed), refused=bool(missed))
            elif isinstance(event, Snapshot):
                self._receive(event)
            self.repaint()

    def get_driver_class(self) -> type[Driver]:
        return with_quick_keys(super().get_driver_class())

    def post_message(self, message: Message) -> bool:
        """A key that nothing is before is carried out here and now: what waits for the loop are paintings."""
        if isinstance(message, events.Key) and not message.is_forwarded:
            try:
                if self._rests and self.ahead.is_free and self._means_something(message):
                    return True
            except Exception as error:  # noqa: BLE001  Textual ends the same way where a handler fails
                self._handle_exception(error)
                return False
        return super().post_message(message)

    @property
    def _rests(self) -> bool:
        return self.is_running and not self._handled and not self.message_queue_size

    async def on_event(self, event: events.Event) -> None:
        self._handled += 1
        try:
            if isinstance(event, events.Key | events.Paste) and not event.is_forwarded:
                await self.ahead.take(event)  # a paste comes after the keys that were pressed before it
            else:
                await super().on_event(event)
        finally:
            self._handled -= 1

    async def _take_key(self, event: events.Key | events.Paste) -> None:
        """A key that means something to the screen is carried out here and now.

        The long way, from widget to widget by their queues, would let every painting come in between.
        """
        if isinstance(event, events.Paste) or not self._means_something(event):
            await super().on_event(event)

    def _means_something(self, event: events.Key) -> bool:
        """Carries out a key where it means something to the screen."""
        screen = self.screen
        return isinstance(screen, BaseScreen) and screen.take_key(event)

    def _receive(self, snapshot: Snapshot) -> None:
        self._heard_at = self.clock()
        of = snapshot.cue, snapshot.kept_edits
        if not snapshot.message and self.message is self._said and of != self._said_of:
            self.message = None  # an offer, say, of edits of a cue that is on no more
        if (snapshot.message, snapshot.said) != self._engine_message:
            self._engine_message = snapshot.message, snapshot.said
            if snapshot.message:
                self.say(snapshot.message)
                self._said, self._said_of = self.message, of

    def _paint_soon(self) -> None:
        self.call_next(self.paint)

    async def paint(self) -> None:
        """Draws what shows, a part each turn of the loop, so that a key waits for no more than one."""
        if not self.is_running:
            return
        shown = [self.screen] if isinstance(self.screen, BaseScreen) else self.screen_stack
        for screen in shown:
            if isinstance(screen, BaseScreen):
                for _ in screen.renew_by_parts():
                    await asyncio.sleep(0)

    def send(self, command: Command, done: str = "") -> None:
        """Send a command; a refusal becomes the message line, ``done`` is said when it changed something."""
        self._start(self._hear(self.client.send_now(command), done), in_words(command, self.show))

    async def _hear(self, answer: Coroutine[Any, Any, bool], done: str) -> None:
        changed = await answer
        if done:
            self.say(done if changed else NO_CHANGE)

    def fetch(
        self,
        topic: str,
        then: Callable[[dict[str, Any]], None],
        *,
        quiet: bool = False,
        opens: bool = False,
        refused: Callable[[str], None] | None = None,
        **arguments: Any,
    ) -> None:
        """Ask the engine and hand the answer to ``then``, which ``opens`` a dialog or does not.

        A failure goes to the message line unless ``quiet``, or to ``refused`` as a sentence.
        """

        async def ask() -> None:
            there = False
            try:
                answer = await self.client.ask(topic, **arguments)
            except OnecrewError as error:
                if refused is not None:
                    refused(str(error))
                elif not quiet:
                    raise
            else:
                then(answer)
                there = True
            finally:
                if opens:
                    self.ahead.opened(there=there)

        if opens:
            self.ahead.opening()
        self._start(ask(), topic)

    def open_file(self, file: Path, what: str) -> None:
        """Say where a file was written, and open it in the browser where it is a page."""
        self._start(self._open(file, what), "opening the browser")

    async def _open(self, file: Path, what: str) -> None:
        page = file.suffix.lower() == files.PAGE
        opened = page and await asyncio.to_thread(files.browser_opens, file)
        how = "" if not page else ", opened in the browser" if opened else "; no browser opens here"
        self.say(f"{what}: {file}{how}")

    def _start(self, work: Coroutine[Any, Any, None], name: str) -> None:
        task = asyncio.create_task(self._guarded(work, name))
        self._tasks.add(task)
        task.add_done_callback(self._tasks.discard)

    async def _guarded(self, work: Coroutine[Any, Any, None], name: str) -> None:
        slow = asyncio.get_running_loop().call_later(BUSY_AFTER_S, self._show_busy, name)
        try:
            await work
        except OnecrewError as error:
            if self.lost is not None:
                self._missed.append(name)
            self.say(str(error), refused=True)
        finally:
            slow.cancel()
            if self.busy == name:
                self.busy = ""
                self.repaint()

    def _show_busy(self, name: str) -> None:
        self.busy = name
        self.repaint()

    def repaint(self) -> None:
        """Something has changed: the screens are painted soon."""
        self.pace.ask()

    def hush(self) -> None:
        """The next thing is done: what was said about the last one goes."""
        self.message = None
        self.call_later(self.repaint)

    def say(self, text: str, *, refused: bool = False) -> None:
        """Put a sentence on the message line, in place of the one before."""
        self.message = (text, refused)
        self.repaint()

    # ── turning pages and asking ────────────────────────────────────────────────────────────────

    def action_act(self, name: str) -> None:
        if isinstance(self.screen, TakesClicker) and name in ("go", "back"):
            self.screen.clicked(name)
            return
        action = actions.find(EVERYWHERE, name)
        screen = self.base_screen
        if action is not None and screen is not None:
            action.run(screen)

    @property
    def base_screen(self) -> BaseScreen | None:
        """The screen that is showing, under whatever dialog is open."""
        return next(
            (screen for screen in reversed(self.screen_stack) if isinstance(screen, BaseScreen)), None
        )

    def turn_to(self, mode: str) -> None:
        while isinstance(self.screen, Choose | Page | Listing):
            self.pop_screen()
        if self.current_mode != mode:
            self.switch_mode(mode)
            self._settle_in(mode)

    def turn_theme(self) -> None:
        self.colours.turn(self)
        self.repaint()

    def screens(self) -> Iterator[tuple[str, str, tuple[Action, ...]]]:
        for mode, screen in self.MODES.items():
            assert isinstance(screen, type) and issubclass(screen, BaseScreen)
            yield mode, screen.TITLE, screen.ACTIONS

    def do_on(self, mode: str, run: Callable[[Any], None]) -> None:
        self._start(self._do_on(mode, run), "opening the screen")

    async def _do_on(self, mode: str, run: Callable[[Any], None]) -> None:
        if self.current_mode != mode:
            await self.switch_mode(mode)
            self._settle_in(mode)
        run(self.base_screen)

    def open_help(self) -> None:
        screen = self.base_screen
        if screen is not None and not isinstance(self.screen, Help):
            more, topics = screen.more_help(), partial(manual.ask, screen)
            self.push_screen(Help(screen.TITLE, screen.ACTIONS, EVERYWHERE, more, topics))

    def open_palette(self) -> None:
        self.push_screen(Palette())

    def list_scenes(self) -> None:
        self._list(scenes.ask)

    def list_cues(self, at: str = "") -> None:
        """The cues, with the one of number ``at`` chosen, or the present one."""
        self._list(partial(cue_list.ask, at=at))

    def _list(self, ask: Callable[[BaseScreen], None]) -> None:
        screen = self.base_screen
        if screen is not None and screen is self.screen:
            ask(screen)

    @property
    def bug(self) -> Exception | None:
        """What ended the screens, where that was a fault of theirs."""
        return self._exception

    def _fatal_error(self) -> None:
        """Ends without Textual's page of code on the terminal: whoever ran the app has ``bug``."""
        self._close_messages_no_wait()

    def ask_quit(self) -> None:
        if isinstance(self.screen, Choose):
            return
        if self.stopped:
            self.exit()  # there is nothing left to leave or to end
            return
        name = self.show.name if self.show is not None else "this show"
        self.push_screen(Choose(f"Quit {name}?", QUIT if self.receiver is None else QUIT_DEMO), self._quit)

    def _quit(self, answer: str | None) -> None:
        if answer == "leave":
            self.exit()
        elif answer == "fade":
            self._start(self._end(), "fading to black")

    async def _end(self, *, confirmed: bool = False) -> None:
        try:
            await self.client.send(Stop(confirmed=confirmed))
        except Refused as refused:
            said = str(refused)
            self.push_screen(Choose(f"{said[:1].upper()}{said[1:]}.", END_ANYWAY), self._end_anyway)
        else:
            self.exit()

    def _end_anyway(self, answer: str | None) -> None:
        if answer == "fade":
            self._start(self._end(confirmed=True), "fading to black")
