"""Cubic Béziers by their control points.

Terminology
    cubic       four control points; many are the rows of an (n, 4) array, and a straight one has two at its thirds
    bend        the larger second difference of its control points: the more, the farther it runs from its chord

Sources: evaluation, derivatives and extremes, de Casteljau's subdivision and blossoms, G. Farin, Curves and Surfaces
for CAGD (5th ed., 2002), ch. 4 and 5; chord error h^2/8 max|B''|, C. de Boor, A Practical Guide to Splines (1978),
ch. II.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from clothpath.plane import Bools, Floats, Points

__all__ = [
    "Control",
    "bends",
    "extremes",
    "halves",
    "part_of",
    "places_on",
    "point",
    "points_at",
    "points_on_steps",
    "slope",
    "stepped",
    "steps_within",
]

Indices: TypeAlias = NDArray[np.intp]
Control: TypeAlias = tuple[complex, complex, complex, complex]


def point(p: Sequence[complex] | Points, t: float) -> complex:
    """The point of one cubic at a parameter."""
    s = 1 - t
    return complex(s**3 * p[0] + 3 * s * s * t * p[1] + 3 * s * t * t * p[2] + t**3 * p[3])


def slope(p: Sequence[complex] | Points, t: float) -> complex:
    """The derivative of one cubic at a parameter."""
    s = 1 - t
    return complex(3 * (s * s * (p[1] - p[0]) + 2 * s * t * (p[2] - p[1]) + t * t * (p[3] - p[2])))


def halves(p: Sequence[complex], t: float) -> tuple[Control, Control]:
    """One cubic up to a parameter, and from there on (de Casteljau)."""
    ab, bc, cd = (p[i] + t * (p[i + 1] - p[i]) for i in range(3))
    abc, bcd = ab + t * (bc - ab), bc + t * (cd - bc)
    middle = abc + t * (bcd - abc)
    return (p[0], ab, abc, middle), (middle, bcd, cd, p[3])


def part_of(curve: Points, t0: float, t1: float) -> Control:
    """The control points of a cubic's part from t0 to t1, backwards if t1 < t0: its blossom at the four arguments."""
    p0, p1, p2, p3 = curve.tolist()
    if t0 == 0 and t1 == 1:
        return p0, p1, p2, p3
    if t0 == 1 and t1 == 0:
        return p3, p2, p1, p0

    def blossom(a: float, b: float, c: float) -> complex:
        q0, q1, q2 = p0 + (p1 - p0) * a, p1 + (p2 - p1) * a, p2 + (p3 - p2) * a
        r0, r1 = q0 + (q1 - q0) * b, q1 + (q2 - q1) * b
        return complex(r0 + (r1 - r0) * c)

    return blossom(t0, t0, t0), blossom(t0, t0, t1), blossom(t0, t1, t1), blossom(t1, t1, t1)


def places_on(places: Floats, count: int | Indices) -> tuple[Indices, Floats]:
    """The segment and the parameter of places along a ring of `count` segments, each its segment plus its parameter."""
    around = np.mod(places, count)
    around = np.where(around < count, around, 0.0)  # a hair below 0 is rounded up to the whole
    segment = around.astype(np.intp)
    return segment, around - segment


def points_at(p: Points, t: Floats) -> Points:
    """Row i of the (m, 4) control points evaluated at t[i]."""
    s = 1 - t
    ss, tt = s * s, t * t
    points: Points = ss * s * p[:, 0] + 3 * ss * t * p[:, 1] + 3 * s * tt * p[:, 2] + tt * t * p[:, 3]
    return points


def points_on_steps(p: Points, step: Indices, count: Indices) -> Points:
    """Row i of the (m, 4) control points at step[i] of count[i] even steps, to the bit the same whichever way it runs.

    So two pieces that meet along one curve, drawn from both its ends, have one polyline there.
    """
    t, s = step / count, (count - step) / count
    points: Points = (s * s * s * p[:, 0] + t * t * t * p[:, 3]) + (
        3 * (s * s * t) * p[:, 1] + 3 * (t * t * s) * p[:, 2]
    )
    return points


def bends(p: Points) -> Floats:
    """The bend of each row; a polyline of n even steps is at most 0.75 bend / n^2 off."""
    bend: Floats = np.maximum(np.abs(p[:, 0] - 2 * p[:, 1] + p[:, 2]), np.abs(p[:, 1] - 2 * p[:, 2] + p[:, 3]))
    return bend


def steps_within(p: Points, tolerance: float) -> Floats:
    """How many even steps of its parameter keep a polyline within the tolerance of each row; whole numbers from 1."""
    steps: Floats = np.ceil(np.sqrt(0.75 * bends(p) / tolerance)).clip(1)
    return steps


def extremes(p: Points, curved: Bools) -> tuple[Indices, Floats]:
    """Rows and parameters inside (0, 1) at which x or y is stationary, for the curved rows."""
    rows = np.flatnonzero(curved)
    if not len(rows):
        return rows, np.empty(0)
    d = np.diff(p[rows], axis=1)
    found_rows: list[Indices] = []
    found_t: list[Floats] = []
    for part in (d.real, d.imag):
        # derivative / 3 = a t^2 + 2 b t + c; the stable form of the roots avoids cancellation
        a, b, c = part[:, 0] - 2 * part[:, 1] + part[:, 2], part[:, 1] - part[:, 0], part[:, 0]
        disc = b * b - a * c
        q = -(b + np.copysign(np.sqrt(np.maximum(disc, 0)), b))
        with np.errstate(divide="ignore", invalid="ignore"):
            for t in (q / a, c / q):
                good = (disc >= 0) & (t > 1e-9) & (t < 1 - 1e-9)
                found_rows.append(rows[good])
                found_t.append(t[good])
    return np.concatenate(found_rows), np.concatenate(found_t)


def stepped(p: Points, curved: Bools, tolerance: float) -> Points:
    """The start of each cubic and the points on it that keep the polyline through them within the tolerance."""
    pieces = np.where(curved, steps_within(p, tolerance), 1).astype(np.intp)
    segment = np.arange(len(p)).repeat(pieces)
    t = (np.arange(len(segment)) - (np.cumsum(pieces) - pieces)[segment]) / pieces[segment]
    more_segment, more_t = extremes(p, curved)
    if len(more_t):
        segment, t = np.append(segment, more_segment), np.append(t, more_t)
        order = np.lexsort((t, segment))
        return points_at(p[segment[order]], t[order])
    return points_at(p[segment], t)
