"""Regions of the plane bounded by outlines.

Terminology
    ring        an outline that bounds a region: the outer one counterclockwise, the holes clockwise
    region      an outer ring and its holes; connected
    fill rule   how overlapping rings make an inside: "nonzero" or "evenodd" (SVG 2, 13.4.2 fill-rule)

Rings here do not cross each other; `regions_of` sorts them by containment. Source of the fill rules: SVG 2, 13.4.2.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
import shapely

from clothpath.curves import (
    FLATTEN_MM,
    Affine,
    Box,
    Outline,
    Points,
    area,
    backwards,
    box_of,
    flattened,
    transformed,
)

__all__ = [
    "FillRule",
    "Region",
    "as_polygon",
    "box_of_regions",
    "moved",
    "region",
    "region_area",
    "regions_of",
    "xy",
]

FillRule = Literal["nonzero", "evenodd"]


@dataclass(frozen=True, slots=True)
class Region:
    """An outer ring, counterclockwise, and its holes, clockwise; made by `region`, which sees to that."""

    outer: Outline
    holes: tuple[Outline, ...] = ()

    def __iter__(self) -> Iterator[Outline]:
        """The rings, outer one first."""
        yield self.outer
        yield from self.holes

    @property
    def box(self) -> Box:
        return self.outer.box


def region(outer: Outline, holes: Iterable[Outline] = ()) -> Region:
    """The region with these rings, each run in its proper direction."""
    return Region(
        outer if area(outer) >= 0 else backwards(outer),
        tuple(hole if area(hole) <= 0 else backwards(hole) for hole in holes),
    )


def region_area(of: Region) -> float:
    """The area in mm^2, exact: the holes count as negative."""
    return sum(area(ring) for ring in of)


def moved(of: Region, affine: Affine) -> Region:
    """The region under the map; where the map mirrors, the rings are turned back to their proper directions."""
    rings = [transformed(ring, affine) for ring in of]
    if affine.determinant < 0:
        rings = [backwards(ring) for ring in rings]
    return Region(rings[0], tuple(rings[1:]))


def box_of_regions(regions: Iterable[Region]) -> Box:
    """The exact bounding box of several regions.

    Raises:
        ValueError: there are none.
    """
    return box_of(each.outer for each in regions)


def xy(points: Points) -> np.ndarray[tuple[int, int], np.dtype[np.float64]]:
    """(n,) complex points as an (n, 2) view of coordinates, as shapely wants them."""
    return np.ascontiguousarray(points).view(np.float64).reshape(-1, 2)


def as_polygon(of: Region, tolerance: float = FLATTEN_MM) -> shapely.Polygon:
    """The region flattened within `tolerance` mm."""
    return shapely.Polygon(xy(flattened(of.outer, tolerance)), [xy(flattened(hole, tolerance)) for hole in of.holes])


def regions_of(rings: Sequence[Outline], rule: FillRule) -> tuple[Region, ...]:
    """The regions that rings which do not cross each other bound under a fill rule, in order of their outer rings.

    A ring is an outer one where the inside begins, a hole where it ends, and nothing where crossing it changes nothing.
    """
    rings = [ring for ring in rings if area(ring)]
    if len(rings) == 1:
        return (region(rings[0]),)
    flat = [flattened(ring) for ring in rings]
    rings = [ring for ring, points in zip(rings, flat, strict=True) if len(points) > 2]
    polygons = [shapely.Polygon(xy(points)) for points in flat if len(points) > 2]
    signs = [1 if area(ring) > 0 else -1 for ring in rings]
    tree = shapely.STRtree(polygons)
    inner, outer = tree.query([polygon.representative_point() for polygon in polygons], predicate="within")
    around: list[list[int]] = [[] for _ in rings]
    for small, large in zip(inner.tolist(), outer.tolist(), strict=True):
        if small != large and (polygons[large].area, large) > (polygons[small].area, small):
            around[small].append(large)

    def filled(winding: int) -> bool:
        return winding != 0 if rule == "nonzero" else winding % 2 == 1

    step = signs if rule == "nonzero" else [1] * len(rings)
    outside = [filled(sum(step[j] for j in around[i])) for i in range(len(rings))]
    inside = [filled(sum(step[j] for j in around[i]) + step[i]) for i in range(len(rings))]
    holes: dict[int, list[Outline]] = {i: [] for i in range(len(rings)) if inside[i] and not outside[i]}
    for i, ring in enumerate(rings):
        if outside[i] and not inside[i]:
            owner = min((j for j in around[i] if j in holes), key=lambda j: polygons[j].area)
            holes[owner].append(ring)
    return tuple(region(rings[i], found) for i, found in holes.items())
