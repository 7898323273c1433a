"""What is one, drawn twice, and what only looks so."""

from __future__ import annotations

import numpy as np
import pytest

from clothpath.areas.twins import alike, near_in_box, same_line, same_region
from clothpath.curves import backwards, circle, open_path, polygon
from clothpath.regions import region


def test_only_earlier_things_are_named_and_only_near_ones() -> None:
    circles = [circle(0, 10), circle(50, 10), circle(0.04, 10), circle(0.2, 10)]
    assert near_in_box(circles, lambda path: path, 0.05) == [[], [], [0], []]
    assert near_in_box([], lambda path: path, 0.05) == []


@pytest.mark.parametrize(("off", "same"), [(0.0, True), (0.04, True), (0.06, False)])
def test_the_same_region_within_a_tolerance(off: float, same: bool) -> None:
    assert same_region(region(circle(0, 10)), region(circle(off, 10)), 0.05) is same


def test_one_box_is_not_one_shape() -> None:
    """A square on its side and the circle in it share a box."""
    square = polygon([10, 10j, -10, -10j])
    assert not same_region(region(circle(0, 10)), region(square), 0.05)
    assert not alike(circle(0, 10), square)


def test_a_hole_makes_another_region() -> None:
    assert not same_region(region(circle(0, 10)), region(circle(0, 10), [circle(0, 3)]), 0.05)


def test_a_circle_and_the_polygon_that_stands_for_it_are_alike() -> None:
    """Sixty-four sides on a radius of 10: 0.012 mm within, 0.16 % less area."""
    stand_in = polygon(10 * np.exp(2j * np.pi * np.arange(64) / 64))
    assert alike(circle(0, 10), stand_in)
    assert not alike(circle(0, 10), circle(0, 9.8))


def test_a_line_and_its_way_back_are_the_same() -> None:
    line = open_path(0, [(10 + 5j, 20 - 5j, 30)])
    assert same_line(line, backwards(line), 0.01)
    assert not same_line(line, open_path(0, [(30,)]), 0.01)
