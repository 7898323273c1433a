"""A stroke so wide that it is the shape: the outline of what it paints.

Source: stroke shapes, joins, caps and the miter limit, SVG 2, 13.5 and 13.6.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final, Literal

import numpy as np
import shapely

from clothpath.curves import FLATTEN_MM, Affine, cubics, flattened, polygon, transformed
from clothpath.plugins.readers.svg.pathdata import Subpath
from clothpath.plugins.readers.svg.scene import Shape
from clothpath.regions import Region, moved, region, xy

__all__ = ["stroke_outline"]

FEWEST_STEPS: Final = 4
MOST_STEPS: Final = 64
"""Chords of a quarter turn at round caps and joins."""
MOST_REACH_MM: Final = 20_000.0
"""Strokes that are longer than this together are flattened more coarsely, to bound what they take."""
_CAPS: Final[dict[str, Literal["round", "square", "flat"]]] = {"round": "round", "square": "square"}
_JOINS: Final[dict[str, Literal["round", "mitre", "bevel"]]] = {"round": "round", "bevel": "bevel"}


def stroke_outline(subs: Sequence[Subpath], shape: Shape) -> tuple[Region, ...]:
    """The regions that the stroke of open subpaths paints, on the page; within FLATTEN_MM."""
    scale = abs(shape.to_page.determinant) ** 0.5
    grown = Affine.scale(scale)
    radius = shape.stroke_width / 2 * scale
    steps = math.ceil(math.pi / 4 / math.acos(1 - min(0.5, FLATTEN_MM / radius)))
    steps = min(max(steps, FEWEST_STEPS), MOST_STEPS)
    paths = [transformed(sub.path(), grown) for sub in subs]
    reach = sum(float(np.abs(np.diff(cubics(path))).sum()) for path in paths)
    tolerance = max(FLATTEN_MM, FLATTEN_MM * reach / MOST_REACH_MM)
    lines = [shapely.LineString(xy(flattened(path, tolerance))) for path in paths]
    style = shape.style
    area = shapely.union_all(
        [
            line.buffer(
                radius,
                quad_segs=steps,
                cap_style=_CAPS.get(style["stroke-linecap"], "flat"),
                join_style=_JOINS.get(style["stroke-linejoin"], "mitre"),
                mitre_limit=float(style["stroke-miterlimit"]),
            )
            for line in lines
        ]
    )
    back = shape.to_page @ Affine.scale(1 / scale)
    found = []
    for part in shapely.get_parts(area):
        rings = [
            polygon(np.ascontiguousarray(shapely.get_coordinates(ring)[:-1]).view(np.complex128).ravel())
            for ring in (part.exterior, *part.interiors)
        ]
        found.append(moved(region(rings[0], rings[1:]), back))
    return tuple(found)
