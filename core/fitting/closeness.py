"""How far curves lie from each other; many pairs of curves at once. Millimeters, y up.

Terminology
    chain       the polyline that stands for one path; that of an outline returns to its first vertex
    along       the way along a chain from its first vertex, in mm
    foot        the point of a chain nearest to a given point
    deviation   of two curves: the largest distance of any point of either from the other (Hausdorff distance)

All chains of a set lie one after the other in flat arrays, so that a sheet of outlines costs a handful of numpy calls.
The foot of a point is looked for around a guess of its way along, which follows from the pairing of the two curves; it
moves on while a neighboring segment is nearer. A deviation that this leaves too large is made exact.

Sources: chord error h^2/8 max|B''|, C. de Boor, A Practical Guide to Splines (1978), ch. II; Hausdorff distance,
F. Hausdorff, Grundzüge der Mengenlehre (1914).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Final

import numpy as np
from numpy.typing import NDArray

from clothpath.beziers import steps_within
from clothpath.curves import Bools, Floats, Outline, Path, Points, gathered

__all__ = [
    "CHAIN_MM",
    "Chains",
    "Feet",
    "Indices",
    "Pairing",
    "chains",
    "deviations",
    "feet",
    "greatest_deviation",
    "paired",
    "taken",
]

CHAIN_MM: Final = 0.001
"""Largest distance between a curve and its chain, in mm: a tenth of the finest budget of a written outline."""
MOST_PIECES: Final = 4096
"""Most steps of a chain along one cubic; enough for a curve of 10 km, so that a damaged number asks for no more."""
ENOUGH: Final = 0.2
"""Distances below this part of what is sure enough are not looked into."""
MOVES: Final = 8
"""How often a guess may move on to a neighboring segment."""
AT_ONCE: Final = 8
"""Points made exact at once, the farthest first."""
TINY_MM: Final = 1e-12
"""Keeps the length of a chain that is one point from dividing."""

Indices = NDArray[np.intp]


@dataclass(frozen=True, eq=False)
class Chains:
    """The chains of n paths.

    Attributes:
        points: (m,) complex; the vertices of all chains; the first vertex of an outline is repeated at its end.
        first: (n + 1,); chain i has the vertices first[i] up to first[i + 1].
        closed: (n,) bool.
    """

    points: Points
    first: Indices
    closed: Bools

    def __len__(self) -> int:
        return len(self.closed)

    @cached_property
    def chain(self) -> Indices:
        """(m,); the chain of each vertex."""
        return np.repeat(np.arange(len(self)), np.diff(self.first))

    @cached_property
    def steps(self) -> Points:
        """(m,) complex; from each vertex to the next of its chain, 0 at the last."""
        steps = np.empty_like(self.points)
        steps[:-1] = self.points[1:] - self.points[:-1]
        steps[self.first[1:] - 1] = 0
        return steps

    @cached_property
    def per_square(self) -> Floats:
        """(m,); 1 / |step|^2, 0 where the step is 0."""
        square = self.steps.real**2 + self.steps.imag**2
        return np.divide(1.0, square, out=np.zeros_like(square), where=square > 0)

    @cached_property
    def key(self) -> Floats:
        """(m,); the way along, on from chain to chain: never decreasing, with a step of 1 mm between chains."""
        gaps = np.abs(self.steps)
        gaps[self.first[1:] - 1] = 1.0
        key = np.cumsum(gaps)
        key -= gaps
        return key

    @cached_property
    def base(self) -> Floats:
        """(n,); the key at each chain's first vertex."""
        return self.key[self.first[:-1]]

    @cached_property
    def along(self) -> Floats:
        """(m,); the way along of each vertex."""
        return self.key - self.base[self.chain]

    @cached_property
    def length(self) -> Floats:
        """(n,)"""
        return self.key[self.first[1:] - 1] - self.base

    @cached_property
    def area(self) -> Floats:
        """(n,); signed, of each chain closed by a chord: positive if counterclockwise."""
        from_start = self.points - self.points[self.first[:-1]][self.chain]
        cross = from_start.real * self.steps.imag - from_start.imag * self.steps.real
        return np.add.reduceat(cross, self.first[:-1]) / 2

    @cached_property
    def boxes(self) -> Floats:
        """(n, 4); left, bottom, right, top of each chain."""
        x, y, at = self.points.real, self.points.imag, self.first[:-1]
        low, high = np.minimum.reduceat, np.maximum.reduceat
        return np.stack((low(x, at), low(y, at), high(x, at), high(y, at)), axis=1)

    def at(self, chain: Indices, along: Floats) -> Points:
        """The points this far along these chains; the arrays have one shape."""
        key = self.base[chain] + along
        result = np.empty(key.shape, dtype=np.complex128)
        result.real = np.interp(key, self.key, self.points.real)
        result.imag = np.interp(key, self.key, self.points.imag)
        return result


