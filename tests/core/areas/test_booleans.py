"""Booleans against closed formulas, and against shapely on fine polygons.

Area of a circle's segment and of a lens: W. Gellert et al., The VNR Concise Encyclopedia of Mathematics, ch. 7.
"""

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from clothpath.areas.booleans import difference, intersection, resolved, union, without_cracks, without_spurs
from clothpath.curves import Affine, Outline, area, circle, cubics, outline, polygon
from clothpath.regions import Region, as_polygon, moved, region, region_area

BUDGET_MM = 0.02  # design.md, section 8


def square(side: float) -> Region:
    return region(polygon([0, side, side + 1j * side, 1j * side]))


def petal(size: float) -> Region:
    return region(
        outline(
            0j,
            [(size * (0.3 - 0.3j), size * (0.8 - 0.2j), complex(size)), (size * (0.7 + 0.5j), size * (0.2 + 0.3j), 0j)],
        )
    )


def lens(r: float, big: float, apart: float) -> float:
    """The area common to two circles."""
    d = apart
    a = r * r * math.acos((d * d + r * r - big * big) / (2 * d * r))
    b = big * big * math.acos((d * d + big * big - r * r) / (2 * d * big))
    return a + b - math.sqrt((-d + r + big) * (d + r - big) * (d - r + big) * (d + r + big)) / 2


def total(regions: tuple[Region, ...]) -> float:
    return sum(map(region_area, regions))


def test_two_circles_meet_in_a_lens() -> None:
    left, right = [region(circle(0, 50))], [region(circle(60, 40))]
    common = lens(50, 40, 60)
    assert total(intersection(left, right)) == pytest.approx(common, rel=2e-5)
    assert total(difference(left, right)) == pytest.approx(math.pi * 50**2 - common, rel=2e-5)
    assert total(union([*left, *right])) == pytest.approx(math.pi * (50**2 + 40**2) - common, rel=2e-5)


def test_what_is_not_cut_comes_back_as_it_was() -> None:
    left, right = region(circle(0, 50)), region(circle(60, 40))
    (moon,) = difference([left], [right])
    kept = {tuple(row) for row in cubics(moon.outer).tolist()}
    whole = {tuple(row) for row in cubics(left.outer).tolist()}
    # the circles cross at 34 degrees above and below, in the first and the last of eight cubics
    assert len(kept & whole) == 6
    assert len(moon.outer) <= len(left.outer) + len(right.outer)


def test_corners_of_a_cut_lie_on_both_curves() -> None:
    (moon,) = difference([region(circle(0, 50))], [region(circle(60, 40))])
    x = (60**2 + 50**2 - 40**2) / (2 * 60)
    y = math.sqrt(50**2 - x**2)
    for corner in (complex(x, y), complex(x, -y)):
        assert np.abs(moon.outer.nodes[:, 0] - corner).min() < 5e-4  # the circles' cubics err by 2e-4 mm


@pytest.mark.parametrize("gap", [0.0, 1e-12, 0.004])
def test_a_slit_that_nobody_sees_is_closed(gap: float) -> None:
    # two halves of a square that meet but for a slit from below to near the top
    left = shapely.box(0, 0, 10, 20)
    right = shapely.Polygon([(10 + gap, 0), (20, 0), (20, 20), (10, 20), (10, 19)])
    closed = without_cracks(shapely.union(left, right))
    assert closed.is_valid
    assert closed.area == pytest.approx(400, abs=1e-3)
    assert closed.length == pytest.approx(80, abs=0.1)


def test_a_slit_that_is_seen_and_the_point_of_a_notch_stay() -> None:
    slit = shapely.box(0, 0, 20, 20).difference(shapely.box(10, 0, 10.05, 19))
    notch = shapely.box(0, 0, 20, 20).difference(shapely.Polygon([(8, 0), (12, 0), (10, 15)]))
    assert without_cracks(slit) is slit
    assert without_cracks(notch) is notch


def test_a_slit_right_through_is_closed() -> None:
    halves = shapely.multipolygons([shapely.box(0, 0, 10, 20), shapely.box(10.004, 0, 20, 20)])
    closed = without_cracks(halves)
    assert len(shapely.get_parts(closed)) == 1
    assert closed.area == pytest.approx(400, abs=0.1)


PLATE, NEEDLE = shapely.box(0, 0, 20, 20), shapely.box(20, 9, 26, 9.3)


@pytest.mark.parametrize(
    ("tab", "kept", "left"),
    [
        (NEEDLE, PLATE, 400.0),  # a spur 0.3 mm wide
        (NEEDLE, NEEDLE, 400 + 6 * 0.3),  # the same, but it is wanted
        (shapely.box(20, 9, 26, 9.6), PLATE, 400 + 6 * 0.6),  # wide enough to be cut
        (shapely.Polygon([(20, 9), (26, 10), (20, 11)]), PLATE, 406.0),  # a point of 19 degrees
        (shapely.Polygon([(20, 9), (40, 9.4), (20, 9.4)]), PLATE, 400.0),  # a long thin one
    ],
)
def test_a_spur_too_narrow_to_be_cut_is_left_off(tab: shapely.Geometry, kept: shapely.Geometry, left: float) -> None:
    trimmed = without_spurs(shapely.union(PLATE, tab), PLATE, kept, 0.5)
    assert trimmed.area == pytest.approx(left, abs=0.3)
    assert trimmed.difference(shapely.union(PLATE, tab)).area < 1e-9


