"""What goes into the nesting engine and what comes out of it.

Terminology:

part
    a plane shape in millimeters, with holes, that is wanted a number of times.
turn
    a counterclockwise rotation in degrees about the origin of the part's own coordinates.
spot
    where one copy of a part lies: the point p of the part is found at R(turn) p + (x, y).
packing
    a rectangle with its lower left corner at (0, 0) and the spots of the copies that lie in it.
spacing
    the least distance between two placed copies.
margin
    the least distance of a placed copy from the four sides of the rectangle.
"""

from dataclasses import dataclass, field
from math import cos, radians, sin
from typing import Final

import numpy as np
from numpy.typing import NDArray

__all__ = [
    "TOLERANCE_MM",
    "BadPartError",
    "Like",
    "NestingError",
    "Packing",
    "Part",
    "Points",
    "Spot",
    "UnprovedError",
    "placed",
    "turned",
]

TOLERANCE_MM: Final = 0.01
"""How far a placed copy may lie inside the spacing or the margin."""

Points = NDArray[np.float64]
"""Points as rows of x, y in mm, shape (n, 2)."""


class NestingError(Exception):
    """Anything the nesting engine raises on purpose."""


class BadPartError(NestingError):
    """A part that cannot be laid anywhere: `key` says which, the message says why."""

    def __init__(self, key: str, why: str) -> None:
        super().__init__(f"part {key}: {why}")
        self.key = key
        self.why = why


class UnprovedError(NestingError):
    """The engine made an arrangement that its checker refuses: a fault of the engine, never of the parts."""


@dataclass(frozen=True, slots=True)
class Like:
    """That a part's points are those of another, the shape: q = R(turn) p + (x, y) for the points p of part `key`."""

    key: str
    turn: float
    x: float
    y: float


@dataclass(frozen=True, slots=True, eq=False)
class Part:
    """A shape wanted `count` times: `outer` counterclockwise, `holes` clockwise, neither closed by a repeated point.

    `turns` lists the allowed turns in degrees; None allows any. `like` says which part has the same shape.
    """

    key: str
    outer: Points
    holes: tuple[Points, ...] = ()
    turns: tuple[float, ...] | None = None
    count: int = 1
    like: Like | None = None


@dataclass(frozen=True, slots=True)
class Spot:
    """Where copy number `copy` (from 0) of the part `key` lies: p -> R(turn) p + (x, y), degrees and mm."""

    key: str
    copy: int
    turn: float
    x: float
    y: float


@dataclass(frozen=True, slots=True)
class Packing:
    """A rectangle of `width` x `height` mm, what lies in it, and by key how many copies found no room."""

    width: float
    height: float
    spots: tuple[Spot, ...]
    left: tuple[tuple[str, int], ...] = field(default=())

    @property
    def area(self) -> float:
        """Area of the rectangle in mm²."""
        return self.width * self.height

    @property
    def complete(self) -> bool:
        """Whether every copy has a spot."""
        return not self.left


def turned(points: Points, turn: float) -> Points:
    """`points` turned counterclockwise by `turn` degrees about the origin; quarter turns are exact."""
    quarters, rest = divmod(turn % 360.0, 90.0)
    if rest == 0.0:
        c, s = ((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0))[int(quarters) % 4]
    else:
        c, s = cos(radians(turn)), sin(radians(turn))
    return np.asarray(points @ np.array([[c, s], [-s, c]]))


def placed(part: Part, spot: Spot) -> tuple[Points, ...]:
    """The outer ring and then the holes of `part` where `spot` puts them."""
    shift = np.array([spot.x, spot.y])
    return tuple(turned(ring, spot.turn) + shift for ring in (part.outer, *part.holes))
