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
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Final

import numpy as np

from clothpath.curves import Bools, Floats, Points
from clothpath.fitting.closeness import Chains, Feet, Indices, chains, deviations, feet, taken
from clothpath.regions import Region

__all__ = [
    "WALK",
    "Alignment",
    "Rings",
    "aligned",
    "aligned_at",
    "alignments",
    "correlated",
    "mirrored",
    "refined",
    "rings",
    "rough_miss",
    "walked",
    "walked_feet",
]

WALK: Final = 256
"""Steps round a ring for the correlation."""
THIN: Final = 4
"""Every so many steps of a walk take part in the refinement."""
ROUGH: Final = 0.5
"""A candidate may be off by this part of a walking step, root mean square, before it is refined."""
ROUNDS: Final = 6
"""Most rounds of refinement; each about squares the error of the last."""
STRAY: Final = 4.0
"""A foot this many times as far as the median lies beyond a sharp tip or in another bay: it has no say."""
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
    return aligned(rings(a), rings(b), tolerance)


def aligned(one: Rings, two: Rings, tolerance: float) -> tuple[Alignment, ...]:
    """As `alignments`, of rings that are at hand."""
    if not one.comparable(two, tolerance):
        return ()
    off = one.off_as_circles(two)
    if off <= tolerance:
        return (Alignment(0.0, complex(two.centers[0] - one.centers[0]), off, any_turn=True),)
    turns = _candidates(one, two, tolerance)
    if not len(turns):
        return ()
    good = [each for each in _judged(one, two, turns, np.ones(len(turns), np.bool_)) if each.deviation <= tolerance]
    distinct: list[Alignment] = []
    for each in sorted(good, key=lambda found: (found.deviation, found.turn_deg)):
        if all(_apart(each.turn_deg, other.turn_deg) >= SAME_TURN_DEG for other in distinct):
            distinct.append(each)
    return tuple(distinct)


def aligned_at(one: Rings, two: Rings, turns_deg: Sequence[float]) -> list[Alignment]:
    """`one` turned by just these and shifted onto `two` as well as it goes; none if their counts of holes differ."""
    if len(one.chains) != len(two.chains):
        return []
    return _judged(one, two, np.radians(turns_deg), np.zeros(len(turns_deg), dtype=np.bool_))


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
        """False if counts or areas alone show that no alignment is within the tolerance."""
        mine, its = self.chains, other.chains
        if len(mine) != len(its):
            return False
        slack = tolerance * 1.1 * max(mine.length[0], its.length[0]) + math.pi * tolerance**2
        return bool(abs(abs(mine.area[0]) - abs(its.area[0])) <= slack)

    def off_as_circles(self, other: Rings) -> float:
        """What no point of either is farther from the other's rings than, in mm, once their centers coincide, whatever
        the turn: small where the rings of both are circles about one center."""
        mine, its = np.abs(self.walks - self.centers[0]), np.abs(other.walks - other.centers[0])
        outside = np.maximum(mine.max(axis=1), its.max(axis=1))
        return float((outside - np.minimum(mine.min(axis=1), its.min(axis=1))).max())


@lru_cache(maxsize=1024)
def rings(region: Region) -> Rings:
    """The rings of a region, kept for the next question about it."""
    found = chains(tuple(region), REFINE_MM)
    walks = walked(found)
    return Rings(found, walks, walks.mean(axis=1))