def test_a_spur_that_was_there_before_stays() -> None:
    before = shapely.union(PLATE, NEEDLE)
    assert (
        without_spurs(shapely.union(before, shapely.box(0, 20, 20, 25)), before, PLATE, 0.5).area > 500 + 6 * 0.3 - 0.01
    )


def test_a_hole_is_cut_and_filled_again() -> None:
    plate, disk = square(60), moved(region(circle(0, 10)), Affine.shift(30 + 30j))
    (holed,) = difference([plate], [disk])
    assert len(holed.holes) == 1
    assert area(holed.holes[0]) == pytest.approx(-math.pi * 100, rel=1e-5)
    (whole,) = union([holed, disk])
    assert whole.holes == ()
    assert set(whole.outer.nodes[:, 0].tolist()) == set(plate.outer.nodes[:, 0].tolist())


def test_squares_that_share_an_edge_become_one_rectangle() -> None:
    (both,) = union([square(20), moved(square(20), Affine.shift(20))])
    assert len(both.outer) == 4
    assert region_area(both) == pytest.approx(800)


def test_regions_that_touch_have_nothing_in_common() -> None:
    assert intersection([square(20)], [moved(square(20), Affine.shift(20))]) == ()
    assert intersection([square(20)], [moved(square(20), Affine.shift(20 + 20j))]) == ()


def test_the_same_region_twice_is_itself() -> None:
    assert union([petal(40), petal(40)]) == (petal(40),)
    assert difference([petal(40)], [petal(40)]) == ()


def test_a_figure_eight_has_one_loop_to_the_left_and_one_to_the_right() -> None:
    eight = polygon([0, 20, 10j, 20 + 10j])
    counterclockwise = resolved([eight], lambda wound: wound > 0)
    any_way = resolved([eight], lambda wound: wound != 0)
    assert total(counterclockwise) == pytest.approx(50)
    assert [round(region_area(each), 6) for each in any_way] == [50, 50]


def test_a_ring_inside_a_ring_is_two_regions() -> None:
    rings = [circle(0, 40), circle(0, 30), circle(0, 20), circle(0, 10)]
    found = resolved(rings, lambda wound: wound % 2 == 1)
    assert [len(each.holes) for each in found] == [1, 1]
    assert total(found) == pytest.approx(math.pi * (1600 - 900 + 400 - 100), rel=1e-5)


SHAPES = st.sampled_from([region(circle(0, 22)), square(30), petal(45), region(circle(0, 25), [circle(3, 9)])])
PLACES = st.builds(
    lambda degrees, x, y, scale: Affine.shift(complex(x, y)) @ Affine.turn(degrees) @ Affine.scale(scale),
    st.sampled_from([0, 30, 45, 90, 137]),
    st.integers(-30, 30),
    st.integers(-30, 30),
    st.sampled_from([0.5, 1.0, 1.3]),
)


def fine(regions: tuple[Region, ...] | list[Region]) -> shapely.Geometry:
    return shapely.union_all([as_polygon(each, 0.0005) for each in regions])


@settings(max_examples=25)
@given(SHAPES, SHAPES, PLACES)
def test_results_agree_with_fine_polygons_and_are_valid(one: Region, other: Region, place: Affine) -> None:
    other = moved(other, place)
    a, b = fine([one]), fine([other])
    for result, exact in (
        (union([one, other]), a.union(b)),
        (difference([one], [other]), a.difference(b)),
        (intersection([one], [other]), a.intersection(b)),
    ):
        for each in result:
            assert area(each.outer) > 0
            assert all(area(hole) < 0 for hole in each.holes)
        got = fine(result)
        assert got.symmetric_difference(exact).area < 0.02
        # whatever differs is thinner than the budget
        assert got.symmetric_difference(exact).buffer(-BUDGET_MM / 2).is_empty


@settings(max_examples=25)
@given(SHAPES, SHAPES, PLACES)
def test_parts_add_up(one: Region, other: Region, place: Affine) -> None:
    other = moved(other, place)
    whole = total(intersection([one], [other])) + total(difference([one], [other]))
    assert whole == pytest.approx(region_area(one), abs=0.03)
    both = total(union([one, other])) + total(intersection([one], [other]))
    assert both == pytest.approx(region_area(one) + region_area(other), abs=0.03)


@given(SHAPES, SHAPES, PLACES, st.integers(0, 7))
def test_where_a_ring_starts_does_not_matter(one: Region, other: Region, place: Affine, start: int) -> None:
    other = moved(other, place)
    p = np.roll(cubics(other.outer), -start, axis=0)
    turned = region(Outline(p[:, :3], np.roll(other.outer.straight, -start), complex(p[0, 0])), other.holes)
    first, second = difference([one], [other]), difference([one], [turned])
    assert len(first) == len(second)
    assert total(first) == pytest.approx(total(second), abs=1e-3)
