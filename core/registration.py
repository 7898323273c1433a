"""Registration: laying one region onto another by a turn and a shift, never a flip; many at once. mm, y up.

Terminology
    alignment   a turn and a shift that lay one region onto another
    any turn    said of regions of circles about one center: whatever the turn, it fits
    walk        a ring counterclockwise at even steps
    miss        what an alignment of two walks is off by, root mean square in mm, before it is refined
    row         one alignment among many that are refined together

Candidates for the turn come from the outer rings, whose walks are correlated by fast Fourier transform; each is then
refined by least squares over nearest points and judged by the largest deviation of all rings. Where the outer ring is
round, the holes decide.

Sources: correlation of contours, E. Persoon and K. S. Fu, Shape discrimination using Fourier descriptors (IEEE SMC-7,
1977); point-to-line refinement, Y. Chen and G. Medioni, Object modelling by registration of multiple range images
(Image and Vision Computing 10, 1992).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Final

import numpy as np

from clothpath.closeness import Chains, Indices, chains, deviations, feet, paired, taken
from clothpath.curves import Bools, Floats, Points
from clothpath.regions import Region

__all__ = [
    "WALK",
    "Alignment",
    "Fit",
    "Rings",
    "aligned_at",
    "alignments",
    "correlated",
    "fitted",
    "rings",
    "rough_miss",
    "walked",
]

WALK: Final = 256
"""Steps round a ring for the correlation."""
THIN: Final = 4
"""Every so many steps of a walk take part in the refinement."""
ROUGH: Final = 0.5
"""A candidate may be off by this part of a walking step, root mean square, before it is refined."""
ROUNDS: Final = 6
"""Most rounds of refinement; each about squares the error of the last."""
SETTLED_MM: Final = 0.0005
"""A round that moves no row by more is the last."""
REFINE_MM: Final = 0.005
"""Tolerance of the chains on which alignments are judged."""
SURE_MM: Final = 0.02
"""Deviations beyond this are made exact."""
SAME_TURN_DEG: Final = 0.5
"""Alignments whose turns differ by less are one."""


@dataclass(frozen=True, slots=True)
class Alignment:
    """The map p -> shift + R(turn) p that lays one region onto another.

    Attributes:
        turn_deg: counterclockwise about the origin, in [0, 360).
        shift: in mm, after the turn.
        deviation: the largest distance of any ring's points from the other's, in mm.
        any_turn: every other turn about the center fits as well.
    """

    turn_deg: float
    shift: complex
    deviation: float
    any_turn: bool = False


def alignments(a: Region, b: Region, tolerance: float) -> tuple[Alignment, ...]:
    """All turns by which `a`, turned and shifted but not flipped, lies within `tolerance` mm of `b`; the best first.

    Where any turn fits, the one alignment that does not turn says so.
    """
    if len(a.holes) != len(b.holes):
        return ()
    one, two = rings(a), rings(b)
    if not one.comparable(two, tolerance):
        return ()
    if one.spread() <= tolerance / 2 and two.spread() <= tolerance / 2:
        (found,) = _judged(one, two, np.zeros(1), may_turn=np.array([False]))
        return (replace(found, any_turn=True),) if found.deviation <= tolerance else ()
    turns = _candidates(one, two, tolerance)
    if not len(turns):
        return ()
    good = [each for each in _judged(one, two, turns, np.ones(len(turns), np.bool_)) if each.deviation <= tolerance]
    distinct: list[Alignment] = []
    for each in sorted(good, key=lambda found: (found.deviation, found.turn_deg)):
        if all(_apart(each.turn_deg, other.turn_deg) >= SAME_TURN_DEG for other in distinct):
            distinct.append(each)
    return tuple(distinct)


def aligned_at(a: Region, b: Region, turn_deg: float) -> Alignment:
    """`a` turned by just this and shifted onto `b` as well as it goes; an infinite deviation if their holes differ."""
    if len(a.holes) != len(b.holes):
        return Alignment(turn_deg % 360, 0j, math.inf)
    (found,) = _judged(rings(a), rings(b), np.array([math.radians(turn_deg)]), np.array([False]))
    return found


def _apart(one: float, two: float) -> float:
    return abs((one - two + 180) % 360 - 180)


@dataclass(frozen=True, slots=True, eq=False)
class Rings:
    """The rings of one region, outer one first, ready to be compared.

    Attributes:
        chains: the rings, each in the direction in which it runs.
        walks: (rings, WALK) complex; each ring counterclockwise at even steps from its start.
        centers: (rings,) complex; the mean of each walk.
    """

    chains: Chains
    walks: Points
    centers: Points

    def comparable(self, other: Rings, tolerance: float) -> bool:
        """False if the areas alone show that no alignment is within the tolerance."""
        mine, its = self.chains, other.chains
        slack = tolerance * 1.1 * max(mine.length[0], its.length[0]) + math.pi * tolerance**2
        return bool(abs(abs(mine.area[0]) - abs(its.area[0])) <= slack)

    def spread(self) -> float:
        """How far, in mm, the rings are from circles about one center; 0 for perfect rings."""
        away = np.abs(self.walks - self.centers[0])
        return float(np.ptp(away, axis=1).max())


@lru_cache(maxsize=1024)
def rings(region: Region) -> Rings:
    """The rings of a region, kept for the next question about it."""
    found = chains(tuple(region), REFINE_MM)
    walks = walked(found)
    return Rings(found, walks, walks.mean(axis=1))


def walked(of: Chains) -> Points:
    """(n, WALK): the chains counterclockwise at even steps, each from its start."""
    ways = np.arange(WALK) / WALK * of.length[:, None]
    ways = np.where((of.area < 0)[:, None], of.length[:, None] - ways, ways)
    return of.at(np.broadcast_to(np.arange(len(of))[:, None], ways.shape), ways)


def correlated(a: Points, b: Points) -> tuple[Floats, Floats, Bools]:
    """How walk i of `a` fits walk i of `b` for each of the WALK pairings of their steps.

    Args:
        a, b: (n, WALK) complex.

    Returns:
        (n, WALK) the best turn, in radians; (n, WALK) what it misses by, root mean square in mm; (n, WALK) whether no
        neighboring pairing fits better.
    """
    a, b = a - a.mean(axis=1, keepdims=True), b - b.mean(axis=1, keepdims=True)
    match = np.fft.ifft(np.fft.fft(b) * np.fft.fft(a).conj())
    size = np.abs(match)
    before, after = np.roll(size, 1, axis=1), np.roll(size, -1, axis=1)
    # the parabola through a peak and its neighbors gives the pairing between two steps
    bend = before - 2 * size + after
    offset = np.where(bend < 0, (before - after) / np.where(bend < 0, 2 * bend, 1), 0).clip(-0.5, 0.5)
    top = size - (before - after) * offset / 4
    energy = (np.abs(a) ** 2).sum(axis=1) + (np.abs(b) ** 2).sum(axis=1)
    miss = np.sqrt(np.maximum(energy[:, None] - 2 * top, 0) / WALK)
    drift = np.angle(np.roll(match, -1, axis=1) * np.roll(match, 1, axis=1).conj()) / 2
    return np.angle(match) + drift * offset, miss, (size >= before) & (size > after)


def rough_miss(length: Floats | float, tolerance: float) -> Floats | float:
    """What a walk may miss by before it is refined, if after it no point is to be off by more than the tolerance."""
    return tolerance + ROUGH * length / WALK


def _candidates(a: Rings, b: Rings, tolerance: float) -> Floats:
    """(k,) turns in radians worth refining."""
    about_a, about_b = a.centers[0], b.centers[0]
    if np.ptp(np.abs(a.walks[0] - about_a)) > tolerance:
        return _turns(a.walks[0], b.walks[0], float(a.chains.length[0]), tolerance)
    # the outer ring is round: the hole farthest from its center must come to lie on one of the other's holes
    arms = a.centers - about_a
    far = int(np.abs(arms).argmax())
    if abs(arms[far]) > tolerance:
        others = b.centers - about_b
        fits = np.abs(np.abs(others) - abs(arms[far])) <= 2 * tolerance
        turns: Floats = np.angle(others[fits] / arms[far])
        return turns
    uneven = int(np.ptp(np.abs(a.walks - about_a), axis=1).argmax())
    found = [_turns(a.walks[uneven], walk, float(a.chains.length[uneven]), tolerance) for walk in b.walks[1:]]
    return np.concatenate(found)


def _turns(a: Points, b: Points, length: float, tolerance: float) -> Floats:
    """The turns at which walk `a` fits walk `b`, roughly."""
    turn, miss, peak = correlated(a[None], b[None])
    return turn[peak & (miss <= rough_miss(length, tolerance))]


def _judged(a: Rings, b: Rings, turns: Floats, may_turn: Bools) -> list[Alignment]:
    """The alignments that grow from these turns (radians), refined where they may turn, each with its deviation."""
    count, each = len(turns), len(a.chains)
    shift = b.centers[0] - np.exp(1j * turns) * a.centers[0]
    partner = np.concatenate([_partners(a, b, turns[k], shift[k]) for k in range(count)])
    fit = fitted(
        taken(a.chains, np.tile(np.arange(each), count)),
        np.tile(a.walks, (count, 1)),
        taken(b.chains, partner),
        np.repeat(np.arange(count), each),
        (turns, shift),
        may_turn,
    )
    return [
        Alignment(float(np.degrees(turn) % 360), complex(to), float(distance))
        for turn, to, distance in zip(fit.turn, fit.shift, fit.deviation, strict=True)
    ]


def _partners(a: Rings, b: Rings, turn: float, shift: complex) -> Indices:
    """For each ring of `a` the ring of `b` onto which it comes to lie: by center and length, each only once."""
    count = len(a.chains)
    if count <= 2:
        return np.arange(count)
    moved_centers = np.exp(1j * turn) * a.centers + shift
    cost = np.abs(moved_centers[:, None] - b.centers) + np.abs(a.chains.length[:, None] - b.chains.length)
    cost[0, :] = cost[:, 0] = np.inf
    partner = np.zeros(count, dtype=np.intp)
    for _ in range(count - 1):
        i, j = np.unravel_index(int(cost.argmin()), cost.shape)
        partner[i] = j
        cost[i, :] = cost[:, j] = np.inf
    return partner


@dataclass(frozen=True, slots=True, eq=False)
class Fit:
    """Alignments of many sets of rings, one a row: (rows,) turn in radians, shift, deviation in mm."""

    turn: Floats
    shift: Points
    deviation: Floats


def fitted(a: Chains, walks: Points, b: Chains, row: Indices, start: tuple[Floats, Points], may_turn: Bools) -> Fit:
    """Refine alignments of chain i of `a` onto chain i of `b`, where all chains of one row move as one.

    Args:
        walks: (n, WALK) complex; points along each chain of `a`, on which the refinement works.
        row: (n,) the row of each chain, rising.
        start: (rows,) turn in radians and (rows,) shift to begin with.
        may_turn: (rows,) whether the turn is refined too.
    """
    points = walks[:, ::THIN]
    count = points.shape[1]
    thin = Chains(
        np.append(points, points[:, :1], axis=1).ravel(),
        np.arange(len(points) + 1) * (count + 1),
        np.ones(len(points), dtype=np.bool_),
    )
    # the way round the chain itself, not across its bends, in the lengths of the chain that it is looked for on
    ways = (np.arange(count + 1) / count * b.length[:, None]).ravel()
    spin, shift = np.exp(1j * start[0]), start[1]
    starts = np.searchsorted(row, np.arange(len(may_turn)))
    of_point = row[thin.chain]
    for _ in range(ROUNDS):
        now = replace(thin, points=spin[of_point] * thin.points + shift[of_point])
        step, by = _step(now, ways, b, of_point, may_turn)
        before = spin * points[starts, 0] + shift
        spin, shift = spin * by, shift * by + step
        if np.abs(spin * points[starts, 0] + shift - before).max() <= SETTLED_MM:
            break
    of_vertex = row[a.chain]
    there = replace(a, points=spin[of_vertex] * a.points + shift[of_vertex])
    off = np.zeros(len(may_turn))
    np.maximum.at(off, row, deviations(there, b, SURE_MM))
    return Fit(np.angle(spin), shift, off)


def _step(a: Chains, ways: Floats, b: Chains, row: Indices, may_turn: Bools) -> tuple[Points, Points]:
    """The small shift and turn, (rows,) each, that bring `a` nearer to `b` by least squares over nearest points.

    Linear in dx, dy and the angle w about each row's mean m: n . (dx + dy i + w i (y - m) - (foot - y)) = 0, n the
    normal of `b` at the foot of y.
    """
    rows = len(may_turn)
    pairing = paired(a, b)
    near = feet(a.points, a.chain, pairing.start[a.chain] + pairing.sense[a.chain] * ways, b)
    weight = np.abs(a.steps)
    total = np.bincount(row, weight, rows)
    mean = (
        np.bincount(row, weight * a.points.real, rows) + 1j * np.bincount(row, weight * a.points.imag, rows)
    ) / total
    normal = near.direction * 1j
    arm = 1j * (a.points - mean[row])
    columns = (normal.real, normal.imag, (arm * normal.conj()).real * may_turn[row])
    rest = ((near.at - a.points) * normal.conj()).real
    matrix, right = np.empty((rows, 3, 3)), np.empty((rows, 3, 1))
    for i, left in enumerate(columns):
        right[:, i, 0] = np.bincount(row, weight * left * rest, rows)
        for j, other in enumerate(columns[: i + 1]):
            matrix[:, i, j] = matrix[:, j, i] = np.bincount(row, weight * left * other, rows)
    # a circle resists no turn and a straight line no slide: a trace of damping keeps those where they are
    trace = matrix[:, 0, 0] + matrix[:, 1, 1] + matrix[:, 2, 2]
    matrix += (1e-12 * trace[:, None, None] + 1e-300) * np.eye(3)
    solved = np.linalg.solve(matrix, right)[:, :, 0]
    by: Points = np.exp(1j * solved[:, 2])
    return mean + solved[:, 0] + 1j * solved[:, 1] - by * mean, by
