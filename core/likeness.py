"""Which regions are alike: the same up to a turn and a shift, or seen in a mirror; and the symmetry of each.

Terminology
    alignment       a turn and a shift that lay one region onto another; never a flip
    any turn        said of a region of circles about one center: whatever the turn, it fits
    mirror image    the region flipped, x -> -x
    achiral         so like its mirror image that nobody can tell whether it was reversed
    order           how many turns of a full circle lay a region onto itself; 1: only the full turn
    axis            a line through the center in which a region is its own mirror image
    class           pieces that are alike, and those that are like their mirror image

Candidates for the turn come from the outer ring, walked at even steps and correlated with the other one's walk by fast
Fourier transform; each is then refined by least squares over nearest points and judged by the largest deviation of all
rings. Where the outer ring is round, the holes decide.

Sources: correlation of contours, E. Persoon and K. S. Fu, Shape discrimination using Fourier descriptors (IEEE SMC-7,
1977); point-to-line refinement, Y. Chen and G. Medioni, Object modelling by registration of multiple range images (Image
and Vision Computing 10, 1992).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Final

import numpy as np

from clothpath.closeness import Chains, Indices, chains, deviations, feet, paired, taken
from clothpath.curves import Affine, Bools, Floats, Points
from clothpath.design import GRAIN_TURNS, Design, Grain
from clothpath.regions import Region, moved

__all__ = [
    "LIKE_MM",
    "Alignment",
    "Class",
    "Likeness",
    "Symmetry",
    "alignments",
    "is_achiral",
    "likeness",
    "relative_turns",
    "symmetry",
]

LIKE_MM: Final = 0.05
"""Regions within this of each other are the same to the eye and to the needle."""
WALK: Final = 256
"""Steps round a ring for the correlation."""
REFINE_MM: Final = 0.005
"""Tolerance of the chains on which alignments are refined and judged."""
ROUNDS: Final = 4
"""Rounds of refinement; each about squares the error of the last."""
SAME_TURN_DEG: Final = 0.5
"""Alignments whose turns differ by less are one."""
ROUGH: Final = 0.5
"""A candidate may be off by this part of a walking step, root mean square, before it is refined."""


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


@dataclass(frozen=True, slots=True)
class Symmetry:
    """What lays a region onto itself.

    Attributes:
        order: turns by a multiple of 360/order degrees fit; 0: any turn does.
        axes_deg: the directions of the axes, in [0, 180), rising; of a region that fits under any turn only one of all.
    """

    order: int
    axes_deg: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Class:
    """Pieces that are alike, in layering order.

    Attributes:
        pieces: ids of the first and all that are congruent to it.
        mirrored: ids of those that are congruent to its mirror image only.
    """

    pieces: tuple[str, ...]
    mirrored: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Likeness:
    """Derived knowledge about the pieces of a design that are cut; the pieces themselves stay as they are.

    Attributes:
        symmetries: piece id and its symmetry, in layering order.
        classes: every piece is in exactly one.
    """

    symmetries: tuple[tuple[str, Symmetry], ...]
    classes: tuple[Class, ...]


def relative_turns(grain: Grain) -> tuple[float, ...] | None:
    """The turns between two ways in which the grain lets a piece lie; None: any turn.

    A piece and its mirror image lie alike on the cloth if R(s) P = R(t) F P for two turns s, t that the grain allows: what
    counts is the difference s - t, so that bias (45, 135, ... degrees) has the quarter turns.
    """
    turns = GRAIN_TURNS[grain]
    if turns is None:
        return None
    return tuple(sorted({(s - t) % 360 for s in turns for t in turns}))


def is_achiral(region: Region, grain: Grain) -> bool:
    """Whether the region's mirror image matches it within `LIKE_MM` under a turn that the grain allows."""
    return _is_achiral(region, relative_turns(grain))


@lru_cache(maxsize=4096)
def _is_achiral(region: Region, turns: tuple[float, ...] | None) -> bool:
    mirror = moved(region, Affine.flip())
    if turns is None:
        return bool(alignments(mirror, region, LIKE_MM))
    return any(aligned_at(mirror, region, turn).deviation <= LIKE_MM for turn in turns)


def alignments(a: Region, b: Region, tolerance: float) -> tuple[Alignment, ...]:
    """All turns by which `a`, turned and shifted but not flipped, lies within `tolerance` mm of `b`; the best first.

    Where any turn fits, the one alignment that does not turn says so.
    """
    if len(a.holes) != len(b.holes):
        return ()
    one, two = _Rings.of(a), _Rings.of(b)
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
    (found,) = _judged(_Rings.of(a), _Rings.of(b), np.array([math.radians(turn_deg)]), np.array([False]))
    return found


def symmetry(region: Region, tolerance: float = LIKE_MM) -> Symmetry:
    """The turns and axes of symmetry of the region."""
    onto_itself = alignments(region, region, tolerance)
    mirrored = alignments(moved(region, Affine.flip()), region, tolerance)
    order = 0 if any(each.any_turn for each in onto_itself) else max(1, len(onto_itself))
    # R(t) F with F: x -> -x is the reflection in the direction 90 + t/2 degrees
    return Symmetry(order, tuple(sorted((90 + each.turn_deg / 2) % 180 for each in mirrored)))


def likeness(design: Design) -> Likeness:
    """The symmetries and the classes of the pieces that are cut."""
    classes: list[tuple[Region, list[str], list[str]]] = []
    for piece in design.cut_pieces:
        for first, same, mirrored in classes:
            if alignments(piece.region, first, LIKE_MM):
                same.append(piece.id)
                break
            if alignments(moved(piece.region, Affine.flip()), first, LIKE_MM):
                mirrored.append(piece.id)
                break
        else:
            classes.append((piece.region, [piece.id], []))
    return Likeness(
        tuple((piece.id, symmetry(piece.region)) for piece in design.cut_pieces),
        tuple(Class(tuple(same), tuple(mirrored)) for _, same, mirrored in classes),
    )


