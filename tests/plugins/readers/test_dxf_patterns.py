"""Pattern files after ASTM D6673-10: each layer of its table does what it is for.

The table (layer: purpose) is the standard's; that system text reads "Piece Name: …" is from memory.
"""

from __future__ import annotations

from math import pi

import pytest
from dxf_text import arc, block, circle, dxf, entity, insert, line, lwpolyline, read, square

from clothpath.curves import Outline
from clothpath.design import Design
from clothpath.findings import Finding
from clothpath.regions import region_area


def text(said: str, layer: str = "1") -> str:
    return entity("TEXT", 10, 0, 20, 0, 40, 2, 1, said, layer=layer)


def point(x: float, y: float, layer: str, *more: object) -> str:
    return entity("POINT", 10, x, 20, y, *more, layer=layer)


def pattern(*parts: str, outside: str = "") -> tuple[Design, dict[str, Finding]]:
    """A file with one block a part, each inserted at the origin, as the standard has it."""
    blocks = [block(f"part{i}", part) for i, part in enumerate(parts)]
    inserts = [insert(f"part{i}", 0, 0, 5, f"A{i}", layer="1") for i in range(len(parts))]
    outcome = read(dxf(*inserts, outside, blocks=blocks))
    return outcome.value, {finding.code: finding for finding in outcome.findings}


BODY = square(0, 0, 100, layer="1") + point(0, 0, "2") + point(100, 0, "2") + text("Piece Name: BODY")
UPRIGHT = line(50, 10, 50, 90, layer="7")


def test_a_boundary_is_a_piece_named_by_its_system_text() -> None:
    design, findings = pattern(BODY + text("Size: M") + text("Quantity: 2") + text("Material: WOOL"))
    (piece,) = design.pieces
    assert region_area(piece.region) == pytest.approx(10_000)
    assert (piece.id, piece.label, piece.copies, piece.fabric) == ("body-m", "BODY, size M", 2, "WOOL")
    assert design.markings == ()
    assert set(findings) == {"pattern-file"}


def test_a_left_and_a_right_count_as_two() -> None:
    design, _ = pattern(BODY + text("Quantity: 1,1"))
    assert design.pieces[0].copies == 2


def test_without_a_name_the_block_gives_it() -> None:
    design, _ = pattern(square(0, 0, 100, layer="1") + UPRIGHT)
    assert design.pieces[0].id == "part0"


def test_internal_cut_outs_are_holes() -> None:
    """Layer 11."""
    design, _ = pattern(BODY + circle(50, 50, 10, layer="11"))
    (piece,) = design.pieces
    assert region_area(piece.region) == pytest.approx(10_000 - 100 * pi, rel=1e-5)


def test_a_cut_out_of_another_part_is_no_hole_in_this_one() -> None:
    """All parts lie over one another at the origin; only those of one block belong together."""
    design, _ = pattern(BODY, square(-50, -50, 300, layer="1") + circle(50, 50, 10, layer="11") + text("Piece Name: B"))
    assert [len(piece.region.holes) for piece in design.pieces] == [0, 1]


def test_internal_lines_and_sew_lines_are_markings_on_their_piece() -> None:
    """Layers 8 ("not cut") and 14."""
    design, _ = pattern(BODY + line(10, 10, 90, 10, layer="8") + square(5, 5, 90, layer="14"))
    assert [(m.label, m.on) for m in design.markings] == [("internal line", "body"), ("sew line", "body")]
    assert isinstance(design.markings[1].path, Outline)


@pytest.mark.parametrize("layer", ["4", "80", "81", "82", "83"])
def test_notches_are_markings_that_run_into_the_piece(layer: str) -> None:
    """Layers 4 and 80 to 83; a point on the lower edge, so the notch runs up."""
    design, _ = pattern(BODY + point(30, 0, layer))
    (notch,) = design.markings
    assert (notch.label, notch.path.start) == ("notch", 30)
    assert notch.path.end.real == pytest.approx(30)
    assert 3 < notch.path.end.imag < 6.5  # 1/8 to 1/4 in, common practice


def test_a_notch_may_state_its_direction() -> None:
    design, _ = pattern(BODY + point(30, 0, "4", 50, 45))
    way = design.markings[0].path.end - design.markings[0].path.start
    assert way.real == pytest.approx(way.imag)


def test_drill_holes_are_markings() -> None:
    """Layer 13."""
    design, _ = pattern(BODY + point(30, 40, "13"))
    (hole,) = design.markings
    assert hole.label == "drill hole"
    assert hole.path.box.center == pytest.approx(30 + 40j)


