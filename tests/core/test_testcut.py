"""The test cut: small, with sharp places, a bend and a hole; a plan like any other."""

from __future__ import annotations

import numpy as np
import pytest

from clothpath.curves import Box, area, flattened
from clothpath.cutplan import Blade, sheets
from clothpath.layout import Mat
from clothpath.likeness import is_achiral
from clothpath.regions import as_polygon, region
from clothpath.testcut import FREE_MM, SIZE_MM, figure, plan_of

MAT = Mat("mat-12x12", 304.8, 304.8)
CORNER = Box(304.8 - FREE_MM, 0, 304.8, FREE_MM)


def test_it_is_about_half_an_inch_wide_and_has_a_hole_inside() -> None:
    shell, pearl = figure()
    assert pytest.approx(shell.box.width) == SIZE_MM
    assert 8 < shell.box.height < 14
    assert area(shell) > 0 > area(pearl)
    assert as_polygon(region(shell, [pearl])).is_valid


def test_it_has_sharp_corners() -> None:
    points = flattened(figure()[0])
    steps = np.diff(np.append(points, points[:2]))
    turns = np.degrees(np.abs(np.angle(steps[1:] / steps[:-1])))
    assert (turns > 60).sum() >= 5


def test_it_lies_the_same_either_way_up() -> None:
    assert is_achiral(region(*[figure()[0]], holes=[figure()[1]]), "any")


@pytest.mark.parametrize("laid", ["right-side-up", "wrong-side-up"])
def test_it_is_cut_in_the_free_corner(laid: str) -> None:
    plan = plan_of(MAT, CORNER, Blade(), laid)  # type: ignore[arg-type]
    (sheet,) = sheets(plan, "mat")
    assert len(sheet.cuts) == 2
    for cut in sheet.cuts:
        box = cut.outline.box
        assert CORNER.left < box.left < box.right < CORNER.right
        assert CORNER.bottom < box.bottom < box.top < CORNER.top


def test_a_corner_too_small_is_refused() -> None:
    with pytest.raises(ValueError, match="does not fit"):
        plan_of(MAT, Box(0, 0, 10, 10), Blade())
