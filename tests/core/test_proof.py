"""The proof against planted faults; measurements are made by hand, so that no writer or measurer takes part."""

from __future__ import annotations

import time
from dataclasses import replace

import pytest
from gulls import MAT, flipped_in_place, gull_layout, gull_sheet, moved_sheet, piece_cuts, sheet_of
from hypothesis import given, settings
from hypothesis import strategies as st

from clothpath.contracts import Measured, Measurement
from clothpath.curves import Affine, OpenPath, Path, backwards, flattened, open_path, polygon, transformed
from clothpath.cutplan import CutSheet
from clothpath.layout import Layout
from clothpath.proof import Proof, prove, survey

BUDGET_MM = 0.01
SHEET = gull_sheet()


def measured(sheet: CutSheet, page: tuple[float, float] | None = None) -> Measurement:
    """A file that holds just the paths of the sheet."""
    return Measurement("mm", page, tuple(Measured(cut.path, cut.ref.fabric) for cut in sheet.cuts))


def codes(proof: Proof) -> set[str]:
    return {finding.code for finding in proof.findings}


def said(proof: Proof) -> str:
    return " ".join(finding.message for finding in proof.findings)


def test_a_file_that_holds_what_was_meant_is_proved() -> None:
    proof = prove(SHEET, measured(SHEET, (MAT.width, MAT.height)), BUDGET_MM)
    assert proof == Proof(True, 0.0, 0, 0, True)


@settings(max_examples=20)
@given(st.randoms(use_true_random=False), st.booleans())
def test_order_direction_and_starting_point_make_no_difference(random: object, as_polylines: bool) -> None:
    lines = list(measured(SHEET).lines)
    random.shuffle(lines)  # type: ignore[attr-defined]
    turned = [replace(line, path=backwards(line.path)) if n % 2 else line for n, line in enumerate(lines)]
    if as_polylines:
        turned = [
            line if isinstance(line.path, OpenPath) else replace(line, path=polygon(flattened(line.path, 0.005)))
            for line in turned
        ]
    proof = prove(SHEET, Measurement("mm", None, tuple(turned)), BUDGET_MM)
    assert proof.ok
    assert proof.size_error_mm < 0.0075
    assert proof.reversed_ok is True


@given(st.floats(0.0002, 0.2))
def test_size_error_is_how_far_a_line_was_moved(by: float) -> None:
    lines = list(measured(SHEET).lines)
    lines[2] = replace(lines[2], path=transformed(lines[2].path, Affine.shift(by * 1j)))
    proof = prove(SHEET, Measurement("mm", None, tuple(lines)), BUDGET_MM)
    assert proof.size_error_mm == pytest.approx(by, abs=0.0021)
    if abs(by - BUDGET_MM) > 0.002:
        assert proof.ok is (by < BUDGET_MM)


@pytest.mark.parametrize(
    ("factor", "words"),
    [
        (1.01, "1 % too large"),
        (0.99, "1 % too small"),
        (25.4, "inches taken for millimeters"),
        (1 / 25.4, "inches taken for millimeters"),
        (2.54, "inches taken for centimeters"),
        (10, "centimeters taken for millimeters"),
        (0.75, "96 and 72 pixels"),
        (96 / 72, "96 and 72 pixels"),
        (0.9375, "96 and 90 pixels"),
        (1.25, "90 and 72 pixels"),
    ],
)
def test_a_file_at_the_wrong_scale_is_told_as_that(factor: float, words: str) -> None:
    """Factors between units and pixel densities: arithmetic."""
    proof = prove(SHEET, measured(moved_sheet(SHEET, Affine.scale(factor))), BUDGET_MM)
    assert not proof.ok
    assert "wrong-size" in codes(proof)
    assert "lost-line" not in codes(proof)
    assert words in said(proof)
    assert proof.size_error_mm > 0.5


