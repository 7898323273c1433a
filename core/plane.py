"""Points, boxes and maps of the plane, in millimeters, y up.

Terminology
    point       a complex number x + iy
    box         an upright rectangle
    affine      a map x' = a x + c y + e, y' = b x + d y + f (the order of SVG's matrix(a b c d e f))
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

__all__ = ["Affine", "Bools", "Box", "Floats", "Points"]

Bools: TypeAlias = NDArray[np.bool_]
Floats: TypeAlias = NDArray[np.float64]
Points: TypeAlias = NDArray[np.complex128]


@dataclass(frozen=True, slots=True)
class Box:
    """An upright rectangle, in millimeters."""

    left: float
    bottom: float
    right: float
    top: float

    @property
    def width(self) -> float:
        return self.right - self.left

    @property
    def height(self) -> float:
        return self.top - self.bottom

    @property
    def center(self) -> complex:
        return complex((self.left + self.right) / 2, (self.bottom + self.top) / 2)

    def union(self, other: Box) -> Box:
        """The smallest box that holds both."""
        return Box(
            min(self.left, other.left),
            min(self.bottom, other.bottom),
            max(self.right, other.right),
            max(self.top, other.top),
        )


@dataclass(frozen=True, slots=True)
class Affine:
    """The map x' = a x + c y + e, y' = b x + d y + f."""

    a: float = 1.0
    b: float = 0.0
    c: float = 0.0
    d: float = 1.0
    e: float = 0.0
    f: float = 0.0

    @classmethod
    def shift(cls, by: complex) -> Affine:
        return cls(e=by.real, f=by.imag)

    @classmethod
    def scale(cls, x: float, y: float | None = None) -> Affine:
        return cls(a=x, d=x if y is None else y)

    @classmethod
    def turn(cls, degrees: float) -> Affine:
        """Counterclockwise about the origin; quarter turns are exact."""
        quarters = degrees / 90
        if quarters == round(quarters):
            cos, sin = ((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0))[round(quarters) % 4]
        else:
            angle = math.radians(degrees)
            cos, sin = math.cos(angle), math.sin(angle)
        return cls(cos, sin, -sin, cos)

    @classmethod
    def flip(cls) -> Affine:
        """Seen in a mirror: x becomes -x."""
        return cls(a=-1.0)

    def __matmul__(self, first: Affine) -> Affine:
        """The map that applies `first`, then this one."""
        return Affine(
            self.a * first.a + self.c * first.b,
            self.b * first.a + self.d * first.b,
            self.a * first.c + self.c * first.d,
            self.b * first.c + self.d * first.d,
            self.a * first.e + self.c * first.f + self.e,
            self.b * first.e + self.d * first.f + self.f,
        )

    @property
    def determinant(self) -> float:
        return self.a * self.d - self.b * self.c

    def inverse(self) -> Affine:
        """The map that undoes this one.

        Raises:
            ZeroDivisionError: the map flattens the plane.
        """
        det = self.determinant
        a, b, c, d = self.d / det, -self.b / det, -self.c / det, self.a / det
        return Affine(a, b, c, d, -(a * self.e + c * self.f), -(b * self.e + d * self.f))

    def apply(self, point: complex) -> complex:
        return complex(
            self.a * point.real + self.c * point.imag + self.e, self.b * point.real + self.d * point.imag + self.f
        )

    def apply_all(self, points: Points) -> Points:
        """The map on an array of any shape."""
        # z -> p z + q conj(z) + r, the complex form of an affine map
        p = complex(self.a + self.d, self.b - self.c) / 2
        q = complex(self.a - self.d, self.b + self.c) / 2
        return p * points + q * points.conj() + complex(self.e, self.f)
