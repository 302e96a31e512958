"""Match: from a run of stills and a reference to levels and whites, down to what leaves the lamps."""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from onecrew.colour.adaptation import camera_matrix
from onecrew.colour.arrays import FloatArray
from onecrew.colour.difference import delta_e_2000, rgb_to_lab
from onecrew.errors import Mistake
from onecrew.stills.blend import blend
from onecrew.stills.certainty import SHOWS, Certainty, certainty
from onecrew.stills.graded import solve_graded
from onecrew.stills.kit import LampOutput, LampWhite
from onecrew.stills.other_curve import better_curve
from onecrew.stills.picture import picture_size
from onecrew.stills.problem import marked_problem, own_problem
from onecrew.stills.regions import Region, block_means, cells
from onecrew.stills.result import LampResult, Match, RegionResult
from onecrew.stills.run import Run, mired_of
from onecrew.stills.solve import FLOOR, LUMA, Problem, Solution, solve
from onecrew.stills.stack import Plate, clip_code, working_size

OWN_STOPS = 0.3
"""Median misfit up to which a reference is taken for a picture of the stills' room."""
_ODD_STOPS = 0.06
"""Median misfit from which something is wrong with the stills or the curve."""
_APART_STOPS = 0.5
_MOST_CLIPPED = 0.95
_COARSE_STOPS = 0.02
_AMBIENT_SURE, _AMBIENT_GUESS = 0.25, 1.0
"""Standard error, stops, up to which the ambient light tells the exposure, or is at least the best guess."""
_MISSING = "the same places in both pictures, with --region NAME=X,Y,W,H:X,Y,W,H or --regions FILE"


class Unmarked(Mistake):
    """A reference of another room in which no places are marked."""


def match(
    run: Run,
    reference: Plate,
    regions: Sequence[Region] = (),
    *,
    own: bool | None = None,
    exposure: float | None = None,
    graded: bool = False,
    shown: tuple[FloatArray, Plate] | None = None,
) -> Match:
    """Return the levels and whites nearest to a reference.

    ``own`` says whether it shows the room of the stills; None: found out. ``exposure`` is in stops against
    the stills; None: from the metadata where both say it, else free. Raises ``Unmarked`` for a reference
    that needs regions and has none, ``Mistake`` for one that should show the room and does not.
    """
    _see(reference)
    notes = list(run.notes)
    first = None if own is False else _own_round(run, reference, notes, own is True, exposure, graded)
    if first is None:
        first = _marked_round(run, reference, regions, notes, exposure, graded)
    reference, problem, solution = first.reference, first.problem, first.solution
    began = time.perf_counter()
    if shown is not None:
        problem = _second_round(run, problem, () if first.own else regions, shown)
        solution = solve(problem, [(solution.stops, solution.mired)])
    known = certainty(problem, solution)
    told, exposure_known = _exposure(problem, solution, known)
    leaving = _leaving(run, problem, solution, known, told)
    seconds = first.seconds + time.perf_counter() - began
    if first.own and not exposure_known:
        notes.append(
            f"the picture does not tell how the reference was exposed: levels hold for {told:+.2f} stops "
            "against the stills; say another with --exposure"
        )
    lamps = _lamps(run, known, leaving)
    predicted = run.predicted([one.xyz for one, _ in leaving]) * 2.0**told
    return Match(
        own=first.own,
        lamps=lamps,
        regions=region_results(run, reference, regions, leaving, told, first.own, predicted),
        exposure_stops=told,
        exposure_known=exposure_known,
        delta_e=_frame_difference(predicted, reference) if first.own else None,
        notes=(*notes, *_about(lamps, known)),
        seconds=seconds,
        predicted=predicted,
        reference=reference.linear,
    )


def balanced(plate: Plate, of_k: float, to_k: float) -> Plate:
    """Return a plate of a camera balanced for ``of_k`` kelvin as one balanced for ``to_k`` would have had it.

    By way of XYZ and CAT16, as the swatches: what was neutral has the colour that the other camera gives it.
    """
    matrix = camera_matrix(to_k) @ np.linalg.inv(camera_matrix(of_k))
    return replace(plate, linear=plate.linear @ matrix.T, grain=plate.grain @ np.abs(matrix).T)


