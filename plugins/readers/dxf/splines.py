"""B-splines as cubic Béziers.

Terminology
    pole        a control point; weight: how strongly a pole of a rational spline pulls
    knots       the non-decreasing parameters at which the pieces of the spline meet
    blossom     the symmetric multi-affine form of a polynomial: its values at knots are the poles

Splines of degree 3 and below without weights become cubics exactly; others keep to the true curve within a share of
their size that is less than 0.002 mm for anything up to 2 m.

Sources: blossoming and knot insertion, L. Ramshaw, Blossoming: a connect-the-dots approach to splines (1987), and
G. Farin, Curves and Surfaces for CAGD (5th ed., 2002), ch. 8 (B-splines), 13 (rational); Hermite interpolation, ch. 7.
"""

from __future__ import annotations

import cmath
from bisect import bisect_right
from collections.abc import Sequence
from itertools import pairwise
from typing import Final, TypeAlias

import numpy as np
from numpy.typing import NDArray

from clothpath.areas.chains import Edge
from clothpath.curves import Curve

__all__ = ["CLOSENESS", "spline_edge"]

CLOSENESS: Final = 1e-6
"""Largest distance of a cubic from a spline that cubics cannot follow exactly, as a share of the spline's size: the
drawing's unit may not be known yet."""
MOST_HALVINGS: Final = 12
"""A piece of a spline is halved at most so often."""
HIGHEST_DEGREE: Final = 25
"""The highest degree that is taken for a spline and not for damage."""

Poles: TypeAlias = NDArray[np.complex128]
Weights: TypeAlias = NDArray[np.float64]


def spline_edge(degree: int, knots: Sequence[float], poles: Sequence[complex], weights: Sequence[float] = ()) -> Edge:
    """The spline over its whole domain, knots[degree] to knots[-degree - 1].

    Raises:
        ValueError: counts that do not fit, falling knots, no domain, a weight that is not positive.
    """
    if not 1 <= degree <= HIGHEST_DEGREE or len(poles) <= degree or len(knots) != len(poles) + degree + 1:
        raise ValueError(f"{len(poles)} control points and {len(knots)} knots do not make a spline of degree {degree}")
    if weights and (len(weights) != len(poles) or min(weights) <= 0):
        raise ValueError("a spline needs a positive weight for each control point")
    if not all(map(cmath.isfinite, (*knots, *poles, *weights))):
        raise ValueError("a spline needs finite numbers")
    if any(after < before for before, after in pairwise(knots)):
        raise ValueError("the knots of a spline must not fall")
    rational = bool(weights) and max(weights) != min(weights)
    pull = list(weights) if rational else [1.0] * len(poles)
    pulled = [pole * weight for pole, weight in zip(poles, pull, strict=True)]
    spans = [
        (low, high) for low, high in zip(knots[degree:], knots[degree + 1 : len(poles) + 1], strict=False) if low < high
    ]
    if not spans:
        raise ValueError("the knots of the spline leave no length")
    tolerance = CLOSENESS * max(abs(pole - poles[0]) for pole in poles)
    segments: list[Curve] = []
    start = at = 0j
    for number, (low, high) in enumerate(spans):
        bezier = _bezier(degree, knots, pulled, low, high)
        below = _bezier(degree, knots, [complex(weight) for weight in pull], low, high) if rational else [1.0]
        if number == 0:
            start = at = bezier[0] / below[0]
        if abs(bezier[0] / below[0] - at) > tolerance:
            raise ValueError("a knot of the spline comes so often that it is torn there")
        at = bezier[-1] / below[-1]
        if rational or degree > 3:
            lifted = np.stack(np.broadcast_arrays(np.array(bezier), np.array(below, dtype=np.complex128)), axis=1)
            segments.extend(_approximated(lifted, tolerance, MOST_HALVINGS))
        else:
            segments.append(_exact(bezier))
    return Edge(start, tuple(segments))


def _bezier(degree: int, knots: Sequence[float], poles: Sequence[complex], low: float, high: float) -> list[complex]:
    """The degree + 1 Bézier poles of one span, by evaluating the blossom at its ends."""
    last = bisect_right(knots, low, degree, len(poles)) - 1
    around = poles[last - degree : last + 1]
    return [_blossom(degree, knots, around, last, [low] * (degree - i) + [high] * i) for i in range(degree + 1)]


def _blossom(
    degree: int, knots: Sequence[float], around: Sequence[complex], last: int, arguments: Sequence[float]
) -> complex:
    points = list(around)
    for level, t in enumerate(arguments, start=1):
        for j in range(degree, level - 1, -1):
            left = knots[last - degree + j]
            share = (t - left) / (knots[last + 1 + j - level] - left)
            points[j] = (1 - share) * points[j - 1] + share * points[j]
    return points[degree]


def _exact(poles: Sequence[complex]) -> Curve:
    """A Bézier curve of degree 1 to 3, raised to degree 3; lines stay lines."""
    if len(poles) == 2:
        return (poles[1],)
    if len(poles) == 3:
        a, b, c = poles
        return (a + 2 * (b - a) / 3, c + 2 * (b - c) / 3, c)
    return (poles[1], poles[2], poles[3])


def _approximated(bezier: Poles, tolerance: float, halvings: int) -> list[Curve]:
    """Cubics through the ends with the true derivatives there, halved until they keep to the curve."""
    a, b = bezier[0, 0] / bezier[0, 1], bezier[-1, 0] / bezier[-1, 1]
    degree = len(bezier) - 1
    d0 = degree * (bezier[1, 0] - a * bezier[1, 1]) / bezier[0, 1]
    d1 = degree * (b * bezier[-2, 1] - bezier[-2, 0]) / bezier[-1, 1]
    c1, c2 = a + d0 / 3, b - d1 / 3
    t = np.linspace(0, 1, 17)[1:-1]
    s = 1 - t
    cubic = s**3 * a + 3 * s**2 * t * c1 + 3 * s * t**2 * c2 + t**3 * b
    if halvings == 0 or np.abs(cubic - _values(bezier, t)).max() <= tolerance / 2:
        return [(complex(c1), complex(c2), complex(b))]
    left, right = _halves(bezier)
    return _approximated(left, tolerance, halvings - 1) + _approximated(right, tolerance, halvings - 1)


def _values(bezier: Poles, t: Weights) -> Poles:
    points = np.repeat(bezier[:, None, :], len(t), axis=1)
    while len(points) > 1:
        points = points[:-1] * (1 - t)[None, :, None] + points[1:] * t[None, :, None]
    values: Poles = points[0, :, 0] / points[0, :, 1]
    return values


def _halves(bezier: Poles) -> tuple[Poles, Poles]:
    left, right = [bezier[0]], [bezier[-1]]
    points = bezier
    while len(points) > 1:
        points = (points[:-1] + points[1:]) / 2
        left.append(points[0])
        right.append(points[-1])
    return np.array(left), np.array(right[::-1])
