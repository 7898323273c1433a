"""What lies over each piece: exact figures, and the same as the plain rule, pair by pair."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from clothpath.fitting.tracks import Geometries
from clothpath.picture.covers import cover, over_each


def polygons(*listed: shapely.Geometry) -> Geometries:
    return np.array(listed, object)


GROUND = shapely.box(0, 0, 40, 40)
BESIDE = shapely.box(40.2, 0, 60, 40)
ON_TOP = shapely.box(10, 10, 20, 20)
FAR = shapely.box(100, 0, 120, 20)


@pytest.mark.parametrize(
    ("reach", "expected"),
    [
        (0.0, [[2], [], [], []]),
        (0.25, [[1, 2], [], [], []]),
        (25.0, [[1, 2], [2], [], []]),
        (41.0, [[1, 2], [2, 3], [], []]),
    ],
)
def test_only_later_pieces_within_reach_lie_over_a_piece(reach: float, expected: list[list[int]]) -> None:
    pictures = polygons(GROUND, BESIDE, ON_TOP, FAR)
    assert over_each(pictures, pictures, reach) == expected


def test_a_piece_that_was_grown_is_looked_at_as_it_is_and_those_over_it_as_they_are_finished() -> None:
    pictures = polygons(GROUND, BESIDE)
    assert over_each(polygons(GROUND.buffer(0.5), BESIDE), pictures, 0.0) == [[1], []]
    assert over_each(polygons(GROUND, BESIDE.buffer(0.5)), pictures, 0.0) == [[], []]


def test_boxes_that_overlap_are_not_enough() -> None:
    corner = shapely.Polygon([(0, 0), (40, 0), (0, 40)])
    other = shapely.Polygon([(40, 40), (40, 30), (30, 40)])
    assert over_each(polygons(corner, other), polygons(corner, other), 5.0) == [[], []]


def test_a_cover_is_all_that_lies_over() -> None:
    pictures = polygons(GROUND, BESIDE, ON_TOP)
    assert cover(pictures, [1, 2]).area == pytest.approx(BESIDE.area + ON_TOP.area)
    assert cover(pictures, [2]).equals(ON_TOP)
    assert cover(pictures, []).is_empty


SQUARES = st.builds(
    lambda x, y, side: shapely.box(x, y, x + side, y + side),
    st.integers(0, 50),
    st.integers(0, 50),
    st.integers(1, 20),
)


@settings(max_examples=60, derandomize=True, deadline=None)
@given(st.lists(SQUARES, max_size=8), st.integers(0, 9))
def test_it_is_the_plain_rule(squares: list[shapely.Polygon], reach: int) -> None:
    expected = [
        [j for j, other in enumerate(squares) if j > i and one.distance(other) <= reach]
        for i, one in enumerate(squares)
    ]
    assert over_each(polygons(*squares), polygons(*squares), float(reach)) == expected