def _see(reference: Plate) -> None:
    """Raise ``Mistake`` for a reference in which there is nothing to match."""
    if float((reference.peak >= clip_code([reference])).mean()) > _MOST_CLIPPED:
        raise Mistake(f"{reference.name} is clipped nearly all over; give one that was exposed less")
    if float(np.quantile(reference.linear @ LUMA, 0.98)) < FLOOR / 4.0:
        raise Mistake(f"{reference.name} is black nearly all over; give one that shows light")


@dataclass(frozen=True, slots=True)
class _FirstRound:
    """What was solved, and how: ``own`` where the reference shows the room of the stills."""

    own: bool
    reference: Plate
    problem: Problem
    solution: Solution
    seconds: float
    """What solving took."""


def _own_round(
    run: Run, reference: Plate, notes: list[str], must: bool, exposure: float | None, graded: bool
) -> _FirstRound | None:
    """Solve for a picture of the stills' room; None for another one, unless it ``must`` be that."""
    placed = run.placed(reference, notes, must=must)
    if placed is None:
        return None
    told = _exposure_told(run, reference) if exposure is None else exposure
    found = _solved(True, placed, own_problem(run, placed, told), graded)
    off = _typical(found.problem, found.solution)
    if not must and off >= OWN_STOPS:
        return None
    notes += _odd(off, better_curve(run, placed))
    return found


def _marked_round(
    run: Run,
    reference: Plate,
    regions: Sequence[Region],
    notes: list[str],
    exposure: float | None,
    graded: bool,
) -> _FirstRound:
    """Solve for a picture of another room by the places that are marked in both."""
    if not regions:
        raise Unmarked(_unmarked(run, reference))
    problem, more = marked_problem(run, reference, regions, exposure)
    notes += more
    return _solved(False, reference, problem, graded)


def _unmarked(run: Run, reference: Plate) -> str:
    """What to do where a reference has no regions and another view or size than the stills."""
    both = (reference.size, reference.factor), (run.size, run.factor)
    if both[0] == both[1]:
        return f"{reference.name} shows another room than the stills: mark {_MISSING}"
    return _other_size(reference.name, *((x * factor, y * factor) for (x, y), factor in both))


def refuse_other_size(reference: Path, still: Path) -> None:
    """Raise ``Mistake`` for a reference without regions that has another size than a still, where their
    heads say so: before the pixels of any are read."""
    sizes = picture_size(reference), picture_size(still)
    if sizes[0] is not None and sizes[1] is not None and working_size(*sizes[0]) != working_size(*sizes[1]):
        raise Mistake(_other_size(reference.name, sizes[0], sizes[1]))


def _other_size(name: str, theirs: tuple[int, int], ours: tuple[int, int]) -> str:
    return (
        f"{name} has {theirs[0]} × {theirs[1]} pixels and the stills {ours[0]} × {ours[1]}: export a frame "
        f"of theirs in their size; if it shows another room, mark {_MISSING}"
    )


def _solved(own: bool, reference: Plate, problem: Problem, graded: bool) -> _FirstRound:
    began = time.perf_counter()
    solution, problem = solve_graded(problem) if graded else (solve(problem), problem)
    return _FirstRound(own, reference, problem, solution, time.perf_counter() - began)


def _second_round(
    run: Run, problem: Problem, regions: Sequence[Region], shown: tuple[FloatArray, Plate]
) -> Problem:
    """Return the problem with what the first round missed taken off its target, at most a stop of it.

    Only differences within the frame count: how the still of the result was exposed does not.
    """
    predicted, result = shown

    def means(picture: FloatArray) -> FloatArray:
        if not regions:
            return block_means(picture)
        own = [cells(one.own, run.size, run.factor, one.name, "the stills") for one in regions]
        return np.stack([picture[at].mean(axis=(0, 1)) for at in own])

    if result.size != run.size:
        raise run.another_size(result)
    lights = [np.maximum(means(one), 0.0) + FLOOR for one in (predicted, result.linear)]
    missed = lights[0] / lights[1]
    lit = problem.target @ LUMA > 4.0 * FLOOR
    missed = missed / float(np.median((missed @ LUMA)[lit if lit.any() else slice(None)]))
    return replace(problem, target=problem.target * np.clip(missed, 0.5, 2.0))


