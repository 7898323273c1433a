"""Copies of one shape against the best known packings.

Circles of area 1 in a square of area n: A337020 of the On-Line Encyclopedia of Integer Sequences (terms up to 30
proved; P. G. Szabo et al., New Approaches to Circle Packing in a Square, Springer 2007).

Equilateral triangles of side 1 in a square: E. Friedman, Triangles in Squares, Packing Center.
"""

import math

import pytest
from nesting_shapes import around_circle, box, leaf, star, triangle

from clothpath.nesting import Part, Points, fill

CIRCLES = {4: 2, 6: 4, 10: 6, 12: 9, 20: 15, 25: 18, 30: 22, 36: 27, 39: 30, 60: 46, 70: 56}
TRIANGLES = {0.966: 1, 1.578: 4, 2.0: 7, 2.563: 12, 3.134: 19, 3.676: 27}


@pytest.mark.parametrize(("squares", "best"), CIRCLES.items())
def test_circles_in_a_square(squares: int, best: int) -> None:
    radius = 10 / math.sqrt(math.pi)
    side = 10 * math.sqrt(squares)
    found = len(fill([Part("circle", around_circle(radius), (), (0.0,), 500)], side, side).spots)
    assert 0.8 * best <= found <= best


@pytest.mark.parametrize(("side", "best"), TRIANGLES.items())
def test_triangles_in_a_square(side: float, best: int) -> None:
    found = len(fill([Part("triangle", triangle(50), (), None, 500)], 50 * side, 50 * side).spots)
    assert 0.75 * best <= found <= best


@pytest.mark.parametrize("outer", [leaf(60, 14), star(25, 11), triangle(40)])
def test_interlocking_beats_rows_of_boxes(outer: Points) -> None:
    part = Part("part", outer, (), None, 1000)
    width, height = (part.outer.max(axis=0) - part.outer.min(axis=0)).tolist()
    boxes = fill([Part("box", box(width, height), (), (0.0, 90.0), 1000)], 292, 292, 3.175)
    assert len(fill([part], 292, 292, 3.175).spots) > len(boxes.spots)
