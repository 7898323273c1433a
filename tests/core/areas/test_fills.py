"""What rings enclose under a fill rule, whether they cross or not.

Sources: fill rules, SVG 2, 13.4.2; area of a lens of two circles of radius r at distance d, 2 r^2 acos(d / 2r) - d/2
sqrt(4 r^2 - d^2) (Weisstein, Circle-Circle Intersection); area of a pentagram; the change of shape allowed is 0.02 mm.
"""

from __future__ import annotations

import cmath
import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from clothpath.areas.fills import FillRule, Tangled, regions_of, regions_of_each, within
from clothpath.curves import Affine, Outline, area, backwards, circle, flattened, outline, polygon, transformed
from clothpath.regions import Region, as_polygon, region, region_area, xy

BUDGET_MM = 0.02
R, D = 20.0, 16.0
LENS = 2 * R**2 * math.acos(D / (2 * R)) - D / 2 * math.sqrt(4 * R**2 - D**2)
DISC = math.pi * R**2
TIPS = [cmath.rect(50, math.pi / 2 + 4 * math.pi * k / 5) for k in range(5)]
INNER = 50 * math.cos(2 * math.pi / 5) / math.cos(math.pi / 5)
PENTAGON = 2.5 * INNER**2 * math.sin(2 * math.pi / 5)
STAR = 5 * 50 * INNER * math.sin(math.pi / 5)


def areas(regions: tuple[Region, ...]) -> list[float]:
    return sorted(region_area(each) for each in regions)


def square(left: float, bottom: float, size: float) -> Outline:
    at = complex(left, bottom)
    return polygon([at, at + size, at + complex(size, size), at + 1j * size])


@pytest.mark.parametrize(
    ("rings", "rule", "expected"),
    [
        ([circle(0, R), circle(D, R)], "nonzero", [2 * DISC - LENS]),
        ([circle(0, R), circle(D, R)], "evenodd", [DISC - LENS] * 2),
        ([circle(0, R), backwards(circle(D, R))], "nonzero", [DISC - LENS] * 2),
        ([polygon(TIPS)], "nonzero", [STAR]),
        ([polygon(TIPS)], "evenodd", [(STAR - PENTAGON) / 5] * 5),
        ([circle(0, R), circle(0, R)], "nonzero", [DISC]),
        ([circle(0, R), circle(0, R)], "evenodd", []),
        ([circle(0, R), backwards(circle(0, R))], "nonzero", []),
        ([circle(0, R), circle(0, 5)], "nonzero", [DISC]),
        ([circle(0, R), circle(0, 5)], "evenodd", [DISC - 25 * math.pi]),
        ([circle(0, R), backwards(circle(0, 5))], "nonzero", [DISC - 25 * math.pi]),
        ([circle(0, R), circle(0, 5), circle(0, 2)], "evenodd", [4 * math.pi, DISC - 25 * math.pi]),
        ([square(0, 0, 10), square(10, 0, 10)], "nonzero", [200.0]),
        ([square(0, 0, 10), square(10, 10, 10)], "nonzero", [100.0, 100.0]),
        ([square(0, 0, 10), square(0, 2, 5)], "evenodd", [75.0]),
        ([square(0, 0, 10), square(50, 0, 10)], "nonzero", [100.0, 100.0]),
        ([polygon([0, 10, 20, 10])], "nonzero", []),
        ([polygon([0, 10, 10 + 10j, 10, 20, 20 + 20j, 20j])], "nonzero", [400.0]),
        ([polygon([0, 10, 10 + 10j, 10, 20, 22 + 20j, -2 + 20j])], "nonzero", [440.0]),
        ([polygon([0, 10, 10 + 10j, 10, 20, 22 + 20j, -2 + 20j])], "evenodd", [440.0]),
        ([], "nonzero", []),
    ],
)
@pytest.mark.parametrize("scale", [1.0, 0.001, 30.0])
def test_areas_of_known_figures(rings: list[Outline], rule: FillRule, expected: list[float], scale: float) -> None:
    scaled = [transformed(ring, Affine.scale(scale)) for ring in rings]
    assert areas(regions_of(scaled, rule)) == pytest.approx(
        [value * scale**2 for value in sorted(expected)], rel=1e-4, abs=1e-3 * scale**2
    )


def test_a_simple_ring_stays_what_it_is() -> None:
    ring = circle(3, 5)
    assert regions_of([ring], "nonzero") == (Region(ring),)
    assert regions_of([backwards(ring)], "evenodd") == (Region(ring),)


def test_curves_stay_curves_where_rings_cross() -> None:
    union = regions_of([circle(0, R), circle(D, R)], "nonzero")[0]
    assert not union.outer.straight.any()
    assert len(union.outer) <= 18
    centers = [0, D]
    flat = flattened(union.outer, 1e-3)
    off = np.min([np.abs(np.abs(flat - center) - R) for center in centers], axis=0)
    assert off.max() < 1e-3


