"""Rectangles inside an irregular scrap of cloth, and what the scrap lacks of its own box.

Terminology
    inscribed   lying wholly inside the scrap, clear of its rim
    lacking     the parts of the box round the scrap where there is no cloth, or only rim

The scrap is looked at on a grid of cells; a cell counts only if all of it is cloth, so nothing is promised that is not
there. Of each range of rows the longest run of such cells is a rectangle; those that no other contains in size remain.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final, TypeAlias

import numpy as np
import shapely

from clothpath.curves import Box
from clothpath.regions import Region, as_polygon

__all__ = ["inscribed", "lacking"]

Floats: TypeAlias = "np.ndarray[tuple[int], np.dtype[np.float64]]"
Points: TypeAlias = "np.ndarray[tuple[int, int], np.dtype[np.float64]]"

CELLS: Final = 48
"""Cells along each side of the scrap's box, at least."""
FLAT_MM: Final = 0.1
"""Largest distance between the scrap's edge and the polygon that stands for it; the rim grows by it."""


def inscribed(scrap: Region, rim: float) -> tuple[Box, ...]:
    """Rectangles inside the scrap, `rim` mm from its edge, none as narrow and as low as another; the lowest first."""
    cloth = _without_rim(scrap, rim)
    if cloth.is_empty:
        return ()
    xs, ys = (_lines(values) for values in shapely.get_coordinates(cloth).T)
    cells = shapely.box(*np.meshgrid(xs[:-1], ys[:-1]), *np.meshgrid(xs[1:], ys[1:]))
    shapely.prepare(cloth)
    inside = shapely.covers(cloth, cells)
    found: list[Box] = []
    for low in range(len(ys) - 1):
        sheer = np.ones(len(xs) - 1, dtype=np.bool_)
        for high in range(low, len(ys) - 1):
            sheer &= inside[high]
            if not sheer.any():
                break
            left, right = _longest_run(sheer, xs)
            found.append(Box(left, float(ys[low]), right, float(ys[high + 1])))
    return _largest(found)


def lacking(scrap: Region, rim: float) -> tuple[Points, ...]:
    """Outlines, shape (n, 2) in mm, of what the box round the scrap has beyond it, and the rim."""
    gone = shapely.box(*as_polygon(scrap, FLAT_MM).bounds).difference(_without_rim(scrap, rim))
    return tuple(
        np.asarray(shapely.get_coordinates(each.exterior)[:-1])
        for part in shapely.get_parts(gone)
        for each in _undivided(part)
    )


def _without_rim(scrap: Region, rim: float) -> shapely.Geometry:
    straight = all(bool(ring.straight.all()) for ring in scrap)
    cloth = as_polygon(scrap, FLAT_MM)
    if rim or not straight:
        cloth = cloth.buffer(-rim - (0.0 if straight else FLAT_MM), join_style="mitre")
    return cloth


def _undivided(area: shapely.Geometry) -> Iterator[shapely.Polygon]:
    """The area in pieces without holes: cut through the middle of a hole until there is none."""
    if not isinstance(area, shapely.Polygon) or area.area <= 0:
        return
    if not area.interiors:
        yield area
        return
    left, bottom, right, top = area.bounds
    middle = shapely.Polygon(area.interiors[0]).centroid.x
    for half in (shapely.box(left, bottom, middle, top), shapely.box(middle, bottom, right, top)):
        for part in shapely.get_parts(area.intersection(half)):
            yield from _undivided(part)


def _lines(values: Floats) -> Floats:
    """The grid's lines across one axis: evenly spaced, and through the scrap's own corners where these are few."""
    even = np.linspace(values.min(), values.max(), CELLS + 1)
    corners = np.unique(values.round(6))
    return np.unique(np.concatenate((even, corners))) if len(corners) <= CELLS // 2 else even


def _longest_run(flags: np.ndarray[tuple[int], np.dtype[np.bool_]], lines: Floats) -> tuple[float, float]:
    edges = np.diff(np.concatenate(([0], flags.astype(np.int8), [0])))
    starts, ends = lines[np.flatnonzero(edges == 1)], lines[np.flatnonzero(edges == -1)]
    longest = int(np.argmax(np.round(ends - starts, 6)))
    return float(starts[longest]), float(ends[longest])


def _largest(boxes: list[Box]) -> tuple[Box, ...]:
    ranked = sorted(boxes, key=lambda b: (-round(b.width, 6), -round(b.height, 6), b.bottom, b.left))
    kept: list[Box] = []
    for box in ranked:
        if not kept or box.height > kept[-1].height + 1e-6:
            kept.append(box)
    return tuple(kept)
