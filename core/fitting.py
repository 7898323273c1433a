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
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from clothpath.curves import Bools, Outline, Path, Points, cubics, flattened

__all__ = ["Arc", "ArcChain", "arc_of", "fitted", "polyline"]

SAMPLES: Final = 12
"""Points of a piece at which its distance from the biarc is taken."""
MARGIN: Final = 0.85
"""Of the tolerance that may be used up at the samples, for what lies between them."""
MOST_TURN: Final = math.pi / 2
"""Largest turn of one piece's control polygon; beyond it the nearest point of the biarc could be a wrong one."""
MOST_SWEEP: Final = math.pi * 0.99
"""Largest sweep of one arc: readers differ on more than a half turn."""
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


@dataclass(frozen=True, slots=True)
class _Step:
    """One line or arc with the points of the path that it stands for; `samples` is empty for a line of the path."""

    start: complex
    end: complex
    bulge: float
    samples: Points


def fitted(paths: Sequence[Path], tolerance: float) -> list[ArcChain]:
    """Lines and arcs within `tolerance` of each path, through the ends of its straight segments.

    Straight segments stay lines. Paths given together are worked out together, which is much faster.
    """
    curves = np.concatenate([cubics(path) for path in paths])
    straight = np.concatenate([path.straight for path in paths])
    steps: list[tuple[int, float, list[_Step]]] = [
        (n, 0.0, [_Step(start, end, 0.0, np.empty(0, np.complex128))])
        for n, (start, end) in zip(np.flatnonzero(straight).tolist(), curves[straight][:, [0, 3]].tolist(), strict=True)
    ]
    segment = np.flatnonzero(~straight)
    first, last = np.zeros(len(segment)), np.ones(len(segment))
    for depth in range(DEEPEST + 1):
        if not len(segment):
            break
        part = _part(curves[segment], first, last)
        points, bulges = _biarcs(part)
        on, second, off = _samples(part, points, bulges)
        good = (off <= tolerance * MARGIN) & (_turns(part) <= MOST_TURN)
        good |= (np.abs(np.diff(part, axis=1)).sum(axis=1) <= tolerance) | (depth == DEEPEST)
        for i in np.flatnonzero(good).tolist():
            start, joint, end = points[i].tolist()
            one, other = bulges[i].tolist()
            halves = [_Step(start, joint, one, on[i][~second[i]]), _Step(joint, end, other, on[i][second[i]])]
            steps.append((int(segment[i]), float(first[i]), [half for half in halves if half.start != half.end]))
        segment, first, last = segment[~good], first[~good], last[~good]
        middle = (first + last) / 2
        segment = np.repeat(segment, 2)
        first, last = np.stack((first, middle), 1).ravel(), np.stack((middle, last), 1).ravel()
    steps.sort(key=lambda step: step[:2])
    ends = np.cumsum([len(path) for path in paths])
    groups: list[list[_Step]] = [[] for _ in paths]
    for n, _, group in steps:
        groups[int(np.searchsorted(ends, n, side="right"))] += group
    return [_chain(path, _joined(group, tolerance * MARGIN)) for path, group in zip(paths, groups, strict=True)]


def polyline(path: Path, tolerance: float) -> ArcChain:
    """Straight steps within `tolerance` of the path."""
    points = flattened(path, tolerance)
    if isinstance(path, Outline):
        points = np.append(points, points[0])
    return ArcChain(points, np.zeros(len(points) - 1), isinstance(path, Outline))


def _chain(path: Path, steps: list[_Step]) -> ArcChain:
    points = np.array([path.start, *(step.end for step in steps)], dtype=np.complex128)
    return ArcChain(points, np.array([step.bulge for step in steps]), isinstance(path, Outline))


def _joined(steps: list[_Step], tolerance: float) -> list[_Step]:
    """The steps with neighboring arcs made one where one arc stays within the tolerance of the path."""
    found: list[_Step] = []
    for step in steps:
        both = _one_arc(found[-1], step, tolerance) if found else None
        if both is None:
            found.append(step)
        else:
            found[-1] = both
    return found


def _one_arc(a: _Step, b: _Step, tolerance: float) -> _Step | None:
    """The arc that stands for both, or nothing if there is none within the tolerance."""
    if a.bulge * b.bulge <= 0:
        return None
    sweep = 4 * (math.atan(a.bulge) + math.atan(b.bulge))
    if abs(sweep) > MOST_SWEEP or a.start == b.end:
        return None
    curvature = [4 * math.atan(s.bulge) / abs(s.end - s.start) for s in (a, b)]
    if not 0.5 < curvature[0] / curvature[1] < 2:
        return None
    bulge = math.tan(sweep / 4)
    arc = arc_of(a.start, b.end, bulge)
    if abs(abs(a.end - arc.center) - arc.radius) > tolerance:
        return None
    samples = np.concatenate((a.samples, [a.end], b.samples))
    off = _off_arc(samples, np.array(a.start), np.array(b.end), np.array(bulge))
    return _Step(a.start, b.end, bulge, samples) if off.max() <= tolerance else None


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


def _samples(p: Points, points: Points, bulges: Floats) -> tuple[Points, Bools, Floats]:
    """Points of each cubic, whether they belong to the second arc, and the largest distance of any from its arc."""
    t = (np.arange(SAMPLES) + 0.5) / SAMPLES
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
    return on, second, off.max(axis=1)


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
