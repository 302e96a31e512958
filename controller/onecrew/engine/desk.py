"""Desk: the show, its playback and its undo, changed by commands and nothing else. No clock, no I/O.

Light commands go to ``playback``, show commands to ``commands.table``; the desk keeps the two in step.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import chain

from onecrew.commands.command import Command, PlaybackCommand, ShowCommand
from onecrew.commands.cue_list import Learn, SetInCues, learnt
from onecrew.commands.cues import Store, cue_in, number_to_store, store_look, with_cue
from onecrew.commands.light import Compare, RaiseSlots
from onecrew.commands.session import Redo, Undo
from onecrew.commands.table import apply_edit, in_words, row_of
from onecrew.commands.takes import TakeStart
from onecrew.engine.prerender import Prerenderer
from onecrew.engine.raw_slots import RaisedSlots
from onecrew.engine.undo import History, Step, counterpart, light_step, whole_light
from onecrew.errors import Refused
from onecrew.fixtures.encoder import Encoder
from onecrew.fixtures.packing import ByteArray
from onecrew.playback.codec import follow_numbers, leave_cues, rebase
from onecrew.playback.compiled_show import CompiledShow, compile_show
from onecrew.playback.edits import (
    Earlier,
    changed_look,
    keep_edits,
    on_rig,
    put_back,
    with_kept,
    without_gone,
)
from onecrew.playback.events import advance, apply, apply_at_once, fade_away, next_event, stored
from onecrew.playback.fields import EditsByCue
from onecrew.playback.lights import Frame
from onecrew.playback.render import look_of, moving, render, single_level
from onecrew.playback.single_lamp import Plays, SingleMove, worked_out
from onecrew.playback.state import Playback, begin
from onecrew.show.profile import Profile
from onecrew.show.show import Cue, Fixture, Show

TOGETHER = 0.5
"""Where more than this share of the kinds of lamp moves, a frame is made with those after it."""


@dataclass(frozen=True, slots=True)
class Rest:
    """A light in which nothing moves any more."""

    plays: Plays
    compiled: CompiledShow
    since: float
    frame: Frame

    def is_of(self, playback: Playback, compiled: CompiledShow, now: float) -> bool:
        """Whether it is what plays at ``now``."""
        return worked_out(self.plays) is playback and self.compiled is compiled and now >= self.since


class Desk:
    """What the engine works on. ``now`` is monotonic seconds throughout."""

    def __init__(self, show: Show, profiles: Mapping[str, Profile], now: float) -> None:
        self.profiles = profiles
        self.show = show
        self.compiled = compile_show(show, profiles)
        self.encoder = Encoder(show.rig.fixtures, profiles)
        self.plays: Plays = begin(self.compiled, now)
        self.revision = 1
        """Rises with every change of the show."""
        self._history = History()
        self._last: tuple[PlaybackCommand, Playback, Plays, float] | None = None
        """The latest light command, what played before and after it, and when; until its step is noted."""
        self._rest: Rest | None = None
        self.prerenderer = Prerenderer()
        self.raised = RaisedSlots()
        self.remotes_stay = False
        """A show with other remotes is refused."""

    # ── what it can do ──────────────────────────────────────────────────────────────────────────

    def carry_out(self, command: Command, now: float) -> None:
        """Carries out a light or show command; raises ``Mistake`` and changes nothing if it cannot."""
        self.advance(now)
        if isinstance(command, PlaybackCommand):
            self._note_step()
            before = self.playback
            move = apply_at_once(before, command, now, self.compiled)
            self.plays = move or apply(before, command, now, self.compiled)
            if self._standing.dark:
                self.raised.lower(now)
            self._last = command, before, self.plays, now
        elif isinstance(command, Undo):
            self._step(self.history.undo, self.history.redo, "undo", now)
        elif isinstance(command, Redo):
            self._step(self.history.redo, self.history.undo, "redo", now)
        elif isinstance(command, Store):
            self._store(command, now)
        elif isinstance(command, ShowCommand):
            if self.playback.locked and row_of(command).lock_refuses(command):
                raise Refused(
                    f"the desk is locked, and this would {in_words(command, self.show)}: unlock first"
                )
            if isinstance(command, SetInCues):
                self._set_in_cues(command, now)
                return
            if isinstance(command, Learn):
                show = learnt(self.show, self.playback.ran)
            else:
                show = apply_edit(self.show, command, self.profiles)
            self._adopt(in_words(command, self.show), show, now)
        else:
            raise Refused(f"{command.kind} is not something the desk does")

    @property
    def playback(self) -> Playback:
        """What plays. Of a lamp at rest that a hand moves it is worked out when it is first read, which is
        after its frame: that need not wait for it."""
        try:
            return worked_out(self.plays)
        except Exception:
            self.plays = self._standing  # a bug there must not stop what comes
            raise

    @playback.setter
    def playback(self, playback: Playback) -> None:
        self.plays = playback

    def hush(self) -> None:
        """Ends what the playback says of what was done before."""
        if self.playback.remark or self.playback.advice:
            self.playback = replace(self.playback, remark="", advice="")

    def advance(self, now: float) -> bool:
        """Runs what is due by itself (auto-follows, countdowns); true if anything was."""
        due = self.next_of_playback()
        if due is None or due > now:
            return False
        was_dark = self.playback.dark
        self.playback = advance(self.playback, now, self.compiled)
        if self.playback.dark and not was_dark:
            self.raised.lower(now)
        return True

    def line_up(self, moment: float) -> None:
        """Lets a take that a countdown starts begin with the frame of ``moment``, if it is due by then.

        Its frames then lie as they do in every other run of it, whatever played before.
        """
        counting = self._standing.countdown
        if counting is not None and counting.at < moment and isinstance(counting.command, TakeStart):
            self.playback = replace(self.playback, countdown=replace(counting, at=moment))

    def take_in(self, show: Show, words: str, now: float) -> None:
        """Goes on with another version of the show, as one step of undo; raises ``Refused``."""
        self._adopt(words, show, now)

    def fade_away(self, now: float, fade_s: float) -> None:
        """Lets everything go to black within ``fade_s``, locked or not: the engine ends."""
        self.playback = fade_away(self.playback, now, fade_s, self.compiled)
        self.raised.lower(now)

    def follow(self, show: Show, profiles: Mapping[str, Profile], now: float) -> None:
        """Takes the show and the profiles of another desk. What was done before cannot be undone here."""
        self.profiles = profiles
        self.history.clear()
        self._put(show, now)
        self.encoder = Encoder(show.rig.fixtures, profiles)

    def raise_slots(self, command: RaiseSlots, now: float) -> bool:
        """Moves slots that no lamp is patched to, or those of a lamp while a still has every lamp out; true
        where that begins. Raises ``Refused``."""
        return self.raised.obey(command, self.playback, self.show.rig.fixtures, self.profiles, now)

    @property
    def universes(self) -> tuple[int, ...]:
        """The universes that are sent, in the order of the rows of ``slots``."""
        return self.raised.with_theirs(self.encoder.universes)

    def slots(self, now: float) -> ByteArray:
        """The slots of every universe, (universes, 512)."""
        slots = self._slots_of_move(now)
        if slots is None:
            slots = self._slots(now)
        return self.raised.over(slots, self.universes, now)

    def slots_instead(self, played: Playback, shown: float, frames: int) -> list[ByteArray]:
        """What ``slots`` would have been for so many frames after that of ``shown`` had ``played`` gone on,
        as far as they were worked out."""
        return [
            self.raised.over(slots, self.universes, shown)
            for slots in self.prerenderer.instead(played, self.encoder, shown, frames)
        ]

    def making(self, now: float) -> Iterator[None]:
        """The work that ``slots`` has to do first where its frame was not worked out; what comes of it is
        remembered."""
        if self.prerenderer.slots(self.playback, now) is None:
            frame = self.frame(now)
            yield from self._with_the_next(frame, now)
            if self.prerenderer.slots(self.playback, now) is None:
                self.encoder.encode(frame)

    def work_ahead(self, shown: float) -> Iterator[None] | None:
        """What there is to work out of the frames after that of ``shown``, None if there is nothing."""
        if not moving(self.playback, shown):
            # A hand on one lamp finds the other slots ready.
            return (
                None if self._is_encoded(self.playback, shown) else self.encoder.encoding(self.frame(shown))
            )
        return self.prerenderer.work(*self._worked_out_of, shown)

    def learn_kinds(self, profiles: Mapping[str, Profile]) -> None:
        """Knows more kinds of fixture, or others of the same name; those that a lamp has stay as they are."""
        used = {fixture.profile for fixture in self.show.rig.fixtures}
        kept = {name: profile for name, profile in self.profiles.items() if name in used}
        self.profiles = {**self.profiles, **profiles, **kept}

    def frame(self, now: float) -> Frame:
        """The light of all lamps; as long as nothing moves it is one and the same frame."""
        playback, compiled = self.playback, self.compiled
        if self._rest is not None and self._rest.is_of(playback, compiled, now):
            return self._rest.frame
        frame = render(playback, now, compiled)
        if not moving(playback, now):
            self._rest = Rest(playback, compiled, now, frame)
        return frame

    def moving(self, now: float) -> bool:
        return moving(self._standing, now) or self.raised.moving(now)

    def next_event(self, shown: float) -> float | None:
        """When something happens that nobody asks for, after the frame that shows the moment ``shown``."""
        events = (self.next_of_playback(), self.raised.end(shown))
        return min((event for event in events if event is not None), default=None)

    def next_of_playback(self) -> float | None:
        """When something happens in the playback by itself."""
        return next_event(self._standing)

    # ── what it says of itself ──────────────────────────────────────────────────────────────────

    @property
    def history(self) -> History:
        """What can be undone and done again. The step of the latest command is noted when this is first read,
        which is after its frame: that need not wait for words."""
        self._note_step()
        return self._history

    @property
    def undo_words(self) -> str:
        return self.history.undo[-1].words if self.history.undo else ""

    @property
    def redo_words(self) -> str:
        return self.history.redo[-1].words if self.history.redo else ""

    # ── inside ──────────────────────────────────────────────────────────────────────────────────

    def _slots_of_move(self, now: float) -> ByteArray | None:
        """The slots of a move of one lamp, None where it takes more than the slots of that lamp."""
        move = self._move
        if move is None or not self._is_encoded(move.before, now):
            return None
        slots = self.encoder.encode_level(move.lamp, single_level(move, now))
        if self.encoder.frame is not None:
            self._rest = Rest(move, self.compiled, now, self.encoder.frame)
        return slots

    def _is_encoded(self, playback: Playback, now: float) -> bool:
        """Whether the encoder holds the frame of a playback in which nothing moves."""
        rest = self._rest
        return rest is not None and (
            rest.frame is self.encoder.frame and rest.is_of(playback, self.compiled, now)
        )

    def _slots(self, now: float) -> ByteArray:
        """The slots of what plays."""
        slots = self.prerenderer.slots(self.playback, now)
        if slots is not None:
            return slots
        frame = self.frame(now)
        for _ in self._with_the_next(frame, now):
            pass
        slots = self.prerenderer.slots(self.playback, now)
        return self.encoder.encode(frame) if slots is None else slots

    def _with_the_next(self, frame: Frame, now: float) -> Iterator[None]:
        """The work of a frame and those after it, a part at a time; nothing where few lamps move."""
        if moving(self.playback, now) and self.encoder.share_to_encode(frame) > TOGETHER:
            yield from self.prerenderer.make(*self._worked_out_of, now) or ()

    @property
    def _move(self) -> SingleMove | None:
        """The move of one lamp from which the playback has not been worked out."""
        plays = self.plays
        return plays if isinstance(plays, SingleMove) and not plays.is_worked_out else None

    @property
    def _standing(self) -> Playback:
        """What plays but for that move, which changes the goal of one lamp: neither what moves by itself nor
        what happens next."""
        return self.playback if self._move is None else self._move.before

    @property
    def _worked_out_of(self) -> tuple[Playback, CompiledShow, Encoder, float]:
        """What coming frames follow from."""
        return self.playback, self.compiled, self.encoder, self.show.camera.white_balance_k

    def _note_step(self) -> None:
        last, self._last = self._last, None
        if last is None:
            return
        command, before, plays, now = last
        after = worked_out(plays)
        step = light_step(command, before, after, now)
        if step is not None:
            self._history.add(step, present=after)

    def _store(self, command: Store, now: float) -> None:
        number = number_to_store(self.show, command, self.playback.cue)
        if self.playback.comparing and not self.playback.locked:  # a lock keeps what shows
            self.playback = apply(self.playback, Compare(on=False), now, self.compiled)
        look = look_of(self.playback, now, self.compiled)
        light = whole_light(self.playback)
        words = in_words(command.model_copy(update={"cue": number}))
        self._adopt(words, store_look(self.show, number, command.name, look), now, light)
        self.playback = stored(self.playback, number, now, self.compiled)

    def _set_in_cues(self, command: SetInCues, now: float) -> None:
        """Changes the looks; where one of them is showing, its light too."""
        show, showing = self.show, False
        for number in command.cues:
            cue = cue_in(show, number)
            look = changed_look(cue.look, command.change, self.compiled)
            show = with_cue(show, cue.model_copy(update={"look": look}))
            showing |= cue.number == self.playback.cue
        if showing and show == self.show:  # the cue has this light, and shows edited
            self.carry_out(command.change, now)
            return
        light = whole_light(self.playback) if showing else None
        if showing:
            self.playback = apply(self.playback, command.change, now, self.compiled)
        self._adopt(in_words(command), show, now, light)

    def _step(self, source: deque[Step], other: deque[Step], word: str, now: float) -> None:
        if not source:
            raise Refused(f"there is nothing to {word}")
        step = source[-1]
        show, light = None, None
        gone: EditsByCue = ()
        if step.show is not None:
            self._check_what_stays(step.show)
        if step.light is not None:
            light = counterpart(step.light, self.playback)
            put_back(self.playback, self.compiled, step.light, now)  # or a sentence, with nothing done
        if step.show is not None:
            show, light = self.show, self._with_lost(light, step.show)
            gone = self._put(step.show, now)
        if step.light is not None:
            self.playback = put_back(replace(self.playback, still=None), self.compiled, step.light, now)
        source.pop()
        other.append(Step(step.words, show, with_kept(light, gone)))

    def _adopt(self, words: str, show: Show, now: float, light: Earlier | None = None) -> None:
        """Takes a changed show, as one step of undo."""
        if show == self.show:
            return
        self._check_what_stays(show)
        if show.scene != self.show.scene:
            light = whole_light(self.playback)  # the cue that ran is left as well
        before, light = self.show, self._with_lost(light, show)
        gone = self._put(show, now)
        self.history.add(Step(words, before, with_kept(light, gone)))

    def _with_lost(self, light: Earlier | None, show: Show) -> Earlier | None:
        """``light`` with that of the lamps which ``show`` has no more; None for none."""
        if light is not None and light.whole:
            return light
        present = whole_light(self.playback)
        stay = {one.id for one in show.rig.fixtures} | _renamed(
            self.show.rig.fixtures, show.rig.fixtures
        ).keys()
        lost = {name: one for name, one in present.lights.items() if name not in stay}
        if light is None:
            light = Earlier(by_hand=present.by_hand, cue=present.cue)
        light = replace(light, lights={**light.lights, **lost})
        return light if light.lights or light.kept or light.master is not None else None

    def _check_what_stays(self, show: Show) -> None:
        """Raises ``Refused`` for a show that changes what is to stay.

        While locked, patch and outputs change light, the remotes say who else can, and the cues are what the
        second pass runs; what shows may be stored as one more.
        """
        if self.remotes_stay and show.remote != self.show.remote:
            raise Refused(
                "this would change who may reach the engine: do it on the screens or with `onecrew send`"
            )
        if not self.playback.locked:
            return
        if (show.rig.fixtures, show.output) != (self.show.rig.fixtures, self.show.output):
            raise Refused("the desk is locked, and this would change the light: unlock first")
        if not _cues(self.show).items() <= _cues(show).items():
            raise Refused("the desk is locked, and this would change a cue: unlock first")
        if show.remote != self.show.remote:
            raise Refused("the desk is locked, and this would change who reaches it: unlock first")

    def _put(self, show: Show, now: float) -> EditsByCue:
        """Goes on with this show; returns the edits that were kept with cues which are gone."""
        compiled = compile_show(show, self.profiles)
        renamed = _renamed(self.show.rig.fixtures, show.rig.fixtures)
        left = self.playback.cue is not None and compiled.cue(self.playback.cue) is None
        if left and show.scene != self.show.scene:
            self.playback = keep_edits(self.playback, self.compiled, "")
        if show.scene == self.show.scene:
            self.playback = follow_numbers(self.playback, self.show.cues, compiled)
        self.playback = rebase(self.playback, self.compiled, compiled, renamed)
        if show.scene != self.show.scene:
            self.playback = leave_cues(self.playback, compiled)
        if show.rig.fixtures != self.show.rig.fixtures:
            self.playback = on_rig(self.playback, compiled, now)
            self.encoder = Encoder(show.rig.fixtures, self.profiles)
        self.playback, gone = without_gone(self.playback, compiled)
        self.show, self.compiled = show, compiled
        self.revision += 1
        return gone


def _renamed(before: Sequence[Fixture], after: Sequence[Fixture]) -> dict[str, str]:
    """Old names → new ones, for lamps that are the same by their patch and go by another name now."""
    names = {fixture.id for fixture in after}
    gone = {_patch(fixture): fixture.id for fixture in before if fixture.id not in names}
    known = {fixture.id for fixture in before}
    found = ((gone.get(_patch(fixture)), fixture.id) for fixture in after if fixture.id not in known)
    return {old: new for old, new in found if old is not None}


def _cues(show: Show) -> dict[str, Cue]:
    """The cues of all scenes by their numbers."""
    return {cue.number: cue for cue in chain(show.cues, *(scene.cues for scene in show.other_scenes))}


def _patch(fixture: Fixture) -> tuple[str, str, int, int]:
    return fixture.profile, fixture.mode, fixture.universe, fixture.address
