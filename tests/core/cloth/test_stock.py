"""Cutting rectangles from cloth: the arithmetic of strips as quilters' tables have it, and sound plans for any sizes.

The tables are common practice: a strip across 40 in of usable width gives 16 squares at 2 1/2 in, 8 at 5 in, 6 at
6 1/2 in; a fat quarter of 18 x 20 in gives twelve 5 in squares.
"""

from __future__ import annotations

from itertools import combinations

import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

from clothpath.cloth.scraps import inscribed, lacking
from clothpath.cloth.stock import Blank, StockCuts, cuts, may_turn, rectangles, stock_name, told
from clothpath.cloth.stocktable import StockTable, common_cuts
from clothpath.curves import Box, circle, polygon
from clothpath.layout import Stock
from clothpath.regions import as_polygon, region

IN = 25.4


def common(name: str, count: int = 1) -> Stock:
    return StockTable(common=name, count=count).stock("red")


def plan(sizes: list[tuple[float, float]], *stock: Stock, turns: bool = True) -> tuple[StockCuts, ...]:
    found = cuts([Blank(*size, turns) for size in sizes], list(enumerate(stock)))
    assert found is not None
    return found


@pytest.mark.parametrize(("side", "many"), [(2.5, 16), (5.0, 8), (6.5, 6), (3.5, 11), (4.5, 8), (10.0, 4)])
def test_a_strip_of_forty_inches_gives_as_many_squares_as_the_tables_say(side: float, many: int) -> None:
    """The first three are common practice, the others 40 divided by the side, rounded down (arithmetic)."""
    square = (side * IN, side * IN)
    assert len(plan([square] * many, common("yardage"))[0].strips) == 1
    assert len(plan([square] * (many + 1), common("yardage"))[0].strips) == 2


def test_a_fat_quarter_gives_twelve_five_inch_squares_and_not_thirteen() -> None:
    square = (5 * IN, 5 * IN)
    assert len(plan([square] * 12, common("fat-quarter"))) == 1
    assert cuts([Blank(*square, True)] * 13, [(0, common("fat-quarter"))]) is None
    assert len(plan([square] * 13, common("fat-quarter", 2))) == 2


def test_a_pinked_square_loses_an_eighth_along_every_edge() -> None:
    """From memory: pinked edges lose about 1/8 in."""
    assert len(plan([(9.75 * IN, 9.75 * IN)], common("square-10in"))) == 1
    assert cuts([Blank(9.875 * IN, 9.75 * IN, True)], [(0, common("square-10in"))]) is None


def test_the_plan_is_told_as_strips_and_sub_cuts() -> None:
    eight = plan([(5 * IN, 4.5 * IN)] * 8, common("yardage"), turns=False)
    assert told(eight[0], "inch", common("yardage")) == ("1 strip 4 1/2 in by width of cloth, cut into 8 at 5 in",)
    twelve = plan([(5 * IN, 5 * IN)] * 12, common("fat-quarter"))
    assert told(twelve[0], "inch", common("fat-quarter")) == (
        "3 strips 5 in by width of cloth, each cut into 4 at 5 in",
    )
    metric = plan([(120.0, 90.0)] * 2, common("yardage"), turns=False)
    assert told(metric[0], "metric", common("yardage")) == ("1 strip 90 mm by width of cloth, cut into 2 at 120 mm",)


def test_a_lower_piece_of_a_strip_is_trimmed() -> None:
    mixed = plan([(20 * IN, 5 * IN), (15 * IN, 4 * IN)], common("yardage"), turns=False)
    (line,) = told(mixed[0], "inch", common("yardage"))
    assert line == "1 strip 5 in by width of cloth, cut into 1 at 20 in, 1 at 15 in trimmed to 4 in high"


