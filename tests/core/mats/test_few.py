"""One piece or two on a rectangle: sizes that anyone can work out, and sound packings for any pair of shapes."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from clothpath.mats.few import lone, pair
from clothpath.mats.wanted import Rules
from clothpath.nesting import BadPartError, Part, candidates, faults

IN = 25.4
ROOM = (292.1, 292.1)
RULES = Rules(IN / 8, IN / 8, IN / 4, IN / 8, IN / 2)
TIGHT = Rules(0.0, 0.0, 0.0, 0.0, 0.0)


def part(key: str, points: list[tuple[float, float]], turns: tuple[float, ...] | None = None, count: int = 1) -> Part:
    return Part(key, np.array(points, dtype=float), (), turns, count)


def box(width: float, height: float, turn: float = 0.0) -> list[tuple[float, float]]:
    c, s = math.cos(math.radians(turn)), math.sin(math.radians(turn))
    return [(x * c - y * s, x * s + y * c) for x, y in ((0, 0), (width, 0), (width, height), (0, height))]


def test_a_lone_piece_is_turned_to_the_least_rectangle_that_a_ruler_shows() -> None:
    """3 x 1 in drawn at 30 degrees, with 1/8 in all round: 3 1/4 x 1 1/4 in, and no more than that either way round."""
    found = lone(part("p", box(3 * IN, IN, 30)), ROOM, RULES, 4)
    assert sorted((found[0].width / IN, found[0].height / IN)) == pytest.approx([1.25, 3.25])
    assert faults([part("p", box(3 * IN, IN, 30))], found[0], RULES.spacing, RULES.margin) == ()


def test_a_lone_piece_keeps_to_its_grain_and_its_room() -> None:
    upright = part("p", box(3 * IN, IN), (0.0, 180.0))
    (found,) = lone(upright, ROOM, RULES, 1)
    assert (found.width / IN, found.height / IN) == pytest.approx((3.25, 1.25))
    assert lone(upright, (3 * IN, 9 * IN), RULES, 4) == ()
    narrow = lone(part("p", box(3 * IN, IN)), (1.5 * IN, 9 * IN), RULES, 4)
    assert narrow[0].width <= 1.5 * IN + 1e-6


def test_two_right_triangles_make_a_rectangle() -> None:
    """Two triangles with legs of 40 and 20 mm fill 40 x 20 mm, one turned by half (arithmetic)."""
    corners = [(0.0, 0.0), (40.0, 0.0), (0.0, 20.0)]
    (found,) = pair([part("t", corners, (0.0, 180.0), 2)], ROOM, TIGHT, 1)
    assert 800 - 1e-6 <= found.area <= 1.02 * 800


def test_two_that_may_not_be_turned_lie_as_they_are() -> None:
    """Two squares of 30 mm with 1/8 in between and round them: 60 + 3 x 3.175 mm by 30 + 2 x 3.175 mm."""
    (found,) = pair([part("s", box(30, 30), (0.0,), 2)], ROOM, RULES, 1)
    assert sorted((found.width, found.height)) == pytest.approx([36.35, 69.525], abs=0.05)
    assert {spot.turn for spot in found.spots} == {0.0}


def test_what_is_no_area_is_refused_and_named() -> None:
    flat = part("flat", [(0.0, 0.0), (10.0, 0.0), (20.0, 0.0)])
    with pytest.raises(BadPartError, match="flat"):
        lone(flat, ROOM, RULES, 1)


@st.composite
def shapes(draw: st.DrawFn) -> list[tuple[float, float]]:
    """A star-shaped outline of three to eight corners about its middle."""
    count = draw(st.integers(3, 8))
    reach = draw(st.lists(st.floats(12, 70), min_size=count, max_size=count))
    return [(r * math.cos(2 * math.pi * n / count), r * math.sin(2 * math.pi * n / count)) for n, r in enumerate(reach)]


@settings(max_examples=40, deadline=None, derandomize=True)
@given(shapes(), shapes(), st.sampled_from([None, (0.0,), (0.0, 180.0), (0.0, 90.0, 180.0, 270.0)]))
def test_any_two_lie_apart_within_the_margin_and_take_little_more_than_a_general_search_finds(
    one: list[tuple[float, float]], other: list[tuple[float, float]], turns: tuple[float, ...] | None
) -> None:
    parts = [part("a", one, turns), part("b", other, turns)]
    found = pair(parts, ROOM, RULES, 4)
    assert found
    for each in found:
        assert each.complete
        assert faults(parts, each, RULES.spacing, RULES.margin) == ()
    searched = candidates(parts, *ROOM, RULES.spacing, RULES.margin, 1, RULES.ruler_step)
    assert found[0].area <= 1.15 * searched[0].area