@pytest.mark.parametrize(
    ("affine", "code", "words"),
    [
        (Affine.scale(1.02, 1), "wrong-size", "width"),
        (Affine.shift(7 - 3j), "whole-file-shifted", "elsewhere"),
        (Affine.shift(304.8) @ Affine.flip(), "whole-file-turned", "seen in a mirror"),
        (Affine.shift(304.8) @ Affine.turn(90), "whole-file-turned", "turned by 90°"),
        (Affine.shift(304.8 + 304.8j) @ Affine.turn(180), "whole-file-turned", "turned by 180°"),
    ],
)
def test_a_file_that_is_distorted_as_a_whole_is_told_as_that(affine: Affine, code: str, words: str) -> None:
    proof = prove(SHEET, measured(moved_sheet(SHEET, affine)), BUDGET_MM)
    assert not proof.ok
    assert code in codes(proof)
    assert words in said(proof)
    assert proof.lost == proof.added == 0
    assert proof.reversed_ok is (affine.determinant > 0)


@pytest.mark.parametrize("piece", ["left-wing", "right-wing", "body", "beak"])
def test_a_mirrored_piece_is_named(piece: str) -> None:
    proof = prove(SHEET, measured(flipped_in_place(SHEET, piece)), BUDGET_MM)
    assert not proof.ok
    assert proof.reversed_ok is False
    assert "wrong-way-round" in codes(proof)
    assert piece.replace("-", " ").capitalize() + " of gull, copy 1" in said(proof)


def test_a_mirrored_symmetric_piece_is_no_fault_of_orientation() -> None:
    proof = prove(SHEET, measured(flipped_in_place(SHEET, "eye")), BUDGET_MM)
    assert proof.ok
    assert proof.reversed_ok is True


def flipped_in_layout(layout: Layout, piece: str) -> Layout:
    """A fault in the layout itself: one placement is flipped and its fabric is not."""
    mat = layout.mats[0]
    swatches = tuple(
        replace(
            swatch,
            placements=tuple(
                replace(each, reversed=not each.reversed) if each.piece == piece else each for each in swatch.placements
            ),
        )
        for swatch in mat.swatches
    )
    return replace(layout, mats=(replace(mat, swatches=swatches),))


@pytest.mark.parametrize("piece", ["left-wing", "body", "beak"])
def test_a_fault_in_the_layout_is_caught_although_the_file_follows_it(piece: str) -> None:
    wrong = sheet_of(flipped_in_layout(gull_layout(), piece))
    proof = prove(wrong, measured(wrong), BUDGET_MM)
    assert proof.size_error_mm == 0
    assert proof.reversed_ok is False
    assert codes(proof) - {"outside-mat"} == {"wrong-way-round"}
    assert not proof.ok


def test_a_sheet_of_symmetric_pieces_has_no_answer() -> None:
    only = replace(SHEET, cuts=tuple(cut for cut in SHEET.cuts if cut.ref.piece in ("eye", "tail")))
    assert prove(only, measured(only), BUDGET_MM).reversed_ok is None


def test_a_lost_piece_is_named() -> None:
    lines = list(measured(SHEET).lines)
    for n in reversed(piece_cuts(SHEET, "left-wing")):
        del lines[n]
    proof = prove(SHEET, Measurement("mm", None, tuple(lines)), BUDGET_MM)
    assert (proof.ok, proof.lost, proof.added) == (False, 2, 0)
    assert "Left wing of gull, copy 1" in said(proof)
    assert "hole 1" in said(proof)


def test_a_lost_hole_alone_is_named_and_the_rest_stays_readable() -> None:
    lines = list(measured(SHEET).lines)
    del lines[piece_cuts(SHEET, "left-wing")[1]]
    proof = prove(SHEET, Measurement("mm", None, tuple(lines)), BUDGET_MM)
    assert (proof.ok, proof.lost, proof.reversed_ok) == (False, 1, True)


def test_a_doubled_line_is_named() -> None:
    lines = measured(SHEET).lines
    proof = prove(SHEET, Measurement("mm", None, (*lines, lines[piece_cuts(SHEET, "body")[0]])), BUDGET_MM)
    assert (proof.ok, proof.lost, proof.added) == (False, 0, 1)
    assert codes(proof) == {"doubled-line"}
    assert "Body of gull, copy 1" in said(proof)


def test_two_passes_are_two_lines() -> None:
    twice = replace(SHEET, cuts=tuple(replace(cut, passes=2) for cut in SHEET.cuts))
    lines = measured(SHEET).lines
    assert prove(twice, Measurement("mm", None, (*lines, *lines)), BUDGET_MM).ok
    once = prove(twice, Measurement("mm", None, lines), BUDGET_MM)
    assert (once.ok, once.lost) == (False, len(lines))


