"""Paths of cubics as paths of straight lines and circular arcs, for files that know no other curves.

Terminology
    bulge       tan(sweep / 4) of an arc between two points, positive counterclockwise; 0 is a straight line
    chain       points joined by lines and arcs, one bulge a step
    biarc       two arcs that join smoothly and have the two ends and tangents of a curve
    piece       a part of a cubic that one biarc stands for

A cubic is halved until a biarc stays within the tolerance of each part; then neighboring arcs that one arc could
replace are joined.

Sources: biarc with equal tangent lengths, K. M. Bolton, Biarc curves, Computer-Aided Design 7 (1975); bulge, DXF
reference.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from clothpath.curves import Bools, Outline, Path, Points, cubics, flattened

__all__ = ["Arc", "ArcChain", "arc_of", "fitted", "polyline"]

SAMPLES: Final = 16
"""Points of the curve beside each arc at which its distance is taken."""
MARGIN: Final = 0.85
"""Of the tolerance that may be used up at the samples, for what lies between them."""
MOST_TURN: Final = math.pi / 2
"""Largest turn of one piece's control polygon; beyond it the nearest point of the biarc could be a wrong one."""
MOST_SWEEP: Final = math.pi * 0.99
"""Largest sweep of one arc: readers differ on more than a half turn."""
MOST_UNLIKE: Final = 2.0
"""Largest ratio of the curvatures of two arcs that are tried as one."""
LEAST_BULGE: Final = 1e-7
DEEPEST: Final = 24
"""How often a cubic may be halved."""

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class ArcChain:
    """Points joined by lines and arcs.

    Attributes:
        points: (n + 1,) complex; for a closed chain the last is the first.
        bulges: (n,) of the step from point i to point i + 1.
        closed: whether it is an outline.
    """

    points: Points
    bulges: Floats
    closed: bool


@dataclass(frozen=True, slots=True)
class Arc:
    """A circular arc.

    Attributes:
        sweep: in radians, positive counterclockwise.
    """

    center: complex
    radius: float
    sweep: float


def arc_of(start: complex, end: complex, bulge: float) -> Arc:
    """The arc from `start` to `end` with this bulge, which is not 0."""
    chord = end - start
    center = (start + end) / 2 + 1j * chord * (1 - bulge * bulge) / (4 * bulge)
    return Arc(center, abs(chord) * (1 + bulge * bulge) / (4 * abs(bulge)), 4 * math.atan(bulge))


@dataclass(frozen=True, slots=True, eq=False)
class _Steps:
    """Lines and arcs in order.

    Attributes:
        path: (n,) the number of the path that each is of.
        start, end: (n,) complex.
        bulge: (n,).
        samples: (n, SAMPLES) points of the curve that each stands for; of no meaning for lines.
    """

    path: NDArray[np.intp]
    start: Points
    end: Points
    bulge: Floats
    samples: Points

    def __len__(self) -> int:
        return len(self.path)

    def at(self, chosen: NDArray[np.intp] | Bools) -> _Steps:
        """Those at these places."""
        return _Steps(self.path[chosen], self.start[chosen], self.end[chosen], self.bulge[chosen], self.samples[chosen])


def fitted(paths: Sequence[Path], tolerance: float) -> list[ArcChain]:
    """Lines and arcs within `tolerance` of each path, through the ends of its straight segments.

    Straight segments stay lines. Paths given together are worked out together, which is much faster.
    """
    curves = np.concatenate([cubics(path) for path in paths])
    straight = np.concatenate([path.straight for path in paths])
    owner = np.repeat(np.arange(len(paths)), [len(path) for path in paths])
    lines = np.flatnonzero(straight)
    ends = curves[lines][:, [0, 3]]
    made = [_Steps(lines, ends[:, 0], ends[:, 1], np.zeros(len(lines)), np.repeat(ends[:, :1], SAMPLES, axis=1))]
    begins = [np.zeros(len(lines))]
    segment = np.flatnonzero(~straight)
    first, last = np.zeros(len(segment)), np.ones(len(segment))
    for depth in range(DEEPEST + 1):
        if not len(segment):
            break
        part = _part(curves[segment], first, last)
        points, bulges = _biarcs(part)
        on, off = _samples(part, points, bulges)
        good = (off <= tolerance * MARGIN) & (_turns(part) <= MOST_TURN)
        good |= (np.abs(np.diff(part, axis=1)).sum(axis=1) <= tolerance) | (depth == DEEPEST)
        for half in (0, 1):
            made.append(
                _Steps(segment[good], points[good, half], points[good, half + 1], bulges[good, half], on[good, half])
            )
            begins.append(first[good] + half * (last - first)[good] / 2)
        segment, first, last = segment[~good], first[~good], last[~good]
        middle = (first + last) / 2
        segment = np.repeat(segment, 2)
        first, last = np.stack((first, middle), 1).ravel(), np.stack((middle, last), 1).ravel()
    steps = _Steps(
        np.concatenate([of.path for of in made]),
        np.concatenate([of.start for of in made]),
        np.concatenate([of.end for of in made]),
        np.concatenate([of.bulge for of in made]),
        np.concatenate([of.samples for of in made]),
    )
    order = np.lexsort((np.concatenate(begins), steps.path))
    steps = steps.at(order[(steps.start != steps.end)[order]])
    return _chains(paths, _joined(replace(steps, path=owner[steps.path]), tolerance * MARGIN))