@dataclass(frozen=True, slots=True, eq=False)
class Feet:
    """The nearest points of chains to given points; all arrays have one entry a given point.

    Attributes:
        at: complex.
        direction: complex, of length 1: that of the chain there.
        distance: in mm.
    """

    at: Points
    direction: Points
    distance: Floats


@dataclass(frozen=True, slots=True, eq=False)
class Pairing:
    """How the ways along two sets of n chains correspond: along_b = start + sense * along_a.

    Attributes:
        start: (n,); the way along b of its point nearest to the start of a.
        sense: (n,); 1 where both run the same way round, else -1.
    """

    start: Floats
    sense: Floats


def chains(paths: Sequence[Path], tolerance: float = CHAIN_MM) -> Chains:
    """The chains of the paths, each within `tolerance` mm of its path.

    Raises:
        ValueError: there are no paths.
    """
    if not paths:
        raise ValueError("no paths, so no chains")
    p, straight, firsts = gathered(paths)
    p0, p1, p2, p3 = p.T
    last = firsts[1:] - 1
    pieces = np.where(straight, 1, steps_within(p, tolerance).clip(max=MOST_PIECES)).astype(np.intp)
    slots = pieces.copy()
    slots[last] += 1
    segment = np.repeat(np.arange(len(p)), slots)
    begin = np.cumsum(slots) - slots
    t = (np.arange(len(segment)) - begin[segment]) / pieces[segment]
    points = p0[segment]
    inner = np.flatnonzero(t)
    t, of = t[inner], segment[inner]
    s = 1 - t
    points[inner] = s * s * (s * p0[of] + 3 * t * p1[of]) + t * t * (3 * s * p2[of] + t * p3[of])
    first = np.append(begin[firsts[:-1]], len(segment))
    points[first[1:] - 1] = p3[last]
    return Chains(points, first, np.array([isinstance(path, Outline) for path in paths]))


def taken(of: Chains, which: Indices) -> Chains:
    """The chains with these indices, in this order; an index may be given several times."""
    counts = np.diff(of.first)[which]
    first = np.append(0, np.cumsum(counts))
    gather = np.arange(first[-1]) + np.repeat(of.first[which] - first[:-1], counts)
    return replace(of, points=of.points[gather], first=first, closed=of.closed[which])


def paired(a: Chains, b: Chains) -> Pairing:
    """How the ways along chain i of `a` and chain i of `b` correspond."""
    starts = a.points[a.first[:-1]]
    square = _squares(starts[b.chain], np.arange(len(b.points)), b)
    least = np.minimum.reduceat(square, b.first[:-1])
    hits = np.flatnonzero(square == least[b.chain])
    segment = hits[np.searchsorted(b.chain[hits], np.arange(len(b)))]
    part = (((starts - b.points[segment]) * b.steps[segment].conj()).real * b.per_square[segment]).clip(0, 1)
    start = b.along[segment] + part * np.abs(b.steps[segment])
    both_open = ~(a.closed | b.closed)
    same_way = np.where(both_open, start <= b.length / 2, a.area * b.area >= 0)
    return Pairing(start, np.where(same_way, 1.0, -1.0))


def deviations(a: Chains, b: Chains, sure: float) -> Floats:
    """(n,): the deviation of chain i of `a` and chain i of `b` from each other, in mm, within both chains' tolerances.

    A distance found around the guessed place is never too small; where it is more than `sure` mm it may be too large
    and is made exact before it counts as its chain's largest. A deviation of less than `ENOUGH` of that may be given
    as just that. An open chain may run on past the start of the closed one that it follows; where it stops short, the
    middle of its gap counts. Vertices are enough: between two of them a chain is straight, and the other one, which has
    to pass both, shows by its own vertices where it strays.
    """
    to_b, to_a = _guesses(a, b)
    found = np.maximum(_farthest(a, to_b, b, sure), _farthest(b, to_a, a, sure))
    return np.maximum(found, _shortfall(a, b))


def greatest_deviation(a: Chains, b: Chains) -> float:
    """The largest of all deviations of chain i of `a` and chain i of `b` from each other, in mm; see `deviations`.

    Far quicker than each of them: only chains that may be the worst are looked into.
    """
    worst = float(_shortfall(a, b).max())
    to_b, to_a = _guesses(a, b)
    for of, along, on in ((a, to_b, b), (b, to_a, a)):
        near = feet(of.points, of.chain, along, on).distance
        at_most = np.maximum.reduceat(near, of.first[:-1])
        for row in np.argsort(-at_most, kind="stable").tolist():
            if at_most[row] <= worst:
                break
            worst = max(worst, _exactly(of, row, near, on))
    return worst


