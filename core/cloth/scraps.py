"""Rectangles inside an irregular scrap of cloth.

Terminology
    inscribed   lying wholly inside the scrap, clear of its rim

The scrap is looked at on a grid of cells; a cell counts only if all of it is cloth, so nothing is promised that is not
there. Of each range of rows the longest run of such cells is a rectangle; those that no other contains in size remain.
"""

from __future__ import annotations

from typing import Final, TypeAlias

import numpy as np
import shapely

from clothpath.curves import Box
from clothpath.regions import Region, as_polygon

__all__ = ["inscribed"]

Floats: TypeAlias = "np.ndarray[tuple[int], np.dtype[np.float64]]"

CELLS: Final = 48
"""Cells along each side of the scrap's box, at least."""
FLAT_MM: Final = 0.1
"""Largest distance between the scrap's edge and the polygon that stands for it; the rim grows by it."""


def inscribed(scrap: Region, rim: float) -> tuple[Box, ...]:
    """Rectangles inside the scrap, `rim` mm from its edge, none as narrow and as low as another; the lowest first."""
    straight = all(bool(ring.straight.all()) for ring in scrap)
    cloth = as_polygon(scrap, FLAT_MM)
    if rim or not straight:
        cloth = cloth.buffer(-rim - (0.0 if straight else FLAT_MM), join_style="mitre")
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