def polyline(path: Path, tolerance: float) -> ArcChain:
    """Straight steps within `tolerance` of the path."""
    points = flattened(path, tolerance)
    if isinstance(path, Outline):
        points = np.append(points, points[0])
    return ArcChain(points, np.zeros(len(points) - 1), isinstance(path, Outline))


def _chains(paths: Sequence[Path], steps: _Steps) -> list[ArcChain]:
    chains: list[ArcChain] = []
    for n, path in enumerate(paths):
        mine = steps.path == n
        points = np.append(path.start, steps.end[mine])
        chains.append(ArcChain(points, steps.bulge[mine], isinstance(path, Outline)))
    return chains


def _joined(steps: _Steps, tolerance: float) -> _Steps:
    """The steps with neighboring arcs made one where one arc stays within the tolerance of the curve.

    In each path every other pair is tried at once, then the pairs between, until nothing more can be joined.
    """
    parity, idle = 0, 0
    while idle < 2:
        first = np.searchsorted(steps.path, steps.path)
        left = np.flatnonzero(((np.arange(len(steps)) - first) % 2 == parity)[:-1])
        both = _one_arc(steps.at(left), steps.at(left + 1), tolerance)
        joined = left[both[0]]
        parity, idle = 1 - parity, 0 if len(joined) else idle + 1
        if len(joined):
            bulge, end, samples = steps.bulge.copy(), steps.end.copy(), steps.samples.copy()
            bulge[joined], end[joined], samples[joined] = both[1][both[0]], steps.end[joined + 1], both[2][both[0]]
            stay = np.ones(len(steps), dtype=np.bool_)
            stay[joined + 1] = False
            steps = replace(steps, bulge=bulge, end=end, samples=samples).at(stay)
    return steps


def _one_arc(a: _Steps, b: _Steps, tolerance: float) -> tuple[Bools, Floats, Points]:
    """Whether one arc can stand for both, its bulge, and points of the curve that it stands for."""
    sweeps = 4 * np.arctan(a.bulge), 4 * np.arctan(b.bulge)
    sweep = sweeps[0] + sweeps[1]
    bulge = np.tan(np.clip(sweep, -MOST_SWEEP, MOST_SWEEP) / 4)
    alike = np.abs(sweeps[0]) * np.abs(b.end - b.start) / (np.abs(sweeps[1] * (a.end - a.start)) + 1e-300)
    good = (a.path == b.path) & (a.bulge * b.bulge > 0) & (np.abs(sweep) <= MOST_SWEEP) & (a.start != b.end)
    good &= (alike > 1 / MOST_UNLIKE) & (alike < MOST_UNLIKE)
    good &= ((b.end - b.start) * (a.end - a.start).conj()).real > 0  # else the curve turns back between them
    samples = np.concatenate((a.samples, b.samples), axis=1)
    off = _off_arc(samples, a.start[:, None], b.end[:, None], bulge[:, None])
    good &= off.max(axis=1, initial=0.0) <= tolerance
    return good, bulge, np.ascontiguousarray(samples[:, ::2])


def _part(p: Points, first: Floats, last: Floats) -> Points:
    """The control points of the part of each cubic from `first` to `last` (blossoming)."""

    def blossom(a: Floats, b: Floats, c: Floats) -> Points:
        q = p
        for t in (a, b, c):
            q = q[:, :-1] * (1 - t)[:, None] + q[:, 1:] * t[:, None]
        return q[:, 0]

    return np.stack(
        (
            blossom(first, first, first),
            blossom(first, first, last),
            blossom(first, last, last),
            blossom(last, last, last),
        ),
        1,
    )


