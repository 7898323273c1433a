"""Underlap: lower pieces grow beneath their neighbors, and nothing of it shows.

3/16 in, 1/8 to 1/4 in: common practice (trade-facts). Areas: closed formulas written out beside each check.
"""

from __future__ import annotations

import math

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from clothpath.areas.booleans import difference, intersection, union
from clothpath.curves import Affine, Outline, area, circle, outline, polygon
from clothpath.design import Design, Fabric, Piece
from clothpath.findings import Refusal
from clothpath.picture.neighbors import contacts, layering, width_of
from clothpath.picture.order import reordered
from clothpath.plugins.transforms.underlap import Underlap, UnderlapSettings
from clothpath.regions import Region, as_polygon, moved, region, region_area

U = 3 / 16 * 25.4
WHITE, BLACK = Fabric("white", "White", "#ffffff"), Fabric("black", "Black", "#000000")


def rectangle(x: float, y: float, width: float, height: float) -> Region:
    return moved(region(polygon([0, width, complex(width, height), 1j * height])), Affine.shift(complex(x, y)))


def design(*regions: Region, fabrics: str = "") -> Design:
    keys = fabrics or "w" * len(regions)
    pieces = [
        Piece(f"p{i + 1}", f"p{i + 1}", each, "black" if key == "b" else "white", order=i + 1)
        for i, (each, key) in enumerate(zip(regions, keys, strict=True))
    ]
    return Design("try", tuple(pieces), (), (WHITE, BLACK))


def grown(of: Design, **settings_: object) -> Design:
    return Underlap().apply(of, UnderlapSettings.model_validate(settings_)).value


def growth(of: Design, number: int = 0) -> float:
    piece = grown(of).pieces[number]
    return region_area(piece.region) - region_area(piece.finished)


def codes(of: Design, **settings_: object) -> list[str]:
    return [f.code for f in Underlap().apply(of, UnderlapSettings.model_validate(settings_)).findings]


def square_and_circle() -> Design:
    disk = region(circle(60 + 30j, 15))
    (bitten,) = difference([rectangle(0, 0, 60, 60)], [disk])
    return design(bitten, disk)


def test_a_straight_edge_grows_a_strip_with_a_taper_at_each_end() -> None:
    # U deep, 40 long, two tapers of U/2 by U, each losing half of that rectangle
    assert growth(design(rectangle(0, 0, 40, 40), rectangle(40, 0, 40, 40))) == pytest.approx(
        U * 40 - U * U / 2, rel=1e-6
    )


def test_a_square_grows_beneath_a_circle_by_the_computed_area() -> None:
    radius, start = 15.0, U / 2 / 15
    ring = (radius**2 - (radius - U) ** 2) / 2 * (math.pi - 2 * start)
    # between the arc over `start` and the straight taper: a sector less a triangle
    taper = radius**2 * start / 2 - radius * (radius - U) * math.sin(start) / 2
    assert growth(square_and_circle()) == pytest.approx(ring + 2 * taper, rel=1e-3)


def test_only_the_lower_piece_grows_and_the_picture_is_kept() -> None:
    before = square_and_circle()
    lower, upper = grown(before).pieces
    assert upper == before.pieces[1]
    assert lower.picture == before.pieces[0].region
    assert grown(before).finished_box == before.finished_box


def test_a_free_edge_does_not_move() -> None:
    lower = grown(square_and_circle()).pieces[0]
    assert lower.region.box.left == 0
    assert lower.region.box.right == pytest.approx(60, abs=1e-9)


def test_three_pieces_meeting_in_a_point_leave_no_notch_there() -> None:
    three = design(rectangle(0, 0, 20, 20), rectangle(20, 0, 20, 20), rectangle(0, 20, 40, 20))
    # two strips with one taper each, and a quarter circle around the common point
    assert growth(three) == pytest.approx(2 * (20 * U - U * U / 4) + math.pi * U * U / 4, rel=1e-3)
    # the second piece lies beside the first and beneath the third
    assert growth(three, 1) == pytest.approx(20 * U - U * U / 2, rel=1e-3)
    assert growth(three, 2) == 0


def test_a_ring_in_a_ring_grows_inward_by_a_third_of_its_width() -> None:
    outer, inner = region(circle(0, 40), [circle(0, 30)]), region(circle(0, 30), [circle(0, 20)])
    tucked = 10 / 3  # the ring is 10 mm wide
    assert growth(design(outer, inner)) == pytest.approx(math.pi * (30**2 - (30 - tucked) ** 2), rel=5e-3)
    assert "underlap-narrow" in codes(design(outer, inner))


def test_a_narrow_stem_tucks_under_by_a_third_of_its_width() -> None:
    stem, flower = rectangle(0, 0, 6, 60), rectangle(-20, 60, 46, 30)
    lower = grown(design(stem, flower)).pieces[0]
    assert lower.region.box.top == pytest.approx(62, abs=0.05)


