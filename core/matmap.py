"""A plain drawing of a mat for people: where each fabric rectangle lies, with words that fit into it.

Terminology
    map         the drawing, in its own units (pixels), y down
    words       what is written in a box of the map: as many lines of it, from the first, as fit
    upright     words that run from bottom to top, in boxes that are narrow and high
    edges       the nearer one of left and right, and of top and bottom: from there a person measures
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

from clothpath.curves import Box
from clothpath.layout import Mat

__all__ = ["BoxOnMap", "MapLine", "MatMap", "Measure", "box_on_map", "map_of", "measured_from"]

WIDE: Final = 560.0
HIGH: Final = 500.0
"""The mat's largest size on the map."""
RIM: Final = 26.0
"""What the map has around the mat, for words."""
SIZES: Final = (14.0, 12.5, 11.0, 10.0)
"""Sizes of letters that are tried, the best first."""
LETTER: Final = 0.56
"""Average width of a letter, as a share of its size."""
LEADING: Final = 1.28
PADDING: Final = 5.0
TINT: Final = 0.62
"""How much white a fabric's color is mixed with, so that black words can be read on it."""


@dataclass(frozen=True, slots=True)
class MatMap:
    """The whole drawing: its size, and where the mat is on it."""

    width: float
    height: float
    left: float
    top: float
    wide: float
    high: float
    scale: float


@dataclass(frozen=True, slots=True)
class MapLine:
    """One line of words: its baseline from the middle of its box, and the size of its letters."""

    words: str
    y: float
    size: float


@dataclass(frozen=True, slots=True)
class BoxOnMap:
    """A fabric rectangle on the map, with its tint and words."""

    x: float
    y: float
    width: float
    height: float
    fill: str
    upright: bool
    lines: tuple[MapLine, ...]

    @property
    def middle_x(self) -> float:
        return round(self.x + self.width / 2, 2)

    @property
    def middle_y(self) -> float:
        return round(self.y + self.height / 2, 2)


@dataclass(frozen=True, slots=True)
class Measure:
    """How far a box is from the nearer edges of the mat, in mm."""

    across: float
    across_edge: Literal["left", "right"]
    along: float
    along_edge: Literal["bottom", "top"]


def map_of(mat: Mat) -> MatMap:
    """The map on which a mat is as large as fits."""
    scale = min(WIDE / mat.width, HIGH / mat.height)
    wide, high = round(mat.width * scale, 2), round(mat.height * scale, 2)
    return MatMap(round(wide + 2 * RIM, 2), round(high + 2 * RIM, 2), RIM, RIM, wide, high, scale)


def box_on_map(box: Box, mat: Mat, on: MatMap, color: str, words: Sequence[str]) -> BoxOnMap:
    """A box on the mat as it is drawn: as many of the words as fit, of the first line at least its number."""
    x, y = on.left + box.left * on.scale, on.top + (mat.height - box.top) * on.scale
    width, height = box.width * on.scale, box.height * on.scale
    upright, lines = _fitted(words, width, height)
    return BoxOnMap(round(x, 2), round(y, 2), round(width, 2), round(height, 2), _tinted(color), upright, lines)


def measured_from(box: Box, mat: Mat) -> Measure:
    """How far the box is from the nearer edges of the mat."""
    right, top = mat.width - box.right, mat.height - box.top
    from_left, from_bottom = box.left <= right, box.bottom <= top
    return Measure(
        max(0.0, box.left if from_left else right),
        "left" if from_left else "right",
        max(0.0, box.bottom if from_bottom else top),
        "bottom" if from_bottom else "top",
    )


def _fitted(words: Sequence[str], width: float, height: float) -> tuple[bool, tuple[MapLine, ...]]:
    """Most lines first, then larger letters; lying words before upright ones."""
    for count in range(len(words), 0, -1):
        longest = max(len(line) for line in words[:count])
        for size in SIZES:
            need = (longest * LETTER * size + 2 * PADDING, count * LEADING * size + PADDING)
            for upright, (across, along) in ((False, (width, height)), (True, (height, width))):
                if need[0] <= across and need[1] <= along:
                    return upright, _set(words[:count], size)
    return False, _set([words[0].partition(".")[0]], SIZES[-1])


def _set(words: Sequence[str], size: float) -> tuple[MapLine, ...]:
    first = -(len(words) - 1) / 2 * LEADING * size + 0.35 * size
    return tuple(MapLine(line, round(first + n * LEADING * size, 2), size) for n, line in enumerate(words))


def _tinted(color: str) -> str:
    channels = (int(color[i : i + 2], 16) for i in (1, 3, 5))
    return "#" + "".join(f"{round(c + (255 - c) * TINT):02x}" for c in channels)
