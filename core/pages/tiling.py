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

import numpy as np
from numpy.typing import NDArray

from clothpath.curves import Box

__all__ = ["Tile", "split", "tiled"]

CLEAR_MM: Final = 2.0
"""What the outer windows keep around the drawing."""
JOINS_A_SIDE: Final = (1 / 6, 5 / 6)
"""Where along a side the joins are."""
SHARES: Final = (0.5, 0.4, 0.6, 0.3, 0.7, 0.2, 0.8, 0.1, 0.9, 0.0, 1.0)
"""Of the paper that is left over, the parts before the drawing that are tried, the middle first."""


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
    """The tiles that show everything in `boxes`, row by row from the top, with as few of the boxes split as may be.

    Args:
        boxes: of the parts of the drawing, at least one.
        window: width and height of what a sheet can show.
        overlap: what neighbors share, less than half of the window.
    """
    whole = boxes[0]
    for box in boxes[1:]:
        whole = whole.union(box)
    across = _starts(whole.left - CLEAR_MM, whole.width + 2 * CLEAR_MM, window[0], overlap)
    upward = _starts(whole.bottom - CLEAR_MM, whole.height + 2 * CLEAR_MM, window[1], overlap)
    columns, rows = _best(boxes, window, across, upward)
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


def split(boxes: Sequence[Box], tiles: Sequence[Tile]) -> int:
    """How many of the boxes no tile shows whole."""
    return sum(all(tile.window.union(box) != tile.window for tile in tiles) for box in boxes)


def _starts(first: float, length: float, window: float, overlap: float) -> list[list[float]]:
    """Where windows may begin along one axis; what is left over is shared out on both ends in different ways."""
    step = window - overlap
    count = max(1, math.ceil((length - overlap) / step - 1e-9))
    spare = count * step + overlap - length
    return [[first - part * spare + n * step for n in range(count)] for part in SHARES]


def _best(
    boxes: Sequence[Box], window: tuple[float, float], across: list[list[float]], upward: list[list[float]]
) -> tuple[list[float], list[float]]:
    """The starts of columns and rows that need the fewest sheets, and of those the ones that split the fewest parts."""
    sides = np.array([(box.left, box.right, box.bottom, box.top) for box in boxes])
    in_column, on_column = _shown(sides[:, :2], window[0], across)
    in_row, on_row = _shown(sides[:, 2:], window[1], upward)
    options = []
    for c in range(len(SHARES)):
        for r in range(len(SHARES)):
            split = int(np.count_nonzero(~(in_column[c] & in_row[r])))
            sheets = int(np.count_nonzero((on_column[c][:, None] & on_row[r][None]).any(axis=2)))
            options.append((sheets, split, c + r, c, r))
    _, _, _, c, r = min(options)
    return across[c], upward[r]


def _shown(
    sides: NDArray[np.float64], window: float, options: list[list[float]]
) -> tuple[list[NDArray[np.bool_]], list[NDArray[np.bool_]]]:
    """For each option: (parts,) whether one window shows the whole part, and (windows, parts) which show some of it."""
    low, high = sides[None, :, 0], sides[None, :, 1]
    whole: list[NDArray[np.bool_]] = []
    some: list[NDArray[np.bool_]] = []
    for starts in options:
        begin = np.array(starts)[:, None]
        inside = (begin <= low) & (high <= begin + window)
        whole.append(np.logical_or.reduce(inside, axis=0))
        some.append((begin < high) & (low < begin + window))
    return whole, some


def _joins(window: Box, side: str, overlap: float) -> list[complex]:
    half = overlap / 2
    if side in ("left", "right"):
        x = window.left + half if side == "left" else window.right - half
        return [complex(x, window.bottom + part * window.height) for part in JOINS_A_SIDE]
    y = window.bottom + half if side == "below" else window.top - half
    return [complex(window.left + part * window.width, y) for part in JOINS_A_SIDE]


def _meet(a: Box, b: Box) -> bool:
    return a.left < b.right and b.left < a.right and a.bottom < b.top and b.bottom < a.top
