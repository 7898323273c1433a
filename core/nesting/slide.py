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
from typing import Final

import numpy as np
from numpy.typing import NDArray

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
    """All bodies' points and edges end to end, seen so that the move is leftward (`axis` 1: x and y swapped)."""

    def __init__(self, posed: Sequence[Posed], axis: int) -> None:
        rings = [[ring[::-1, ::-1] if axis else ring for ring in p.rings] for p in posed]
        starts = [np.concatenate(r) for r in rings]
        ends = [np.concatenate([np.concatenate((ring[1:], ring[:1])) for ring in r]) for r in rings]
        self.low = np.array([s.min(axis=0) for s in starts])
        self.high = np.array([s.max(axis=0) for s in starts])
        self.start, self.end = np.concatenate(starts), np.concatenate(ends)
        self.owner = np.repeat(np.arange(len(rings)), [len(s) for s in starts])
        rise = self.end[:, 1] - self.start[:, 1]
        self.back, self.front = rise > _TOUCH, rise < -_TOUCH

    def move(self, places: Points) -> None:
        """Moves every body left as far as it goes, the leftmost first; `places` is changed."""
        order = np.lexsort((np.arange(len(places)), places[:, 1], places[:, 0] + self.low[:, 0]))
        for n in order.tolist():
            room = float(places[n, 0])
            if room <= 0:
                continue
            lows, highs = places + self.low, places + self.high
            near = (
                (lows[:, 1] < highs[n, 1] - _TOUCH)
                & (highs[:, 1] > lows[n, 1] + _TOUCH)
                & (lows[:, 0] < highs[n, 0])
                & (highs[:, 0] > lows[n, 0] - room - CLEARANCE_MM)
            )
            near[n] = False
            gap = min(room, self._gap(n, near, places)) if near.any() else room
            if gap > CLEARANCE_MM:
                places[n, 0] -= gap if gap >= room else gap - CLEARANCE_MM

    def _gap(self, n: int, near: NDArray[np.bool_], places: Points) -> float:
        theirs = near[self.owner]
        back = theirs & self.back
        mine = self.owner == n
        front = mine & self.front
        moved_back = places[self.owner[back]]
        squeeze = 1 - 2 * _TOUCH / max(float(self.high[n, 1] - self.low[n, 1]), 4 * _TOUCH)
        scale = np.array([1.0, squeeze])
        middle = np.array([0.0, float(self.high[n, 1] + self.low[n, 1]) / 2 * (1 - squeeze)]) + places[n]
        points = self.start[mine] * scale + middle
        corners = self.start[theirs] + places[self.owner[theirs]]
        return min(
            _least_way(points, self.start[back] + moved_back, self.end[back] + moved_back),
            _least_way(-corners, -(self.start[front] * scale + middle), -(self.end[front] * scale + middle)),
        )


def _least_way(points: Points, start: Points, end: Points) -> float:
    """The least way from a point leftward to an upward edge (start, end) that lies level with it."""
    y = points[:, 1, None]
    which, edge = np.nonzero((start[:, 1] <= y) & (y <= end[:, 1]))
    if not len(which):
        return float("inf")
    slant = (end[:, 0] - start[:, 0]) / (end[:, 1] - start[:, 1])
    way = points[which, 0] - start[edge, 0] - slant[edge] * (points[which, 1] - start[edge, 1])
    ahead = way[way >= -10 * _TOUCH]
    return float(ahead.min()) if len(ahead) else float("inf")
