"""Stock as people say it: sizes of the trade (common practice), mistakes told so that a person can mend them."""

from __future__ import annotations

import pytest

from clothpath.cloth.stockwords import StockWordsError, stock_for, stock_in_words
from clothpath.design import Fabric
from clothpath.findings import Refusal

IN = 25.4
CORAL, KELP, KELP_DARK = Fabric("coral", "Coral print"), Fabric("kelp", "Kelp"), Fabric("kelp-dark", "Dark kelp")


@pytest.mark.parametrize(
    ("said", "count", "width", "height"),
    [
        ("fat quarter", 1, 20, 18),
        ("Fat-Quarters", 1, 20, 18),
        ("2 fat quarters", 2, 20, 18),
        ("3 of fat eighth", 3, 20, 9),
        ("9x12 in", 1, 9, 12),
        ("9 x 12 in", 1, 9, 12),
        ('9" x 12 1/2"', 1, 9, 12.5),
        ("4 9 in x 12 in", 4, 9, 12),
        ("254 x 508 mm", 1, 10, 20),
        ("yardage", 1, 40, None),
        ("yardage 44 in", 1, 44, None),
        ("44 in wide", 1, 44, None),
        ("1/2 yd", 1, 40, 18),
        ("½ yd of cloth", 1, 40, 18),
        ("1 1/2 yd 44 in wide", 1, 44, 54),
        ("2 1/2 in strip", 1, 40, 2.5),
        ("10 2 1/2 in strips", 10, 40, 2.5),
        ("3 10 in squares", 3, 10, 10),
    ],
)
def test_cloth_is_named_as_in_a_shop(said: str, count: int, width: float, height: float | None) -> None:
    (stock,) = stock_in_words("coral", said)
    assert (stock.fabric, stock.count) == ("coral", count)
    assert stock.width == pytest.approx(width * IN)
    assert (stock.height is None) == (height is None)
    assert height is None or stock.height == pytest.approx(height * IN)


def test_pinked_edges_lose_an_eighth_of_an_inch() -> None:
    """From memory."""
    assert stock_in_words("red", "5 x 5 in pinked")[0].rim == pytest.approx(IN / 8)
    assert stock_in_words("red", "5 x 5 in")[0].rim == 0
    assert stock_in_words("red", "5 in square")[0].rim == pytest.approx(IN / 8)


def test_several_cloths_stand_between_commas() -> None:
    assert [(s.count, round(s.width / IN)) for s in stock_in_words("red", "2 fat quarters, 9 x 12 in")] == [
        (2, 20),
        (1, 9),
    ]


@pytest.mark.parametrize(
    ("said", "helps"),
    [
        ("fat qarter", 'Did you mean "fat quarter"?'),
        ("9 x 12", '"2 of 9 x 12 in"'),
        ("", "fat quarter"),
        ("-3 in", "yardage 44 in"),
        ("0 fat quarters", 'Did you mean "fat quarter"?'),
        ("9 x -12 in", "9 x 12 in"),
    ],
)
def test_what_is_no_cloth_is_told_with_what_would_be(said: str, helps: str) -> None:
    with pytest.raises(StockWordsError, match=helps.replace("?", r"\?")):
        stock_in_words("coral", said)


def test_a_fabric_may_be_called_by_its_label() -> None:
    said = stock_in_words("coral print", "fat quarter") + stock_in_words("Kelp", "9 x 12 in")
    assert [each.fabric for each in stock_for(said, (CORAL, KELP, KELP_DARK)).value] == ["coral", "kelp"]


def test_a_name_for_several_fabrics_or_for_none_is_told() -> None:
    with pytest.raises(Refusal, match='may mean "kelp-light" and "kelp-dark"'):
        stock_for(stock_in_words("kel", "yardage"), (Fabric("kelp-light", "Light"), KELP_DARK))
    known = stock_for(stock_in_words("corl", "yardage"), (CORAL, KELP))
    assert known.value == ()
    assert [(each.code, each.hint) for each in known.findings] == [("unknown-fabric", 'Did you mean "coral"?')]