def test_between_neighbors_of_different_width_the_growth_tapers_from_one_height_to_the_other() -> None:
    # beneath the wide one U deep, beneath the strip of 6 half of it, 3 deep; each taper takes half its height from the
    # length, so that it costs a quarter of its height's square
    low, wide, strip = rectangle(0, 0, 80, 40), rectangle(0, 40, 40, 40), rectangle(40, 40, 40, 6)
    expected = 40 * U - U**2 / 4 - (U - 3) ** 2 / 4 + 40 * 3 - 3**2 / 4
    assert growth(design(low, wide, strip)) == pytest.approx(expected, abs=1)
    grown_ring = grown(design(low, wide, strip)).pieces[0].region.outer
    steep = [abs(b - a) for a, b in zip(grown_ring.nodes[:, 0], grown_ring.nodes[1:, 0], strict=False)
             if abs((b - a).real) < 1e-6 and min(a.imag, b.imag) > 40]  # fmt: skip
    assert not steep


def test_growth_stops_short_of_coming_out_behind_a_narrow_upper_piece() -> None:
    field, ribbon = rectangle(0, 0, 40, 40), rectangle(40, 0, 6, 40)
    assert grown(design(field, ribbon)).pieces[0].region.box.right == pytest.approx(43, abs=0.05)


def test_the_layering_order_decides_and_the_catalog_overrules_it() -> None:
    before = square_and_circle()
    after = grown(before, over=[["p1", "p2"]])
    assert [(piece.id, piece.order) for piece in after.pieces] == [("p2", 1), ("p1", 2)]
    disk, plate = after.pieces
    assert plate.picture is None
    assert region_area(disk.region) > region_area(disk.finished)
    assert disk.region.box.left == pytest.approx(45 - U, abs=0.02)


def test_pairs_that_name_nothing_or_contradict_each_other_are_refused() -> None:
    with pytest.raises(Refusal, match="p9"):
        grown(square_and_circle(), over=[["p9", "p1"]])
    with pytest.raises(Refusal, match="contradict"):
        grown(square_and_circle(), over=[["p1", "p2"], ["p2", "p1"]])


def test_edges_within_reach_are_shared_and_the_gap_is_closed() -> None:
    apart = design(rectangle(0, 0, 40, 40), rectangle(40.1, 0, 40, 40))
    assert "gap-closed" in codes(apart)
    lower = grown(apart).pieces[0].region
    assert lower.box.right == pytest.approx(40 + U, abs=0.02)
    too_far = design(rectangle(0, 0, 40, 40), rectangle(40.6, 0, 40, 40))
    assert codes(too_far) == ["underlap-none"]


def test_edges_that_overlap_a_little_are_shared() -> None:
    closer = design(rectangle(0, 0, 40, 40), rectangle(39.9, 0, 40, 40))
    assert grown(closer).pieces[0].region.box.right == pytest.approx(40 + U, abs=0.02)


def test_a_stacked_drawing_needs_none() -> None:
    stacked = design(rectangle(0, 0, 60, 60), rectangle(20, 20, 20, 20))
    assert codes(stacked) == ["underlap-none"]
    assert grown(stacked).pieces == stacked.pieces


def test_pieces_that_touch_in_a_corner_share_no_edge() -> None:
    assert codes(design(rectangle(0, 0, 40, 40), rectangle(40, 40, 40, 40))) == ["underlap-none"]


@pytest.mark.parametrize("radius", [5, 12, 40, 90])
@pytest.mark.parametrize("distance", [-0.2, 0.0, 0.2])
def test_two_disks_side_by_side_touch_and_grow_no_spur(radius: float, distance: float) -> None:
    touching = design(region(circle(0, radius)), region(circle(2 * radius + distance, radius)))
    assert grown(touching).pieces == touching.pieces
    assert codes(touching) == ["underlap-none", "underlap-touch"]


def test_pieces_that_touch_are_told_in_one_finding() -> None:
    row = design(*(region(circle(20.0 * i, 10)) for i in range(4)))
    (touch,) = [f for f in Underlap().apply(row, UnderlapSettings()).findings if f.code == "underlap-touch"]
    assert all(f'"p{i}" and "p{i + 1}"' in touch.message for i in (1, 2, 3))


def test_a_short_but_parallel_edge_grows_by_less() -> None:
    # edges 6 mm long: the underlap is 6 mm / 1.5
    low, high = rectangle(0, 0, 40, 40), rectangle(40, 34, 40, 40)
    assert grown(design(low, high)).pieces[0].region.box.right == pytest.approx(44, abs=0.02)
    assert "underlap-narrow" in codes(design(low, high))
    assert codes(design(low, rectangle(40, 36, 40, 40))) == ["underlap-none", "underlap-touch"]  # 4 mm, less than U