def _exposure_told(run: Run, reference: Plate) -> float | None:
    """Stops by which the reference was exposed more than the stills, where both files say it."""
    if run.exposure_stops is None or reference.metadata.exposure_stops is None:
        return None
    return reference.metadata.exposure_stops - run.exposure_stops


def _typical(problem: Problem, solution: Solution) -> float:
    """Median misfit in stops over the places that are well lit and not clipped."""
    lit = problem.target @ LUMA
    counts = (problem.weight > 0.0) & (lit > max(4.0 * FLOOR, 0.2 * float(np.median(lit))))
    if not counts.any():
        counts = problem.weight > 0.0
    return float(np.median(np.abs(solution.residual[counts, 0]))) if counts.any() else np.inf


def _odd(off: float, curve: str | None) -> list[str]:
    if curve is not None:
        return [f"the pictures add up better when they are read as {curve}: another curve than the one named"]
    if off < _ODD_STOPS:
        return []
    return [
        f"the reference is {off:.2f} stop away from every sum of the stills: another curve than the one "
        "named, automatic exposure or white balance, or something that moved"
    ]


def _exposure(problem: Problem, solution: Solution, known: Certainty) -> tuple[float, bool]:
    """(stops against the stills, whether something says so): told, or shown by the ambient light, or the
    least at which no lamp needs more than it has."""
    if problem.exposure is not None:
        return problem.exposure, True
    shown = solution.stops[known.share > SHOWS]
    least = float(shown.max(initial=-np.inf))
    if least <= 0.0 and abs(solution.ambient_stops) < known.ambient_stops:
        return 0.0, False  # as the stills, which nothing speaks against
    if problem.doubts and known.ambient_stops < _AMBIENT_GUESS:
        return max(solution.ambient_stops, least), known.ambient_stops < _AMBIENT_SURE
    return max(0.0, least), False


# ── What leaves ─────────────────────────────────────────────────────────────────────────────────────


def _leaving(
    run: Run, problem: Problem, solution: Solution, known: Certainty, told: float
) -> list[tuple[LampOutput, float | None]]:
    """What leaves each lamp, and the white to ask it for.

    Where the slots of one that shows are coarse, it stands as they give it and the others are solved again.
    """
    asked = zip(solution.stops - told, solution.mired, strict=True)
    left = [_left(run, i, float(stop), float(white)) for i, (stop, white) in enumerate(asked)]
    coarse: list[int] = []
    free: list[int] = []
    for i, (leaves, _) in enumerate(left):
        wanted = min(float(solution.stops[i]) - told, 0.0)
        off = np.inf if leaves.output <= 0.0 else abs(np.log2(leaves.output) - wanted)
        (coarse if off > _COARSE_STOPS and known.share[i] > SHOWS else free).append(i)
    if not coarse or not free:
        return left
    fixed = problem.ambient * 2.0 ** (solution.ambient_stops - told)
    for i in coarse:
        source, (leaves, _) = problem.sources[i], left[i]
        if leaves.output > 0.0:
            white = float(np.clip(mired_of(leaves.xyz), source.mired[0], source.mired[-1]))
            fixed = fixed + leaves.output * source.at(white)[0]
    rest = replace(problem, sources=tuple(problem.sources[i] for i in free), ambient=fixed, exposure=told)
    again = solve(rest, [(solution.stops[free], solution.mired[free])])
    for place, i in enumerate(free):
        left[i] = _left(run, i, float(again.stops[place]) - told, float(again.mired[place]))
    return left


def _left(run: Run, i: int, stop: float, white: float) -> tuple[LampOutput, float | None]:
    lamp = run.lamps[i].lamp
    asked = None if lamp.one_colour else white
    return lamp.leaves(float(min(2.0**stop, 1.0)) if stop > -13.0 else 0.0, asked), asked


def _lamps(
    run: Run, known: Certainty, leaving: Sequence[tuple[LampOutput, float | None]]
) -> tuple[LampResult, ...]:
    results = []
    for i, (shown, (leaves, asked)) in enumerate(zip(run.lamps, leaving, strict=True)):
        results.append(
            LampResult(
                id=shown.lamp.id,
                output=leaves.output,
                level=leaves.level,
                cct_k=leaves.cct_k,
                duv=leaves.duv,
                asked_cct_k=None if asked is None else 1e6 / asked,
                sure=known.sure(i),
                stops_error=float(known.stops[i]),
                mired_error=0.0 if asked is None else float(known.mired[i]),
                share=float(known.share[i]),
            )
        )
    return tuple(results)


