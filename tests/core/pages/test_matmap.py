"""The drawing of a mat: to scale, measured from the nearer edges, with words that fit into their boxes."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import Point, Polygon
from shapely import box as shapely_box

from clothpath.curves import Box, polygon
from clothpath.design import Side
from clothpath.layout import CutFrom, Layout, Mat, MatLayout, Stock, Swatch
from clothpath.pages.matmap import HIGH, LETTER, WIDE, box_on_map, map_of, measured_from, scrap_map, whole_scrap
from clothpath.regions import region

MAT = Mat("mat-12x12", 304.8, 304.8)
WORDS = ["1. Sand & shells", "right side up", "6 7/8 in x 3 3/8 in", "1/2 in from the left", "1/2 in from the bottom"]
WORDINGS = [WORDS, WORDS[:2], ["1 R"]]


@pytest.mark.parametrize(("laid", "corner"), [("right-side-up", 10 + 20j), ("wrong-side-up", 110 + 20j)])
def test_a_whole_scrap_is_drawn_as_it_is_seen_on_the_mat(laid: Side, corner: complex) -> None:
    """Its right angle is lower left; from the back it is lower right."""
    triangle = Stock("a", 100, 60, outline=region(polygon([0j, 100 + 0j, 60j])))
    mats = (MatLayout((Swatch("a", laid, 10, 20, 100, 60),)),)
    layout = Layout((), (), MAT, mats, (triangle,), (CutFrom(0, 0, 0, 0, 1, Box(0, 0, 100, 60)),))
    scrap = whole_scrap(layout, 0, 0)
    assert scrap is not None
    top = corner + 60j
    assert {complex(round(p.real, 6), round(p.imag, 6)) for p in scrap.outer.nodes[:, 0].tolist()} == {
        10 + 20j, 110 + 20j, top
    }  # fmt: skip
    on = map_of(MAT, 100)
    box = box_on_map(mats[0].swatches[0].box, on, "#c8553d", WORDINGS, scrap)
    points = [tuple(map(float, pair.split(","))) for pair in box.outline.split()]
    assert min(y for _, y in points) == pytest.approx(box.y, abs=0.02)
    assert min(x for x, _ in points) == pytest.approx(box.x, abs=0.02)
    cloth = Polygon(points).buffer(0.1)
    size = max(line.size for line in box.lines)
    for line in box.lines:  # what is written stands on the cloth, not beside it
        half = len(line.words) * LETTER * size / 2
        across, along = box.middle_x, box.middle_y + line.y
        words = [(across - half, along), (across + half, along), (across, along - 0.6 * size)]
        words = words if not box.upright else [(along, across - half), (along, across + half)]
        assert all(cloth.covers(Point(*at)) for at in words)


def test_a_rectangle_is_drawn_in_its_scrap_where_it_is_cut() -> None:
    """Lower left in the scrap is lower left in the drawing, whose y runs down."""
    triangle = Stock("a", 100, 60, outline=region(polygon([0j, 100 + 0j, 60j])))
    drawn = scrap_map(triangle, [Box(0, 0, 50, 30)])
    (x, y, width, height) = drawn.boxes[0]
    points = [tuple(map(float, pair.split(","))) for pair in drawn.outline.split()]
    assert (x, y + height) == pytest.approx((min(p[0] for p in points), max(p[1] for p in points)), abs=0.02)
    assert width / height == pytest.approx(50 / 30, rel=1e-3)
    assert Polygon(points).buffer(0.05).covers(shapely_box(x, y, x + width, y + height))


def test_a_rectangle_of_a_scrap_is_no_whole_scrap() -> None:
    triangle = Stock("a", 100, 60, outline=region(polygon([0j, 100 + 0j, 60j])))
    mats = (MatLayout((Swatch("a", "right-side-up", 10, 20, 30, 30),)),)
    layout = Layout((), (), MAT, mats, (triangle,), (CutFrom(0, 0, 0, 0, 1, Box(0, 0, 30, 30)),))
    assert whole_scrap(layout, 0, 0) is None
    assert box_on_map(mats[0].swatches[0].box, map_of(MAT, 60), "#c8553d", WORDINGS).outline == ""


@pytest.mark.parametrize(("width", "height"), [(304.8, 304.8), (609.6, 1524), (600, 900), (203.2, 304.8)])
def test_the_mat_is_drawn_to_scale_and_fits(width: float, height: float) -> None:
    on = map_of(Mat("roll", width, height), height)
    assert on.wide / on.high == pytest.approx(width / height, rel=1e-3)
    assert on.wide <= WIDE
    assert on.high <= HIGH


def test_a_box_lies_where_it_lies_on_the_mat_seen_from_above() -> None:
    on = map_of(MAT, 101.6)
    box = box_on_map(Box(0, 0, 152.4, 101.6), on, "#c8553d", WORDINGS)
    # lower left on the mat is lower left on the map, whose y runs down
    assert (box.x, box.y + box.height) == pytest.approx((on.left, on.top + on.high), abs=0.05)
    assert box.width == pytest.approx(on.wide / 2, abs=0.05)


def test_distances_are_from_the_nearer_edges() -> None:
    found = measured_from(Box(200, 12.7, 290, 100), MAT)
    assert (found.across_edge, found.along_edge) == ("right", "bottom")
    assert (found.across, found.along) == pytest.approx((14.8, 12.7))


@given(st.floats(8, 300), st.floats(8, 300))
def test_words_keep_to_their_box(width: float, height: float) -> None:
    box = box_on_map(Box(0, 0, width, height), map_of(MAT, 300), "#2a8c8c", WORDINGS)
    across, along = (box.height, box.width) if box.upright else (box.width, box.height)
    assert box.lines[0].words.startswith("1")
    if len(box.lines) > 1:
        assert max(len(line.words) * LETTER * line.size for line in box.lines) <= across
        assert box.lines[-1].y - box.lines[0].y + box.lines[0].size <= along


def test_a_large_box_says_all() -> None:
    box = box_on_map(Box(0, 0, 150, 120), map_of(MAT, 120), "#2a8c8c", WORDINGS)
    assert [line.words for line in box.lines] == WORDS
    assert not box.upright


def test_a_narrow_box_is_written_upright() -> None:
    assert box_on_map(Box(0, 0, 60, 250), map_of(MAT, 250), "#2a8c8c", WORDINGS).upright


def test_a_small_box_says_the_last_wording() -> None:
    box = box_on_map(Box(0, 0, 25, 12), map_of(MAT, 12), "#2a8c8c", WORDINGS)
    assert [line.words for line in box.lines] == ["1 R"]


def test_a_long_roll_is_drawn_as_far_as_it_is_used() -> None:
    roll = Mat("roll-24", 609.6, 1524.0)
    on = map_of(roll, 300.0)
    assert 300.0 < on.shown < 400.0
    assert on.wide / on.high == pytest.approx(609.6 / on.shown, rel=1e-3)
    box = box_on_map(Box(0, 0, 100, 300), on, "#c8553d", WORDINGS)
    assert box.y + box.height == pytest.approx(on.top + on.high, abs=0.05)
    # used beyond its middle, and where a mat is no roll, all of it is drawn
    assert map_of(roll, 800.0).shown == 1524.0
    assert map_of(MAT, 50.0).shown == 304.8
