"""Outlines within outlines: pieces and holes take turns; what only crosses says nothing."""

from __future__ import annotations

from math import pi

import pytest

from clothpath.areas.nests import nested, parents
from clothpath.curves import Outline, circle, polygon
from clothpath.regions import region_area


def areas(*outlines: Outline) -> list[float]:
    return [region_area(each) for _, each in nested(outlines, parents(outlines))]


def test_each_level_has_the_next_larger_one_for_a_parent_in_any_order() -> None:
    assert parents([circle(0, 2), circle(0, 30), circle(0, 10)]) == [2, None, 1]


def test_pieces_and_holes_take_turns() -> None:
    rings = areas(circle(0, 30), circle(0, 20), circle(0, 10), circle(0, 5))
    assert rings == pytest.approx([500 * pi, 75 * pi], rel=1e-5)


def test_two_holes_side_by_side() -> None:
    assert areas(circle(0, 30), circle(-10, 5), circle(10, 5)) == pytest.approx([850 * pi], rel=1e-5)


def test_outlines_that_overlap_are_pieces_of_their_own() -> None:
    assert areas(circle(0, 30), circle(20, 30)) == pytest.approx([900 * pi, 900 * pi], rel=1e-5)


def test_where_two_overlap_in_a_third_they_lie_on_top_of_it() -> None:
    assert areas(circle(0, 30), circle(-2, 5), circle(2, 5)) == pytest.approx([900 * pi, 25 * pi, 25 * pi], rel=1e-5)


def test_a_hole_in_one_of_two_that_overlap_is_the_smaller_ones() -> None:
    large, small, hole = circle(0, 40), circle(50, 30), circle(60, 5)
    assert areas(large, small, hole) == pytest.approx([1600 * pi, 875 * pi], rel=1e-5)


def test_twins_do_not_hold_each_other() -> None:
    assert parents([circle(0, 30), circle(0, 30)]) == [None, None]


def test_only_the_related_hold_each_other() -> None:
    outlines = [circle(0, 30), circle(0, 10), circle(0, 5)]
    assert parents(outlines, related=lambda inner, outer: {inner, outer} != {1, 2}) == [None, 0, 0]


def test_an_outline_that_crosses_itself_or_is_flat_does_no_harm() -> None:
    bow, flat = polygon([-5 - 5j, 5 + 5j, 5 - 5j, -5 + 5j]), polygon([0, 1])
    assert parents([circle(0, 30), bow, flat])[1] == 0


def test_the_clock_is_looked_at() -> None:
    ticks: list[int] = []
    parents([circle(20 * i, 5) for i in range(600)], tick=lambda: ticks.append(1))
    assert len(ticks) == 3
