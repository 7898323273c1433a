"""Fewer curves for the same shape.

Terminology
    corner      a node at which the direction jumps; it stays where it is
    joint       a node that is no corner
    facet       one of many short lines that stand for a curve; a line that somebody meant as one stays straight
    run         the stretch between two corners or lines; all of a smooth outline
    economy     replace a run by as few cubics as stay near it: the longest that fits from its start, and so on

That the longest first gives fewest holds because every part of a good stretch is a good stretch.
"""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely

from clothpath.curves import Bools, Curve, Floats, Outline, Points, cubics, flattened, open_path, outline
from clothpath.fitting.fits import SAMPLES, SMOOTH_RAD, derivatives, directions_at_ends, fitted
from clothpath.regions import xy

__all__ = ["BUDGET_MM", "economized"]

BUDGET_MM: Final = 0.02
"""The largest change of shape that nobody asked for, in mm."""
PER_CURVE: Final = 24
"""Samples taken of a curve."""
EVENLY: Final = (1 - np.cos(np.linspace(0, math.pi, SAMPLES))) / 2
"""Where along a span its samples are taken, as parts of its length: closer together toward its ends."""
AIMS: Final = (0.88, 0.44)
"""Parts of the tolerance to which stretches are fitted, the second where the first fails its proof: misses are measured
at samples, and between them they are a little larger."""
PROOF_MM: Final = 0.0005
"""Flattening of a curve in its proof, in mm."""
COLLINEAR_RAD: Final = 1e-5
"""Straight lines whose directions differ by less are one, in radians."""
FIRST_TRY: Final = 2
"""Joints that the first trial of a run tries to span."""
PAST: Final = 2
"""How many times farther than the longest stretch found one more is tried."""
CORNER_RAD: Final = math.radians(8.0)
"""A node between facets that turns by more than this and three times as far as its neighbors is a corner."""
LINE_MM: Final = 1.0
"""A straight segment longer than this, and not one of many, stays straight, in mm."""


def economized(
    outlines: Sequence[Outline], tolerance: float = BUDGET_MM, most: Sequence[int] | None = None
) -> list[Outline]:
    """Each outline with as few segments as stay within `tolerance` mm of it; corners and long lines stay.

    Outlines are taken together because many small fits cost as much as one. A stretch that would not get shorter, or
    that fails its proof, comes back as it was. The result does not depend on where an outline starts.

    Args:
        most: for each outline, how many segments are few enough; one that cannot do with so few comes back as it was,
            as soon as that shows.
    """
    limits = [len(one) for one in outlines] if most is None else most
    runs = [run for number, one in enumerate(outlines) for run in _runs(_unbroken(one), number, tolerance)]
    open_runs = {i: run for i, run in enumerate(runs) if len(run.curves) > 1}
    kept = [run.curves for run in runs]
    for aim in AIMS:
        room = list(limits)
        for i, run in enumerate(runs):
            room[run.outline] -= 0 if i in open_runs else len(kept[i])
        walked = _walked(list(open_runs.values()), aim * tolerance, room)
        tried = dict(zip(open_runs.items(), walked, strict=True))
        open_runs = {}
        for (i, run), found in tried.items():
            if len(found) >= len(run.curves):
                continue
            if _away(run, found) <= tolerance:
                kept[i] = found
            else:
                open_runs[i] = run
    results = list(outlines)
    for number, one in enumerate(outlines):
        own = [i for i, run in enumerate(runs) if run.outline == number]
        curves = [curve for i in own for curve in kept[i]]
        if len(curves) < len(one):
            results[number] = outline(runs[own[0]].start, curves)
    return results


def _unbroken(one: Outline) -> Outline:
    """The outline without nodes in the middle of straight lines."""
    ends = np.append(one.nodes[1:, 0], one.end)
    way = _unit(ends - one.nodes[:, 0])
    before = np.roll(way, 1)
    needless = one.straight & np.roll(one.straight, 1) & (np.abs(way - before) < COLLINEAR_RAD)
    if not needless.any() or needless.all():
        return one
    nodes, straight = one.nodes[~needless], one.straight[~needless]
    return Outline(nodes, straight, complex(nodes[0, 0]))


def _away(run: _Run, found: list[Curve]) -> float:
    """The largest distance of a run's samples from the curves found for it."""
    assert run.samples is not None
    line = shapely.LineString(xy(flattened(open_path(run.start, found), PROOF_MM)))
    shapely.prepare(line)
    return float(shapely.distance(line, shapely.points(xy(run.samples))).max()) + PROOF_MM


@dataclass(frozen=True, slots=True, eq=False)
class _Run:
    """A stretch between corners: its outline, first node and segments, and its samples if it may be refitted."""

    outline: int
    start: complex
    curves: list[Curve]
    samples: Points | None = None
    ways: Points | None = None
    joints: tuple[int, ...] = ()


