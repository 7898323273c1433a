"""What the SVG reader says of a drawing as a whole: its size, its names, its fabrics, and what it could not use.

Sources: 1in = 96px = 25.4mm = 72pt = 6pc, CSS Values and Units 4, 6.2; sizing of the root, SVG 2, 8.2; A4 is 210 x 297
mm, ISO 216; letter is 8 1/2 x 11 in, ANSI/ASME Y14.1; 72 and 90 px to the inch of older drawings: memory. How programs
write labels and layers (`label` in a namespace of their own, groupmode, data-name, escaped ids): common practice.
"""

from __future__ import annotations

import json
import math
from pathlib import Path

import pytest

from clothpath.curves import Outline, area, length
from clothpath.design import Design
from clothpath.findings import Finding, Refusal
from clothpath.plugins.readers.svg import SvgReader, SvgSettings
from clothpath.plugins.transforms.tidy import TidySettings
from clothpath.regions import region_area

SQUARE = '<rect id="square" x="0" y="0" width="10" height="10"/>'
PROGRAM = 'xmlns:p="http://example.org/program"'


def svg(body: str, root: str = 'width="100mm" height="50mm" viewBox="0 0 100 50"') -> str:
    return f'<svg xmlns="http://www.w3.org/2000/svg" {PROGRAM} {root}>{body}</svg>'


def read(text: str, **given: object) -> tuple[Design, tuple[Finding, ...]]:
    outcome = SvgReader().read(text.encode(), SvgSettings.model_validate(given))
    return outcome.value, outcome.findings


def only(findings: tuple[Finding, ...], code: str) -> Finding:
    found = [each for each in findings if each.code == code]
    assert len(found) == 1, [each.code for each in findings]
    return found[0]


@pytest.mark.parametrize(
    ("root", "unit", "mm_per_unit", "size"),
    [
        ('width="100mm" height="50mm" viewBox="0 0 100 50"', "mm", 1.0, (100, 50)),
        ('width="10cm" height="5cm" viewBox="0 0 200 100"', "cm", 0.5, (100, 50)),
        ('width="4in" height="2in" viewBox="0 0 4 2"', "in", 25.4, (101.6, 50.8)),
        ('width="72pt" height="36pt" viewBox="0 0 72 36"', "pt", 25.4 / 72, (25.4, 12.7)),
        ('width="6pc" height="3pc" viewBox="0 0 6 3"', "pc", 25.4 / 6, (25.4, 12.7)),
        ('width="400q" height="200q" viewBox="0 0 100 50"', "q", 1.0, (100, 50)),
        ('width="4in" height="2in"', "in", 25.4 / 96, (101.6, 50.8)),
        ('width="100mm" viewBox="0 0 100 50"', "mm", 1.0, (100, 50)),
        ('height="50mm" viewBox="0 0 100 50"', "mm", 1.0, (100, 50)),
        ('style="width: 100mm; height: 50mm" viewBox="0 0 100 50"', "mm", 1.0, (100, 50)),
        ('width="192px" height="96px" viewBox="0 0 100 50"', "px", 0.508, (50.8, 25.4)),
        ('width="192" height="96" viewBox="0 0 100 50"', None, 0.508, (50.8, 25.4)),
        ('viewBox="0 0 192 96"', None, 25.4 / 96, (50.8, 25.4)),
        ('width="100%" height="100%" viewBox="0 0 192 96"', None, 25.4 / 96, (50.8, 25.4)),
    ],
)
def test_the_size_of_the_page(root: str, unit: str | None, mm_per_unit: float, size: tuple[float, float]) -> None:
    source = read(svg(SQUARE, root))[0].source
    assert source.stated_unit == unit
    assert source.mm_per_unit == pytest.approx(mm_per_unit, rel=1e-12)
    assert source.size_mm == pytest.approx(size, rel=1e-12)


def test_a_stated_unit_leaves_nothing_to_say() -> None:
    design, findings = read(svg(SQUARE))
    assert findings == ()
    box = design.pieces[0].region.box
    assert (box.left, box.bottom, box.right, box.top) == pytest.approx((0, 40, 10, 50), abs=1e-12)


