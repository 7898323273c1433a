"""Exact fits, and parts for which the best answer is known in closed form."""

import math

import numpy as np
import pytest
from nesting_shapes import QUARTERS, area, box, ellipse, leaf, star, triangle

from clothpath.nesting import (
    QUICK,
    WIDE,
    BadPartError,
    NestingError,
    Part,
    candidates,
    faults,
    fill,
    fit,
    oversize,
    strip,
)

INCH = 25.4
EIGHTH = INCH / 8


def test_two_squares_fill_a_strip_of_just_their_height() -> None:
    packing = strip([Part("square", box(10, 10), (), (0.0,), 2)], 20)
    assert packing.width == pytest.approx(10, abs=1e-6)


@pytest.mark.parametrize("count", [1, 4, 9, 36, 100])
def test_squares_fill_a_square_exactly(count: int) -> None:
    side = 10 * math.isqrt(count)
    assert fit([Part("square", box(10, 10), (), None, count)], side, side).complete


def test_a_hundredth_too_little_is_too_little() -> None:
    assert not fit([Part("square", box(10, 10), (), (0.0,), 2)], 19.97, 10).complete


@pytest.mark.parametrize(("size", "count"), [(2.5, 16), (5.0, 8), (6.5, 6)])
def test_a_strip_of_forty_inches_gives_the_usual_squares(size: float, count: int) -> None:
    """Strip tables, common practice: a 40 in strip gives 16 at 2 1/2, 8 at 5, 6 at 6 1/2 in."""
    side = size * INCH
    packing = fill([Part("square", box(side, side), (), (0.0,), 1000)], 40 * INCH, side)
    assert len(packing.spots) == count


def test_a_fat_quarter_gives_twelve_five_inch_squares() -> None:
    """Arithmetic: 18 x 20 in holds 3 x 4."""
    packing = fill([Part("square", box(5 * INCH, 5 * INCH), (), QUARTERS, 1000)], 20 * INCH, 18 * INCH)
    assert len(packing.spots) == 12


def test_rows_keep_spacing_and_margins_to_the_hair() -> None:
    """Arithmetic: n squares of side a with spacing s and margin m take n a + (n - 1) s + 2 m."""
    side, margin = 2 * INCH, INCH / 4
    square = Part("square", box(side, side), (), (0.0,), 12)
    width, height = 4 * side + 3 * EIGHTH + 2 * margin, 3 * side + 2 * EIGHTH + 2 * margin
    assert fit([square], width, height, EIGHTH, margin).complete
    assert not fit([square], width - 0.03, height, EIGHTH, margin).complete


def test_rectangles_of_several_sizes_fit_exactly() -> None:
    parts = [
        Part("large", box(4.5 * INCH, 4.5 * INCH), (), (0.0,), 2),
        Part("tall", box(2 * INCH, 4.5 * INCH), (), QUARTERS, 1),
    ]
    assert fit(parts, 11 * INCH + 2 * EIGHTH, 4.5 * INCH, EIGHTH).complete


def test_a_pinwheel_of_four_and_a_middle_fits_exactly() -> None:
    parts = [Part("two by one", box(2, 1), (), (0.0, 90.0), 4), Part("middle", box(1, 1), (), (0.0,))]
    assert fit(parts, 3, 3).complete


def test_one_part_that_may_turn_lies_in_its_least_box() -> None:
    turned = box(60, 20) @ np.array([[math.cos(0.4), math.sin(0.4)], [-math.sin(0.4), math.cos(0.4)]])
    first = candidates([Part("bar", turned)], 300, 300)[0]
    assert first.area == pytest.approx(60 * 20, rel=1e-9)


def test_one_part_in_a_low_strip_leans_as_little_as_it_must() -> None:
    """A bar a x b in a strip of height h: a sin t + b cos t = h is the steepest lean, the width a cos t + b sin t."""
    a, b, height = 100.0, 10.0, 50.0
    lean = math.asin(height / math.hypot(a, b)) - math.atan2(b, a)
    packing = strip([Part("bar", box(a, b))], height)
    assert packing.width == pytest.approx(a * math.cos(lean) + b * math.sin(lean), abs=1e-3)


