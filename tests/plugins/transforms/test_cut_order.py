"""The step `cut-order` as a recipe runs it."""

from __future__ import annotations

from clothpath.contracts import Settings
from clothpath.curves import polygon
from clothpath.cutplan import Blade, Cut, CutPlan, MatCuts, PieceRef
from clothpath.layout import Layout, Mat
from clothpath.plugins.transforms.cut_order import CutOrder, clothpath_transforms


def test_it_is_a_path_step_that_orders() -> None:
    outer, hole = polygon([0, 50, 50 + 50j, 50j]), polygon([10, 20, 20 + 10j, 10 + 10j])
    ref = PieceRef(0, "sand", "shell", "shell", 1, "shell")
    plan = CutPlan(
        Layout((), (), Mat("mat-8x12", 203.2, 304.8)),
        (MatCuts((Cut(ref, 0, "cut", outer, outer), Cut(ref, 1, "cut", hole, hole))),),
    )
    outcome = CutOrder().apply(plan, Settings(), Blade())
    assert [cut.ring for cut in outcome.value.mats[0].cuts] == [1, 0]
    assert outcome.findings == ()


def test_an_empty_mat_stays_empty() -> None:
    plan = CutPlan(Layout((), (), Mat("mat-8x12", 203.2, 304.8)), (MatCuts(()),))
    assert CutOrder().apply(plan, Settings(), Blade()).value == plan


def test_it_is_offered() -> None:
    assert [step.name for step in clothpath_transforms()] == ["cut-order"]