def _guesses(a: Chains, b: Chains) -> tuple[Floats, Floats]:
    """For each vertex of `a` the way along `b` where its foot is looked for, and the other way round."""
    pairing = paired(a, b)
    to_b = pairing.start[a.chain] + pairing.sense[a.chain] * a.along
    to_a = pairing.sense[b.chain] * (b.along - pairing.start[b.chain])
    round_a, round_b = a.closed & ~b.closed, b.closed & ~a.closed
    if round_a.any():
        to_b = np.where(round_a[a.chain], np.mod(to_b, a.length[a.chain]), to_b)
    if round_b.any():
        to_a = np.where(round_b[b.chain], np.mod(to_a, b.length[b.chain]), to_a)
    return to_b, to_a


def _shortfall(a: Chains, b: Chains) -> Floats:
    """(n,): half of the gap of an open chain that stops short of the closed one that it follows, else 0."""
    found = np.zeros(len(a))
    for round_one, open_one in ((a, b), (b, a)):
        short = round_one.closed & ~open_one.closed & (open_one.length < round_one.length)
        ends = open_one.points[open_one.first[1:] - 1] - open_one.points[open_one.first[:-1]]
        found = np.where(short, np.abs(ends) / 2, found)
    return found


def _farthest(of: Chains, along: Floats, on: Chains, sure: float) -> Floats:
    """(n,): the largest distance of a vertex of chain i of `of` from chain i of `on`."""
    near = feet(of.points, of.chain, along, on, sure * ENOUGH).distance
    found = np.maximum.reduceat(near, of.first[:-1])
    for row in np.flatnonzero(found > sure).tolist():
        found[row] = _exactly(of, row, near, on)
    return found


def _exactly(of: Chains, row: int, at_most: Floats, on: Chains) -> float:
    """The largest distance of a vertex of one chain from the other of its row; `at_most` bounds that of each vertex."""
    mine = slice(of.first[row], of.first[row + 1])
    segments = np.arange(on.first[row], on.first[row + 1] - 1)
    order = mine.start + np.argsort(-at_most[mine], kind="stable")
    exact = 0.0
    for some in np.array_split(order, range(AT_ONCE, len(order), AT_ONCE)):
        if exact >= at_most[some[0]]:
            break
        square = _squares(of.points[some][:, None], segments[None, :], on).min(axis=1)
        exact = max(exact, float(np.sqrt(square.max())))
    return exact


def feet(points: Points, chain: Indices, along: Floats, on: Chains, enough: float = 0.0) -> Feet:
    """The feet of (k,) points on the chains of `on` with these indices, looked for around these ways along.

    Args:
        enough: mm; a foot as near as this will do, even if a neighboring segment has a nearer one.
    """
    length, low = on.length[chain], on.first[chain]
    count = on.first[1:][chain] - low - 1
    wrap = on.closed[chain]
    within = np.where(wrap, along - length * np.floor(along / np.maximum(length, TINY_MM)), along.clip(0, length))
    best = (np.searchsorted(on.key, on.base[chain] + within, side="right") - 1 - low).clip(0, count - 1)
    square = _squares(points, low + best, on)
    moving = np.flatnonzero(square > enough * enough)
    for _ in range(MOVES):
        if not len(moving):
            break
        at = best[moving]
        nearer, less = _better(points[moving], at, square[moving], low[moving], count[moving], wrap[moving], on)
        best[moving], square[moving] = nearer, less
        moving = moving[nearer != at]
    segment = low + best
    step, start_point = on.steps[segment], on.points[segment]
    t = (((points - start_point) * step.conj()).real * on.per_square[segment]).clip(0, 1)
    return Feet(start_point + t * step, step * np.sqrt(on.per_square[segment]), np.sqrt(square))


def _better(
    points: Points, best: Indices, square: Floats, low: Indices, count: Indices, wrap: Bools, on: Chains
) -> tuple[Indices, Floats]:
    """For each point the best of a segment and its two neighbors, and the squared distance."""
    before = np.where(best > 0, best - 1, np.where(wrap, count - 1, 0))
    after = np.where(best < count - 1, best + 1, np.where(wrap, 0, count - 1))
    for tried in (before, after):
        other = _squares(points, low + tried, on)
        better = other < square
        best, square = np.where(better, tried, best), np.where(better, other, square)
    return best, square


def _squares(points: Points, segments: Indices, on: Chains) -> Floats:
    """The squared distances of points from segments, broadcast."""
    step = on.steps[segments]
    away = points - on.points[segments]
    t = ((away.real * step.real + away.imag * step.imag) * on.per_square[segments]).clip(0, 1)
    away -= t * step
    square: Floats = away.real**2 + away.imag**2
    return square