def test_a_one_way_print_is_never_cut_with_its_height_across() -> None:
    """11 x 30 in, 30 along the selvage, does not come out of a fat quarter of 20 across and 18 along, either way."""
    upright = (11 * IN, 30 * IN)
    assert cuts([Blank(*upright, False)], [(0, common("fat-quarter"))]) is None
    across = (15 * IN, 19 * IN)
    assert cuts([Blank(*across, False)], [(0, common("fat-quarter"))]) is None
    assert cuts([Blank(*across, True)], [(0, common("fat-quarter"))]) is not None
    assert [may_turn(grain) for grain in ("any", "straight", "lengthwise", "directional", "bias")] == [
        True, True, False, False, True,
    ]  # fmt: skip


def test_scraps_are_used_before_yardage() -> None:
    scrap = Stock("red", 130.0, 130.0, 2, "scrap")
    found = plan([(100.0, 100.0)] * 3, common("yardage"), scrap)
    assert {(one.stock, one.number) for one in found} == {(1, 1), (1, 2), (0, 1)}


sizes = st.lists(st.tuples(st.floats(10, 480), st.floats(10, 480)), min_size=1, max_size=25)


@given(sizes, st.booleans())
def test_a_plan_holds_every_rectangle_once_inside_its_cloth_and_apart(
    some: list[tuple[float, float]], turns: bool
) -> None:
    stock = (common("yardage"), common("fat-quarter", 2), common("square-10in", 3))
    lying: dict[int, tuple[int, int, Box]] = {}
    for one in plan(some, *stock, turns=turns):
        for strip in one.strips:
            for sub in strip.subs:
                x, y = one.room.left + sub.x, one.room.bottom + strip.y
                lying[sub.rectangle] = (one.stock, one.number, Box(x, y, x + sub.width, y + sub.height))
                assert (sub.width, sub.height) == (some[sub.rectangle][::-1] if sub.turned else some[sub.rectangle])
                assert turns or not sub.turned
                assert sub.height <= strip.height + 1e-5
    assert sorted(lying) == list(range(len(some)))
    for index, number, box in lying.values():
        cloth = stock[index]
        assert 1 <= number <= cloth.count
        assert box.left >= cloth.rim - 1e-5
        assert box.right <= cloth.width - cloth.rim + 1e-5
        assert cloth.height is None or box.top <= cloth.height - cloth.rim + 1e-5
    for (s1, n1, a), (s2, n2, b) in combinations(lying.values(), 2):
        if (s1, n1) == (s2, n2):
            assert max(a.left - b.right, b.left - a.right, a.bottom - b.top, b.bottom - a.top) >= -1e-5


def test_the_rectangles_of_an_l_shaped_scrap_are_exact() -> None:
    """A 10 x 9 in scrap with its upper right 6 x 5 in missing: 10 x 4 in and 4 x 9 in are left."""
    corners = [0j, 10 + 0j, 10 + 4j, 4 + 4j, 4 + 9j, 9j]
    found = inscribed(region(polygon([corner * IN for corner in corners])), 0.0)
    assert [(round(b.width / IN, 6), round(b.height / IN, 6)) for b in found] == [(10, 4), (4, 9)]


@given(st.floats(40, 300), st.floats(0, 10))
def test_what_a_round_scrap_promises_is_there(diameter: float, rim: float) -> None:
    """The largest square in a disc has the diameter as its diagonal; a grid finds at least 3/4 of it."""
    radius = diameter / 2
    disc = region(circle(complex(radius, radius), radius))
    cloth = as_polygon(disc).buffer(-rim + 0.01)
    found = inscribed(disc, rim)
    assert found
    for box in found:
        for x in (box.left, box.right):
            for y in (box.bottom, box.top):
                assert abs(complex(x - radius, y - radius)) <= radius - rim + 0.01
    largest = max(box.width * box.height for box in found)
    assert cloth.area >= largest >= 0.75 * (diameter - 2 * rim) ** 2 / 2