def test_a_cubic_with_a_loop_is_two_pieces_that_meet_in_its_knot() -> None:
    """Ends 0 and 10, controls 30 + 30i and -20 + 30i: mirrored in x = 5, so the knot lies there, at t and 1 - t."""
    loop = outline(0, [(30 + 30j, -20 + 30j, 10)])
    found = regions_of([loop], "nonzero")
    assert len(found) == 2
    assert [each.box.center.real for each in found] == pytest.approx([5, 5], abs=1e-3)
    lower, upper = sorted(found, key=lambda each: each.box.bottom)
    assert lower.box.top == pytest.approx(upper.box.bottom, abs=1e-3)


def test_many_figures_at_once_are_as_one_by_one() -> None:
    figures: list[tuple[list[Outline], FillRule]] = [
        ([circle(0, R), circle(D, R)], "evenodd"),
        ([], "nonzero"),
        ([circle(0, R), circle(0, 5)], "evenodd"),
        ([polygon(TIPS)], "nonzero"),
        ([circle(0, 3), circle(30, 4), circle(60, 5)], "nonzero"),
    ]
    together = regions_of_each(figures)
    for (rings, rule), found in zip(figures, together, strict=True):
        assert not isinstance(found, Tangled)
        assert areas(found) == pytest.approx(areas(regions_of(rings, rule)), rel=1e-6)


def test_many_rings_in_one_another_alternate() -> None:
    rings = [circle(0, 5 + n) for n in range(40)]
    found = regions_of(rings, "evenodd")
    assert len(found) == 20
    assert all(len(each.holes) == 1 for each in found)


def test_a_scribble_is_called_so() -> None:
    state, corners = 3, []
    for _ in range(3_000):
        state = (state * 1_103_515_245 + 12_345) % 2**31
        corners.append(complex(state % 1_000, state // 1_000 % 1_000))
    with pytest.raises(Tangled):
        regions_of([polygon(corners)], "evenodd")


numbers = st.integers(-400, 400).map(lambda value: value / 8)
points = st.builds(complex, numbers, numbers)
segments = st.one_of(st.tuples(points), st.tuples(points, points, points))
rings = st.builds(outline, points, st.lists(segments, min_size=2, max_size=5))


def inside(ring: Outline, at: complex) -> int:
    """The winding number around a point, by the turning of the direction to it and not by the code under test."""
    line = flattened(ring, 1e-4)
    turns = np.angle((np.roll(line, -1) - at) / (line - at))
    return round(float(turns.sum() / (2 * math.pi)))


@settings(max_examples=40)
@given(st.lists(rings, min_size=1, max_size=3), st.sampled_from(["nonzero", "evenodd"]), st.lists(points, max_size=30))
def test_a_place_is_inside_as_the_rule_says(drawn: list[Outline], rule: FillRule, places: list[complex]) -> None:
    found = regions_of(drawn, rule)
    shape = shapely.union_all([as_polygon(each) for each in found])
    lines = shapely.union_all(
        [shapely.LinearRing(xy(flattened(ring, 1e-4))) for ring in drawn if len(flattened(ring)) > 2]
    )
    for place in places:
        spot = shapely.Point(place.real, place.imag)
        if lines.distance(spot) > BUDGET_MM:
            winding = sum(inside(ring, place) for ring in drawn)
            assert shape.contains(spot) == (winding != 0 if rule == "nonzero" else winding % 2 == 1)


@settings(max_examples=40)
@given(st.lists(rings, min_size=1, max_size=3), st.sampled_from(["nonzero", "evenodd"]))
def test_what_is_found_is_simple_and_lies_on_the_rings(drawn: list[Outline], rule: FillRule) -> None:
    lines = [shapely.LinearRing(xy(flattened(ring, 1e-4))) for ring in drawn if len(flattened(ring)) > 2]
    for each in regions_of(drawn, rule):
        assert area(each.outer) > 0
        assert all(area(hole) < 0 for hole in each.holes)
        spots = shapely.points(xy(flattened(each.outer)))
        assert shapely.distance(spots, shapely.union_all(lines)).max() < BUDGET_MM


def test_within_cuts_and_keeps() -> None:
    window = [region(square(0, 0, 10))]
    assert within([region(circle(5 + 5j, 3))], window) == (region(circle(5 + 5j, 3)),)
    assert within([region(circle(50, 3))], window) == ()
    assert within([], window) == ()
    assert within([region(circle(0, 3))], []) == ()
    assert areas(within([region(circle(0, 4))], window)) == pytest.approx([4 * math.pi], rel=1e-4)
    round_window = [region(circle(5 + 5j, 4))]
    assert areas(within([region(square(0, 0, 10))], round_window)) == pytest.approx([16 * math.pi], rel=1e-4)
    assert within([region(circle(5 + 5j, 2))], round_window) == (region(circle(5 + 5j, 2)),)
