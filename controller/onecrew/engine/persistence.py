"""Persistence: what must outlive the engine: what plays and the show in the live state, the show in its file.

The live state has every change before anybody gets the answer that it is done, so what was acknowledged
outlives a kill at any moment. The file follows when the disk allows. An engine that starts takes up what the
one before it kept.
"""

from __future__ import annotations

import asyncio
import contextlib
import logging
from collections.abc import Callable

from onecrew.commands.session import BringBack, SettleFile
from onecrew.commands.table import in_words
from onecrew.engine.autosave import Autosave
from onecrew.engine.desk import Desk
from onecrew.engine.endpoint import Files
from onecrew.engine.kept_undo import KeptUndo
from onecrew.engine.live import LiveFile
from onecrew.engine.resume import Resumed, keep_playback, keep_show, resume
from onecrew.engine.undo import Step
from onecrew.errors import Refused, Trouble
from onecrew.playback.state import Playback
from onecrew.show.hold import Hold
from onecrew.show.profiles import ProfileLibrary
from onecrew.show.save import Outside, ShowFile
from onecrew.show.show import Show
from onecrew.show.snapshot import Saved
from onecrew.show.versions import version

log = logging.getLogger(__name__)

LOOK_S = 1.0
"""How often the show's file, its lock and the live state's file are looked at."""
SAVE_AT_END_S = 3.0
"""How long the end of the engine waits for the last save."""
OUT_OF_ROOM = "the disk is full: an engine that dies now comes back with an older look; free some space"
HELD_AGAIN = "this engine alone has the show again"
BACK_IN_ROOM = "the disk has room again, and an engine that dies comes back with the present look"