def test_a_part_that_fits_only_leaning_is_found() -> None:
    """The diagonal of an 80 mm square is 113.1 mm; a bar 105 x 2 mm lies along it."""
    assert fit([Part("bar", box(105, 2))], 80, 80).complete
    assert not fit([Part("bar", box(105, 2), (), QUARTERS)], 80, 80).complete


def test_small_parts_lie_in_the_holes_of_large_ones() -> None:
    """The bounding square of the ring is its least rectangle; the dots fit nowhere but in its hole."""
    parts = [Part("ring", ellipse(40, 40), (ellipse(30, 30)[::-1],)), Part("dot", ellipse(12, 12), (), (0.0,), 2)]
    assert fit(parts, 80.1, 80.1, 3).complete


def test_triangles_point_up_and_down_by_turns() -> None:
    """Arithmetic: a row of triangles of side 40, every other one upside down, takes 20 mm a triangle and 20 more."""
    packing = fill([Part("triangle", triangle(40), (), (0.0, 180.0), 1000)], 300, 300)
    assert len(packing.spots) >= 14 * 8


def test_leaves_interlock() -> None:
    packing = fill([Part("leaf", leaf(60, 14), (), (0.0, 180.0), 1000)], 300, 300)
    assert len(packing.spots) * area(leaf(60, 14)) / 300**2 > 0.75


def test_no_copies_need_no_cloth() -> None:
    assert candidates([Part("none", box(5, 5), (), None, 0)], 100, 100) == ()
    assert strip([], 50, margin=5).width == 10
    assert fit([], 50, 50).complete


def test_too_large_parts_are_named_with_what_is_lacking() -> None:
    parts = [
        Part("long", box(130, 10), (), QUARTERS),
        Part("fine", box(10, 10)),
        Part("wide", box(90, 102), (), (0.0,)),
    ]
    assert oversize(parts, 120, 100, 5) == (("long", pytest.approx(20)), ("wide", pytest.approx(12)))
    assert candidates(parts, 120, 100, 0, 5) == ()
    with pytest.raises(BadPartError, match=r"part wide: .* 12\.00 mm too tall"):
        strip(parts, 100, 0, 5)


@pytest.mark.parametrize(
    "outer",
    [
        np.array([(0, 0), (10, 0)], dtype=float),
        np.array([(0, 0), (10, 0), (20, 0)], dtype=float),
        np.array([(0, 0), (10, 0), (float("nan"), 5)], dtype=float),
        np.array([(0, 0), (10, 0), (float("inf"), 5)], dtype=float),
        np.zeros((4, 2)),
    ],
)
def test_what_is_no_area_is_refused_by_name(outer: np.ndarray) -> None:
    with pytest.raises(BadPartError, match="part broken: "):
        strip([Part("broken", outer)], 100)


def test_two_parts_of_one_name_and_lengths_that_are_none_are_refused() -> None:
    square = Part("square", box(10, 10))
    with pytest.raises(BadPartError, match="two parts"):
        fit([square, square], 100, 100)
    for bad in (-1.0, float("nan"), float("inf")):
        with pytest.raises(NestingError):
            fit([square], 100, 100, bad)


def test_blocked_areas_stay_free() -> None:
    scrap = np.array([(100, 0), (200, 0), (200, 200), (150, 200)], dtype=float)
    parts = [Part("leaf", leaf(60, 14), (), None, 200)]
    packing = fill(parts, 200, 200, EIGHTH, 3, blocked=[scrap])
    assert 10 < len(packing.spots) < len(fill(parts, 200, 200, EIGHTH, 3).spots)
    assert faults(parts, packing, EIGHTH, 3, [scrap]) == ()


def test_a_wide_search_leaves_out_no_more_than_a_quick_one() -> None:
    """The wide search goes on where the quick one ends, from the same seed."""
    parts = [Part("star", star(25, 11), (), None, 8), Part("leaf", leaf(50, 9), (), None, 12)]
    quick, wide = (fit(parts, 160, 160, 3.175, 3.175, effort) for effort in (QUICK, WIDE))
    assert not quick.complete
    areas = {part.key: area(part.outer) for part in parts}
    laid = [sum(areas[spot.key] for spot in packing.spots) for packing in (quick, wide)]
    assert laid[1] >= laid[0] - 1e-6
