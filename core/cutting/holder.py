"""The path of a drag knife's holder that makes its tip follow an outline.

Terminology
    holder path     where the axis must go: ahead of the tip by the offset, along the outline's direction
    swivel          a turn of the blade on the spot, the axis on an arc about the tip: at corners, and from and to the
                    parked heading at the ends
    overcut         the way on past the start, along the outline, so that no thread is left
The tip moves along its heading, so with the axis at C + e T (C the outline, T its unit tangent, e the offset) the tip
is on C exactly. Swivel arcs at corners and an overcut are common practice.

Source of the derivative of the tangent: T' = i T Im(conj(C') C'') / |C'|^2, M. P. do Carmo, Differential Geometry of
Curves and Surfaces (1976), 1-5.
"""

from __future__ import annotations

import cmath
import math
from collections.abc import Iterable
from typing import Final, TypeAlias

import numpy as np

from clothpath.curves import Curve, Floats, OpenPath, Outline, Points, arc_segments, cubics, length, open_path
from clothpath.cutting.blade import PARKED

__all__ = ["compensated", "written"]

FIT_MM: Final = 0.001
"""Largest distance of the cubics from the exact holder path."""
LEAST_PART: Final = 2.0**-18
"""The smallest part of a cubic that is looked at by itself: a control point may lie `ON_END_MM` from an end."""
ON_END_MM: Final = 0.01
"""A control point this near to its end says nothing of the direction there; without it the cubic moves by half."""
SWIVEL_MM: Final = 0.001
"""Where a swivel's arc would bulge less than this from its chord, the chord serves."""
IN_LINE_MM: Final = 1e-6
"""A swivel that moves the axis less than this is none."""
STILL: Final = 1e-5
"""A cubic stands still where it is slower than this part of its greatest pace; the way in t to where it moves again."""
OVERCUT_SHARE: Final = 0.5
"""The overcut is no more than this share of the way round."""
NO_LENGTH_MM: Final = 1e-9
"""Segments shorter than this have no direction and are passed over."""


_FIVE: Final = np.array((0.0, 0.25, 0.5, 0.75, 1.0))
_SHARES: Final = np.array((0.25, 0.5, 0.75))
_QUARTERS: Final = np.stack(
    ((1 - _SHARES) ** 3, 3 * (1 - _SHARES) ** 2 * _SHARES, 3 * (1 - _SHARES) * _SHARES**2, _SHARES**3)
)
Control: TypeAlias = tuple[complex, complex, complex, complex]


def compensated(outline: Outline, offset: float, overcut: float) -> OpenPath:
    """The holder path, from parked to parked, whose tip runs once round the outline and `overcut` mm past its start.

    Raises:
        ValueError: the offset is not positive, or the outline has no length.
    """
    if offset <= 0:
        raise ValueError(f"a blade that trails by {offset} mm needs no compensation")
    parked = cmath.rect(1, PARKED)
    rows = _run(outline, overcut)
    leave = [_tangent(p[0], p) for p, _ in rows]
    arrive = [-_tangent(p[3], p[::-1]) for p, _ in rows]
    bent = [i for i, (_, line) in enumerate(rows) if not line]
    ahead = dict(zip(bent, _ahead([rows[i][0] for i in bent], offset), strict=True))
    heading, segments = parked, list[Curve]()
    for i, (p, _) in enumerate(rows):
        segments += _swivel(p[0], offset, heading, leave[i])
        end = p[3] + offset * arrive[i]
        segments += [*ahead[i][:-1], (*ahead[i][-1][:-1], end)] if i in ahead else [(end,)]
        heading = arrive[i]
    segments += _swivel(rows[-1][0][3], offset, heading, parked)
    return open_path(outline.start + offset * parked, segments)


def written(outline: Outline, offset: float, overcut: float) -> Outline | OpenPath:
    """What a file carries so that a tip that trails by `offset` mm cuts the outline and `overcut` mm past its start."""
    if offset > 0:
        return compensated(outline, offset, overcut)
    if overcut > 0:
        run = _run(outline, overcut)
        return open_path(outline.start, [(p[3],) if line else (p[1], p[2], p[3]) for p, line in run])
    return outline


def _run(outline: Outline, overcut: float) -> list[tuple[Control, bool]]:
    """The segments of one lap and of the overcut after it, as control points; those without length left out."""
    rows = [
        (_plain(*p), line)
        for p, line in zip(cubics(outline).tolist(), outline.straight.tolist(), strict=True)
        if max(abs(q - p[0]) for q in p[1:]) > NO_LENGTH_MM
    ]
    if not rows:
        raise ValueError("an outline without length cannot be cut")
    left = min(overcut, OVERCUT_SHARE * length(outline))
    for p, line in list(rows) if overcut > 0 else ():
        way, t = _reach(p, line, left)
        rows.append((_first_part(p, t), line))
        left -= way
        if left <= NO_LENGTH_MM:
            break
    return rows


def _plain(a: complex, b: complex, c: complex, d: complex) -> Control:
    """The control points, with those on an end that all but lie there."""
    return a, (a if abs(b - a) < ON_END_MM else b), (d if abs(c - d) < ON_END_MM else c), d


