"""The sizes in which rectangles are cut: what lies in them is smaller, so only the next line of the ruler counts.

Terminology:

line
    a multiple of the ruler's step. A rectangle is cut at the first line that takes what lies in it with the margin on
    all sides, or at the whole room where that comes first.
"""

from dataclasses import dataclass
from math import ceil
from typing import Final

__all__ = ["Ruler"]

_SLACK_MM: Final = 1e-6


@dataclass(frozen=True, slots=True)
class Ruler:
    """`step` mm between two lines, 0: any size is cut; `width` and `height` of the inner room, `margin` around it."""

    step: float
    margin: float
    width: float
    height: float

    def area(self, width: float, height: float) -> float:
        """Of the rectangle that is cut for what is `width` x `height` mm without the margin, mm²."""
        return (self._line(width, self.width) + 2 * self.margin) * (self._line(height, self.height) + 2 * self.margin)

    def up(self, height: float) -> float:
        """The inner height that is to be had without cutting more than for `height`."""
        return self._line(height, self.height)

    def _line(self, size: float, most: float) -> float:
        if not self.step:
            return min(size, most)
        line = ceil((size + 2 * self.margin - _SLACK_MM) / self.step) * self.step - 2 * self.margin
        return max(min(line, most), size)