def test_an_assumed_unit_tells_every_other_reading_in_inches_and_millimeters() -> None:
    picture = '<rect x="9" y="9" width="288" height="144"/>'
    _, findings = read(svg(picture, 'width="300" height="200" viewBox="0 0 300 200"'))
    said = only(findings, "unit-assumed")
    assert said.severity == "warning"
    assert "96 px to the inch" in said.message
    assert "3 in (76.2 mm) x 1 1/2 in (38.1 mm)" in said.message  # 288 / 96
    assert "at 72 px to the inch 4 in (101.6 mm)" in said.hint  # 288 / 72
    assert "at 90 px to the inch 3 3/16 in (81.3 mm)" in said.hint  # 288 / 90 = 3.2
    assert "in millimeters 11 5/16 in (288 mm)" in said.hint
    assert "in inches 288 in (7315.2 mm)" in said.hint
    assert 'width="300"' in said.where


@pytest.mark.parametrize(
    ("root", "density"),
    [
        ('width="595.28" height="841.89"', 72),  # A4 at 72
        ('width="612" height="792"', 72),  # letter at 72
        ('width="744.09" height="1052.36"', 90),  # A4 at 90
        ('width="765" height="990"', 90),  # letter at 90
        ('width="793.7" height="1122.52"', 96),  # A4 at 96
        ('width="1056" height="816"', 96),  # letter at 96, lying
        ('x="0px" y="0px" width="300px" height="200px" enable-background="new 0 0 300 200"', 72),
        ('width="300" height="200" p:export-xdpi="90"', 90),
    ],
)
def test_signs_of_an_older_density_are_seen_and_told(root: str, density: int) -> None:
    design, findings = read(svg(SQUARE, root))
    assert design.pieces[0].region.box.width == pytest.approx(10 * 25.4 / density, rel=1e-9)
    said = only(findings, "unit-assumed")
    assert f"{density} px to the inch (fairly sure" in said.message


def test_the_density_can_be_set() -> None:
    design, findings = read(svg(SQUARE, 'width="100" height="100"'), pixels_per_inch="72")
    assert design.pieces[0].region.box.width == pytest.approx(10 * 25.4 / 72, rel=1e-12)
    assert only(findings, "unit-set").severity == "note"


def test_bare_numbers_can_be_set_to_be_millimeters() -> None:
    design, findings = read(svg(SQUARE, 'width="100" height="50" viewBox="0 0 200 100"'), **{"bare-unit": "mm"})
    assert design.pieces[0].region.box.width == pytest.approx(5, rel=1e-12)
    assert findings == ()


@pytest.mark.parametrize(
    "root", ["", 'viewBox="0 0 200 100"', 'width="200" height="100"', 'width="200" viewBox="0 0 200 100"']
)
@pytest.mark.parametrize(("unit", "mm"), [("mm", 1.0), ("cm", 10.0), ("in", 25.4), ("pt", 25.4 / 72)])
def test_bare_numbers_are_in_what_was_meant_whether_or_not_there_is_a_page(root: str, unit: str, mm: float) -> None:
    half = '<rect id="half" width="50%" height="10"/>' if root else ""
    design, findings = read(svg(SQUARE + half, root), **{"bare-unit": unit})
    assert [each.region.box.width for each in design.pieces] == pytest.approx([10 * mm, 100 * mm][: len(design.pieces)])
    assert findings == ()


def test_a_drawing_without_page_is_read_and_told() -> None:
    design, findings = read(svg(SQUARE, ""))
    assert design.source.size_mm is None
    assert design.pieces[0].region.box.width == pytest.approx(10 * 25.4 / 96, rel=1e-12)
    assert only(findings, "unit-assumed").severity == "warning"


def test_up_is_up_and_outlines_run_as_they_should() -> None:
    ring = '<path id="ring" fill-rule="evenodd" d="M0 0H40V40H0z M10 10V30H30V10z"/>'
    design, _ = read(svg(ring))
    region = design.pieces[0].region
    assert area(region.outer) == pytest.approx(1600)
    assert [area(hole) for hole in region.holes] == pytest.approx([-400])
    assert (region.box.bottom, region.box.top) == pytest.approx((10, 50))


