"""Regions: rings in their directions, areas, moves.

Sources: areas of a square and a circle; outer rings counterclockwise and holes clockwise: the project's own rule.
"""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from clothpath.curves import Affine, area, backwards, box_of, circle, open_path, polygon
from clothpath.regions import as_polygon, box_of_regions, extent, moved, region, region_area, xy

SQUARE = polygon([0, 40, 40 + 40j, 40j])
HOLE = circle(20 + 20j, 10)
RING_AREA = 1600 - math.pi * 100


@pytest.mark.parametrize("outer", [SQUARE, backwards(SQUARE)])
@pytest.mark.parametrize("hole", [HOLE, backwards(HOLE)])
def test_rings_run_as_they_should_however_they_came(outer: object, hole: object) -> None:
    made = region(outer, [hole])  # type: ignore[arg-type, list-item]
    assert area(made.outer) == pytest.approx(1600)
    assert area(made.holes[0]) == pytest.approx(-math.pi * 100, rel=1e-5)
    assert region_area(made) == pytest.approx(RING_AREA, rel=1e-5)
    assert list(made) == [made.outer, *made.holes]


@given(*[st.floats(-2, 2)] * 4)
def test_a_move_scales_the_area_and_keeps_directions(a: float, b: float, c: float, d: float) -> None:
    affine = Affine(a, b, c, d, 5, -7)
    if abs(affine.determinant) < 0.05:
        return
    made = moved(region(SQUARE, [HOLE]), affine)
    assert area(made.outer) > 0 > area(made.holes[0])
    assert region_area(made) == pytest.approx(RING_AREA * abs(affine.determinant), rel=1e-4)


def test_a_mirror_image_twice_is_the_region_itself() -> None:
    made = region(SQUARE, [HOLE])
    twice = moved(moved(made, Affine.flip()), Affine.flip())
    assert as_polygon(twice).equals(as_polygon(made))


def test_the_polygon_of_a_region_has_its_hole() -> None:
    flat = as_polygon(region(SQUARE, [HOLE]))
    assert len(flat.interiors) == 1
    assert flat.area == pytest.approx(RING_AREA, rel=1e-3)
    assert flat.bounds == (0, 0, 40, 40)


def test_the_box_of_regions() -> None:
    box = box_of_regions([region(SQUARE), region(circle(60, 5))])
    assert (box.left, box.bottom, box.right, box.top) == pytest.approx((0, -5, 65, 40), abs=1e-9)
    with pytest.raises(ValueError, match="no paths"):
        box_of_regions([])


def test_points_as_coordinates() -> None:
    assert xy(SQUARE.nodes[:, 0]).tolist() == [[0, 0], [40, 0], [40, 40], [0, 40]]


@settings(max_examples=60, deadline=None, derandomize=True)
@given(st.lists(st.complex_numbers(max_magnitude=50), min_size=4, max_size=12))
def test_the_extent_of_paths_is_the_box_of_their_boxes(points: list[complex]) -> None:
    paths = [open_path(points[i], [(points[i + 1], points[i + 2], points[i + 3])]) for i in range(len(points) - 3)]
    found, known = extent(paths), box_of(paths)
    for side in ("left", "bottom", "right", "top"):
        assert getattr(found, side) == pytest.approx(getattr(known, side), abs=1e-9)
