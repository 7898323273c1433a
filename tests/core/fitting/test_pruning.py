"""Nodes that do nothing are taken out, and nothing else."""

from __future__ import annotations

from math import pi

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from clothpath.curves import Outline, area, circle, flattened, outline, polygon
from clothpath.fitting.pruning import MOST_MM, pruned
from clothpath.regions import xy

SQUARE = polygon([0, 10, 10 + 10j, 10j])


def nodes(closed: Outline | None) -> set[complex]:
    return set() if closed is None else {complex(p) for p in closed.nodes[:, 0]}


@pytest.mark.parametrize("closed", [SQUARE, circle(3 + 4j, 20), outline(0, [(10 + 10j, 20 - 10j, 30), (15 + 20j,)])])
def test_a_clean_outline_is_returned_as_it_is(closed: Outline) -> None:
    assert pruned(closed).outline is closed


def test_a_node_in_the_middle_of_a_straight_line_goes() -> None:
    result = pruned(polygon([0, 5, 10, 10 + 10j, 10j, 4j]))
    assert result.outline is not None
    assert nodes(result.outline) == nodes(SQUARE)
    assert set(result.needless) == {5, 4j}


def test_the_first_node_is_no_exception() -> None:
    assert nodes(pruned(polygon([5, 10, 10 + 10j, 10j, 0])).outline) == nodes(SQUARE)


def test_a_segment_without_length_goes() -> None:
    result = pruned(polygon([0, 10, 10, 10 + 10j, 10j, 10j + 5e-5]))
    assert result.outline is not None
    assert len(result.outline) == 4
    assert len(result.bare) == 2


def test_a_spike_goes_with_all_that_is_on_it() -> None:
    result = pruned(polygon([0, 10, 10 + 10j, 10 + 15j, 10 + 18j, 10 + 12j, 10 + 10j, 10j]))
    assert nodes(result.outline) == nodes(SQUARE)
    assert result.spikes


def test_a_thin_tip_is_no_spike() -> None:
    tip = polygon([0, 10, 10 + 10j, 10.05 + 20j, 9.95 + 10j, 10j])
    assert pruned(tip).outline is tip


def test_a_curve_that_is_straight_may_be_merged_with_lines() -> None:
    straight = outline(0, [(1, 3, 5), (10,), (10 + 10j,), (10j,)])
    assert nodes(pruned(straight).outline) == nodes(SQUARE)


def test_a_curve_that_overshoots_on_its_own_line_is_not_taken_for_one() -> None:
    overshoot = outline(0, [(-10, 20, 5), (10,), (10 + 10j,), (10j,)])
    assert 5 in nodes(pruned(overshoot).outline)


@pytest.mark.parametrize("flat", [polygon([0, 10]), polygon([0, 5, 10]), polygon([0, 0, 0]), polygon([1j, 1j])])
def test_what_encloses_nothing_leaves_nothing(flat: Outline) -> None:
    assert pruned(flat).outline is None


def test_a_finely_stepped_circle_keeps_its_shape() -> None:
    """Steps of 0.1 mm on a radius of 50 mm: each node is next to nothing off the line past it, all are a circle."""
    fine = polygon(50 * np.exp(2j * pi * np.arange(3142) / 3142))
    result = pruned(fine).outline
    assert result is not None
    assert len(result) < 1000
    assert abs(abs(flattened(result)) - 50).max() < 1e-9
    assert (
        shapely.hausdorff_distance(shapely.LinearRing(xy(flattened(fine))), shapely.LinearRing(xy(flattened(result))))
        < 0.003
    )


@st.composite
def untidy(draw: st.DrawFn) -> Outline:
    """A star-shaped polygon with nodes on its sides, repeated nodes and spikes put in."""
    count = draw(st.integers(3, 12))
    radii = draw(st.lists(st.floats(5, 30), min_size=count, max_size=count))
    points = [complex(r * np.exp(2j * pi * k / count)) for k, r in enumerate(radii)]
    result: list[complex] = []
    for a, b in zip(points, points[1:] + points[:1], strict=True):
        result.append(a)
        for accident in draw(st.lists(st.sampled_from(["middle", "again", "spike"]), max_size=3)):
            if accident == "middle":
                result.append(result[-1] + (b - result[-1]) * draw(st.floats(0.1, 0.9)))
            elif accident == "again":
                result.append(result[-1])
            else:
                result += [result[-1] + draw(st.complex_numbers(min_magnitude=1, max_magnitude=9)), result[-1]]
    return polygon(result)


@given(untidy())
def test_pruning_keeps_the_area_and_pruning_twice_is_pruning_once(closed: Outline) -> None:
    result = pruned(closed).outline
    assert result is not None
    assert area(result) == pytest.approx(area(closed), abs=MOST_MM * 200)
    again = pruned(result)
    assert again.outline is result
    assert again.bare == again.needless == again.spikes == ()
