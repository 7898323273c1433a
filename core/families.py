"""Outlines that lie within one another.

Terminology
    family      outlines connected by one lying wholly within another; outlines that only cross or touch are apart
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Sequence
from typing import Final

import numpy as np
import shapely

from clothpath.curves import Bools, Outline, flattened
from clothpath.regions import xy

__all__ = ["families"]

AT_ONCE: Final = 256
"""Outlines that are compared with all others between two ticks."""


def families(
    outlines: Sequence[Outline], counts: Bools | None = None, tick: Callable[[], None] = lambda: None
) -> list[list[int]]:
    """The families, as indices in their order, each family by its first outline.

    Args:
        counts: (n,) bool; an outline within another one connects them only if one of the two counts; None: all do.
        tick: called now and then; may raise to stop.
    """
    if len(outlines) < 2:
        return [[i] for i in range(len(outlines))]
    polygons = np.array([_polygon(each) for each in outlines], dtype=object)
    broken = ~shapely.is_valid(polygons)
    polygons[broken] = shapely.make_valid(polygons[broken])
    shapely.prepare(polygons)
    sizes = shapely.area(polygons)
    counts = np.ones(len(outlines), dtype=np.bool_) if counts is None else counts
    tree = shapely.STRtree(polygons)
    head = list(range(len(outlines)))
    for first in range(0, len(outlines), AT_ONCE):
        tick()
        inner, outer = tree.query(polygons[first : first + AT_ONCE], predicate="within")
        inner = inner + first
        useful = (sizes[outer] > sizes[inner]) & (counts[outer] | counts[inner])
        for small, large in zip(inner[useful].tolist(), outer[useful].tolist(), strict=True):
            a, b = sorted((_head(head, small), _head(head, large)))
            head[b] = a
    members: dict[int, list[int]] = defaultdict(list)
    for i in range(len(outlines)):
        members[_head(head, i)].append(i)
    return list(members.values())


def _polygon(closed: Outline) -> shapely.Polygon:
    """The outline flattened; empty if it has too few points to enclose anything."""
    points = flattened(closed)
    return shapely.Polygon(xy(points)) if len(points) > 2 else shapely.Polygon()


def _head(head: list[int], i: int) -> int:
    while head[i] != i:
        head[i] = head[head[i]]
        i = head[i]
    return i
