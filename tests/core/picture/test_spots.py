"""Places and pairs as findings say them."""

from __future__ import annotations

from clothpath.curves import polygon
from clothpath.design import Design, Piece
from clothpath.picture.spots import corner_of, pairs_told, spots_on
from clothpath.regions import region


def square(name: str, left: float, order: int) -> Piece:
    corners = [left, left + 10, left + 10 + 10j, left + 10j]
    return Piece(name, name.capitalize(), region(polygon(corners)), "cloth", order=order)


DESIGN = Design("three", (square("a", -5, 1), square("b", 20, 2), square("c", 40, 3)))


def test_spots_are_told_from_the_lower_left_corner_of_the_finished_picture_lowest_first() -> None:
    corner = corner_of(DESIGN)
    assert corner == -5
    low, high = "1/4 in (6 mm) from the left and 1/16 in (2 mm)", "5/16 in (8 mm) from the left and 5/16 in (8 mm)"
    assert spots_on("a", [3 + 8j, 1 + 2j], corner, 2) == (
        f"a at {low} from the bottom, at {high} from the bottom of the picture"
    )
    assert spots_on("a", [3 + 8j, 1 + 2j], corner, 1) == f"a at {low} from the bottom of the picture and 1 more"


def test_each_pair_is_told_once_and_the_rest_is_counted() -> None:
    pairs = [("a", "b"), ("b", "c"), ("a", "b"), ("a", "c")]
    assert pairs_told(DESIGN, pairs, 6) == '"A" and "B"; "B" and "C"; "A" and "C"'
    assert pairs_told(DESIGN, pairs, 1) == '"A" and "B"; and 2 more pairs'
