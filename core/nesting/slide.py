"""Moves laid parts left and down until they touch, on the true grown outlines and not on the grid.

Terminology:

body
    the rings of a posed part at a place, kept as directed edges with the part's inside on their left.
gap
    how far a body can move before one of its points meets an edge of another body, or one of its edges a point.
"""

from collections.abc import Sequence
from typing import Final

import numpy as np

from .outline import Posed
from .parts import Points

__all__ = ["slid"]

CLEARANCE_MM: Final = 0.001
"""What a move stops short of: keeps rounding from turning a touch into an overlap."""

ROUNDS: Final = 6
WORTH_MM: Final = 0.02
"""A round that moves everything by less than this in all is the last."""

_TOUCH: Final = 1e-7


def slid(posed: Sequence[Posed], at: Points, axes: tuple[int, int] = (0, 1)) -> Points:
    """Places of the boxes' lower left corners, shape (n, 2), after moving all left (axis 0) and down (axis 1) by turns.

    No body leaves the quadrant x >= 0, y >= 0, passes through another, or ends up right of or above where it was.
    """
    places = at.copy()
    if not len(places):
        return places
    flipped = [[ring[::-1, ::-1] for ring in p.rings] for p in posed]
    upright = [list(p.rings) for p in posed]
    rings = (upright, flipped)
    for number in range(ROUNDS):
        before = places.copy()
        for axis in axes:
            turned = places[:, ::-1] if axis else places
            moved = _leftward(rings[axis], turned)
            places = moved[:, ::-1] if axis else moved
        if number and float(np.abs(before - places).sum()) < WORTH_MM:
            break
    return places


def _leftward(rings: Sequence[Sequence[Points]], at: Points) -> Points:
    """Moves every body left as far as it goes, the leftmost first."""
    places = at.copy()
    starts = [np.concatenate(r) for r in rings]
    ends = [np.concatenate([np.roll(ring, -1, axis=0) for ring in r]) for r in rings]
    low = np.array([s.min(axis=0) for s in starts])
    high = np.array([s.max(axis=0) for s in starts])
    fronts = [(s[:, 1] - e[:, 1]) > _TOUCH for s, e in zip(starts, ends, strict=True)]
    backs = [(e[:, 1] - s[:, 1]) > _TOUCH for s, e in zip(starts, ends, strict=True)]
    front_edges = [(s[f], e[f]) for s, e, f in zip(starts, ends, fronts, strict=True)]
    back_edges = [(s[b], e[b]) for s, e, b in zip(starts, ends, backs, strict=True)]
    order = np.lexsort((np.arange(len(places)), places[:, 1], places[:, 0] + low[:, 0]))
    for n in order.tolist():
        here = places[n]
        if here[0] <= 0:
            continue
        lows, highs = places + low, places + high
        near = (
            (lows[:, 1] < highs[n, 1] - _TOUCH)
            & (highs[:, 1] > lows[n, 1] + _TOUCH)
            & (lows[:, 0] < highs[n, 0])
            & (highs[:, 0] > lows[n, 0] - here[0] - CLEARANCE_MM)
        )
        near[n] = False
        gap = float(here[0])
        others = np.nonzero(near)[0].tolist()
        if others:
            middle = (low[n, 1] + high[n, 1]) / 2 + here[1]
            shrink = 1 - 2 * _TOUCH / max(high[n, 1] - low[n, 1], _TOUCH * 4)
            points = _squeezed(starts[n] + here, middle, shrink)
            front = tuple(_squeezed(p + here, middle, shrink) for p in front_edges[n])
            edges = tuple(np.concatenate([back_edges[m][k] + places[m] for m in others]) for k in (0, 1))
            their = np.concatenate([starts[m] + places[m] for m in others])
            gap = min(gap, _gap(points, (edges[0], edges[1])), _gap(-their, (-front[0], -front[1])))
        if gap > CLEARANCE_MM:
            places[n, 0] -= gap if gap >= here[0] else gap - CLEARANCE_MM
    return places


def _squeezed(points: Points, middle: float, factor: float) -> Points:
    return np.column_stack((points[:, 0], middle + (points[:, 1] - middle) * factor))


def _gap(points: Points, edges: tuple[Points, Points]) -> float:
    """The least way from a point leftward to an upward edge (start, end) that lies level with it."""
    start, end = edges
    if not len(points) or not len(start):
        return float("inf")
    y = points[:, 1, None]
    level = (start[:, 1] <= y) & (y <= end[:, 1])
    which, edge = np.nonzero(level)
    if not len(which):
        return float("inf")
    share = (points[which, 1] - start[edge, 1]) / (end[edge, 1] - start[edge, 1])
    gap = points[which, 0] - (start[edge, 0] + share * (end[edge, 0] - start[edge, 0]))
    ahead = gap[gap >= -_TOUCH * 10]
    return float(ahead.min()) if len(ahead) else float("inf")
