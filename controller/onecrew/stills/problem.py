"""Problem: what is compared between a run of stills and a reference — every block, or the marked places."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from onecrew.colour.arrays import FloatArray
from onecrew.stills.blend import blend
from onecrew.stills.regions import Region, block_means, cells
from onecrew.stills.run import CUT_SHARE, Run, Shown
from onecrew.stills.solve import LUMA, Problem, Source
from onecrew.stills.stack import Plate, clip_code

_MOST_CLIPPED = 0.7
_UNSURE = 0.4


def own_problem(run: Run, reference: Plate, exposure: float | None) -> Problem:
    """Return every block of one's own frame; those that are clipped in the reference do not count."""
    clipped = block_means((reference.peak >= run.clip).astype(np.float64)) > 0.0
    hidden = CUT_SHARE * reference.cut * np.maximum(reference.linear.max(axis=2, keepdims=True), 0.0)
    return Problem(
        sources=tuple(_source(shown, block_means) for shown in run.lamps),
        ambient=block_means(run.ambient),
        target=block_means(reference.linear),
        target_doubt=block_means(np.hypot(reference.grain, hidden)),
        weight=np.where(clipped, 0.0, 1.0),
        exposure=exposure,
    )


def marked_problem(
    run: Run, reference: Plate, regions: Sequence[Region], exposure: float | None
) -> tuple[Problem, list[str]]:
    """Return the marked places, with a note for each that is clipped."""
    notes = []
    clip = clip_code([reference])
    own = [cells(one.own, run.size, run.factor, one.name, "the stills") for one in regions]
    target = []
    for region in regions:
        at = cells(region.reference, reference.size, reference.factor, region.name, "the reference")
        good = reference.peak[at] < clip
        if good.mean() < 1.0 - _MOST_CLIPPED:
            notes.append(f"{region.name} is clipped in the reference: it may be brighter there than it looks")
            good = np.ones_like(good)
        target.append(reference.linear[at][good].mean(axis=0))

    def means(picture: NDArray[Any]) -> FloatArray:
        return np.stack([picture[at].mean(axis=(0, 1)) for at in own])

    sources = tuple(_source(shown, means) for shown in run.lamps)
    for source in sources:
        for region, light, doubt in zip(regions, source.light.max(axis=0), source.doubt, strict=True):
            if doubt @ LUMA > _UNSURE * (light @ LUMA) and light @ LUMA > 0.05:
                notes.append(
                    f"{region.name} is clipped in a still of {source.name}: take that one at a lower level"
                )
    problem = Problem(
        sources=sources,
        ambient=means(run.ambient),
        target=np.stack(target),
        target_doubt=np.zeros((len(regions), 3)),
        weight=np.array([region.weight for region in regions]),
        exposure=exposure,
        doubts=False,
    )
    return problem, notes


def _source(shown: Shown, means: Callable[[NDArray[Any]], FloatArray]) -> Source:
    stills = np.stack([means(still) for still in shown.light])
    return Source(
        name=shown.lamp.id,
        mired=np.array([white.mired or 0.0 for white in shown.whites]),
        light=np.stack([blend(white, shown.givens).of(stills) for white in shown.whites]),
        doubt=means(shown.doubt),
        only_still=shown.givens[0].mired if len(shown.givens) == 1 and not shown.lamp.one_colour else None,
    )