def _apart(one: float, two: float) -> float:
    return abs((one - two + 180) % 360 - 180)


@dataclass(frozen=True, slots=True, eq=False)
class _Rings:
    """The rings of one region, outer one first, ready to be compared.

    Attributes:
        chains: the rings, each counterclockwise or clockwise as it comes.
        walks: (rings, WALK) complex; each ring counterclockwise at even steps from its start.
        centers: (rings,) complex; the mean of each walk.
    """

    chains: Chains
    walks: Points
    centers: Points

    @classmethod
    def of(cls, region: Region) -> _Rings:
        return _rings(region)

    def comparable(self, other: _Rings, tolerance: float) -> bool:
        """False if the areas alone show that no alignment is within the tolerance."""
        mine, its = self.chains, other.chains
        slack = tolerance * 1.1 * max(mine.length[0], its.length[0]) + math.pi * tolerance**2
        return bool(abs(abs(mine.area[0]) - abs(its.area[0])) <= slack)

    def spread(self) -> float:
        """How far, in mm, the rings are from circles about one center; 0 for perfect rings."""
        away = np.abs(self.walks - self.centers[0])
        return float(np.ptp(away, axis=1).max())


@lru_cache(maxsize=1024)
def _rings(region: Region) -> _Rings:
    found = chains(tuple(region), REFINE_MM)
    walks = _walks(found)
    return _Rings(found, walks, walks.mean(axis=1))


def _walks(of: Chains) -> Points:
    """(n, WALK): the chains counterclockwise at even steps, each from its start."""
    n = len(of)
    ways = np.arange(WALK) / WALK * of.length[:, None]
    ways = np.where((of.area < 0)[:, None], of.length[:, None] - ways, ways)
    return of.at(np.broadcast_to(np.arange(n)[:, None], ways.shape), ways)


def _candidates(a: _Rings, b: _Rings, tolerance: float) -> Floats:
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
    a, b = a - a.mean(), b - b.mean()
    match = np.fft.ifft(np.fft.fft(b) * np.fft.fft(a).conj())
    size = np.abs(match)
    before, after = np.roll(size, 1), np.roll(size, -1)
    # the parabola through a peak and its neighbors gives the shift between two steps
    bend = before - 2 * size + after
    offset = np.where(bend < 0, (before - after) / np.where(bend < 0, 2 * bend, 1), 0).clip(-0.5, 0.5)
    top = size - (before - after) * offset / 4
    energy = (np.abs(a) ** 2).sum() + (np.abs(b) ** 2).sum()
    miss = np.sqrt(np.maximum(energy - 2 * top, 0) / WALK)
    peak = (size >= before) & (size > after) & (miss <= tolerance + ROUGH * length / WALK)
    drift = np.angle(np.roll(match, -1) * np.roll(match, 1).conj()) / 2
    turns: Floats = (np.angle(match) + drift * offset)[peak]
    return turns


def _judged(a: _Rings, b: _Rings, turns: Floats, may_turn: Bools) -> list[Alignment]:
    """The alignments that grow from these turns (radians), refined where they may turn, each with its deviation."""
    count, rings = len(turns), len(a.chains)
    spin = np.exp(1j * turns)
    shift = b.centers[0] - spin * a.centers[0]
    partner = np.concatenate([_partners(a, b, spin[k], shift[k]) for k in range(count)])
    mine = taken(a.chains, np.tile(np.arange(rings), count))
    its = taken(b.chains, partner)
    row = np.repeat(np.arange(count), rings)[mine.chain]
    start = mine.points
    for _ in range(ROUNDS):
        mine = replace(mine, points=spin[row] * start + shift[row])
        step, by = _step(mine, its, row, count, may_turn)
        spin, shift = spin * by, shift * by + step
    mine = replace(mine, points=spin[row] * start + shift[row])
    off = deviations(mine, its, REFINE_MM).reshape(count, rings).max(axis=1)
    degrees = np.degrees(np.angle(spin)) % 360
    return [
        Alignment(float(degree), complex(to), float(distance))
        for degree, to, distance in zip(degrees, shift, off, strict=True)
    ]


def _partners(a: _Rings, b: _Rings, spin: complex, shift: complex) -> Indices:
    """For each ring of `a` the ring of `b` onto which it comes to lie: by center and length, each only once."""
    rings = len(a.chains)
    if rings <= 2:
        return np.arange(rings)
    cost = np.abs((spin * a.centers + shift)[:, None] - b.centers) + np.abs(a.chains.length[:, None] - b.chains.length)
    cost[0, :] = cost[:, 0] = np.inf
    partner = np.zeros(rings, dtype=np.intp)
    for _ in range(rings - 1):
        i, j = np.unravel_index(int(cost.argmin()), cost.shape)
        partner[i] = j
        cost[i, :] = cost[:, j] = np.inf
    return partner


def _step(a: Chains, b: Chains, row: Indices, rows: int, may_turn: Bools) -> tuple[Points, Points]:
    """The small shift and turn, (rows,) each, that bring `a` nearer to `b` by least squares over nearest points.

    Linear in dx, dy and the angle w about each row's mean m: n . (dx + dy i + w i (y - m) - (foot - y)) = 0, n the normal
    of `b` at the foot of y.
    """
    pairing = paired(a, b)
    near = feet(a.points, a.chain, pairing.start[a.chain] + pairing.sense[a.chain] * a.along, b)
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