def mirrored(of: Rings) -> Rings:
    """The rings of the mirror image, x -> -x."""
    flipped = replace(of.chains, points=-of.chains.points.conj())
    return Rings(flipped, -of.walks[:, ::-1].conj(), -of.centers.conj())


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
    onto = b.walks[1:] if uneven else b.walks[:1]
    found = [_turns(a.walks[uneven], walk, float(a.chains.length[uneven]), tolerance) for walk in onto]
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
    mine, its = taken(a.chains, np.tile(np.arange(each), count)), taken(b.chains, partner)
    row = np.repeat(np.arange(count), each)
    walks = np.tile(a.walks, (count, 1))
    spin, shift, _ = refined(walks, its, b.walks[partner], row, (np.exp(1j * turns), shift), may_turn)
    of_vertex = row[mine.chain]
    there = replace(mine, points=spin[of_vertex] * mine.points + shift[of_vertex])
    off = deviations(there, its, SURE_MM).reshape(count, each).max(axis=1)
    return [
        Alignment(float(np.degrees(np.angle(turn)) % 360), complex(to), float(distance))
        for turn, to, distance in zip(spin, shift, off, strict=True)
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


def refined(
    walks: Points, on: Chains, its_walks: Points, row: Indices, start: tuple[Points, Points], may_turn: Bools
) -> tuple[Points, Points, Floats]:
    """Refine alignments p -> spin p + shift of walk i onto chain i, where all walks of one row move as one.

    Args:
        walks: (n, WALK) complex.
        its_walks: (n, WALK) complex; those of the chains.
        row: (n,) the row of each walk, rising.
        start: (rows,) spin, complex of length 1, and (rows,) shift to begin with.
        may_turn: (rows,) whether the spin is refined too.

    Returns:
        spin and shift, (rows,) each, and (n, WALK) about how far along its chain the foot of each point lies.
    """
    spin, shift = start
    ways = _ways(spin[row, None] * walks + shift[row, None], its_walks, on)
    firsts = np.searchsorted(row, np.arange(len(may_turn)))
    for _ in range(ROUNDS):
        now = spin[row, None] * walks[:, ::THIN] + shift[row, None]
        step, by = _step(now, walked_feet(now, ways[:, ::THIN], on), row, may_turn)
        spin, shift = spin * by, shift * by + step
        if np.abs(by[row[firsts]] * now[firsts, 0] + step[row[firsts]] - now[firsts, 0]).max() <= SETTLED_MM:
            break
    return spin, shift, ways


def walked_feet(walks: Points, ways: Floats, on: Chains, enough: float = 0.0) -> Feet:
    """The feet of the points of walk i, (n, k), on chain i, looked for around these ways along; as flat arrays."""
    return feet(walks.ravel(), np.repeat(np.arange(len(walks)), walks.shape[1]), ways.ravel(), on, enough)


def _ways(walks: Points, its_walks: Points, on: Chains) -> Floats:
    """(n, WALK): how far along chain i walk i is at each step, if the two are paired as well as they can be as a whole.

    Point by point is not enough: a point may lie nearer to another strand of the ring than to its own.
    """
    fit = np.fft.ifft(np.fft.fft(its_walks) * np.fft.fft(walks).conj()).real
    steps = (np.arange(WALK) + fit.argmax(axis=1)[:, None]) % WALK
    length = on.length[:, None]
    ways: Floats = np.where((on.area < 0)[:, None], length - steps / WALK * length, steps / WALK * length)
    return ways


def _step(walks: Points, near: Feet, row: Indices, may_turn: Bools) -> tuple[Points, Points]:
    """The small shift and turn, (rows,) each, that bring walks nearer to their feet by least squares, strays left out.

    Linear in dx, dy and the angle w about each row's mean m: n . (dx + dy i + w i (y - m) - (foot - y)) = 0, n the
    normal of the chain at the foot of y.
    """
    rows = len(may_turn)
    y, of_point = walks.ravel(), np.repeat(row, walks.shape[1])
    weight = np.repeat(np.abs(np.diff(walks, axis=1)).sum(axis=1), walks.shape[1])
    square = near.distance**2
    count = np.bincount(of_point, minlength=rows)
    usual = square[np.lexsort((square, of_point))[np.cumsum(count) - count + count // 2]]
    weight = np.where(square > STRAY**2 * usual[of_point] + SETTLED_MM**2, 0.0, weight)
    total = np.bincount(of_point, weight, rows)
    mean = np.bincount(of_point, weight * y.real, rows) + 1j * np.bincount(of_point, weight * y.imag, rows)
    mean /= total
    normal = near.direction * 1j
    arm = 1j * (y - mean[of_point])
    columns = (normal.real, normal.imag, (arm * normal.conj()).real * may_turn[of_point])
    rest = ((near.at - y) * normal.conj()).real
    matrix, right = np.empty((rows, 3, 3)), np.empty((rows, 3, 1))
    for i, left in enumerate(columns):
        right[:, i, 0] = np.bincount(of_point, weight * left * rest, rows)
        for j, other in enumerate(columns[: i + 1]):
            matrix[:, i, j] = matrix[:, j, i] = np.bincount(of_point, weight * left * other, rows)
    # a circle resists no turn and a straight line no slide: a trace of damping keeps those where they are
    trace = matrix[:, 0, 0] + matrix[:, 1, 1] + matrix[:, 2, 2]
    matrix += (1e-12 * trace[:, None, None] + 1e-300) * np.eye(3)
    solved = np.linalg.solve(matrix, right)[:, :, 0]
    by: Points = np.exp(1j * solved[:, 2])
    return mean + solved[:, 0] + 1j * solved[:, 1] - by * mean, by
