"""Lines and outlines that are one, drawn twice.

Terminology
    twin        a line or outline that runs along another one all the way, within a tolerance
    alike       said of outlines with one box and one area: a quick and coarser likeness, for arcs rounded differently
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Final, TypeVar

import numpy as np
import shapely

from clothpath.curves import Outline, Path, area
from clothpath.regions import Region, as_line, as_polygon

__all__ = ["ALIKE_MM", "alike", "corners", "near_in_box", "same_line", "same_region"]

ALIKE_MM: Final = 0.1
"""Boxes of outlines that are alike agree this well, in mm, and their areas within `ALIKE_SHARE`."""
ALIKE_SHARE: Final = 0.01

T = TypeVar("T")


def near_in_box(things: Sequence[T], path_of: Callable[[T], Path], within: float) -> list[list[int]]:
    """For each thing, the earlier ones whose boxes differ from its own by no more than `within` mm on any side."""
    boxes = np.array([corners(path_of(thing)) for thing in things]).reshape(-1, 4)
    order = np.argsort(boxes[:, 0], kind="stable")
    lefts = boxes[order, 0]
    first = np.searchsorted(lefts, boxes[:, 0] - within, side="left").tolist()
    last = np.searchsorted(lefts, boxes[:, 0] + within, side="right").tolist()
    found: list[list[int]] = []
    for i in range(len(things)):
        near = order[first[i] : last[i]]
        near = near[near < i]
        near = near[np.abs(boxes[near] - boxes[i]).max(axis=1, initial=0) <= within]
        found.append(sorted(near.tolist()))
    return found


def corners(path: Path) -> tuple[float, float, float, float]:
    box = path.box
    return box.left, box.bottom, box.right, box.top


def alike(one: Outline, other: Outline) -> bool:
    """Whether two outlines have one box and one area, as near as the hand or a rounding of arcs leaves them."""
    off = max(abs(a - b) for a, b in zip(corners(one), corners(other), strict=True))
    size = abs(area(other))
    return off <= ALIKE_MM and abs(abs(area(one)) - size) <= ALIKE_SHARE * size


def same_region(one: Region, other: Region, within: float) -> bool:
    """Whether the edges of two regions keep within `within` mm of each other (Hausdorff distance)."""
    if len(one.holes) != len(other.holes):
        return False
    return bool(shapely.hausdorff_distance(as_polygon(one).boundary, as_polygon(other).boundary) <= within)


def same_line(one: Path, other: Path, within: float) -> bool:
    """Whether two lines keep within `within` mm of each other (Hausdorff distance)."""
    return bool(shapely.hausdorff_distance(as_line(one), as_line(other)) <= within)