def test_an_upright_grain_line_sets_the_grain_and_turns_nothing() -> None:
    """Layer 7; up in a design runs along the selvage (design.md, section 2)."""
    design, findings = pattern(BODY + UPRIGHT)
    assert design.fabrics[0].grain == "lengthwise"
    assert design.pieces[0].region.box.left == 0
    assert set(findings) == {"pattern-file"}


def test_a_level_grain_line_turns_the_piece_a_quarter() -> None:
    strip = lwpolyline([(0, 0), (100, 0), (100, 20), (0, 20)], layer="1") + text("Piece Name: STRAP")
    design, findings = pattern(strip + line(10, 10, 90, 10, layer="7") + line(10, 5, 90, 5, layer="8"))
    box = design.pieces[0].region.box
    assert (box.width, box.height) == pytest.approx((20, 100))
    assert box.center == pytest.approx(50 + 10j)
    mark = design.markings[0].path.box
    assert (mark.width, mark.height) == pytest.approx((0, 80))
    assert "turned-to-grain" in findings


def test_parts_with_different_grain_are_turned_each_by_itself() -> None:
    strap = lwpolyline([(200, 0), (300, 0), (300, 20), (200, 20)], layer="1") + line(210, 10, 290, 10, layer="7")
    design, _ = pattern(BODY + UPRIGHT, strap)
    assert design.pieces[0].region.box.left == 0
    assert design.pieces[1].region.box.center == pytest.approx(250 + 10j)


def test_without_a_grain_line_nothing_is_known_of_the_grain() -> None:
    assert pattern(BODY)[0].fabrics[0].grain == "any"


@pytest.mark.parametrize("closed", [True, False], ids=["fold drawn in the boundary too", "boundary open at the fold"])
def test_half_a_piece_is_unfolded_at_its_mirror_line(closed: bool) -> None:
    """Layer 6: a half disk on a fold is a disk."""
    half = arc(0, 0, 50, 270, 90).replace("8\na\n", "8\n1\n") + (line(0, 50, 0, -50, layer="1") if closed else "")
    design, findings = pattern(half + line(0, -50, 0, 50, layer="6") + text("Piece Name: SUN"))
    (piece,) = design.pieces
    assert region_area(piece.region) == pytest.approx(2500 * pi, rel=1e-5)
    assert {"pattern-file", "unfolded"} == set(findings)


def test_a_mirror_line_on_no_side_is_told() -> None:
    assert "fold-unclear" in pattern(BODY + line(50, 0, 50, 100, layer="6"))[1]


def test_a_boundary_that_does_not_close_is_told() -> None:
    _, findings = pattern(BODY, lwpolyline([(0, 0), (50, 0), (50, 50)], False, layer="1"))
    assert "boundary-open" in findings


def test_lines_that_serve_other_trades_are_left_out_and_told() -> None:
    """Layers 5 grading, 9 stripes, 10 plaids, 84 to 87 check curves."""
    lines = "".join(line(0, i, 100, i, layer=name) for i, name in enumerate(["5", "9", "10", "84", "85"]))
    design, findings = pattern(BODY + lines)
    assert design.markings == ()
    assert (
        "check curves, grade reference lines, plaid lines, stripe lines" in findings["pattern-lines-left-out"].message
    )


@pytest.mark.parametrize(("said", "side"), [("ENGLISH", 2540.0), ("METRIC", 100.0)])
def test_the_file_says_its_unit_in_words(said: str, side: float) -> None:
    blocks = [block("part", BODY)]
    outcome = read(dxf(insert("part", layer="1"), text(f"Units: {said}"), blocks=blocks, header={}))
    assert outcome.value.pieces[0].region.box.width == pytest.approx(side)
    assert "unit-assumed" not in {finding.code for finding in outcome.findings}


def test_numbers_for_layers_alone_make_no_pattern_file() -> None:
    """Somebody's own layers 1 and 2, both with outlines: two layers like any other."""
    outcome = read(dxf(square(0, 0, 50, layer="1"), circle(25, 25, 9, layer="2")))
    assert len(outcome.value.pieces) == 2
    assert outcome.findings == ()


def test_a_file_without_blocks_is_one_part() -> None:
    outcome = read(dxf(BODY, square(200, 0, 50, layer="1"), UPRIGHT))
    assert [region_area(piece.region) for piece in outcome.value.pieces] == pytest.approx([10_000, 2500])
