"""The checker against packings made by hand, each wrong in one way."""

import numpy as np
import pytest
from nesting_shapes import box, ellipse

from clothpath.nesting import Packing, Part, Spot, faults

SQUARE = Part("square", box(10, 10), (), (0.0, 90.0), 2)


def packing(*spots: tuple[float, float, float], width: float = 40, height: float = 20) -> Packing:
    return Packing(width, height, tuple(Spot("square", n, turn, x, y) for n, (turn, x, y) in enumerate(spots)))


def kinds(found: Packing, spacing: float = 0.0, margin: float = 0.0) -> list[str]:
    return [fault.kind for fault in faults([SQUARE], found, spacing, margin)]


@pytest.mark.parametrize(
    ("spots", "spacing", "margin", "expected"),
    [
        (((0, 0, 0), (0, 10, 0)), 0, 0, []),
        (((0, 0, 0), (90, 20, 0)), 0, 0, []),
        (((0, 0, 0), (450, 20, 0)), 0, 0, []),
        (((0, 0, 0), (0, 13, 0)), 3, 0, []),
        (((0, 0, 0), (0, 12.995, 0)), 3, 0, []),
        (((0, 0, 0), (0, 12.98, 0)), 3, 0, ["too close"]),
        (((0, 0, 0), (0, 9.98, 0)), 0, 0, ["too close"]),
        (((0, 0, 0), (0, 9.995, 0)), 0, 0, []),
        (((0, 0, 0), (0, 0, 0)), 0, 0, ["too close"]),
        (((0, -0.02, 0), (0, 20, 0)), 0, 0, ["outside"]),
        (((0, 0, 0), (0, 30.02, 0)), 0, 0, ["outside"]),
        (((0, 0, 10.02), (0, 20, 0)), 0, 0, ["outside"]),
        (((0, 5, 5), (0, 25, 5)), 0, 5, []),
        (((0, 5, 4.98), (0, 25, 5)), 0, 5, ["outside"]),
        (((0, 0, 0), (45, 25, 0)), 0, 0, ["turn"]),
        (((0, 0, 0),), 0, 0, ["count"]),
        (((0, 0, 0), (0, 10, 0), (0, 20, 0)), 0, 0, ["count"]),
    ],
)
def test_each_kind_of_fault(
    spots: tuple[tuple[float, float, float], ...], spacing: float, margin: float, expected: list[str]
) -> None:
    assert kinds(packing(*spots), spacing, margin) == expected


def test_a_copy_inside_another_is_too_close() -> None:
    parts = [Part("large", box(30, 30)), Part("small", box(2, 2))]
    found = Packing(30, 30, (Spot("large", 0, 0, 0, 0), Spot("small", 0, 0, 14, 14)))
    assert [fault.kind for fault in faults(parts, found, 0, 0)] == ["too close"]


def test_a_copy_in_a_hole_is_clear_when_it_keeps_the_spacing() -> None:
    ring = Part("ring", ellipse(20, 20), (ellipse(15, 15)[::-1],))
    parts = [ring, Part("dot", ellipse(10, 10))]
    found = Packing(40, 40, (Spot("ring", 0, 0, 20, 20), Spot("dot", 0, 0, 20, 20)))
    assert faults(parts, found, 4.9, 0) == ()
    assert [fault.kind for fault in faults(parts, found, 5.1, 0)] == ["too close"]


def test_a_copy_named_twice_is_a_fault() -> None:
    spots = (Spot("square", 0, 0, 0, 0), Spot("square", 0, 0, 10, 0))
    assert kinds(Packing(40, 20, spots)) == ["count"]


def test_copies_left_out_are_counted() -> None:
    found = Packing(40, 20, (Spot("square", 0, 0, 0, 0),), (("square", 1),))
    assert kinds(found) == []


def test_an_unknown_part_is_a_fault() -> None:
    found = Packing(40, 20, (Spot("circle", 0, 0, 0, 0),))
    assert kinds(found) == ["unknown"]


def test_a_place_that_is_no_number_is_a_fault() -> None:
    assert "outside" in kinds(packing((0, float("nan"), 0), (0, 10, 0)))


def test_blocked_areas_keep_the_margin() -> None:
    corner = np.array([(30, 0), (40, 0), (40, 10), (30, 10)], dtype=float)
    found = packing((0, 5, 5), (0, 17, 5), width=45, height=25)
    assert faults([SQUARE], found, 0, 3, [corner]) == ()
    assert [f.kind for f in faults([SQUARE], found, 0, 3.1, [corner])] == ["blocked"]
