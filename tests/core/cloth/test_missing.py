"""What is said where the cloth that is there does not suffice: how much is needed, and how much is missing."""

from __future__ import annotations

from clothpath.cloth.amounts import wanting_words
from clothpath.cloth.stock import Blank, missing
from clothpath.layout import Stock

IN = 25.4


def test_what_is_missing_is_told_in_rectangles_and_in_yards() -> None:
    """Arithmetic: a fat quarter of 18 x 20 in holds six of 6 x 9 in, so of nine three are missing: 9 in, 1/4 yd."""
    nine = [Blank(6 * IN, 9 * IN, False)] * 9
    lacking = missing(nine, [(0, Stock("red", 18 * IN, 20 * IN, 1, "fat quarter"))])
    assert len(lacking) == 3
    assert wanting_words(nine) == "9 of 6 in x 9 in (1/2 yd or 50 cm off a bolt 40 in wide)"
    assert wanting_words(lacking) == "3 of 6 in x 9 in (1/4 yd or 30 cm off a bolt 40 in wide)"


def test_a_smaller_rectangle_may_still_come_out_of_what_the_larger_ones_leave() -> None:
    stock = [(0, Stock("red", 10 * IN, 10 * IN))]
    blanks = [Blank(9 * IN, 9 * IN, False), Blank(1 * IN, 8 * IN, False), Blank(8 * IN, 8 * IN, False)]
    assert missing(blanks, stock) == [Blank(8 * IN, 8 * IN, False)]