def _reach(p: Control, line: bool, wanted: float) -> tuple[float, float]:
    """How far a segment goes of a wanted length, and up to which parameter."""
    if line:
        whole = abs(p[3] - p[0])
        return (wanted, wanted / whole) if wanted < whole else (whole, 1.0)
    t = np.linspace(0, 1, 65)
    s = 1 - t
    points = np.array(p) @ np.stack((s**3, 3 * s**2 * t, 3 * s * t**2, t**3))
    mileage = np.concatenate(([0.0], np.cumsum(np.abs(np.diff(points)))))
    if wanted >= mileage[-1]:
        return float(mileage[-1]), 1.0
    return wanted, float(np.interp(wanted, mileage, t))


def _first_part(p: Control, t: float) -> Control:
    """The cubic up to t, by de Casteljau's algorithm."""
    if t == 1:
        return p
    ab, bc, cd = (p[i] + t * (p[i + 1] - p[i]) for i in range(3))
    abc, bcd = ab + t * (bc - ab), bc + t * (cd - bc)
    return p[0], ab, abc, abc + t * (bcd - abc)


def _tangent(at: complex, p: Iterable[complex]) -> complex:
    """The unit direction in which a cubic leaves its first control point."""
    way = next(q - at for q in p if abs(q - at) > NO_LENGTH_MM)
    return way / abs(way)


def _swivel(tip: complex, offset: float, heading: complex, wanted: complex) -> list[Curve]:
    """Turn the blade on the spot, the shorter way round."""
    sweep = cmath.phase(wanted / heading)
    if offset * abs(sweep) < IN_LINE_MM:
        return []
    if offset * (1 - math.cos(sweep / 2)) < SWIVEL_MM and abs(sweep) < math.pi / 2:
        return [(tip + offset * wanted,)]
    arc = arc_segments(tip, complex(offset), complex(0, offset), cmath.phase(heading), sweep)
    c1, c2, _ = arc[-1]  # type: ignore[misc]
    return [*arc[:-1], (c1, c2, tip + offset * wanted)]


def _ahead(curves: list[Control], offset: float) -> list[list[Curve]]:
    """The holder path along each cubic, as cubics by Hermite's interpolation; halved where they do not fit."""
    p = np.array(curves).reshape(-1, 4)
    of, begin, width = np.arange(len(p)), np.zeros(len(p)), 1.0
    found: list[tuple[int, float, Curve]] = []
    while len(of):
        axis, pace = _axis(p[of], begin[:, None] + _FIVE * width, offset)
        reach = pace[:, ::4] * (width / 3)
        pieces = np.stack((axis[:, 0], axis[:, 0] + reach[:, 0], axis[:, 4] - reach[:, 1], axis[:, 4]), axis=1)
        fits = np.abs(pieces @ _QUARTERS - axis[:, 1:4]).max(axis=1) <= FIT_MM
        for row, t, (_, a, b, c) in zip(of[fits].tolist(), begin[fits].tolist(), pieces[fits].tolist(), strict=True):
            found.append((row, t, (a, b, c)))
        of, begin = of[~fits], begin[~fits]
        if width <= LEAST_PART:
            found += [
                (row, t, (c,)) for row, t, c in zip(of.tolist(), begin.tolist(), axis[~fits, 4].tolist(), strict=True)
            ]
            break
        width /= 2
        of, begin = np.repeat(of, 2), (begin[:, None] + (0.0, width)).ravel()
    ahead: list[list[Curve]] = [[] for _ in curves]
    for row, _, curve in sorted(found, key=lambda each: each[:2]):
        ahead[row].append(curve)
    return ahead


def _axis(p: Points, t: Floats, offset: float) -> tuple[Points, Points]:
    """The exact place of the axis on each cubic (rows of p) at the t of its row, and its derivative.

    Where a cubic stands still (at a cusp, or at an end on which its control point lies) both are those a little later.
    """
    d, dd = 3 * np.diff(p), 6 * np.diff(p, 2)
    velocity = _quadratic(d, t)
    still = np.abs(velocity) < STILL * np.abs(d).max(axis=1)[:, None]
    if still.any():
        t = np.where(still, np.where(t < 0.5, t + STILL, t - STILL), t)
        velocity = _quadratic(d, t)
    bend = dd[:, :1] * (1 - t) + dd[:, 1:] * t
    speed = np.abs(velocity)
    tangent = velocity / speed
    s = 1 - t
    place = s**3 * p[:, :1] + 3 * s**2 * t * p[:, 1:2] + 3 * s * t**2 * p[:, 2:3] + t**3 * p[:, 3:]
    return place + offset * tangent, velocity + offset * 1j * tangent * (velocity.conj() * bend).imag / speed**2


def _quadratic(d: Points, t: Floats) -> Points:
    values: Points = d[:, :1] * (1 - t) ** 2 + 2 * d[:, 1:2] * (1 - t) * t + d[:, 2:] * t**2
    return values
