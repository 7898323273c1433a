"""The step `test-cut`: first on every mat with a free corner, and said where there is none."""

from __future__ import annotations

from clothpath.cutplan import Blade, CutPlan, MatCuts
from clothpath.cutting.testcut import TEST_CUT
from clothpath.layout import Layout, Mat, MatLayout, Swatch
from clothpath.plugins.transforms.test_cut import TestCut as Step
from clothpath.plugins.transforms.test_cut import TestCutSettings as StepSettings
from clothpath.plugins.transforms.test_cut import clothpath_transforms


def plan(*swatches: Swatch) -> CutPlan:
    layout = Layout((), (), Mat("mat-12x12", 304.8, 304.8), (MatLayout(swatches),))
    return CutPlan(layout, (MatCuts(()),))


def test_it_adds_the_figure() -> None:
    outcome = Step().apply(plan(), StepSettings(), Blade())
    assert {cut.ref.fabric for cut in outcome.value.mats[0].cuts} == {TEST_CUT}
    assert outcome.findings == ()


def test_a_full_mat_is_left_as_it_is_and_said() -> None:
    full = plan(Swatch("sand", "right-side-up", 0, 0, 304.8, 304.8))
    outcome = Step().apply(full, StepSettings(), Blade())
    assert outcome.value == full
    (finding,) = outcome.findings
    assert finding.severity == "warning"
    assert "mat 1" in finding.message
    assert "nest.test-cut" in finding.hint


def test_a_named_corner_that_is_taken_is_said() -> None:
    taken = plan(Swatch("sand", "right-side-up", 0, 0, 50, 50))
    outcome = Step().apply(taken, StepSettings(corner="lower-left"), Blade())
    assert "the lower-left corner is not free" in outcome.findings[0].message


def test_it_is_offered() -> None:
    assert [step.name for step in clothpath_transforms()] == ["test-cut"]
