"""Regions of the plane bounded by outlines.

Terminology
    ring        an outline that bounds a region: the outer one counterclockwise, the holes clockwise
    region      an outer ring and its holes; connected

Its rings do not cross each other or themselves; `fills` makes such regions of rings that do.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from clothpath.beziers import extremes, points_at
from clothpath.curves import (
    FLATTEN_MM,
    Affine,
    Box,
    Outline,
    Path,
    Points,
    area,
    backwards,
    box_of,
    flattened,
    gathered,
    transformed,
)

__all__ = [
    "Region",
    "as_line",
    "as_polygon",
    "box_of_regions",
    "extent",
    "moved",
    "region",
    "region_area",
    "xy",
]


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


def extent(paths: Sequence[Path]) -> Box:
    """The exact box around several paths together, sooner than by the box of each.

    Only where control points lie beyond all nodes can a curve reach beyond them.

    Raises:
        ValueError: there are none.
    """
    p, straight, _ = gathered(paths)
    x, y, nodes = p.real, p.imag, p[:, ::3]
    left, right, bottom, top = nodes.real.min(), nodes.real.max(), nodes.imag.min(), nodes.imag.max()
    if x.min() < left or x.max() > right or y.min() < bottom or y.max() > top:
        beyond = ((x < left) | (x > right) | (y < bottom) | (y > top)).any(axis=1)
        segment, t = extremes(p, beyond & ~straight)
        bent = points_at(p[segment], t)
        left, right = bent.real.min(initial=left), bent.real.max(initial=right)
        bottom, top = bent.imag.min(initial=bottom), bent.imag.max(initial=top)
    return Box(float(left), float(bottom), float(right), float(top))


def xy(points: Points) -> np.ndarray[tuple[int, int], np.dtype[np.float64]]:
    """(n,) complex points as an (n, 2) view of coordinates, as shapely wants them."""
    return np.ascontiguousarray(points).view(np.float64).reshape(-1, 2)


def as_line(path: Path, tolerance: float = FLATTEN_MM) -> shapely.LineString:
    """The path flattened within `tolerance` mm, all the way round if it is closed."""
    return shapely.LineString(xy(np.append(flattened(path, tolerance), path.end)))


def as_polygon(of: Region, tolerance: float = FLATTEN_MM) -> shapely.Polygon:
    """The region flattened within `tolerance` mm."""
    return shapely.Polygon(xy(flattened(of.outer, tolerance)), [xy(flattened(hole, tolerance)) for hole in of.holes])
