"""Prerender: the coming frames of a light that moves by itself, worked out together before they are due.

An array operation takes hardly longer for the lamps of sixty frames than for those of one, and what plays
decides every frame up to the next event. A command makes void what was worked out. A frame that is due and
not worked out is made together with those after it, which takes hardly longer. Pure: the frame loop does the
work when there is time.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import accumulate, repeat
from math import remainder

from onecrew.engine.frame_clock import FRAME_S
from onecrew.fixtures.encoder import Encoder
from onecrew.fixtures.packing import ByteArray
from onecrew.fixtures.report import Finding, FixtureReport
from onecrew.playback.compiled_show import CompiledShow
from onecrew.playback.lights import Frame
from onecrew.playback.render import render
from onecrew.playback.state import Playback

MOST, FEWEST = 64, 4
"""Frames of a series; with fewer the work would hardly be less than frame by frame."""
FIRST = 8
"""Frames of the first series after a change, which takes little longer than one frame made by itself."""
ROWS = 128
"""Lamps of one kind in all frames of a series at most, so that no part of the work takes long."""
BEFORE = 24
"""A series is begun so many frames before the one before it ends: on a busy machine its parts wait."""
RENDERED = 8
"""Frames rendered at a stretch."""


class Prerenderer:
    """What is worked out of the future of one desk."""

    def __init__(self) -> None:
        self._playback: Playback | None = None
        """What the series are of; a change of the show makes a new one, too."""
        self._series: list[Series] = []
        """Those that are being sent, are in work or come next."""
        self._encoder: Encoder | None = None
        self._repeated: dict[tuple[int, bool], Encoder] = {}
        """Encoders like that one of the desk for series, by their frames and whether they are made at once:
        one may be in the middle of a series that is not."""

    def slots(self, playback: Playback, moment: float) -> ByteArray | None:
        """Return the slots (universes, 512) of a frame as new memory, None if it is not worked out."""
        series = self._with(playback, moment)
        return None if series is None else series.slots(moment)

    def reports(self, playback: Playback, moment: float) -> Iterator[list[FixtureReport]] | None:
        """Return the reports on a frame, some lamps at a time, None if it is not worked out."""
        series = self._with(playback, moment)
        return None if series is None else series.reports(moment)

    def instead(self, played: Playback, encoder: Encoder, shown: float, frames: int) -> list[ByteArray]:
        """Return the slots of so many frames of ``played`` after that of ``shown``, as far as known."""
        series = self._series if played is self._playback and encoder is self._encoder else []
        return [one.slots(moment) for moment in _after(shown, frames) for one in series if one.has(moment)]

    def make(
        self,
        playback: Playback,
        compiled: CompiledShow,
        encoder: Encoder,
        white_balance_k: float,
        moment: float,
    ) -> Iterator[None] | None:
        """Return the work of a frame that is due, made with those after it; None if that does not pay.

        What was begun of it is gone on with. ``white_balance_k`` is the camera's, for the reports.
        """
        count = self._count(FIRST, encoder)
        if count < FEWEST:
            return None
        self._leave_old(playback, moment)
        for series in self._series:
            if series.at_once and series.in_work and moment in series.moments:
                return series.work
        series = Series([moment, *_after(moment, count - 1)], at_once=True)
        self._series.append(series)
        return series.begin(playback, compiled, self._like(encoder, series), white_balance_k)

    def work(
        self,
        playback: Playback,
        compiled: CompiledShow,
        encoder: Encoder,
        white_balance_k: float,
        shown: float,
    ) -> Iterator[None] | None:
        """Return what there is to work out now that the frame of ``shown`` has left, None if nothing is.

        ``white_balance_k`` is the camera's, for the reports.
        """
        self._leave_old(playback, shown)
        for series in self._series:
            if series.in_work:
                return series.work
        first = not self._series
        count = self._count(FIRST if first else MOST, encoder)
        last = max((series.moments[-1] for series in self._series), default=shown)
        if count < FEWEST or last > shown + min(BEFORE, count) * FRAME_S:
            return None
        if not first:
            last = max(last, shown + 2 * FRAME_S)  # what is due sooner would come too late
        series = Series(_after(last, count), at_once=False)
        self._series.append(series)
        return series.begin(playback, compiled, self._like(encoder, series), white_balance_k)

    def _leave_old(self, playback: Playback, shown: float) -> None:
        """Leaves what is of another playback, over, or between the frames that are sent now."""
        for series in self._series:
            over, first = series.moments[-1] < shown, series.moments[0]
            series.void = playback is not self._playback or over or remainder(first - shown, FRAME_S) != 0.0
        self._playback = playback
        self._series = [series for series in self._series if not series.void]

    def _count(self, frames: int, encoder: Encoder) -> int:
        """How many frames are worked out together, of so many at most."""
        return min(frames, ROWS // max(encoder.most_of_a_kind, 1))

    def _like(self, encoder: Encoder, series: Series) -> Encoder:
        """An encoder for the frames of a series."""
        if encoder is not self._encoder:
            self._encoder, self._repeated = encoder, {}
        count, at_once = len(series.moments), series.at_once
        if (count, at_once) not in self._repeated:
            self._repeated[count, at_once] = encoder.repeated(count)
        return self._repeated[count, at_once]

    def _with(self, playback: Playback, moment: float) -> Series | None:
        if playback is not self._playback:
            return None
        return next((series for series in self._series if series.has(moment)), None)


class Series:
    """Some coming frames, good as long as nothing changes what plays."""

    def __init__(self, moments: Sequence[float], *, at_once: bool) -> None:
        self.moments = moments
        self.at_once = at_once
        """It begins with a frame that is due."""
        self.void = False
        """Nobody wants it any more."""
        self.work: Iterator[None]
        """What is left to do."""
        self._at = {moment: number for number, moment in enumerate(moments)}
        self._lamps = 0
        self._slots: ByteArray | None = None
        self._finding: Finding | None = None

    @property
    def in_work(self) -> bool:
        return self._slots is None

    def begin(
        self, playback: Playback, compiled: CompiledShow, encoder: Encoder, white_balance_k: float
    ) -> Iterator[None]:
        """Return the work, to be done a part at a time; ``encoder`` encodes as many frames at once."""
        self.work = self._working(playback, compiled, encoder, white_balance_k)
        return self.work

    def _working(
        self, playback: Playback, compiled: CompiledShow, encoder: Encoder, white_balance_k: float
    ) -> Iterator[None]:
        frames: list[Frame] = []
        for moment in self.moments:
            frames.append(render(playback, moment, compiled))
            if len(frames) % RENDERED == 0:
                yield
            if self.void:
                return
        self._lamps, frame = len(frames[0].level), Frame.joined(frames)
        for _ in encoder.encoding(frame):
            yield
            if self.void:  # another series may have the encoder by now
                return
        slots = encoder.encode(frame)
        self._finding = encoder.finding(frame, white_balance_k, slots)
        self._slots = slots.reshape(len(frames), -1, slots.shape[1])

    def has(self, moment: float) -> bool:
        """Whether a frame is among these, and worked out."""
        return self._slots is not None and moment in self._at

    def slots(self, moment: float) -> ByteArray:
        """Return the slots (universes, 512) of a frame, as new memory."""
        assert self._slots is not None
        slots: ByteArray = self._slots[self._at[moment]].copy()
        return slots

    def reports(self, moment: float) -> Iterator[list[FixtureReport]]:
        """Yields the reports on a frame, some lamps at a time; all frames are looked into at once."""
        assert self._finding is not None
        start = self._at[moment] * self._lamps
        return self._finding.reports(range(start, start + self._lamps))


def _after(moment: float, count: int) -> list[float]:
    """So many frames after that of a moment, each added to the one before as the frame clock does."""
    return list(accumulate(repeat(FRAME_S, count), initial=moment))[1:]
