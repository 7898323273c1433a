"""The test cut: small, with sharp places, a bend and a hole; a plan like any other."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from clothpath.curves import Box, area, flattened, polygon
from clothpath.cutplan import Cut, CutPlan, MatCuts, PieceRef, sheets
from clothpath.cutting.cutorder import in_order
from clothpath.cutting.testcut import FREE_MM, SIZE_MM, TEST_CUT, figure, free_corner, with_test_cuts, without_test_cuts
from clothpath.cutting.tried import Tried
from clothpath.design import Fabric
from clothpath.layout import Layout, Margins, Mat, MatLayout, Swatch
from clothpath.picture.likeness import is_achiral
from clothpath.regions import as_polygon, region

MAT = Mat("mat-12x12", 304.8, 304.8, Margins(6.35, 6.35, 6.35, 6.35))


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


def plan(*swatches: Swatch, times: int = 1) -> CutPlan:
    layout = Layout((), (), MAT, (MatLayout(swatches, times), MatLayout(())))
    return CutPlan(layout, (MatCuts(()), MatCuts(())))


def cloth(x: float, y: float, width: float, height: float) -> Swatch:
    return Swatch("sand", "right-side-up", x, y, width, height)


def test_it_is_cut_hole_first_in_a_corner_of_the_usable_area() -> None:
    made, crowded = with_test_cuts(plan())
    assert crowded == ()
    for sheet in sheets(made, "mat"):
        assert [cut.ring for cut in sheet.cuts] == [1, 0]
        for cut in sheet.cuts:
            box = cut.outline.box
            assert MAT.usable.right - FREE_MM < box.left < box.right < MAT.usable.right
            assert MAT.usable.bottom < box.bottom < box.top < MAT.usable.bottom + FREE_MM


def test_it_keeps_off_the_cloth() -> None:
    wide = cloth(6.35, 6.35, 292.1, 100)
    assert free_corner(plan(wide).layout, 0, None) == Box(
        MAT.usable.right - FREE_MM, MAT.usable.top - FREE_MM, MAT.usable.right, MAT.usable.top
    )
    assert free_corner(plan(wide).layout, 0, "lower-left") is None
    _, crowded = with_test_cuts(plan(cloth(6.35, 6.35, 292.1, 292.1)))
    assert crowded == (1,)


def test_a_corner_kept_free_is_used_only_if_it_is_named() -> None:
    usable = MAT.usable
    kept = Box(usable.right - 25.4, usable.bottom, usable.right, usable.bottom + 25.4)
    layout = replace(plan().layout, mat=replace(MAT, keep_out=(kept,)))
    named = free_corner(layout, 0, "lower-right")
    assert named is not None
    assert (named.left, named.bottom) == (usable.right - FREE_MM, usable.bottom)
    other = free_corner(layout, 0, None)
    assert other is not None
    assert other.bottom > 200


def test_copies_are_counted_over_all_mats() -> None:
    made, _ = with_test_cuts(plan(times=3))
    assert [mat.swatches[-1].placements[0].copy for mat in made.layout.mats] == [1, 4]
    assert made.layout.demands[-1].count * made.layout.demands[-1].design.pieces[0].copies == 4


def test_the_order_keeps_it_first() -> None:
    square = polygon([10, 50, 50 + 40j, 10 + 40j])
    of = plan(cloth(6.35, 6.35, 60, 60))
    of = replace(of, layout=replace(of.layout, fabrics=(Fabric("sand", "Sand"),)))
    cut = Cut(PieceRef(0, "sand", "crab", "shell", 1, "shell"), 0, "cut", square, square)
    made, _ = with_test_cuts(replace(of, mats=(MatCuts((cut,)), MatCuts(()))))
    assert [each.ref.design for each in in_order(made).mats[0].cuts] == [TEST_CUT, TEST_CUT, "crab"]


def test_it_is_cut_from_the_cloth_of_which_most_is_cut_as_that_lies_and_with_what_was_found_for_it() -> None:
    """Two mats: mostly coral on the one, foam alone on the other."""
    coral = Fabric("coral", "Coral", "#c8553d", laid="wrong-side-up", paper="keep")
    foam = Fabric("foam", "Foam", "#eeeedd", "bare", laid="right-side-up")
    small, large = polygon([10, 20, 20 + 10j]), polygon([50, 90, 90 + 40j, 50 + 40j])
    cuts = [
        Cut(PieceRef(swatch, fabric, "crab", fabric, 1, ""), 0, "cut", path, path)
        for swatch, fabric, path in ((0, "foam", small), (1, "coral", large), (0, "foam", large))
    ]
    bare = Swatch("foam", "right-side-up", 6.35, 6.35, 40, 40)
    fused = Swatch("coral", "wrong-side-up", 48, 6.35, 60, 60)
    layout = Layout((), (coral, foam), MAT, (MatLayout((bare, fused)), MatLayout((bare,))))
    found = Tried("cotton with web", "fused", force=80.0, passes=2)
    two = CutPlan(layout, (MatCuts(tuple(cuts[:2])), MatCuts(tuple(cuts[2:]))), tried=(("coral", found),))
    made, _ = with_test_cuts(two)
    first, second = (sheet for sheet in sheets(made, "fabric") if sheet.cuts[0].ref.design == TEST_CUT)
    assert [(cut.ring, cut.passes) for cut in first.cuts] == [(1, 2), (0, 2)]
    assert [(cut.ring, cut.passes) for cut in second.cuts] == [(1, 1), (0, 1)]
    assert [dict(sheet.laid)[sheet.fabrics[0].key] for sheet in (first, second)] == ["wrong-side-up", "right-side-up"]
    assert made.tried_on(first.fabrics[0].key) == found
    assert made.tried_on(second.fabrics[0].key) == Tried()
    assert first.fabrics[0].label == "Test cut on Coral"
    assert first.fabrics[0].cloth_key == "coral"


def test_without_test_cuts_is_the_layout_as_it_was() -> None:
    of = plan()
    made, _ = with_test_cuts(of)
    assert made.layout != of.layout
    assert without_test_cuts(made.layout) == of.layout