def test_a_short_edge_between_two_others_is_no_spur() -> None:
    field = rectangle(0, 0, 60, 40)
    three = (rectangle(60, 0, 40, 18), rectangle(60, 18, 40, 3), rectangle(60, 21, 40, 19))
    wide = as_polygon(grown(design(field, *three)).pieces[0].region)
    assert wide.contains(shapely.box(50, 10, 61.4, 30))


SHAPES = st.tuples(st.sampled_from(["circle", "rectangle"]), st.floats(4, 60), st.floats(4, 60))


@st.composite
def neighbors(draw: st.DrawFn) -> Design:
    """Two circles or rectangles, the second at the right of the first, nearly touching."""
    distance, shift = draw(st.floats(-0.3, 0.3)), draw(st.floats(-0.9, 0.9))
    (kind, width, height), (other, across, up) = draw(SHAPES), draw(SHAPES)
    low = region(circle(-width / 2, width / 2)) if kind == "circle" else rectangle(-width, -height / 2, width, height)
    if other == "circle":
        aside = shift * height / 2 if kind == "rectangle" else 0.0
        return design(low, region(circle(complex(distance + across / 2, aside), across / 2)))
    aside = shift * (up + height) / 2 if kind == "rectangle" else shift * up / 2
    return design(low, rectangle(distance, aside - up / 2, across, up))


@settings(max_examples=120, derandomize=True)
@given(neighbors())
def test_what_grows_is_no_spur_and_stays_by_the_edge(two: Design) -> None:
    # at half its depth it is at least as long as it is deep: what is narrower curls and shows as a spike (our choice)
    first, second = grown(two).pieces
    own, now, cover = (as_polygon(each, 0.002) for each in (first.finished, first.region, second.finished))
    new = now.difference(own)
    if new.area < 0.05:
        return
    depth = float(shapely.distance(own, shapely.points(shapely.get_coordinates(now))).max())
    assert depth <= U + 0.05
    beyond = new.difference(own.buffer(depth / 2, quad_segs=64))
    assert beyond.bounds[3] - beyond.bounds[1] >= 0.9 * depth
    shared = own.boundary.intersection(cover.buffer(0.3))
    assert new.difference(shared.buffer(U + 0.1, quad_segs=64)).area < 0.05


def test_no_hairline_grows_beneath_a_hairline_of_the_upper_piece() -> None:
    # the upper piece is 2 mm deep along the edge, and hangs by a thread of 0.3 mm on a block beyond
    (upper,) = union([rectangle(0, 0, 60, 2), rectangle(30, 1, 0.3, 12), rectangle(0, 10, 60, 40)])
    lower = grown(design(rectangle(0, -40, 60, 40), upper)).pieces[0].region
    assert lower.box.top == pytest.approx(2.0, abs=0.01)


def test_dark_cloth_beneath_light_cloth_is_told() -> None:
    dark_below = design(rectangle(0, 0, 40, 40), rectangle(40, 0, 40, 40), fabrics="bw")
    light_below = design(rectangle(0, 0, 40, 40), rectangle(40, 0, 40, 40), fabrics="wb")
    assert "shows-through" in codes(dark_below)
    assert "shows-through" not in codes(light_below)


def test_dark_cloth_beneath_several_is_told_once_and_in_good_grammar() -> None:
    dark, light = rectangle(0, 0, 80, 40), [rectangle(0, 40, 40, 40), rectangle(40, 40, 40, 40)]
    second = rectangle(100, 0, 40, 40), rectangle(140, 0, 40, 40)
    several = design(dark, *light, *second, fabrics="bwwbw")
    (told,) = [f for f in Underlap().apply(several, UnderlapSettings()).findings if f.code == "shows-through"]
    assert told.message == (
        '"p1" and "p4" are dark and lie beneath "p2", "p3" and "p5", which are light; they may show through.'
    )
    (one,) = [
        f
        for f in Underlap().apply(design(dark, *light, fabrics="bww"), UnderlapSettings()).findings
        if f.where[-1] == "1"
    ]
    assert one.message == '"p1" is dark and lies beneath "p2" and "p3", which are light; it may show through.'


def test_narrow_pieces_are_told_in_one_finding() -> None:
    stems = [rectangle(20.0 * i, 0, 6, 60) for i in range(3)]
    of = design(*stems, rectangle(-20, 60, 100, 30))
    (told,) = [f for f in Underlap().apply(of, UnderlapSettings()).findings if f.code == "underlap-narrow"]
    assert '"p1", "p2" and "p3"' in told.message