def test_a_line_that_nobody_meant_is_placed() -> None:
    extra = Measured(polygon([250 + 250j, 260 + 250j, 255 + 262j]))
    proof = prove(SHEET, Measurement("mm", None, (*measured(SHEET).lines, extra)), BUDGET_MM)
    assert (proof.ok, proof.added) == (False, 1)
    assert "10.0 x 12.0 mm at 250.0, 250.0 mm" in said(proof)


def opened(path: Path, gap: float) -> OpenPath:
    """The path without its last `gap` mm, roughly."""
    points = flattened(path, 0.002).tolist()
    last, first = points[-1], points[0]
    stop = first + (last - first) / abs(last - first) * min(gap, abs(last - first) / 2)
    return open_path(first, [*((point,) for point in points[1:]), (stop,)])


@pytest.mark.parametrize("gap", [0.005, 0.3, 2.0])
def test_an_open_outline_is_named(gap: float) -> None:
    lines = list(measured(SHEET).lines)
    n = piece_cuts(SHEET, "tail")[0]
    lines[n] = replace(lines[n], path=opened(lines[n].path, gap))
    proof = prove(SHEET, Measurement("mm", None, tuple(lines)), BUDGET_MM)
    assert not proof.ok
    assert "open-outline" in codes(proof)
    assert "Tail of gull, copy 1" in said(proof)


def test_what_reaches_beyond_the_mat_is_told() -> None:
    off = moved_sheet(SHEET, Affine.shift(-20))
    proof = prove(off, measured(off), BUDGET_MM)
    assert codes(proof) == {"outside-mat"}
    assert not proof.ok


def test_a_page_that_is_not_the_mat_is_told() -> None:
    assert codes(prove(SHEET, measured(SHEET, (304.8, 300)), BUDGET_MM)) == {"wrong-page"}


def test_an_empty_file_has_lost_everything() -> None:
    proof = prove(SHEET, Measurement("mm", None, ()), BUDGET_MM)
    assert (proof.ok, proof.lost) == (False, len(SHEET.cuts))


def test_a_tip_that_trails_is_proved_by_what_it_cuts() -> None:
    """The file's paths lie 2 mm to the right of the outlines; the tip is taken back by as much."""
    shifted = measured(moved_sheet(SHEET, Affine.shift(2)))
    assert not prove(SHEET, shifted, BUDGET_MM).ok
    assert prove(SHEET, shifted, BUDGET_MM, lambda path: transformed(path, Affine.shift(-2))).ok


def test_a_slanting_piece_on_a_directional_print_is_read_by_its_turn() -> None:
    """The beak is symmetric about its own axis; reversed and turned by 60 degrees it looks as if not reversed."""
    n = piece_cuts(SHEET, "beak")[0]
    center = SHEET.cuts[n].outline.box.center
    about = Affine.shift(center) @ Affine.turn(60) @ Affine.shift(-center)
    lines = list(measured(SHEET).lines)
    lines[n] = replace(lines[n], path=transformed(lines[n].path, about))
    proof = prove(SHEET, Measurement("mm", None, tuple(lines)), BUDGET_MM)
    assert proof.reversed_ok is False


def test_survey_of_a_bare_file() -> None:
    lines = measured(SHEET).lines
    found = survey(Measurement("mm", (304.8, 304.8), (*lines, lines[0])))
    assert (found.closed, found.open) == (len(lines), 1)
    assert dict(found.groups)["straw"] == 1
    assert found.box is not None
    assert found.box.width < 304.8
    assert {finding.code for finding in found.findings} == {"doubled-line", "open-lines"}
    assert {f.code for f in survey(Measurement("mm", (100, 100), lines)).findings} >= {"outside-page"}
    assert [f.code for f in survey(Measurement("", None, ())).findings] == ["no-lines"]


def test_forty_outlines_are_proved_in_milliseconds() -> None:
    """The budget is 10 ms on a quiet machine; five times that here, since test machines are not."""
    sheet = gull_sheet(5)
    assert sum(cut.kind == "cut" for cut in sheet.cuts) == 45
    file = measured(sheet)
    prove(sheet, file, BUDGET_MM)
    spent = []
    for _ in range(5):
        began = time.process_time()
        assert prove(sheet, file, BUDGET_MM).ok
        spent.append(time.process_time() - began)
    assert min(spent) < 0.05
