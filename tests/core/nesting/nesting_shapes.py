"""Shapes for the nesting tests, and a test of placed copies that shares nothing with the engine or its checker."""

import math
from collections.abc import Iterable, Sequence

import numpy as np
import shapely
from hypothesis import strategies as st

from clothpath.nesting import Packing, Part, Points, placed

QUARTERS = (0.0, 90.0, 180.0, 270.0)


def box(width: float, height: float) -> Points:
    return np.array([(0, 0), (width, 0), (width, height), (0, height)], dtype=float)


def ellipse(a: float, b: float, points: int = 72) -> Points:
    t = np.linspace(0, 2 * math.pi, points, endpoint=False)
    return np.column_stack((a * np.cos(t), b * np.sin(t)))


def around_circle(radius: float, points: int = 96) -> Points:
    """A polygon whose sides touch the circle from outside, so that a packing of it is one of circles."""
    return ellipse(1, 1, points) * radius / math.cos(math.pi / points)


def star(radius: float, inner: float, tips: int = 5) -> Points:
    t = np.arange(2 * tips) * math.pi / tips
    r = np.where(np.arange(2 * tips) % 2 == 0, radius, inner)
    return np.column_stack((r * np.cos(t), r * np.sin(t)))


def leaf(length: float, width: float, points: int = 30) -> Points:
    t = np.linspace(0, math.pi, points)
    x = length * t / math.pi
    lower = np.column_stack((x, -0.6 * width * np.sin(t)))
    upper = np.column_stack((x, width * np.sin(t)))
    return np.concatenate((lower, upper[-2:0:-1]))


def heart(size: float, points: int = 80) -> Points:
    t = np.linspace(0, 2 * math.pi, points, endpoint=False)
    y = 13 * np.cos(t) - 5 * np.cos(2 * t) - 2 * np.cos(3 * t) - np.cos(4 * t)
    return np.column_stack((size * np.sin(t) ** 3, size * y / 16))[::-1]


def triangle(side: float) -> Points:
    return np.array([(0, 0), (side, 0), (side / 2, side * math.sqrt(3) / 2)])


def area(ring: Points) -> float:
    return float(shapely.Polygon(ring).area)


def copies(parts: Sequence[Part], packing: Packing) -> list[shapely.Polygon]:
    """The true parts where the packing puts them."""
    by_key = {part.key: part for part in parts}
    shapes = []
    for spot in packing.spots:
        outer, *holes = placed(by_key[spot.key], spot)
        shapes.append(shapely.Polygon(outer, holes))
    return shapes


def share_a_point(shapes: Iterable[shapely.Polygon], spacing: float) -> bool:
    """Whether two shapes, each grown by a little less than half the spacing, cover an area twice."""
    grown = [shapely.buffer(shape, spacing / 2 - 0.006, quad_segs=16) for shape in shapes]
    return shapely.union_all(grown).area < sum(shape.area for shape in grown) * (1 - 1e-9) - 1e-9


def outline_strategy() -> st.SearchStrategy[Points]:
    """Outlines of all kinds, from slivers and specks to stars with many points."""
    spans = st.sampled_from([0.05, 3.0, 20.0, 60.0])

    def wheel(radii: list[float], span: float) -> Points:
        t = np.linspace(0, 2 * math.pi, len(radii), endpoint=False)
        r = span * np.array(radii)
        return np.column_stack((r * np.cos(t), r * np.sin(t)))

    wheels = st.builds(wheel, st.lists(st.floats(0.15, 1.0), min_size=3, max_size=24), spans)
    boxes = st.builds(box, st.integers(1, 80).map(float), st.integers(1, 80).map(float))
    slivers = st.builds(box, st.floats(1.0, 90.0), st.just(0.001))
    return st.one_of(wheels, boxes, slivers)


def part_lists(most: int = 5) -> st.SearchStrategy[list[Part]]:
    """Parts with different turns, counts and, some of them, a hole."""
    turns = st.sampled_from([None, (0.0,), (0.0, 180.0), QUARTERS, (45.0, 135.0, 225.0, 315.0), (17.0,)])

    def named(drawn: list[tuple[Points, tuple[float, ...] | None, int, bool]]) -> list[Part]:
        parts = []
        for n, (outer, allowed, count, hollow) in enumerate(drawn):
            solid = shapely.Polygon(outer)
            inner = shapely.buffer(solid, -math.sqrt(solid.area) / 8)
            hole = isinstance(inner, shapely.Polygon) and not inner.is_empty and hollow
            holes = (shapely.get_coordinates(inner.exterior)[:-1],) if hole else ()
            parts.append(Part(f"part {n}", outer, holes, allowed, count))
        return parts

    one = st.tuples(outline_strategy(), turns, st.integers(1, 4), st.booleans())
    return st.lists(one, min_size=1, max_size=most).map(named)