def test_a_hole_that_growth_all_but_closes_is_filled() -> None:
    (plate,) = difference([rectangle(0, 0, 60, 60)], [region(circle(30 + 30j, 5))])
    lower = grown(design(plate, region(circle(30 + 30j, 5)))).pieces[0]
    assert lower.region.holes == ()


def test_a_hole_that_shows_stays_open_however_small_it_gets() -> None:
    # of the hole of 8 by 5 the upper piece takes 8 by 3; beneath it 1.5 grows from three sides, which leaves 23.5
    plate = region(polygon([0, 40, 40 + 40j, 40j]), [polygon([16 + 16j, 16 + 21j, 24 + 21j, 24 + 16j])])
    after = grown(design(plate, rectangle(16, 16, 8, 3))).pieces[0].region
    (hole,) = after.holes
    assert -area(hole) == pytest.approx(8 * 5 - 8 * 1.5 - 2 * 1.5 * 1.5, abs=2)
    assert region_area(after) - region_area(plate) < 8 * 3


def test_how_a_drawing_is_layered() -> None:
    def kind(*regions: Region) -> str:
        return layering(contacts(design(*regions)))

    assert kind(rectangle(0, 0, 40, 40), rectangle(40, 0, 40, 40)) == "butted"
    assert kind(rectangle(0, 0, 60, 60), rectangle(20, 20, 20, 20)) == "stacked"
    assert kind(rectangle(0, 0, 40, 40), rectangle(50, 0, 40, 40)) == "apart"
    three = (rectangle(0, 0, 40, 40), rectangle(40, 0, 40, 40), rectangle(10, 10, 5, 5))
    assert kind(*three) == "mixed"


def test_it_is_told_how_a_drawing_is_layered() -> None:
    def told(*regions: Region) -> str:
        return Underlap().apply(design(*regions), UnderlapSettings()).findings[0].message

    low = rectangle(0, 0, 40, 40)
    assert "butted" in told(low, rectangle(40, 0, 40, 40))
    assert "stacked" in told(low, rectangle(10, 10, 20, 20))
    assert "neither meet nor overlap" in told(low, rectangle(60, 0, 40, 40))
    assert told(low, rectangle(40, 0, 40, 40), rectangle(10, 10, 20, 20)).startswith("Some pieces")


def test_a_piece_s_width_is_that_of_the_largest_circle_in_it() -> None:
    assert width_of(rectangle(0, 0, 6, 60)) == pytest.approx(6, rel=0.01)
    assert width_of(region(circle(0, 20))) == pytest.approx(40, rel=0.01)
    assert width_of(region(circle(0, 40), [circle(0, 30)])) == pytest.approx(10, rel=0.01)


def test_reordering_keeps_the_others_in_their_order() -> None:
    four = design(*(rectangle(40 * i, 0, 40, 40) for i in range(4)))
    assert [piece.id for piece in reordered(four, [("p1", "p3")]).pieces] == ["p3", "p1", "p2", "p4"]


BENDS = st.sampled_from([-6, -3, 0, 3, 6])


@st.composite
def waves(draw: st.DrawFn) -> Outline:
    """All that lies above a wavy line across the block."""
    curves = []
    for i in range(4):
        a, b, c = draw(BENDS), draw(BENDS), draw(BENDS)
        curves.append((complex(20 * i + 2, 30 + a), complex(20 * i + 8, 30 - b), complex(20 * i + 15, 30 + c)))
    return outline(complex(-5, 30), [*curves, (complex(75, 90),), (complex(-5, 90),)])


@settings(max_examples=25)
@given(waves(), st.booleans(), st.sampled_from([0.0, 0.1]))
def test_nothing_shows_beyond_the_finished_picture(wave: Outline, upper_first: bool, gap: float) -> None:
    block = rectangle(0, 0, 60, 60)
    knife = region(wave)
    low, high = difference([block], [knife]), intersection([block], [moved(knife, Affine.shift(1j * gap))])
    if len(low) != 1 or len(high) != 1:
        return
    both = (*high, *low) if upper_first else (*low, *high)
    before = design(*both)
    after = grown(before)
    first, second = after.pieces
    assert area(first.region.outer) > 0
    own, cover, wide = (as_polygon(each, 0.002) for each in (first.finished, second.finished, first.region))
    assert wide.is_valid
    # nothing of the piece is lost, and what is new lies beneath its neighbor, or in the gap
    assert own.difference(wide).area < 0.02
    shown = wide.difference(own).difference(cover)
    assert shown.area <= gap * 70 + 0.02
    assert shown.buffer(-gap / 2 - 0.02).is_empty
    # somewhere it reaches the whole underlap, nowhere more
    shapely.prepare(own)
    assert shapely.distance(own, shapely.points(shapely.get_coordinates(wide))).max() <= U + 0.05
    assert wide.area - own.area > 60 * U * 0.5
