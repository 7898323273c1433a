"""Copies of ten shapes on a 12 x 12 in mat against rows of boxes and the area bound; circles and triangles in squares.

    python tests/benchmarks/nesting_mats.py [SECONDS]

On the mat copies lie 1/8 in apart. Rows of boxes: the shape in its least box, both ways, on the grid that takes more.
Area bound: the mat grown by half the spacing all round, over the shape's area grown by half the spacing. Circles and
equilateral triangles lie in squares without spacing, against the best known packings that
`tests/core/nesting/test_nesting_known.py` cites. With SECONDS, the timed search too.
"""

import math
import sys
import time
from pathlib import Path

import numpy as np
import shapely

from clothpath.nesting import Effort, Part, Points, candidates, fill

sys.path.append(str(Path(__file__).parents[1] / "core" / "nesting"))
from nesting_shapes import around_circle, triangle
from test_nesting_known import CIRCLES, TRIANGLES

MAT_MM = 12 * 25.4
SPACING_MM = 25.4 / 8
PLENTY = 2000


def curve(x: Points, y: Points) -> Points:
    ring = shapely.orient_polygons(shapely.Polygon(np.column_stack((x, y)))).exterior
    return np.asarray(shapely.get_coordinates(ring)[:-1])


def shapes() -> dict[str, tuple[Points, ...]]:
    """Outer ring and holes of each shape, all about 2 in large."""
    t = np.linspace(0, 2 * math.pi, 96, endpoint=False)
    u = np.linspace(0, math.pi, 40)
    star = np.arange(10) * math.pi / 5
    radius = np.where(np.arange(10) % 2 == 0, 27.0, 12.0)
    moon = shapely.Point(0, 0).buffer(27, quad_segs=24).difference(shapely.Point(14, 0).buffer(24, quad_segs=24))
    tail = shapely.LineString(np.column_stack((18 * np.cos(u), 30 - 36 * u / math.pi - 9 * np.sin(u)))).buffer(4)
    comma = shapely.union(shapely.Point(10, 25).buffer(14, quad_segs=24), tail)
    heart = 13 * np.cos(t) - 5 * np.cos(2 * t) - 2 * np.cos(3 * t) - np.cos(4 * t)
    leaf_x = np.concatenate((50 * u / math.pi, 50 * u[-2:0:-1] / math.pi))
    leaf_y = np.concatenate((-9 * np.sin(u), 13 * np.sin(u[-2:0:-1])))
    solid = {
        "star": curve(radius * np.cos(star), radius * np.sin(star)),
        "leaf": curve(leaf_x, leaf_y),
        "crescent": np.asarray(shapely.get_coordinates(moon.exterior)[:-1])[::-1],
        "comma": np.asarray(shapely.get_coordinates(comma.exterior)[:-1])[::-1],
        "triangle": curve(np.array([0.0, 50.0, 25.0]), np.array([0.0, 0.0, 25 * math.sqrt(3)])),
        "L": curve(np.array([0.0, 50, 50, 17, 17, 0]), np.array([0.0, 0, 17, 17, 50, 50])),
        "heart": curve(25 * np.sin(t) ** 3, 25 * heart / 16),
        "strip": curve(np.array([0.0, 120, 120, 0]), np.array([0.0, 0, 15, 15])),
        "circle": curve(25.4 * np.cos(t), 25.4 * np.sin(t)),
    }
    ring = (curve(30 * np.cos(t), 30 * np.sin(t)), curve(20 * np.cos(t), 20 * np.sin(t))[::-1])
    return {**{name: (outer,) for name, outer in solid.items()}, "ring": ring}


def boxes(part: Part) -> int:
    """Copies in rows of least boxes."""
    least = candidates([Part(part.key, part.outer)], 1e4, 1e4)[0]
    across, up = (int((MAT_MM + SPACING_MM) / (side + SPACING_MM)) for side in (least.width, least.height))
    return across * up


def bound(part: Part) -> int:
    """More copies than this have no room by area."""
    grown = shapely.buffer(shapely.Polygon(part.outer, part.holes), SPACING_MM / 2).area
    return int((MAT_MM + SPACING_MM) ** 2 / grown)


def copies(part: Part, side: float, spacing: float, seconds: float) -> tuple[int, float]:
    """How many find room in a square, and how long that took."""
    began = time.perf_counter()
    count = len(fill([part], side, side, spacing, effort=Effort(seconds)).spots)
    return count, time.perf_counter() - began


def on_mat(seconds: float) -> None:
    """Prints a line a shape."""
    print(f"{'shape':10}{'boxes':>7}{'quick':>7}{'s':>7}{'timed':>7}{'bound':>7}{'cloth %':>9}")
    for name, (outer, *holes) in shapes().items():
        part = Part(name, outer, tuple(holes), None, PLENTY)
        quick, took = copies(part, MAT_MM, SPACING_MM, 0.0)
        timed = copies(part, MAT_MM, SPACING_MM, seconds)[0] if seconds else quick
        cloth = 100 * timed * shapely.Polygon(outer, holes).area / MAT_MM**2
        print(f"{name:10}{boxes(part):7}{quick:7}{took:7.2f}{timed:7}{bound(part):7}{cloth:9.1f}", flush=True)


def in_squares(seconds: float) -> None:
    """Prints a line a square: circles of area 1 in one of that area, triangles of side 1 in one of that side."""
    circle, sharp = around_circle(10 / math.sqrt(math.pi)), triangle(50)
    rows = [("circle", circle, (0.0,), area, 10 * math.sqrt(area), best) for area, best in CIRCLES.items()]
    rows += [("triangle", sharp, None, side, 50 * side, best) for side, best in TRIANGLES.items()]
    print(f"{'shape':10}{'square':>8}{'quick':>7}{'s':>7}{'timed':>7}{'best known':>12}")
    for name, outer, turns, size, side, best in rows:
        part = Part(name, outer, (), turns, 500)
        quick, took = copies(part, side, 0.0, 0.0)
        timed = copies(part, side, 0.0, seconds)[0] if seconds else quick
        print(f"{name:10}{size:8}{quick:7}{took:7.2f}{timed:7}{best:12}", flush=True)


if __name__ == "__main__":
    time_a_search = float(sys.argv[1]) if len(sys.argv) > 1 else 0.0
    on_mat(time_a_search)
    in_squares(time_a_search)
