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
from dataclasses import dataclass
from functools import lru_cache
from math import inf
from typing import Final, TypeAlias

import numpy as np
from numpy.typing import NDArray

from .outline import Posed
from .parts import Points

__all__ = ["slid"]

Floats: TypeAlias = NDArray[np.float64]

CLEARANCE_MM: Final = 0.001
"""What a move stops short of: keeps rounding from turning a touch into an overlap."""

WORTH_MM: Final = 0.02
"""A round that moves everything by less than this in all is the last."""

PIERCED_MM: Final = 1e-5
"""Bodies that lie this deep in each other, by rounding, still keep each other from moving on."""

_TOUCH: Final = 1e-7


def slid(posed: Sequence[Posed], at: Points, rounds: int = 6, axes: Sequence[int] = (0, 1)) -> Points:
    """Places of the boxes' lower left corners, shape (n, 2), after moving all left (axis 0) and down (axis 1) by turns.

    No body leaves the quadrant x >= 0, y >= 0, passes through another, or ends up right of or above where it was.
    """
    places = at.copy()
    if not len(places):
        return places
    bodies = {axis: [_body(p, axis) for p in posed] for axis in axes}
    for number in range(rounds):
        before = places.copy()
        for axis in axes:
            _move(bodies[axis], places[:, ::-1] if axis else places)
        if number and float(np.abs(before - places).sum()) < WORTH_MM:
            break
    return places


@dataclass(frozen=True, slots=True, eq=False)
class _Edges:
    """Edges that rise from `low` to `high`; `x` at the low end, `slant` is what x gains while y gains 1."""

    low: Floats
    high: Floats
    x: Floats
    slant: Floats

    def least_way(self, points: Points) -> float:
        """The least way from a point leftward to an edge that lies level with it."""
        y = points[:, 1, None]
        which, edge = np.nonzero((self.low <= y) & (y <= self.high))
        near = points[which]
        way = near[:, 0] - self.x[edge] - self.slant[edge] * (near[:, 1] - self.low[edge])
        return float(np.min(way, initial=inf, where=way >= -PIERCED_MM))


@dataclass(frozen=True, slots=True, eq=False)
class _Body:
    """A posed part as it is met by others and, a little less high so that it slips by what it touches, as it moves.

    Attributes:
        low, high: of its box.
        corners: seen from the right.
        backs: what others run into.
        points: as it moves.
        fronts: as it moves, all points turned by half a turn.
    """

    low: tuple[float, float]
    high: tuple[float, float]
    corners: Points
    backs: _Edges
    points: Points
    fronts: _Edges


@lru_cache(maxsize=512)
def _body(posed: Posed, axis: int) -> _Body:
    """The body seen so that it moves leftward (`axis` 1: x and y exchanged)."""
    rings = [ring[::-1, ::-1] if axis else ring for ring in posed.rings]
    start = np.concatenate(rings)
    end = np.concatenate([part for ring in rings for part in (ring[1:], ring[:1])])
    low, high = start.min(axis=0), start.max(axis=0)
    squeeze = 1 - 2 * _TOUCH / max(float(high[1] - low[1]), 4 * _TOUCH)
    scale, rise = np.array([1.0, squeeze]), np.array([0.0, float(high[1] + low[1]) / 2 * (1 - squeeze)])
    slim, slim_end = start * scale + rise, end * scale + rise
    up = end[:, 1] - start[:, 1]
    back, front = up > _TOUCH, up < -_TOUCH
    return _Body(
        tuple(low.tolist()),
        tuple(high.tolist()),
        -start,
        _edges(start[back], end[back]),
        slim,
        _edges(-slim[front], -slim_end[front]),
    )


def _edges(start: Points, end: Points) -> _Edges:
    slant = (end[:, 0] - start[:, 0]) / (end[:, 1] - start[:, 1])
    return _Edges(start[:, 1], end[:, 1], start[:, 0], slant)


def _move(bodies: Sequence[_Body], places: Points) -> None:
    """Moves every body left as far as it goes, the leftmost first; `places` is changed."""
    lows, highs = places + [body.low for body in bodies], places + [body.high for body in bodies]
    for n in np.lexsort((np.arange(len(places)), places[:, 1], lows[:, 0])).tolist():
        room = float(places[n, 0])
        if room <= 0:
            continue
        gap = _free_way(bodies, n, room, places, lows, highs)
        if gap > CLEARANCE_MM:
            way = gap if gap >= room else gap - CLEARANCE_MM
            for moved in (places, lows, highs):
                moved[n, 0] -= way


def _free_way(bodies: Sequence[_Body], n: int, room: float, places: Points, lows: Points, highs: Points) -> float:
    """How far body `n` can move left, `room` at most; looks at the bodies close by before those further off."""
    body = bodies[n]
    left, bottom = lows[n].tolist()
    level = (lows[:, 1] < highs[n, 1] - _TOUCH) & (highs[:, 1] > bottom + _TOUCH) & (lows[:, 0] < highs[n, 0])
    level[n] = False
    others = np.flatnonzero(level)
    ends = highs[others, 0].tolist()
    gaps: dict[int, float] = {}
    window = min(room, (body.high[0] - body.low[0]) / 4)
    while True:
        for m, end in zip(others.tolist(), ends, strict=True):
            if m not in gaps and end > left - window - CLEARANCE_MM:
                there = places[n] - places[m]
                gaps[m] = min(
                    bodies[m].backs.least_way(body.points + there), body.fronts.least_way(bodies[m].corners + there)
                )
        gap = min(gaps.values(), default=inf)
        if gap <= window or window >= room:
            return min(gap, room)
        window = min(room, 4 * window)