def test_the_common_cuts_have_the_sizes_of_the_trade() -> None:
    """Common practice: fat quarter 18 x 20 usable, fat eighth 9 x 20, width of cloth 40, strip 2 1/2, in inches."""
    sizes = {name: (cut["width"] / IN, cut.get("height", 0.0) / IN) for name, cut in common_cuts().items()}
    assert sizes["fat-quarter"] == pytest.approx((20, 18))
    assert sizes["fat-eighth"] == pytest.approx((20, 9))
    assert sizes["yardage"] == pytest.approx((40, 0))
    assert sizes["strip-2-1-2in"] == pytest.approx((40, 2.5))
    assert sizes["fat-quarter-metric"] == pytest.approx((550 / IN, 500 / IN))


def test_a_scrap_may_be_stated_by_its_corners_wherever_they_lie() -> None:
    table = StockTable.model_validate(
        {"outline": [["1 in", "1 in"], ["6 in", "1 in"], ["1 in", "5 in"]], "rim": "2 mm"}
    )
    stock = table.stock("red")
    assert (stock.width, stock.height, stock.rim) == pytest.approx((5 * IN, 4 * IN, 2.0))
    assert all(box.left >= 2.0 and box.bottom >= 2.0 for box in rectangles(stock))


def test_a_blank_as_large_as_the_box_of_a_scrap_takes_the_scrap_as_it_is() -> None:
    """Nothing else comes from it; turned, it would lie with its side up."""
    corner = Stock("red", 6 * IN, 4 * IN, 2, outline=region(polygon([0j, 6 * IN + 0j, 4j * IN])))
    (whole, other) = plan([(6 * IN, 4 * IN), (2 * IN, 1 * IN)], corner)
    assert (whole.whole, other.whole) == (True, False)
    assert {whole.number, other.number} == {1, 2}
    assert told(whole, "inch", corner) == ("used as it is",)
    assert cuts([Blank(4 * IN, 6 * IN, True)], [(0, corner)]) is None
    assert cuts([Blank(6 * IN, 4 * IN, True)] * 3, [(0, corner)]) is None


@given(st.floats(0, 6), st.lists(st.tuples(st.floats(5, 90), st.floats(5, 70)), min_size=1, max_size=4))
def test_what_a_scrap_lacks_and_the_scrap_without_its_rim_make_up_its_box(
    rim: float, bites: list[tuple[float, float]]
) -> None:
    """A right triangle beside a rectangle, with a notch; the rim, all round, leaves a ring that is cut open."""
    notch, depth = bites[0]
    corners = [0j, 100 + 0j, 100 + 80j, complex(notch + 3, 80), complex(notch, 80 - depth), complex(notch - 3, 80), 80j]
    scrap = region(polygon(corners))
    gone = shapely.union_all([shapely.Polygon(each) for each in lacking(scrap, rim)])
    left = as_polygon(scrap).buffer(-rim, join_style="mitre")
    assert gone.area + left.area == pytest.approx(100 * 80, rel=1e-6)
    assert gone.intersection(left).area == pytest.approx(0, abs=1e-6)


@pytest.mark.parametrize(
    ("table", "said"),
    [
        ({"common": "fat-quater"}, 'Did you mean "fat-quarter"?'),
        ({}, "say what cloth there is"),
        ({"width": "4"}, "no unit"),
    ],
)
def test_a_stock_that_says_too_little_is_an_error_that_helps(table: dict[str, str], said: str) -> None:
    with pytest.raises(ValidationError, match=said.replace("?", r"\?")):
        StockTable.model_validate(table)


def test_pieces_of_stock_are_told_apart() -> None:
    stock = (
        Stock("sand", 127.0, 127.0, 1, "scrap"),
        Stock("sand", 254.0, 127.0, 1, "scrap"),
        Stock("sea", 508.0, 457.2, 4, "fat quarter"),
        Stock("plum", 1016.0),
    )
    words = [stock_name(stock, n, 3 if n == 2 else 1) for n in range(4)]
    assert words == ["scrap (5 in x 5 in)", "scrap (10 in x 5 in)", "fat quarter 3", "cloth (40 in wide)"]
