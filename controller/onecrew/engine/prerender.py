"""Prerender: the coming frames of a light that moves by itself, worked out together before they are due.

An array operation takes hardly longer for the lamps of sixty frames than for those of one, and what plays
decides every frame up to the next event. A command makes void what was worked out: a short series follows its
frame at once, and frames that are due before that is done are made one by one. Pure: the frame loop does the
work when there is time.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import accumulate, repeat

from onecrew.fixtures.encoder import Encoder
from onecrew.fixtures.packing import ByteArray
from onecrew.fixtures.report import Finding, FixtureReport
from onecrew.playback.compiled_show import CompiledShow
from onecrew.playback.lights import Frame
from onecrew.playback.render import render
from onecrew.playback.state import Playback

MOST, FEWEST = 64, 4
"""Frames of a series; with fewer the work would hardly be less than frame by frame."""
FIRST = 16
"""Frames of the first series after a change, which takes little longer than one frame made by itself."""
ROWS = 128
"""Lamps of one kind in all frames of a series at most, so that no part of the work takes long."""
BEFORE = 8
"""A series is begun so many frames before the one before it ends."""
RENDERED = 8
"""Frames rendered at a stretch."""


class Prerenderer:
    """What is worked out of the future of one desk."""

    def __init__(self) -> None:
        self._playback: Playback | None = None
        """What the series are of; a change of the show makes a new one, too."""
        self._series: list[Series] = []
        """The one that is being sent, and the one after it."""
        self._last = 0.0
        """The moment of the last frame that is worked out, or in work."""
        self._encoder: Encoder | None = None
        self._repeated: dict[int, Encoder] = {}
        """Encoders like that one of the desk for series, by their frames."""

    def slots(self, playback: Playback, moment: float) -> ByteArray | None:
        """Return the slots (universes, 512) of a frame as new memory, None if it is not worked out."""
        series = self._with(playback, moment)
        return None if series is None else series.slots(moment)

    def reports(self, playback: Playback, moment: float) -> Iterator[list[FixtureReport]] | None:
        """Return the reports on a frame, some lamps at a time, None if it is not worked out."""
        series = self._with(playback, moment)
        return None if series is None else series.reports(moment)

    def work(
        self,
        playback: Playback,
        compiled: CompiledShow,
        encoder: Encoder,
        white_balance_k: float,
        shown: float,
        step_s: float,
    ) -> Iterator[None] | None:
        """Return what there is to work out now that the frame of ``shown`` has left, None if nothing is.

        The frames after it are ``step_s`` apart. ``white_balance_k`` is the camera's, for the reports.
        """
        if playback is not self._playback:
            self._playback, self._series, self._last = playback, [], shown
        first = not self._series
        count = min(FIRST if first else MOST, ROWS // max(encoder.most_of_a_kind, 1))
        if count < FEWEST or self._last > shown + min(BEFORE, count) * step_s:
            return None
        if not first:
            self._last = max(self._last, shown + 2 * step_s)  # what is due sooner would come too late
        *_, self._last = moments = list(accumulate(repeat(step_s, count), initial=self._last))[1:]
        series = Series(moments)
        self._series = [*self._series[-1:], series]
        return series.work(playback, compiled, self._like(encoder, count), white_balance_k)

    def _like(self, encoder: Encoder, count: int) -> Encoder:
        """An encoder for as many frames at once."""
        if encoder is not self._encoder:
            self._encoder, self._repeated = encoder, {}
        if count not in self._repeated:
            self._repeated[count] = encoder.repeated(count)
        return self._repeated[count]

    def _with(self, playback: Playback, moment: float) -> Series | None:
        if playback is not self._playback:
            return None
        return next((series for series in self._series if series.has(moment)), None)


class Series:
    """Some coming frames, good as long as nothing changes what plays."""

    def __init__(self, moments: Sequence[float]) -> None:
        self._at = {moment: number for number, moment in enumerate(moments)}
        self._lamps = 0
        self._slots: ByteArray | None = None
        self._finding: Finding | None = None

    def work(
        self, playback: Playback, compiled: CompiledShow, encoder: Encoder, white_balance_k: float
    ) -> Iterator[None]:
        """Works it out, a part at a time; ``encoder`` encodes as many frames at once."""
        frames: list[Frame] = []
        for moment in self._at:
            frames.append(render(playback, moment, compiled))
            if len(frames) % RENDERED == 0:
                yield
        self._lamps, frame = len(frames[0].level), Frame.joined(frames)
        yield from encoder.encoding(frame)
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
