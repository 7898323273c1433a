"""Outlines within outlines: which is a hole, in drawings made of lines only.

Terminology
    parent      of an outline: the smallest one that holds it wholly
    siblings    outlines with the same parent; where two of them overlap, both lie on top and neither is a hole
    depth       how many parents up; outlines of even depth bound pieces, those of odd depth are holes in their parent

Lines have no fill that would say what is inside; that nested outlines alternate is common practice. Outlines that only
cross or touch say nothing about each other.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterator, Sequence
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray

from clothpath.curves import FLATTEN_MM, Outline, flattened
from clothpath.regions import Region, region, xy

__all__ = ["nested", "parents"]

AT_ONCE: Final = 256
"""Outlines that are compared with all others between two ticks."""
SHARE: Final = 1e-6
"""Outlines are flattened within this share of their size, where that is more than usual: those of 5 m and above."""
LARGER: Final = 1 + 1e-9
"""Times as large must an outline be as one that it holds; else they are twins."""


def parents(
    outlines: Sequence[Outline],
    tick: Callable[[], None] = lambda: None,
    related: Callable[[int, int], bool] | None = None,
) -> list[int | None]:
    """The parent of each outline as an index; None if it has none, or lies on top of its siblings.

    Args:
        tick: called now and then; may raise to stop.
        related: whether the first may have the second for a parent; None: it may.
    """
    if len(outlines) < 2:
        return [None] * len(outlines)
    polygons = np.array([_polygon(each) for each in outlines], dtype=object)
    broken = ~shapely.is_valid(polygons)
    polygons[broken] = shapely.make_valid(polygons[broken])
    shapely.prepare(polygons)
    tree = shapely.STRtree(polygons)
    found: list[int | None] = [None] * len(outlines)
    for first in range(0, len(outlines), AT_ONCE):
        tick()
        inner, outer = _candidates(tree, first, related)
        while len(inner):  # of each, the first candidate; what fails has its next one tried
            tick()
            _, tried = np.unique(inner, return_index=True)
            holds = shapely.contains(polygons[outer[tried]], polygons[inner[tried]])
            for small, large in zip(inner[tried[holds]].tolist(), outer[tried[holds]].tolist(), strict=True):
                found[small] = large
            left = ~np.isin(inner, inner[tried[holds]])
            left[tried] = False
            inner, outer = inner[left], outer[left]
    on_top = _overlapping_siblings(polygons, found, tick)
    return [None if i in on_top else parent for i, parent in enumerate(found)]


def _candidates(
    tree: shapely.STRtree, first: int, related: Callable[[int, int], bool] | None
) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Outlines from `first` on and larger ones whose boxes hold theirs, the smallest first for each."""
    polygons = tree.geometries
    inner, outer = tree.query(polygons[first : first + AT_ONCE])
    inner = inner + first
    sizes = shapely.area(polygons)
    larger = sizes[outer] > LARGER * sizes[inner]
    inner, outer = inner[larger], outer[larger]
    small, large = shapely.bounds(polygons[inner]), shapely.bounds(polygons[outer])
    held = (large[:, :2] <= small[:, :2]).all(axis=1) & (large[:, 2:] >= small[:, 2:]).all(axis=1)
    inner, outer = inner[held], outer[held]
    order = np.lexsort((outer, sizes[outer], inner))
    inner, outer = inner[order], outer[order]
    if related is not None and len(inner):
        kept = np.array([related(i, j) for i, j in zip(inner.tolist(), outer.tolist(), strict=True)], dtype=np.bool_)
        inner, outer = inner[kept], outer[kept]
    return inner, outer


def _overlapping_siblings(
    polygons: NDArray[np.object_], parent: Sequence[int | None], tick: Callable[[], None]
) -> set[int]:
    siblings: dict[int, list[int]] = defaultdict(list)
    for i, up in enumerate(parent):
        if up is not None:
            siblings[up].append(i)
    found: set[int] = set()
    for group in siblings.values():
        if len(group) > 1:
            found.update(group[i] for i in _overlapping(polygons[group], tick))
    return found


def _overlapping(polygons: NDArray[np.object_], tick: Callable[[], None]) -> Iterator[int]:
    """Those that overlap another one; whether two do that are known to is not looked at."""
    tree = shapely.STRtree(polygons)
    known = np.zeros(len(polygons), dtype=np.bool_)
    for i in range(len(polygons)):
        near = tree.query(polygons[i])
        near = near[(near > i) & ~(known[i] & known[near])]
        for first in range(0, len(near), AT_ONCE):
            tick()
            some = near[first : first + AT_ONCE]
            hit = some[shapely.overlaps(polygons[i], polygons[some])]
            known[hit] = True
            known[i] |= len(hit) > 0
    yield from np.flatnonzero(known).tolist()


def nested(outlines: Sequence[Outline], parent: Sequence[int | None]) -> list[tuple[int, Region]]:
    """The regions that the outlines bound, each with the index of its outer outline, in that order."""
    depth: dict[int, int] = {}
    for i in range(len(outlines)):
        way = [i]
        while way[-1] not in depth and (up := parent[way[-1]]) is not None:
            way.append(up)
        height = depth.get(way[-1], 0)
        for below, j in enumerate(reversed(way)):
            depth[j] = height + below
    holes: dict[int, list[Outline]] = defaultdict(list)
    for i, up in enumerate(parent):
        if up is not None and depth[i] % 2:
            holes[up].append(outlines[i])
    return [(i, region(outlines[i], holes[i])) for i in range(len(outlines)) if depth[i] % 2 == 0]


def _polygon(closed: Outline) -> shapely.Polygon:
    """The outline flattened; empty if it has too few points to enclose anything."""
    points = flattened(closed, max(FLATTEN_MM, SHARE * max(closed.box.width, closed.box.height)))
    return shapely.Polygon(xy(points)) if len(points) > 2 else shapely.Polygon()
