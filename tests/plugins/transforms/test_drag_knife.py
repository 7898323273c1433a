"""The step `drag-knife`: who does what for the blade, and that the written file cuts what was meant."""

from __future__ import annotations

import pytest
from pydantic import ValidationError

from clothpath.contracts import Declared
from clothpath.curves import OpenPath, Outline, length, open_path, polygon
from clothpath.cutplan import Blade, Cut, CutPlan, MatCuts, PieceRef, as_laid, sheets
from clothpath.cutting.blade import followed
from clothpath.cutting.tips import allowed
from clothpath.cutting.tried import Tried
from clothpath.design import Design, Fabric, Piece
from clothpath.files.linework import blade_of
from clothpath.layout import Demand, Layout, Mat, MatLayout, Placement, Swatch
from clothpath.plugins.transforms.drag_knife import DragKnife, DragKnifeSettings, clothpath_transforms
from clothpath.regions import region

SQUARE = polygon([20, 60, 60 + 40j, 20 + 40j])
VEIN = open_path(30 + 10j, [(50 + 30j,)])
FILE = Blade(0.5, 0.8, "file")


def plan(blade: Blade) -> CutPlan:
    ref = PieceRef(0, "sand", "shell", "shell", 1, "shell")
    cloth = Fabric("sand", "Sand", laid="right-side-up")
    design = Design("shell", (Piece("shell", "Shell", region(SQUARE), "sand"),), (), (cloth,))
    swatch = Swatch("sand", "right-side-up", 0, 0, 100, 100, 0, (Placement("shell", "shell", 1, False, 0, 0),))
    layout = Layout((Demand(design),), (cloth,), Mat("mat-8x12", 203.2, 304.8), (MatLayout((swatch,)),))
    return CutPlan(layout, (MatCuts((Cut(ref, 0, "mark", VEIN, VEIN), Cut(ref, 0, "cut", SQUARE, SQUARE))),), blade)


def run(blade: Blade, **settings: object) -> tuple[CutPlan, list[str]]:
    outcome = DragKnife().apply(plan(blade), DragKnifeSettings.model_validate(settings), blade)
    return outcome.value, [finding.code for finding in outcome.findings]


def test_where_the_file_compensates_each_cut_gets_a_holder_path() -> None:
    made, codes = run(FILE)
    mark, cut = made.mats[0].cuts
    assert codes == []
    assert isinstance(cut.path, OpenPath)
    assert isinstance(cut.outline, Outline)
    assert isinstance(followed(cut.path, 0.5, 0.8), Outline)
    assert mark == plan(FILE).mats[0].cuts[0]


def test_it_is_begun_on_a_straight() -> None:
    cut = run(FILE)[0].mats[0].cuts[1]
    assert min(abs(cut.outline.start - corner) for corner in (20, 60, 60 + 40j, 20 + 40j)) >= 3


def test_a_start_on_a_straight_is_kept() -> None:
    begun = polygon([40, 60, 60 + 40j, 20 + 40j, 20])
    of = plan(FILE)
    mark, cut = of.mats[0].cuts
    of = CutPlan(of.layout, (MatCuts((mark, Cut(cut.ref, 0, "cut", begun, begun))),), FILE)
    made = DragKnife().apply(of, DragKnifeSettings(), FILE).value
    assert made.mats[0].cuts[1].outline is begun


def test_where_the_machine_compensates_the_file_does_nothing_and_says_nothing() -> None:
    blade = Blade(0.25, 1.0, "machine")
    made, codes = run(blade)
    assert made == plan(blade)
    assert codes == []


def test_a_blade_without_offset_needs_nothing() -> None:
    made, codes = run(Blade(0.0, 0.0, "file"))
    assert made.mats == plan(Blade()).mats
    assert codes == []


def test_a_blade_without_offset_still_overcuts_where_the_file_does_it() -> None:
    made, _ = run(Blade(0.0, 0.8, "file"))
    path = made.mats[0].cuts[1].path
    assert length(path) == pytest.approx(160.8)


def test_an_overcut_that_is_asked_for_is_written_even_for_a_machine_that_compensates() -> None:
    made, _ = run(Blade(0.25, 0.0, "machine"), overcut="0.5 mm")
    assert length(made.mats[0].cuts[1].path) == pytest.approx(160.5)
    assert blade_of(sheets(made, "mat")[0]) == Declared(blade_offset=None, overcut=0.5)


def test_the_file_declares_what_it_compensates() -> None:
    assert blade_of(sheets(run(FILE)[0], "mat")[0]) == Declared(blade_offset=0.5, overcut=0.8)


def test_a_second_pass_is_asked_for_of_cuts_only() -> None:
    made, _ = run(FILE, passes=2)
    assert [cut.passes for cut in made.mats[0].cuts] == [1, 2]


def test_passes_that_the_profile_states_stand_unless_the_recipe_asks_for_others() -> None:
    of = as_laid(plan(FILE).layout, FILE, tried=[Tried("cotton", fabrics=("sand",), passes=3)])
    for settings, passes in ((DragKnifeSettings(), 3), (DragKnifeSettings(passes=1), 1)):
        made = DragKnife().apply(of, settings, FILE).value
        assert [cut.passes for cut in made.mats[0].cuts] == [passes]


@pytest.mark.parametrize("wrong", [{"passes": 0}, {"overcut": 0.5}, {"overcut": "-1 mm"}, {"offset": "1 mm"}])
def test_wrong_settings_are_refused(wrong: dict[str, object]) -> None:
    with pytest.raises(ValidationError):
        DragKnifeSettings.model_validate(wrong)


def test_the_proof_follows_the_tip_of_cuts_and_leaves_markings_alone() -> None:
    sheet = sheets(run(FILE)[0], "mat")[0]
    budget, tip = allowed(sheet, blade_of(sheet), 0.01)
    assert budget == 0.05
    assert tip is not None
    mark, cut = sheet.cuts
    assert tip(mark.path) is mark.path
    assert isinstance(tip(cut.path), Outline)


def test_the_proof_takes_plain_paths_as_they_are() -> None:
    sheet = sheets(plan(Blade()), "mat")[0]
    assert allowed(sheet, blade_of(sheet), 0.01) == (0.01, None)


def test_it_is_offered() -> None:
    assert [step.name for step in clothpath_transforms()] == ["drag-knife"]