class Persistence:
    """The live state file and the show file of one engine. Times are monotonic seconds."""

    def __init__(
        self,
        files: Files,
        say: Callable[[str], None],
        saved: Callable[[Saved], None],
        hold: Hold | None = None,
    ) -> None:
        """``say`` takes a remark for every client, ``saved`` hears how a save went, ``hold`` is the lock on
        the show's file. Raises ``Trouble`` where the live state cannot be kept at all."""
        self.live = LiveFile(files.live)
        self._file = ShowFile(files.show, before_change=self._about_to_save, hold=hold)
        self._say = say
        self._saved = saved
        self._autosave = Autosave(self._write_show, self._save_ended)
        self._remark = ""
        """What the latest save has to say, until the loop says it."""
        self._playback: Playback | None = None
        self._show: Show | None = None
        self._undo = KeptUndo()
        self._undo_place: tuple[Step | None, int] = (None, 0)
        self._has_room = True
        self._taken = ""
        """Why another engine has the show as well, as far as it was said."""
        self._not_kept = ""
        """Why the live state's file cannot be put back, likewise."""
        self._outside: Outside | None = None
        """What somebody else put into the file, and nobody has decided about."""

    @property
    def saved(self) -> Saved:
        """Whether the show is in its file."""
        if self._outside is not None:
            return Saved(ok=False, error=self._outside.sentence, outside=True)
        return self._autosave.state

    def resume(self, profiles: ProfileLibrary, now: float) -> Resumed:
        """What the engine before this one left; ``OnecrewError`` where there is no show."""
        self._file.clear_up()
        return resume(self._file, self.live, profiles, now)

    def keep(self, desk: Desk, now: float) -> None:
        """Notes in the live state what changed since the last note, or found no room there then."""
        kept = True
        if desk.playback is not self._playback:
            kept = keep_playback(self.live, desk, now)
            self._playback = desk.playback if kept else None
        if desk.show is not self._show:
            show_kept = keep_show(self.live, desk.show)
            kept = kept and show_kept
            if self._show is None and show_kept and self._file.digest is not None:
                # The copy in the live state is the newest from here on, unless others change the file.
                self.live.name_file(self._file.digest, self._file.digest)
            self._show = desk.show if show_kept else None
        history = desk.history
        if history.place != self._undo_place:
            undo_kept = self.live.undo.write(self._undo.data(history.undo, desk.show))
            kept = kept and undo_kept
            self._undo_place = history.place
        if kept != self._has_room:
            self._has_room = kept
            self._say(BACK_IN_ROOM if kept else OUT_OF_ROOM)

    def save(self, show: Show) -> None:
        """Has the show written to its file soon."""
        self._autosave.save(show)

    async def watch(self) -> None:
        """Looks at the file now and then: a change by somebody else is reported at once."""
        while True:
            await asyncio.sleep(LOOK_S)
            await self._look_after_lock()
            await self._look_after_live_state()
            await self._look_at_file()

    def settle(self, command: SettleFile, desk: Desk, now: float) -> None:
        """Takes in what somebody else put into the file, or has it written over; raises ``Refused``."""
        outside = self._outside
        if outside is None and not self.saved.ok:
            raise Refused(f"no other program wrote to the file; the show is not saved: {self.saved.error}")
        if outside is None:
            raise Refused("the file holds what this desk has: there is nothing to load or to write over")
        if command.take:
            if outside.show is None:
                raise Refused(outside.sentence)
            desk.take_in(outside.show, in_words(command), now)
        self._file.accept(outside)
        self._outside = None
        self.save(desk.show)

    def bring_back(self, command: BringBack, desk: Desk, now: float) -> None:
        """Goes on with the show as a kept version has it; raises ``Refused``."""
        desk.take_in(version(self._file.path, command.number, desk.profiles), in_words(command), now)

    async def finish(self) -> str:
        """Waits for the last save and forgets what played; returns what is wrong with the save, if anything.

        The show stays in the live state where it could not be saved, or its file holds something else by now.
        """
        if self._autosave.pending is None:
            with contextlib.suppress(TimeoutError):
                await asyncio.wait_for(self._look_at_file(), SAVE_AT_END_S)
        await self._autosave.finish(SAVE_AT_END_S)
        if self._autosave.pending is None and self._outside is None:
            self.live.clear()
            return ""
        self.live.playback.clear()  # black is what was wanted; the show waits for the next engine
        return self.saved.error

    async def hand_over(self) -> None:
        """Waits for the last save and keeps everything for this engine's return."""
        await self._autosave.finish(SAVE_AT_END_S)

    # ── inside ──────────────────────────────────────────────────────────────────────────────────

    async def _look_at_file(self) -> None:
        try:
            self._found(await self._autosave.beside(self._file.outside))
        except PermissionError:
            pass  # a save says what is wrong there
        except OSError:
            # It is gone, or something else stands in its place: a save mends that or says what is wrong.
            if self._show is not None and self._autosave.pending is None:
                self.save(self._show)
        except Exception:
            log.exception("the show's file could not be looked at")

    async def _look_after_lock(self) -> None:
        """Says that another engine has what somebody put in the show's place, and when that has ended."""
        taken = ""
        try:
            await self._autosave.beside(self._file.follow_lock)
        except Trouble as trouble:
            taken = str(trouble)
        if taken != self._taken:
            self._taken = taken
            self._say(taken or HELD_AGAIN)

    async def _look_after_live_state(self) -> None:
        not_kept = ""
        try:
            if not await self._autosave.beside(self.live.is_there):
                self.live.put_back()
        except Trouble as trouble:
            not_kept = str(trouble)
        if not_kept and not_kept != self._not_kept:
            self._say(not_kept)
        self._not_kept = not_kept

    def _found(self, outside: Outside | None) -> None:
        if outside is not None and outside.show == self._show:
            self._file.accept(outside)  # written another way, but the same show
            outside = None
        if outside != self._outside:
            self._outside = outside
            self._saved(self.saved)

    def _about_to_save(self, present: str | None, coming: str) -> None:
        """In the thread that saves. Where the live state had no room for the show, the file is to be believed
        at the next start: it is not named then."""
        if self._show is not None:
            self.live.name_file(present, coming)

    def _write_show(self, show: Show) -> None:
        """In the thread that saves."""
        self._remark = self._file.save(show)

    def _save_ended(self) -> None:
        remark, self._remark = self._remark, ""
        if remark:
            self._say(remark)
        self._saved(self.saved)