def _unit(steps: Points) -> Points:
    """The direction of the first step of each row that is not next to nothing."""
    size = np.abs(steps)
    far = size > 1e-9 * np.maximum(size.max(axis=1), 1e-300)[:, None]
    chosen = steps[np.arange(len(steps)), far.argmax(axis=1)]
    length = np.abs(chosen)
    return np.where(length > 0, chosen / np.where(length > 0, length, 1), 1)


def _biarcs(p: Points) -> tuple[Points, Floats]:
    """The (m, 3) points and (m, 2) bulges of the biarc of each row of control points."""
    start, end = p[:, 0], p[:, 3]
    leaves = _unit(np.stack((p[:, 1] - start, p[:, 2] - start, end - start), 1))
    arrives = _unit(np.stack((end - p[:, 2], end - p[:, 1], end - start), 1))
    v = end - start
    along = (v * (leaves + arrives).conj()).real
    spread = 2 * (1 - (leaves * arrives.conj()).real)
    square = np.abs(v) ** 2
    # spread d^2 + 2 along d - square = 0, in the form that does not cancel
    root = along + np.sqrt(along * along + spread * square)
    d = np.where(root > 0, square / np.where(root > 0, root, 1), 0.0)
    joint = (start + end + d * (leaves - arrives)) / 2

    def bulge(from_direction: Points, to_direction: Points) -> Floats:
        turn = from_direction.conj() * to_direction
        return np.tan(np.arctan2(turn.imag, turn.real) / 2)

    bulges = np.stack((bulge(leaves, joint - start), bulge(end - joint, arrives)), 1)
    bulges[np.abs(bulges) < LEAST_BULGE] = 0
    return np.stack((start, joint, end), 1), bulges


def _turns(p: Points) -> Floats:
    """How far each control polygon turns, in radians."""
    steps = np.diff(p, axis=1)
    turns: Floats = np.abs(np.angle(steps[:, 1:] * steps[:, :-1].conj())).sum(axis=1)
    return turns


def _samples(p: Points, points: Points, bulges: Floats) -> tuple[Points, Floats]:
    """The (m, 2, SAMPLES) points of each cubic beside its two arcs, and the largest distance of any from its arc."""
    t = (np.arange(2 * SAMPLES) + 0.5) / (2 * SAMPLES)
    basis = np.stack(((1 - t) ** 3, 3 * (1 - t) ** 2 * t, 3 * (1 - t) * t**2, t**3))
    on = p @ basis
    joint = points[:, 1, None]
    onward = points[:, 2] - points[:, 0]
    second = ((on - joint) * onward.conj()[:, None]).real > 0
    off = np.where(
        second,
        _off_arc(on, joint, points[:, 2, None], bulges[:, 1, None]),
        _off_arc(on, points[:, 0, None], joint, bulges[:, 0, None]),
    )
    order = np.argsort(second, axis=1, kind="stable")
    before = (~second).sum(axis=1)[:, None]
    rank = np.arange(SAMPLES)
    chosen = np.stack((rank * before // SAMPLES, before + rank * (2 * SAMPLES - before) // SAMPLES), axis=1)
    chosen = np.take_along_axis(order[:, None, :], chosen.clip(0, 2 * SAMPLES - 1), axis=2)
    return np.take_along_axis(on[:, None, :], chosen, axis=2), off.max(axis=1)


def _off_arc(p: Points, start: Points, end: Points, bulge: Floats) -> Floats:
    """The distance of points from the circle or line that an arc lies on.

    With the chord from -1 to 1 and the bulge b the circle is b (|w|^2 - 1) = w_y (1 - b^2), which stays well
    conditioned for flat arcs.
    """
    half = (end - start) / 2
    size = np.abs(half)
    w = (p - (start + end) / 2) / np.where(size > 0, half, 1)
    value = bulge * (np.abs(w) ** 2 - 1) - w.imag * (1 - bulge**2)
    # |grad| at the circle is 1 + b^2; the distance of a point near it follows from value = |grad| off + b off^2
    slope = 1 + bulge**2
    off = 2 * np.abs(value) / (slope + np.sqrt(np.maximum(slope**2 + 4 * bulge * value, 0)))
    distance: Floats = np.where(size > 0, off * size, np.abs(p - start))
    return distance
