"""From posed copies at places to a packing that has passed the checker.

Terminology:

arrangement
    posed copies with the lower left corners of their true boxes in the inner rectangle, which is the rectangle less
    its margin on all sides.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from .check import faults
from .outline import Posed
from .parts import Packing, Part, Points, Spot
from .slide import slid

__all__ = ["Arrangement", "Frame", "tightened"]


@dataclass(frozen=True, slots=True)
class Arrangement:
    """`at`: the corners, shape (n, 2), one for each of `posed`; `regular`: rows that are to be kept as they are."""

    posed: tuple[Posed, ...]
    at: Points
    regular: bool = False

    @property
    def size(self) -> tuple[float, float]:
        """Width and height in mm from the inner rectangle's corner to the far sides of all boxes."""
        if not self.posed:
            return 0.0, 0.0
        sizes = np.array([(p.width, p.height) for p in self.posed])
        width, height = (self.at + sizes).max(axis=0).tolist()
        return width, height


@dataclass(frozen=True, slots=True)
class Frame:
    """What every packing of one call must keep to; turns arrangements into proved packings."""

    parts: tuple[Part, ...]
    spacing: float
    margin: float
    blocked: tuple[Points, ...] = ()

    def packing(self, arrangement: Arrangement, width: float | None, height: float | None) -> Packing:
        """`arrangement` in a rectangle of the stated size, or as large as needed where none is stated; unproved."""
        across, up = arrangement.size
        used = {part.key: 0 for part in self.parts}
        spots = []
        for posed, (x, y) in zip(arrangement.posed, arrangement.at.tolist(), strict=True):
            key = posed.blank.part.key
            shift = (x + self.margin + posed.origin[0], y + self.margin + posed.origin[1])
            spots.append(Spot(key, used[key], posed.turn, *shift))
            used[key] += 1
        return Packing(
            across + 2 * self.margin if width is None else width,
            up + 2 * self.margin if height is None else height,
            tuple(spots),
            tuple((part.key, part.count - used[part.key]) for part in self.parts if part.count > used[part.key]),
        )

    def proved(
        self, arrangements: Iterable[Arrangement], width: float | None = None, height: float | None = None
    ) -> Packing | None:
        """The first of `arrangements` with which the checker finds no fault, as a packing."""
        for arrangement in arrangements:
            packing = self.packing(arrangement, width, height)
            if not faults(self.parts, packing, self.spacing, self.margin, self.blocked):
                return packing
        return None


def tightened(arrangement: Arrangement, rounds: int = 6, axes: Sequence[int] = (0, 1)) -> Arrangement:
    """`arrangement` with everything moved left and down as far as it goes, unless it is regular."""
    if arrangement.regular:
        return arrangement
    return Arrangement(arrangement.posed, slid(arrangement.posed, arrangement.at, rounds, axes))
