"""A start lies on a straight and never at a corner (common practice); begun elsewhere it is the same outline."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from clothpath.curves import Outline, area, circle, flattened, length, outline, polygon
from clothpath.cutting.starts import MOST_STARTS, RUN_MM, Start, restarted, starts, straightest

SQUARE = polygon([0, 40, 40 + 40j, 40j])
DROP = outline(0, [(20 + 5j, 20 + 30j, 30j), (-20 + 30j, -20 + 5j, 0)])
"""A drop with its point at the origin."""


def farthest(a: Outline, b: Outline) -> float:
    """The largest distance of the flattened points of `a` from those of `b`, finely flattened."""
    p, q = flattened(a, 0.01), flattened(b, 1e-4)
    return float(np.abs(p[:, None] - q[None, :]).min(axis=1).max())


def test_a_square_is_begun_on_a_side_away_from_its_corners() -> None:
    for start in starts([SQUARE])[0]:
        to_corner = min(abs(start.point - corner) for corner in (0, 40, 40 + 40j, 40j))
        assert to_corner >= RUN_MM
        assert start.turn == 0


def test_a_drop_is_not_begun_at_its_point() -> None:
    found = starts([DROP])[0]
    assert 1 <= len(found) <= MOST_STARTS
    assert min(abs(start.point) for start in found) > RUN_MM


def test_a_circle_may_be_begun_anywhere_and_starts_are_spread() -> None:
    found = starts([circle(0, 20)])[0]
    angles = sorted(math.degrees(np.angle(start.point)) % 360 for start in found)
    assert len(found) == MOST_STARTS
    assert max(b - a for a, b in zip(angles, [*angles[1:], angles[0] + 360], strict=True)) < 90


def test_the_turn_is_how_far_the_direction_swings() -> None:
    # on a circle of radius R a stretch of 2 w swings 2 w / R
    for start in starts([circle(5 + 5j, 30)])[0]:
        assert start.turn == pytest.approx(2 * RUN_MM / 30, rel=0.01)


def test_many_at_once_are_as_each_alone() -> None:
    several = [SQUARE, DROP, circle(7, 3)]
    assert starts(several) == [starts([each])[0] for each in several]


def test_control_points_on_an_end_do_not_hide_a_corner() -> None:
    # a square whose sides are cubics with their control points on their ends: the derivative vanishes there
    corners = [0j, 40 + 0j, 40 + 40j, 40j]
    sides = [(a, b, b) for a, b in zip(corners, [*corners[1:], corners[0]], strict=True)]
    for start in starts([outline(0, sides)])[0]:
        assert min(abs(start.point - corner) for corner in corners) >= RUN_MM


@given(st.integers(0, 1), st.floats(0, 0.99))
def test_begun_elsewhere_it_is_the_same_outline(segment: int, t: float) -> None:
    again = restarted(DROP, Start(segment, t, 0, 0))
    assert area(again) == pytest.approx(area(DROP), rel=1e-12)
    assert length(again) == pytest.approx(length(DROP), rel=1e-6)
    assert farthest(again, DROP) < 0.1


def test_it_begins_where_the_start_says() -> None:
    for of in (SQUARE, DROP):
        for start in starts([of])[0]:
            assert restarted(of, start).start == pytest.approx(start.point, abs=1e-12)


def test_a_start_at_a_node_splits_nothing() -> None:
    assert len(restarted(DROP, Start(1, 0.0, 30j, 0))) == 2
    assert len(restarted(SQUARE, Start(1, 0.5, 40 + 20j, 0))) == 5


def test_the_straightest_of_a_triangle_lies_on_a_side() -> None:
    triangle = polygon([0, 30, 15 + 26j])
    assert straightest(starts([triangle])[0]).turn == 0