def test_curves_stay_curves() -> None:
    design, _ = read(svg('<circle cx="25" cy="25" r="20"/><path d="M0 20C0 0 40 0 40 20z"/>'))
    circle, arch = (piece.region.outer for piece in design.pieces)
    assert not circle.straight.any()
    assert length(circle) == pytest.approx(2 * math.pi * 20, rel=1e-5)
    assert sorted(arch.straight.tolist()) == [False, True]


@pytest.mark.parametrize(
    ("attributes", "inside", "label"),
    [
        ('id="left_claw"', "", "left claw"),
        ('id="path3421" p:label="Left claw"', "", "Left claw"),
        ('id="a" data-name="Left claw"', "", "Left claw"),
        ('id="a"', "<title>Left claw</title>", "Left claw"),
        ('id="Left_x0020_claw"', "", "Left claw"),
        ('id="Left_x20_claw"', "", "Left claw"),
    ],
)
def test_labels_as_drawing_programs_write_them(attributes: str, inside: str, label: str) -> None:
    design, _ = read(svg(f'<rect {attributes} width="10" height="10">{inside}</rect>'))
    assert design.pieces[0].label == label


def test_ids_are_the_elements_own_or_made_up_and_never_the_same() -> None:
    twice = '<path id="fin" d="M0 0H9V9H0zM20 0H29V9H20z"/>'
    design, _ = read(svg(f'{SQUARE}<rect width="5" height="5"/>{twice}<rect width="4" height="4"/>'))
    assert [piece.id for piece in design.pieces] == ["square", "piece-2", "fin", "fin-2", "piece-5"]
    assert [piece.order for piece in design.pieces] == [1, 2, 3, 4, 5]


def test_what_is_used_twice_has_two_ids() -> None:
    body = f'<defs><g id="g">{SQUARE}</g></defs><use id="left" href="#g"/><use id="right" href="#g" x="20"/>'
    design, _ = read(svg(body))
    assert [piece.id for piece in design.pieces] == ["left-square", "right-square"]
    assert [piece.drawn.element for piece in design.pieces] == ["square", "square"]


def test_a_copy_of_one_shape_is_called_as_its_use() -> None:
    body = f'<g id="claws">{SQUARE}<use id="small_claw" href="#square" x="20"/><use href="#square" x="40"/></g>'
    design, _ = read(svg(body))
    assert [piece.id for piece in design.pieces] == ["square", "small_claw", "square-2"]
    assert [piece.label for piece in design.pieces] == ["square", "small claw", "square"]
    assert {piece.drawn.groups for piece in design.pieces} == {("claws",)}


def test_groups_and_layers_are_named_from_the_outside_in() -> None:
    body = f'<g p:groupmode="layer" p:label="Shell" id="layer1"><g id="left"><g>{SQUARE}</g></g></g>'
    drawn = read(svg(body))[0].pieces[0].drawn
    assert drawn.groups == ("Shell", "left")
    assert drawn.layer == "Shell"


def test_without_marked_layers_the_outermost_named_group_is_the_layer() -> None:
    drawn = read(svg(f'<g><g id="shell"><g id="left">{SQUARE}</g></g></g>'))[0].pieces[0].drawn
    assert drawn.layer == "shell"


def rects(*fills: str) -> str:
    return "".join(f'<rect width="9" height="9" fill="{fill}"/>' for fill in fills)


def test_fabrics_go_by_color_where_layers_do_not_tell() -> None:
    design, _ = read(svg(f'<g id="a">{rects("#F00", "blue")}</g><g id="b">{rects("rgb(255,0,0)")}</g>'))
    assert [piece.fabric for piece in design.pieces] == ["red-ff0000", "blue-0000ff", "red-ff0000"]
    assert [(fabric.key, fabric.color) for fabric in design.fabrics] == [
        ("red-ff0000", "#ff0000"),
        ("blue-0000ff", "#0000ff"),
    ]


def test_fabrics_go_by_layer_where_each_layer_has_one_color() -> None:
    layers = f'<g id="Upper_Shell">{rects("red", "red")}</g><g id="Claws">{rects("red")}</g>'
    design, _ = read(svg(layers))
    assert [piece.fabric for piece in design.pieces] == ["upper-shell", "upper-shell", "claws"]
    assert [fabric.label for fabric in design.fabrics] == ["Upper Shell", "Claws"]


