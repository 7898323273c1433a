"""How much cloth to buy: arithmetic of strips, yards and meters on a layout that anyone can draw."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from clothpath.cloth.amounts import ClothUse, Taking, cloth_uses, running, takings, web_uses
from clothpath.cloth.record import cloth_record, takings_of
from clothpath.cloth.stocktable import StockTable
from clothpath.curves import Box, polygon
from clothpath.design import Design, Fabric, Piece
from clothpath.layout import CutFrom, Demand, Layout, Mat, MatLayout, Placement, Stock, Swatch
from clothpath.regions import region

IN = 25.4


def layout(fabric: Fabric, *stock: Stock, times: int = 1, size: float = 5.0) -> Layout:
    """One square piece an inch smaller than its square swatch."""
    side = (size - 1) * IN
    piece = Piece("p", "p", region(polygon([0j, complex(side), complex(side, side), complex(0, side)])), fabric.key)
    lying = Placement("d", "p", 1, False, 0.0, complex(IN / 2, IN / 2))
    swatch = Swatch(fabric.key, "right-side-up", 0.0, 0.0, size * IN, size * IN, 0.0, (lying,))
    demand = Demand(Design("d", (piece,), (), (fabric,)), times)
    return Layout((demand,), (fabric,), Mat("m", 300, 300), (MatLayout((swatch,), times),), stock)


def uses(of: Layout, kits: int = 1, surplus: float = 0.0) -> tuple[ClothUse, ...]:
    return cloth_uses(takings(of), of.stock, kits, surplus)


@pytest.mark.parametrize(
    ("inches", "yards"),
    [(4.5, "1/8 yd"), (4.6, "1/4 yd"), (13.5, "3/8 yd"), (22.5, "5/8 yd"), (36.0, "1 yd"), (40.0, "1 1/8 yd")],
)
def test_yards_are_bought_up_to_the_next_eighth(inches: float, yards: str) -> None:
    """Arithmetic: 1/8 yd is 4 1/2 in, 3/8 yd 13 1/2, 5/8 yd 22 1/2."""
    assert running(inches * IN, 1016.0, 0.0).yards == yards


@pytest.mark.parametrize(("mm", "meters"), [(100.0, "10 cm"), (101.0, "20 cm"), (950.0, "1.0 m"), (1201.0, "1.3 m")])
def test_meters_are_bought_up_to_the_next_ten_centimeters(mm: float, meters: str) -> None:
    assert running(mm, 1016.0, 0.0).meters == meters


def test_the_surplus_comes_before_the_rounding() -> None:
    """4 1/2 in with 5 % on top is 4.725 in: more than 1/8 yd."""
    assert running(4.5 * IN, 1016.0, 0.05).buy_yards == Fraction(1, 4)


def test_kits_share_strips() -> None:
    """Common practice: a 40 in strip gives 8 at 5 in, so 16 kits take two strips, 10 in, and 17 take three."""
    fabric = Fabric("red", "Red")
    for kits, inches in ((1, 5), (8, 5), (16, 10), (17, 15)):
        (use,) = uses(layout(fabric), kits)
        assert use.cloth is not None
        assert use.cloth.cut_mm == pytest.approx(inches * IN)
        assert [(r.count, r.width / IN) for r in use.parts[0].rectangles] == [(kits, pytest.approx(5.0))]
        assert use.area_mm2 == pytest.approx(kits * 25 * IN**2)
        assert use.left_mm2 == pytest.approx(kits * 9 * IN**2)
    assert use.steps("inch") == (
        "2 strips 5 in by width of cloth, each cut into 8 at 5 in",
        "1 strip 5 in by width of cloth, cut into 1 at 5 in",
    )


def test_a_mat_that_is_cut_several_times_counts_as_often() -> None:
    (use,) = uses(layout(Fabric("red", "Red"), times=3), kits=2)
    assert use.parts[0].rectangles[0].count == 6
    assert use.pieces_mm2 == pytest.approx(6 * 16 * IN**2)


def test_fused_cloth_takes_web_and_bare_cloth_takes_none() -> None:
    """From memory: web is 17 in wide, so three 5 in squares go side by side, and 12 take 20 in."""
    narrow, wide = web_uses(takings(layout(Fabric("red", "Red"))), 12, surplus=0.0)
    assert (narrow.width_mm / IN, wide.width_mm / IN) == pytest.approx((17, 20))
    assert narrow.cut_mm == pytest.approx(20 * IN)
    assert wide.cut_mm == pytest.approx(15 * IN)
    assert (narrow.yards, wide.yards) == ("5/8 yd", "1/2 yd")
    assert web_uses(takings(layout(Fabric("red", "Red", preparation="bare"))), 12) == ()


def test_web_for_all_fabrics_is_bought_together() -> None:
    """Arithmetic: 5 in squares of three fabrics lie side by side on 17 in: 5 in of web, 1/4 yd, not three times."""
    taken = [Taking(Fabric(key, key), ((5 * IN, 5 * IN),), 0.0) for key in ("red", "blue", "green")]
    assert web_uses(taken, 1, 0.0)[0].cut_mm == pytest.approx(5 * IN)
    assert web_uses(taken, 1, 0.0)[0].yards == "1/4 yd"


def test_a_rectangle_wider_than_the_web_is_pieced() -> None:
    (narrow, wide) = web_uses(takings(layout(Fabric("red", "Red"), size=18.0)), surplus=0.0)
    assert narrow.cut_mm == pytest.approx(2 * 18 * IN)
    assert wide.cut_mm == pytest.approx(18 * IN)


def test_one_cloth_in_two_treatments_is_cut_and_bought_together() -> None:
    """Arithmetic: four 5 in squares with web and four without are one 5 in strip of 40 in."""
    fused, bare = Fabric("red", "Red"), Fabric("red-2", "Red", preparation="bare", cloth="red")
    square = (5 * IN, 5 * IN)
    (use,) = cloth_uses([Taking(fused, (square,) * 4, 0.0), Taking(bare, (square,) * 4, 0.0)], (), 1, 0.0)
    assert [part.fabric.key for part in use.parts] == ["red", "red-2"]
    assert use.steps("inch") == ("1 strip 5 in by width of cloth, cut into 8 at 5 in",)
    assert use.cloth is not None
    assert use.cloth.yards == "1/4 yd"
    assert use.begun_mm2 == pytest.approx(200 * IN**2)
    assert use.area_mm2 == pytest.approx(200 * IN**2)


def test_what_a_job_keeps_of_its_cloth_is_read_back_alike() -> None:
    fabric = Fabric("red-2", "Red", "#aa0000", "bare", grain="straight", cloth="red")
    made = layout(fabric, times=3)
    (before,), (after,) = takings(made), takings_of(cloth_record(made))
    assert after.fabric == fabric
    assert after.sizes == before.sizes == ((5 * IN, 5 * IN),) * 3
    assert after.pieces_mm2 == pytest.approx(before.pieces_mm2, abs=1e-3)


def test_stock_that_suffices_is_cut_up_and_nothing_is_bought() -> None:
    quarter = Stock("red", 20 * IN, 18 * IN, 1, "fat quarter")
    (use,) = uses(layout(Fabric("red", "Red"), quarter), 12)
    assert (use.supply, use.cloth) == ("stock", None)
    assert use.begun_mm2 == pytest.approx(20 * 18 * IN**2)
    assert use.steps("inch") == ("3 strips 5 in by width of cloth, each cut into 4 at 5 in",)


def test_stock_that_does_not_suffice_for_all_kits_is_said() -> None:
    quarter = Stock("red", 20 * IN, 18 * IN, 1, "fat quarter")
    (use,) = uses(layout(Fabric("red", "Red"), quarter), 13)
    assert use.supply == "short"
    assert use.cloth is not None
    assert use.cloth.cut_mm == pytest.approx(10 * IN)


def test_yardage_that_is_stated_is_bought_off_the_bolt() -> None:
    """What is stated by the running yard alone is a width to buy, not cloth that lies there."""
    bolt, small = Stock("red", 44 * IN), Stock("red", 5 * IN, 5 * IN, 1, "charm square")
    (use,) = uses(layout(Fabric("red", "Red"), bolt), 1)
    assert use.supply == "bolt"
    assert use.cloth is not None
    assert use.cloth.width_mm == pytest.approx(44 * IN)
    assert uses(layout(Fabric("red", "Red"), small, bolt), 2)[0].supply == "both"
    assert uses(layout(Fabric("red", "Red")), 1)[0].supply == "bolt"


def test_a_scrap_used_whole_is_no_rectangle_to_cut() -> None:
    """A triangle of 4 x 3 in has 6 in² (arithmetic), and nobody cuts a rectangle of 4 x 3 in from it."""
    corner = StockTable(outline=(("0 in", "0 in"), ("4 in", "0 in"), ("0 in", "3 in")), label="red corner").stock("red")
    square = StockTable(width="5 in", height="5 in", label="charm square").stock("red")
    whole, other = (4 * IN, 3 * IN), (5 * IN, 2 * IN)
    red = Taking(Fabric("red", "Red", grain="directional"), (other, whole), 0.0)
    (use,) = cloth_uses([red], (corner, square), 1)
    (part,) = use.parts
    assert part.wholes == ("red corner",)
    assert [(one.width, one.count) for one in part.rectangles] == [(pytest.approx(5 * IN), 1)]
    assert part.area_mm2 == pytest.approx((10 + 6) * IN**2)
    assert use.begun_mm2 == pytest.approx((6 + 25) * IN**2)
    assert use.steps("inch")[0] == "red corner: used as it is"


def test_a_scrap_that_the_layout_uses_whole_is_used_whole_in_the_report() -> None:
    """Although a rectangle as large as its box would come out of the fat quarter that is begun anyway."""
    outline = region(polygon([0j, 4 * IN + 0j, 3j * IN]))
    corner = Stock("red", 4 * IN, 3 * IN, 1, "red corner", outline=outline)
    made = layout(Fabric("red", "Red"), Stock("red", 20 * IN, 18 * IN, 1, "fat quarter"), corner)
    (mat,) = made.mats
    whole = replace(mat.swatches[0], width=4 * IN, height=3 * IN, placements=())
    where = (
        CutFrom(0, 0, 0, 0, 1, Box(0, 0, 5 * IN, 5 * IN)),
        CutFrom(0, 1, 0, 1, 1, Box(0, 0, 4 * IN, 3 * IN)),
    )
    of = replace(made, mats=(replace(mat, swatches=(*mat.swatches, whole)),), cut_from=where)
    (use,) = uses(of)
    assert use.parts[0].wholes == ("red corner",)
    assert [(one.width / IN, one.count) for one in use.parts[0].rectangles] == [(pytest.approx(5), 1)]
    assert uses(replace(of, cut_from=()))[0].parts[0].wholes == ()


def test_a_rectangle_from_a_scrap_is_no_strip() -> None:
    outline = (("0 in", "0 in"), ("6 in", "0 in"), ("6 in", "5 in"), ("0 in", "9 in"))
    bit = StockTable(outline=outline, label="red bit").stock("red")
    (use,) = cloth_uses([Taking(Fabric("red", "Red"), ((3 * IN, 4 * IN),) * 2, 0.0)], (bit,), 1)
    assert use.steps("inch") == ("red bit: cut out 2 of 4 in x 3 in",)


@pytest.mark.parametrize(("kits", "surplus"), [(0, 0.0), (1, -0.1)])
def test_no_kits_and_a_negative_surplus_are_refused(kits: int, surplus: float) -> None:
    with pytest.raises(ValueError, match="at least 1"):
        uses(layout(Fabric("red", "Red")), kits, surplus)