# ── What it comes to ────────────────────────────────────────────────────────────────────────────────


def region_results(
    run: Run,
    reference: Plate,
    regions: Sequence[Region],
    leaving: Sequence[tuple[LampOutput, float | None]],
    told: float,
    is_own: bool,
    predicted: FloatArray | None = None,
) -> tuple[RegionResult, ...]:
    """Return how near each region comes with what leaves the lamps, exposed ``told`` stops more than the
    stills."""
    if predicted is None:
        predicted = run.predicted([one.xyz for one, _ in leaving]) * 2.0**told
    clip = clip_code([reference])
    results = []
    for region in regions:
        here = cells(region.own, run.size, run.factor, region.name, "the stills")
        there = cells(region.reference, reference.size, reference.factor, region.name, "the reference")
        good = reference.peak[there] < clip
        good = good if good.mean() > 0.3 else np.ones_like(good)
        theirs = reference.linear[there][good].mean(axis=0)
        # In one's own frame the same pixels; what is clipped in the one is left out in the other.
        same = is_own and here == there
        mine = predicted[here][good].mean(axis=0) if same else predicted[here].mean(axis=(0, 1))
        stops = _stops(mine) - _stops(theirs)
        each = {
            shown.lamp.id: _stops(
                _lit(shown.light[:, here[0], here[1]], shown.givens, leaves.xyz) * 2.0**told
            )
            for shown, (leaves, _) in zip(run.lamps, leaving, strict=True)
        }
        results.append(
            RegionResult(
                region.name, stops, float(_difference(mine, theirs)), _why(stops, each, leaving, run)
            )
        )
    return tuple(results)


def _lit(light: NDArray[Any], givens: Sequence[LampWhite], xyz: FloatArray) -> FloatArray:
    """Mean light (3,) of one lamp in a region."""
    if xyz[1] <= 0.0:
        return np.zeros(3)
    return np.asarray(blend(LampWhite(mired_of(xyz), xyz), givens).of(light).mean(axis=(0, 1)))


def _why(
    stops: float, each: dict[str, float], leaving: Sequence[tuple[LampOutput, float | None]], run: Run
) -> str:
    """Why a region is not reached, in words; nothing where it is."""
    if abs(stops) < _APART_STOPS or not each:
        return ""
    strongest = max(each, key=lambda name: each[name])
    if stops > 0.0:
        return f"{stops:.1f} stops too bright: most of it is {strongest}, so flag that off or turn it away"
    full = {shown.lamp.id: leaves.output for shown, (leaves, _) in zip(run.lamps, leaving, strict=True)}
    if each[strongest] <= np.log2(2.0 * FLOOR):
        return f"{-stops:.1f} stops too dark: no lamp of yours lights this place"
    if full[strongest] > 0.9:
        return f"{-stops:.1f} stops too dark: {strongest} lights it most and is at full"
    return f"{-stops:.1f} stops too dark: more of {strongest} would light other places too much"


def _stops(rgb: FloatArray) -> float:
    return float(np.log2(max(float(rgb @ LUMA), 0.0) + FLOOR))


def _difference(one: FloatArray, other: FloatArray) -> FloatArray:
    labs = [rgb_to_lab(np.clip(rgb, 0.0, 1.0)) for rgb in (one, other)]
    return delta_e_2000(*labs)


def _frame_difference(predicted: FloatArray, reference: Plate) -> float:
    """Median ΔE2000 over the blocks."""
    return float(np.median(_difference(block_means(predicted), block_means(reference.linear))))


def _about(lamps: Sequence[LampResult], known: Certainty) -> list[str]:
    notes = [
        f"{lamps[i].id} and {lamps[j].id} light the same places: the picture does not tell which it is"
        for i, j in known.alike
    ]
    weak = [lamp.id for lamp in lamps if lamp.share < SHOWS]
    if weak:
        notes.append(f"{', '.join(weak)}: hardly any light of it is in the picture, so the level says little")
    return notes