def test_strokes_are_measured_in_millimeters() -> None:
    body = '<g transform="scale(2)"><rect width="9" height="9" stroke="red" stroke-width="3" fill="none"/></g>'
    drawn = read(svg(body), **{"wide-stroke": "1 in"})[0].pieces[0].drawn
    assert drawn.stroke == "#ff0000"
    assert drawn.stroke_width == pytest.approx(6)
    fixed = body.replace("<rect", '<rect vector-effect="non-scaling-stroke"')
    assert read(svg(fixed))[0].pieces[0].drawn.stroke_width == pytest.approx(3 * 25.4 / 96)


def test_a_line_that_nearly_closes_is_closed_and_told() -> None:
    line = '<path fill="none" stroke="red" d="M0 0H20V20H0V0.05"/>'
    design, findings = read(svg(line))
    assert len(design.pieces) == 1
    assert "gap-closed" in {each.code for each in findings}
    design, findings = read(svg(line), gap="0.01 mm")
    assert len(design.markings) == 1
    assert "open-line" in {each.code for each in findings}


@pytest.mark.parametrize(
    ("name", "told"),
    [("stitching", False), ("Stitch lines", False), ("quilting", False), ("fin-veins", False), ("marking", False),
     ("body", True), ("market stall", True), ("quilt", True)],
)  # fmt: skip
def test_open_lines_in_a_layer_of_markings_need_no_word(name: str, told: bool) -> None:
    """What such layers are called: common practice."""
    line = f'<rect width="30" height="30"/><g id="{name}"><path fill="none" stroke="red" d="M0 0H20"/></g>'
    design, findings = read(svg(line))
    assert len(design.markings) == 1
    assert ("open-line" in {each.code for each in findings}) is told


def test_what_an_open_line_takes_to_be_closed_can_be_written_as_it_is_told() -> None:
    _, findings = read(svg('<rect width="30" height="30"/><path fill="none" stroke="red" d="M0 0H20V20H0V3"/>'))
    hint = only(findings, "open-line").hint
    assert '--set tidy.gap="1 mm"' in hint
    assert TidySettings.model_validate({"gap": "1 mm"}).gap == 1.0


def test_a_wide_open_line_is_the_shape_and_told() -> None:
    """A straight line of 30 mm, 6 mm wide: with butt ends 30 x 6, with round ones a half disc more at each end."""
    line = '<path id="stem" fill="none" stroke="green" stroke-width="6" d="M10 25H40"{}/>'
    design, findings = read(svg(line.format("")))
    assert region_area(design.pieces[0].region) == pytest.approx(180, rel=1e-6)
    assert only(findings, "wide-stroke").severity == "warning"
    design, _ = read(svg(line.format(' stroke-linecap="round"')))
    assert region_area(design.pieces[0].region) == pytest.approx(180 + 9 * math.pi, rel=2e-3)
    design, _ = read(svg(line.format(' stroke-linecap="square"')))
    assert region_area(design.pieces[0].region) == pytest.approx(216, rel=1e-6)
    design, findings = read(svg(line.format("")), **{"wide-stroke": "7 mm"})
    assert [type(marking.path) is Outline for marking in design.markings] == [False]
    assert {each.code for each in findings} == {"open-line"}


def test_a_wide_closed_line_is_cut_along_its_middle_and_told() -> None:
    design, findings = read(svg('<circle cx="25" cy="25" r="20" fill="none" stroke="red" stroke-width="6"/>'))
    assert design.pieces[0].region.box.width == pytest.approx(40)
    assert only(findings, "wide-line").severity == "warning"


def test_of_a_drawing_in_lines_inner_rings_are_holes_and_crossing_ones_pieces() -> None:
    nested = '<path fill="none" stroke="red" d="M0 0H40V40H0z M10 10H30V30H10z"/>'
    design, _ = read(svg(nested))
    assert [len(piece.region.holes) for piece in design.pieces] == [1]
    crossing = '<path fill="none" stroke="red" d="M0 0H20V20H0z M10 10H30V30H10z"/>'
    design, _ = read(svg(crossing))
    assert [region_area(piece.region) for piece in design.pieces] == pytest.approx([400, 400])


