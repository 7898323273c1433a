"""The parts of a path that run inside an area.

Terminology
    place       along a path: the number of a segment plus its parameter
    stretch     a part of a path, from one place to another
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np
import shapely

from clothpath.beziers import part_of, points_at
from clothpath.curves import Curve, OpenPath, Outline, Path, cubics, open_path
from clothpath.plane import Floats
from clothpath.regions import as_line, xy

__all__ = ["inside"]

STEPS: Final = 128
"""Places on a segment at which a path is looked up; one that leaves an area between two of them stays in."""
HALVINGS: Final = 40
"""Of the stretch between two places in which a path crosses an edge, until the crossing is found."""


def inside(path: Path, area: shapely.Geometry) -> list[Path]:
    """The stretches of a path that run inside an area, or on its edge, in order; the path itself if all of it does.

    A closed path that leaves the area comes back in open stretches.
    """
    if shapely.covers(area, as_line(path)):
        return [path]
    shapely.prepare(area)
    curves = cubics(path)
    places = np.arange(STEPS * len(path) + 1) / STEPS

    def within(at: Floats) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
        row = np.minimum(at.astype(np.intp), len(path) - 1)
        return np.asarray(shapely.intersects_xy(area, xy(points_at(curves[row], at - row))))

    held = within(places)
    changes = np.flatnonzero(held[1:] != held[:-1])
    low, high = places[changes], places[changes + 1]
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        same = within(middle) == held[changes]
        low, high = np.where(same, middle, low), np.where(same, high, middle)
    ends = [*([0.0] if held[0] else []), *low.tolist(), *([float(len(path))] if held[-1] else [])]
    runs = list(zip(ends[::2], ends[1::2], strict=True))
    if isinstance(path, Outline) and len(runs) > 1 and held[0]:
        (_, first_end), *others, (last_start, last_end) = runs
        runs = [*others, (last_start, last_end + first_end)]
    return [_stretch(path, *run) for run in runs if run[1] > run[0]]


def _stretch(path: Path, low: float, high: float) -> OpenPath:
    """The part of a path from one place to another, which in a closed one may lie beyond its start."""
    curves = cubics(path)
    segments: list[Curve] = []
    start: complex | None = None
    for row in range(int(low), math.ceil(high)):
        on = row % len(path)
        p = part_of(curves[on], max(0.0, low - row), min(1.0, high - row))
        start = p[0] if start is None else start
        segments.append((p[3],) if path.straight[on] else (p[1], p[2], p[3]))
    assert start is not None
    return open_path(start, segments)
