"""One cloth that two designs treat in different ways: it is cut from one stock, and one setting is found for both."""

from __future__ import annotations

import pytest

from clothpath.curves import polygon
from clothpath.cutting.tried import Tried, settled
from clothpath.design import Design, Fabric, Piece
from clothpath.findings import Refusal
from clothpath.layout import Demand, Layout, Mat, Stock
from clothpath.pipeline import laid_out
from clothpath.plugins.transforms.nest import Nest, NestSettings
from clothpath.proving.layoutcheck import Clearances, faults
from clothpath.recipe import Step
from clothpath.regions import region

IN = 25.4
FUSED, BARE = Fabric("coral", "Coral", laid="wrong-side-up"), Fabric("coral", "Coral", preparation="bare")
NEST = (Step("nest", Nest(), NestSettings()),)


def square(name: str, side: float, fabric: Fabric) -> Demand:
    """A design of one square, so many inches wide."""
    s = side * IN
    piece = Piece("p", "p", region(polygon([0j, complex(s), complex(s, s), complex(0, s)])), "coral")
    return Demand(Design(name, (piece,), (), (fabric,)))


def laid(first: float, second: float, *stock: Stock) -> Layout:
    demands = [square("fish", first, FUSED), square("crab", second, BARE)]
    return laid_out(demands, Mat("mat", 12 * IN, 12 * IN), stock, NEST).value


def test_both_treatments_come_out_of_the_stock_that_is_stated_for_the_cloth() -> None:
    """Squares of 4 and 3 in with 1/8 in all round are 4 1/4 and 3 1/4 in: side by side on a piece of 8 x 5 in."""
    made = laid(4, 3, Stock("coral", 8 * IN, 5 * IN, 1, "scrap"))
    assert [fabric.key for fabric in made.fabrics] == ["coral", "coral-2"]
    assert [(cut.stock, cut.number) for cut in made.cut_from] == [(0, 1), (0, 1)]
    assert faults(made, Clearances()) == ()
    first, second = (cut.box for cut in made.cut_from)
    assert first.right <= second.left + 1e-6 or second.right <= first.left + 1e-6


def test_what_one_treatment_takes_is_not_there_for_the_other() -> None:
    with pytest.raises(Refusal) as caught:
        laid(4, 3, Stock("coral", 6 * IN, 5 * IN, 1, "scrap"))
    assert {finding.code for finding in caught.value.findings} <= {"stock-short", "piece-larger-than-stock"}


def test_what_was_tried_on_the_cloth_holds_for_both_unless_one_is_named_more_closely() -> None:
    fabrics = laid(4, 3).fabrics
    by_name = Tried("coral print", fabrics=("coral",))
    assert settled([by_name], fabrics) == (("coral", by_name), ("coral-2", by_name))
    closer = Tried("coral, bare", fabrics=("coral-2",))
    assert settled([by_name, closer], fabrics) == (("coral", by_name), ("coral-2", closer))
    bare = Tried("coral, bare", "bare", ("coral",))
    assert settled([bare], fabrics) == (("coral-2", bare),)