def _runs(one: Outline, number: int, tolerance: float) -> list[_Run]:
    p = cubics(one)
    head, tail = directions_at_ends(p)
    sizes = np.abs(np.diff(p, axis=1)).sum(axis=1)
    turn = np.angle(head * np.roll(tail, 1).conj())
    corner = _corners(turn, sizes, tolerance)
    line = one.straight & _is_long(one.straight, sizes, corner)
    breaks = corner | line | np.roll(line, 1)
    where = np.flatnonzero(breaks)
    if not len(where):
        where = np.array([_start(p, one.straight)])
    listed = one.segments()
    count = len(listed)
    runs: list[_Run] = []
    way_in, way_out = _ways(p, one.straight, head, tail, breaks)
    for k, start in enumerate(where.tolist()):
        size = (int(where[(k + 1) % len(where)]) - start) % count or count
        rows = (np.arange(size) + start) % count
        curves = [listed[row] for row in rows]
        if size < 2:
            runs.append(_Run(number, complex(p[start, 0]), curves))
        else:
            samples, ways, joints = _sampled(p[rows], one.straight[rows], way_out[rows], way_in[rows])
            runs.append(_Run(number, complex(p[start, 0]), curves, samples, ways, joints))
    return runs


def _start(p: Points, straight: Bools) -> int:
    """The node of a smooth ring at which the curvature jumps most, and of several the lowest, then leftmost."""
    _, slope, bend = derivatives(p, np.tile([0.0, 1.0], (len(p), 1)))
    curvature = np.where(straight[:, None], 0.0, (slope.conj() * bend).imag / np.maximum(np.abs(slope) ** 3, 1e-300))
    jump = np.abs(curvature[:, 0] - np.roll(curvature[:, 1], 1))
    nodes = np.where(jump >= 0.9 * jump.max(), p[:, 0], np.inf)
    return int(np.lexsort((nodes.real, nodes.imag))[0])


def _corners(turn: Floats, sizes: Floats, tolerance: float) -> Bools:
    """A node is a corner if no smooth curve by it stays near enough, or if it turns far more than its neighbors.

    A speck of a segment that turns at both its ends has corners there.
    """
    angle = np.abs(turn)
    sagitta = np.minimum(sizes, np.roll(sizes, 1)) * angle / 8
    around = np.maximum(np.roll(angle, 1), np.roll(angle, -1))
    speck = (sizes < tolerance) & (np.abs(turn + np.roll(turn, -1)) > CORNER_RAD)
    sharp = (sagitta > tolerance / 2) | ((angle > CORNER_RAD) & (angle > 3 * around)) | speck | np.roll(speck, 1)
    found: Bools = (angle > SMOOTH_RAD) & sharp
    return found


def _is_long(straight: Bools, sizes: Floats, corner: Bools) -> Bools:
    """A straight segment that somebody meant as one, not a facet of a curve."""
    alone = np.ones(len(sizes), np.bool_)
    for shift, between in ((1, corner), (-1, np.roll(corner, -1))):
        alone &= ~np.roll(straight, shift) | between | (sizes > 3 * np.roll(sizes, shift))
    found: Bools = (sizes > LINE_MM) & alone
    return found


def _ways(p: Points, straight: Bools, head: Points, tail: Points, breaks: Bools) -> tuple[Points, Points]:
    """The directions into each segment's end and out of its start: of the curve where there is one, else of the circle
    through three nodes, where the chords' directions are the means of the tangents'."""
    way_out, way_in = head.copy(), tail.copy()
    chord = p[:, 3] - p[:, 0]
    both = chord + np.roll(chord, 1)
    smooth = ~breaks
    facets = smooth & straight & np.roll(straight, 1)
    through = _unit(head * np.roll(tail, 1) * _unit(both).conj())
    mean = _unit(head + np.roll(tail, 1))
    joint = np.where(facets, through, np.where(straight, np.roll(tail, 1), np.where(np.roll(straight, 1), head, mean)))
    way_out = np.where(smooth, joint, way_out)
    way_in = np.where(np.roll(smooth, -1), np.roll(joint, -1), way_in)
    # at a break, a facet's own direction is that of its chord; the circle through it and the next node leans from there
    ahead = straight & breaks & np.roll(facets, -1)
    way_out = np.where(ahead, _unit(head * head * np.roll(joint, -1).conj()), way_out)
    behind = straight & np.roll(breaks, -1) & facets
    way_in = np.where(behind, _unit(tail * tail * joint.conj()), way_in)
    return way_in, way_out


def _unit(of: Points) -> Points:
    return of / np.maximum(np.abs(of), 1e-300)


def _sampled(p: Points, straight: Bools, way_out: Points, way_in: Points) -> tuple[Points, Points, tuple[int, ...]]:
    """Samples along a run's segments, the direction at each, and where the ends of its curves are.

    The two ends of a facet, PER_CURVE + 1 on a curve.
    """
    count = np.where(straight, 1, PER_CURVE)
    row = np.repeat(np.arange(len(p)), count)
    last = np.cumsum(count)
    step = np.arange(len(row)) - np.repeat(last - count, count)
    # closer together toward the ends, where a wrong direction would show
    t = (1 - np.cos(math.pi * step / count[row])) / 2
    at, slope, _ = derivatives(p[row], t[:, None])
    ways = np.where(step == 0, way_out[row], _unit(slope[:, 0]))
    joints = tuple(last[~straight | ~np.roll(straight, -1)].tolist())
    return np.append(at[:, 0], p[-1, 3]), np.append(ways, way_in[-1]), joints


