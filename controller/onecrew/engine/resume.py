"""Resume: what an engine finds when it starts, and what it leaves for the one after it.

Where there is a live state, the look that was showing goes on: mid-fade included, as if the engine had been
there; after a restart of the machine, from where it was. The show comes from the live state as well, which
has every change before its file does, as long as the file holds what an engine put there; a file that
somebody else has changed since then is taken as it is, but not under a lock or in a take: then the show in
memory goes on, and the file waits for a decision. The live state also stands in for a file that has become
unreadable meanwhile.
"""

from __future__ import annotations

import contextlib
import logging
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from onecrew.clock import boot
from onecrew.engine.desk import Desk
from onecrew.engine.kept_undo import steps_in
from onecrew.engine.live import LiveFile
from onecrew.errors import OnecrewError
from onecrew.playback.codec import from_json, shift, to_json
from onecrew.playback.edits import on_rig
from onecrew.show.load import parse_show
from onecrew.show.profiles import ProfileLibrary
from onecrew.show.save import ShowFile
from onecrew.show.scenes import document_of
from onecrew.show.show import Show

log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class Resumed:
    """A desk to go on with; ``unsaved``: its show is not in its file yet; ``remark``: for the user;
    ``kept_at``: when what plays was last kept, by this engine's clock, None where nothing was; ``sent_at``:
    when its last frame left, None also where the machine has been started anew since."""

    desk: Desk
    unsaved: bool
    remark: str
    kept_at: float | None = None
    sent_at: float | None = None


def resume(file: ShowFile, live: LiveFile, profiles: ProfileLibrary, now: float) -> Resumed:
    """Makes the desk from the show file and the live state; ``OnecrewError`` if there is no show."""
    kept = live.playback.read()
    show, unsaved, remark = _show(file, live, profiles, as_it_was=_nothing_may_change(kept))
    desk = Desk(show, profiles, now)
    if kept is not None:
        try:
            playback = from_json(kept["playback"], desk.compiled)
            playback = shift(playback, _shift(kept, now)) if _shift(kept, now) else playback
            desk.playback = on_rig(playback, desk.compiled, now)
        except (LookupError, TypeError, ValueError):
            log.exception("the live state could not be resumed")
            remark = remark or "what was playing could not be resumed: the lamps are black, recall a cue"
            kept = None
    undo = live.undo.read()
    if undo is not None:
        try:
            desk.history.undo = steps_in(undo, desk.show, light=kept is not None)
        except (LookupError, TypeError, ValueError):
            log.exception("the steps of undo could not be resumed")
    if kept is None:
        return Resumed(desk, unsaved, remark)
    later = _shift(kept, now)
    sent_at = live.sent_at if live.sent_at and not later else None
    return Resumed(desk, unsaved, remark, float(kept["now"]) + later, sent_at)


def keep_playback(live: LiveFile, desk: Desk, now: float) -> bool:
    """Leaves what is playing for the engine that follows; false where the disk has no room for it."""
    return live.playback.write({"boot": boot(), "now": now, "playback": to_json(desk.playback)})


def keep_show(live: LiveFile, show: Show) -> bool:
    """Leaves the show as it is in memory for the engine that follows; false where there is no room."""
    return live.show.write({"text": document_of(show).model_dump_json()})


def _nothing_may_change(kept: Mapping[str, Any] | None) -> bool:
    """Whether a take ran or the desk was locked, as far as what was kept makes sense."""
    match kept:
        case {"playback": {"locked": True}} | {"playback": {"take": {"running": True}}}:
            return True
    return False


def _show(
    file: ShowFile, live: LiveFile, profiles: ProfileLibrary, *, as_it_was: bool
) -> tuple[Show, bool, str]:
    kept = live.show.read()
    try:
        show = file.load(profiles)
    except OnecrewError as error:
        survivor = _kept_show(kept, file, profiles)
        if survivor is None:
            raise
        return survivor, True, f"the show file cannot be read, the show in memory goes on ({error})"
    if live.names_file(file.digest):
        survivor = _kept_show(kept, file, profiles)
        if survivor is not None and survivor != show:
            return survivor, True, "changes that were not saved before the engine ended are back"
    elif (ours := _kept_show(kept, file, profiles)) is not None and ours != show:
        if as_it_was:
            file.disown()
            return ours, True, ""
        with contextlib.suppress(OSError):
            if file.keep(ours):
                return show, False, "another program changed the show's file; what was here is a version now"
    return show, False, ""


def _kept_show(kept: dict[str, Any] | None, file: ShowFile, profiles: ProfileLibrary) -> Show | None:
    if kept is None:
        return None
    with contextlib.suppress(OnecrewError):
        return parse_show(kept["text"], f"{file.path} (in memory)", profiles)
    return None


def _shift(kept: dict[str, Any], now: float) -> float:
    """What to add to kept times so that they fit this machine's clock, which restarts when it does."""
    same_clock = kept["boot"] == boot() and kept["now"] <= now
    return 0.0 if same_clock else now - float(kept["now"])
