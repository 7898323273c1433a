"""Moves laid parts left and down until they touch, on the true grown outlines and not on the grid.

Terminology:

body
    the rings of a posed part at a place, kept as directed edges with the part's inside on their left.
front / back
    the edges of a body that face left / right, the way it moves and the way others come from.
gap
    how far a body can move before one of its points meets a back of another body, or one of its fronts a point.
"""

from collections.abc import Sequence
from math import inf
from typing import Final

import numpy as np

from .outline import Posed
from .parts import Points

__all__ = ["slid"]

CLEARANCE_MM: Final = 0.001
"""What a move stops short of: keeps rounding from turning a touch into an overlap."""

WORTH_MM: Final = 0.02
"""A round that moves everything by less than this in all is the last."""

_TOUCH: Final = 1e-7


def slid(posed: Sequence[Posed], at: Points, rounds: int = 6, axes: Sequence[int] = (0, 1)) -> Points:
    """Places of the boxes' lower left corners, shape (n, 2), after moving all left (axis 0) and down (axis 1) by turns.

    No body leaves the quadrant x >= 0, y >= 0, passes through another, or ends up right of or above where it was.
    """
    places = at.copy()
    if not len(places):
        return places
    bodies = {axis: _Bodies(posed, axis) for axis in axes}
    for number in range(rounds):
        before = places.copy()
        for axis in axes:
            bodies[axis].move(places[:, ::-1] if axis else places)
        if number and float(np.abs(before - places).sum()) < WORTH_MM:
            break
    return places


class _Bodies:
    """All bodies' points and edges end to end, seen so that the move is leftward (`axis` 1: x and y exchanged)."""

    def __init__(self, posed: Sequence[Posed], axis: int) -> None:
        rings = [[ring[::-1, ::-1] if axis else ring for ring in p.rings] for p in posed]
        starts = [np.concatenate(r) for r in rings]
        ends = [np.concatenate([np.concatenate((ring[1:], ring[:1])) for ring in r]) for r in rings]
        rises = [end[:, 1] - start[:, 1] for start, end in zip(starts, ends, strict=True)]
        self.low = np.array([s.min(axis=0) for s in starts])
        self.high = np.array([s.max(axis=0) for s in starts])
        self.points = starts
        self.backs = [(s[r > _TOUCH], e[r > _TOUCH]) for s, e, r in zip(starts, ends, rises, strict=True)]
        self.fronts = [(s[r < -_TOUCH], e[r < -_TOUCH]) for s, e, r in zip(starts, ends, rises, strict=True)]

    def move(self, places: Points) -> None:
        """Moves every body left as far as it goes, the leftmost first; `places` is changed."""
        order = np.lexsort((np.arange(len(places)), places[:, 1], places[:, 0] + self.low[:, 0]))
        for n in order.tolist():
            room = float(places[n, 0])
            if room <= 0:
                continue
            gap = self._free_way(n, room, places)
            if gap > CLEARANCE_MM:
                places[n, 0] -= gap if gap >= room else gap - CLEARANCE_MM

    def _free_way(self, n: int, room: float, places: Points) -> float:
        """How far body `n` can move left, `room` at most; looks at the bodies close by before those further off."""
        lows, highs = places + self.low, places + self.high
        level = (lows[:, 1] < highs[n, 1] - _TOUCH) & (highs[:, 1] > lows[n, 1] + _TOUCH) & (lows[:, 0] < highs[n, 0])
        level[n] = False
        window = min(room, float(self.high[n, 0] - self.low[n, 0]) / 4)
        while True:
            near = np.nonzero(level & (highs[:, 0] > lows[n, 0] - window - CLEARANCE_MM))[0]
            gap = self._gap(n, near.tolist(), places) if len(near) else inf
            if gap <= window or window >= room:
                return min(gap, room)
            window = min(room, 4 * window)

    def _gap(self, n: int, near: Sequence[int], places: Points) -> float:
        squeeze = 1 - 2 * _TOUCH / max(float(self.high[n, 1] - self.low[n, 1]), 4 * _TOUCH)
        middle = np.array([0.0, float(self.high[n, 1] + self.low[n, 1]) / 2 * (1 - squeeze)]) + places[n]
        scale = np.array([1.0, squeeze])
        front = [points * scale + middle for points in self.fronts[n]]
        corners = np.concatenate([self.points[m] + places[m] for m in near])
        back = [np.concatenate([self.backs[m][side] + places[m] for m in near]) for side in (0, 1)]
        return min(
            _least_way(self.points[n] * scale + middle, back[0], back[1]),
            _least_way(-corners, -front[0], -front[1]),
        )


def _least_way(points: Points, start: Points, end: Points) -> float:
    """The least way from a point leftward to an upward edge (start, end) that lies level with it."""
    y = points[:, 1, None]
    which, edge = np.nonzero((start[:, 1] <= y) & (y <= end[:, 1]))
    if not len(which):
        return inf
    slant = (end[:, 0] - start[:, 0]) / (end[:, 1] - start[:, 1])
    way = points[which, 0] - start[edge, 0] - slant[edge] * (points[which, 1] - start[edge, 1])
    ahead = way[way >= -10 * _TOUCH]
    return float(ahead.min()) if len(ahead) else inf