@pytest.mark.parametrize(
    ("body", "code", "severity", "words"),
    [
        ('<text x="1" y="9">Crab</text>', "text", "warning", "Crab"),
        ('<image width="9" height="9" href="data:image/png;base64,AA"/>', "bitmap", "warning", "pixels"),
        ("<foreignObject/>", "foreign-content", "warning", "Web page"),
        ('<g display="none"><rect width="5" height="5"/></g>', "hidden", "note", "display"),
        ('<rect width="5" height="5" fill="none"/>', "unpainted", "note", "neither"),
        ('<path id="p" d="M0 0H9V9z L"/>', "path-cut", "warning", "breaks off"),
        ('<rect width="5furlong" height="5"/>', "bad-value", "warning", "5furlong"),
        ('<rect width="5" height="5" transform="spin(9)"/>', "bad-value", "warning", "spin"),
        ('<use href="#none"/>', "missing-reference", "warning", "#none"),
        ('<use href="other.svg#a"/>', "external-reference", "warning", "other.svg"),
        ('<rect width="5" height="5" clip-path="circle(3px)"/>', "clip-not-applied", "warning", "circle"),
        ('<rect width="5" height="5" filter="url(#f)"/>', "filter-ignored", "note", "filter"),
        ('<rect x="500" width="5" height="5"/>', "off-page", "warning", "off the page"),
        ('<rect x="95" width="9" height="5"/>', "over-page-edge", "note", "edge of the page"),
        ('<path stroke="red" fill="none" marker-end="url(#m)" d="M0 0H9"/>', "markers-ignored", "note", "markers"),
        ("<style>@import 'other.css';</style>", "style-rule-ignored", "note", "@import"),
    ],
)
def test_what_could_not_be_used_is_told_with_its_place(body: str, code: str, severity: str, words: str) -> None:
    design, findings = read(svg(f"\n{body}\n{SQUARE}"))
    assert "square" in {piece.id for piece in design.pieces}
    said = only(findings, code)
    assert said.severity == severity
    assert words in said.message
    assert "<" in said.where


def test_a_place_is_a_line_an_element_and_an_id() -> None:
    _, findings = read(svg(f'\n\n<text id="name" x="1" y="9">Crab</text>{SQUARE}'))
    assert only(findings, "text").where == "line 3, <text id='name'>"
    assert "path" in only(findings, "text").hint


def test_same_drawing_same_design() -> None:
    text = svg(f'<g id="a">{rects("red", "blue")}</g><path d="M0 0L20 20V0L0 20z"/>')
    assert read(text) == read(text)


def test_settings_have_a_description_and_lengths_need_a_unit() -> None:
    schema = SvgSettings.model_json_schema()
    assert all(field.get("description") for field in schema["properties"].values()), json.dumps(schema)
    with pytest.raises(ValueError, match="unit"):
        SvgSettings.model_validate({"gap": 1})


def test_the_reader_needs_no_file() -> None:
    with pytest.raises(Refusal) as caught:
        SvgReader().read(Path(__file__).read_bytes(), SvgSettings())
    assert {each.code for each in caught.value.findings} == {"not-xml"}


def test_a_sliver_at_a_crossing_is_left_off_and_told() -> None:
    """A spike up to y = 2 mm above a square's top at 10 mm, 0.004 mm wide at its foot, run through a crossing.

    Its area, 0.016 mm^2 by its length of 16 mm, is that of a strip 0.002 mm wide: no thread is as thin (arithmetic).
    """
    design, findings = read(svg('<path d="M20 10H20.004L20 2L20.004 10H40V30H20z"/>'))
    (piece,) = design.pieces
    assert piece.region.box.top == pytest.approx(40, abs=0.01)
    told = only(findings, "sliver-dropped")
    assert told.severity == "note"
    assert "8.00 mm" in told.message


def test_a_crossing_that_cuts_nothing_off_is_no_sliver() -> None:
    _, findings = read(svg('<path d="M10 10H30L10 30H30z"/>'))
    assert "sliver-dropped" not in {finding.code for finding in findings}