def _walked(runs: list[_Run], tolerance: float, room: Sequence[int]) -> list[list[Curve]]:
    """Each run's cubics, the longest that fits first; all runs side by side.

    A run comes back as it was where the runs of its outline need more curves than there is room for.
    """
    walks = [_Walk(run) for run in runs]
    while going := _going(walks, room):
        samples, first, last = (np.array(each) for each in zip(*(walk.span() for walk in going), strict=True))
        controls, misses = fitted(samples, first, last, tolerance, tolerance)
        for walk, control, miss in zip(going, controls, misses.tolist(), strict=True):
            walk.learn(control, miss, tolerance)
    return [run.curves if walk.start < walk.end else walk.found for run, walk in zip(runs, walks, strict=True)]


def _going(walks: Sequence[_Walk], room: Sequence[int]) -> list[_Walk]:
    """The walks that are not at their end, of outlines that may still do with the curves that there is room for."""
    left = list(room)
    for walk in walks:
        left[walk.outline] -= len(walk.found) + (walk.start < walk.end)
    return [walk for walk in walks if walk.start < walk.end and left[walk.outline] >= 0]


class _Walk:
    """The search along one run: from sample `start`, the next `trial`, the longest `good` and shortest `bad` one."""

    def __init__(self, run: _Run) -> None:
        assert run.samples is not None
        assert run.ways is not None
        self.outline = run.outline
        self.samples, self.ways, self.joints = run.samples, run.ways, run.joints
        self.length = np.concatenate(([0.0], np.cumsum(np.abs(np.diff(run.samples)))))
        self.start, self.end = 0, len(run.samples) - 1
        self.good = self.bad = 0
        self.control: Points | None = None
        self.has_facets = any(len(curve) == 1 for curve in run.curves)
        self.looks_past = False
        self.trial = self._near(FIRST_TRY * PER_CURVE)
        self.found: list[Curve] = []

    def span(self) -> tuple[Points, complex, complex]:
        """The trial's samples along it, and the directions at its ends."""
        a, b = self.start, self.trial
        pick = np.searchsorted(self.length, self.length[a] + (self.length[b] - self.length[a]) * EVENLY)
        pick[0], pick[-1] = a, b
        return self.samples[pick], complex(self.ways[a]), complex(self.ways[b])

    def learn(self, control: Points, miss: float, tolerance: float) -> None:
        """Take the trial's result in, and choose the next trial."""
        reach = self.trial - self.start
        if miss <= tolerance:
            self.good, self.control = self.trial, control
            self.bad = 0 if self.looks_past else self.bad
        else:
            self.bad = self.trial
        if self.looks_past and self.good < self.trial:
            self._step()
        elif self.good and not self.bad and self.good < self.end:
            self.looks_past = False
            self.trial = self._near(self.start + 2 * reach)
        elif self.bad and not self.good and self.bad > self.start + 1:
            # the miss of a good fit grows with the sixth power of its length
            shrink = min(max((tolerance / max(miss, 1e-9)) ** (1 / 6), 0.2), 0.9)
            self.trial = self._near(self.start + int(reach * shrink))
        elif self.bad and self.good and self._is_open():
            self.trial = self._near((self.good + self.bad) // 2)
        elif self.good and self.bad and self.bad < self.end and self.has_facets:
            # a stretch a little longer may miss where one much longer fits again, if that one ends at a hidden node
            self.looks_past, self.bad = True, 0
            self.trial = self._near(self.start + PAST * (self.good - self.start))
        else:
            self._step()

    def _is_open(self) -> bool:
        """Whether there is a stop between the good and the bad one: a joint, or a sample where joints are hidden."""
        joint_between = bisect_right(self.joints, self.good) < bisect_left(self.joints, self.bad)
        return joint_between or (self.has_facets and self.bad - self.good > 1)

    def _step(self) -> None:
        stop = self.good or self.start + 1
        end = complex(self.samples[stop])
        if self.control is None:
            self.found.append((end,))
        else:
            _, c1, c2, _ = self.control.tolist()
            self.found.append((c1, c2, end))
        reach = stop - self.start
        self.start, self.good, self.bad, self.control, self.looks_past = stop, 0, 0, None, False
        if stop < self.end:
            self.trial = self._near(stop + reach)

    def _near(self, aim: int) -> int:
        """The stop nearest to `aim` that is still open: a joint if there is one, else a sample."""
        low, high = (self.good or self.start) + 1, self.bad - 1 if self.bad else self.end
        i, j = bisect_left(self.joints, low), bisect_right(self.joints, high)
        if i < j:
            return min(self.joints[i:j], key=lambda joint: (abs(joint - aim), joint))
        return min(max(aim, low), high)
