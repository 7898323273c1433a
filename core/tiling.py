"""A large drawing over several sheets of paper that overlap.

Terminology
    window      what one sheet shows, in the drawing's own coordinates
    tile        a window with its number; sheets that would be empty are left out
    join        a place in the middle of an overlap that two sheets show, where they are laid onto each other
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from clothpath.curves import Box

__all__ = ["Tile", "tiled"]

CLEAR_MM: Final = 2.0
"""What the outer windows keep around the drawing."""
JOINS_A_SIDE: Final = (1 / 6, 5 / 6)
"""Where along a side the joins are."""


@dataclass(frozen=True, slots=True)
class Tile:
    """What one sheet shows.

    Attributes:
        number: from 1, row by row from the top.
        joins: the places where it meets its neighbors.
        neighbors: side ("left", "right", "above", "below") and number of each sheet that it meets.
    """

    number: int
    window: Box
    joins: tuple[complex, ...]
    neighbors: tuple[tuple[str, int], ...]


def tiled(boxes: Sequence[Box], window: tuple[float, float], overlap: float) -> tuple[Tile, ...]:
    """The tiles that show everything in `boxes`, row by row from the top.

    Args:
        boxes: of the parts of the drawing, at least one.
        window: width and height of what a sheet can show.
        overlap: what neighbors share, less than half of the window.
    """
    whole = boxes[0]
    for box in boxes[1:]:
        whole = whole.union(box)
    columns = _starts(whole.left - CLEAR_MM, whole.width + 2 * CLEAR_MM, window[0], overlap)
    rows = _starts(whole.bottom - CLEAR_MM, whole.height + 2 * CLEAR_MM, window[1], overlap)
    windows: dict[tuple[int, int], Box] = {}
    for r in reversed(range(len(rows))):
        for c, left in enumerate(columns):
            found = Box(left, rows[r], left + window[0], rows[r] + window[1])
            if any(_meet(box, found) for box in boxes):
                windows[r, c] = found
    numbers = {place: n for n, place in enumerate(windows, 1)}
    tiles = []
    for (r, c), found in windows.items():
        near = (("left", r, c - 1), ("right", r, c + 1), ("above", r + 1, c), ("below", r - 1, c))
        neighbors = [(side, numbers[at]) for side, *at_list in near if (at := (at_list[0], at_list[1])) in numbers]
        joins = [join for side, _ in neighbors for join in _joins(found, side, overlap)]
        tiles.append(Tile(numbers[r, c], found, tuple(joins), tuple(neighbors)))
    return tuple(tiles)


def _starts(first: float, length: float, window: float, overlap: float) -> list[float]:
    """Where windows begin along one axis; what is left over is shared out on both ends."""
    step = window - overlap
    count = max(1, math.ceil((length - overlap) / step - 1e-9))
    spare = count * step + overlap - length
    return [first - spare / 2 + n * step for n in range(count)]


def _joins(window: Box, side: str, overlap: float) -> list[complex]:
    half = overlap / 2
    if side in ("left", "right"):
        x = window.left + half if side == "left" else window.right - half
        return [complex(x, window.bottom + part * window.height) for part in JOINS_A_SIDE]
    y = window.bottom + half if side == "below" else window.top - half
    return [complex(window.left + part * window.width, y) for part in JOINS_A_SIDE]


def _meet(a: Box, b: Box) -> bool:
    return a.left < b.right and b.left < a.right and a.bottom < b.top and b.bottom < a.top
