"""The size card: factors by arithmetic from CSS Values and Units (1in = 96px = 72pt = 25.4mm), sizes from the bytes."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest
from writer_sheets import crab_sheet

from clothpath.contracts import Settings, Written
from clothpath.curves import box_of, open_path
from clothpath.plugins.measurers.dxf import DxfMeasurer
from clothpath.plugins.measurers.svg import SvgMeasurer
from clothpath.plugins.writers.dxf import DxfSettings, DxfWriter
from clothpath.plugins.writers.size_card import SizeCard, clothpath_writers, slips
from clothpath.plugins.writers.svg import SvgSettings, SvgWriter


def svg(name: str, **chosen: object) -> Written:
    writer, settings, sheet = SvgWriter(), SvgSettings.model_validate(chosen), crab_sheet()
    declared = writer.declared(sheet, settings)
    measured = SvgMeasurer().measure(writer.write(sheet, settings).value, declared).value
    return Written(name, "svg", writer.writes(sheet, settings), measured, declared)


def dxf(name: str, **chosen: object) -> Written:
    writer, settings, sheet = DxfWriter(), DxfSettings.model_validate(chosen), crab_sheet()
    declared = writer.declared(sheet, settings)
    measured = DxfMeasurer().measure(writer.write(sheet, settings).value, declared).value
    return Written(name, "dxf", writer.writes(sheet, settings), measured, declared)


def card(*files: Written) -> str:
    (document,) = SizeCard().tell(files, Settings()).value
    assert document.name == "size-card.html"
    return document.data.decode()


def words(page: str) -> str:
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", page))


def factors(unit: str, mm: float | None = None) -> list[float]:
    return [slip.factor for slip in slips(unit, mm)]


def test_a_file_at_72_px_to_the_inch_taken_at_90_or_96() -> None:
    assert factors("px", 25.4 / 72) == pytest.approx([72 / 96, 72 / 90])


def test_a_file_in_inches() -> None:
    # numbers taken for pixels at 96, 90, 72; for millimeters; made pixels at 96 and taken at 90 or 72
    assert factors("in") == pytest.approx([1 / 96, 1 / 90, 1 / 72, 1 / 25.4, 96 / 90, 96 / 72])


def test_a_file_in_millimeters_taken_for_inches_is_25_4_times_as_large() -> None:
    assert max(factors("mm")) == pytest.approx(25.4)


def test_points_are_never_told_as_a_slip_of_themselves() -> None:
    assert factors("pt") == pytest.approx([72 / 96, 72 / 90])
    assert factors("plu") == []
    assert factors("") == []


def test_it_tells_the_size_of_everything_in_the_file() -> None:
    file = svg("crab.svg", unit="in")
    box = box_of(line.path for line in file.measurement.lines)
    said = words(card(file))
    assert f"Width {box.width / 25.4:.2f} in {box.width:.1f} mm" in said
    assert f"Height {box.height / 25.4:.2f} in {box.height:.1f} mm" in said
    assert "The file is in inches." in said


def test_it_tells_what_a_wrong_density_shows_and_what_mends_it() -> None:
    file = svg("crab.svg", unit="px", density=72)
    box = box_of(line.path for line in file.measurement.lines)
    said = words(card(file))
    assert "pixels, 72 to the inch" in said
    shown = f"{box.width * 0.75 / 25.4:.2f} in x {box.height * 0.75 / 25.4:.2f} in"
    assert re.search(re.escape(shown) + r".{0,80}96 to the inch\. 133\.33 %", said)


def test_a_far_factor_is_told_as_times_and_a_near_one_in_percent() -> None:
    said = words(card(svg("crab.svg", unit="in")))
    assert "pixels, 96 to the inch. 96 x" in said
    assert "9600" not in said
    assert "93.75 %" in said


def test_it_says_whether_the_size_includes_markings() -> None:
    # both markings of the crab lie on their pieces, within the outlines
    said = words(card(svg("crab.svg", unit="mm")))
    assert "also holds markings; with and without them it measures the same" in said
    assert "group or layer named &#34;markings&#34;: set it to draw, or switch it off" in said
    bare = words(card(svg("crab.svg", unit="mm", markings="leave-out")))
    assert "markings" not in bare


def test_markings_that_reach_out_are_measured_with_the_cuts_and_without() -> None:
    file = svg("crab.svg", unit="mm")
    far = open_path(complex(-5, 100), [(complex(190, 100),)])
    cuts = tuple(replace(cut, outline=far, path=far) if cut.kind == "mark" else cut for cut in file.sheet.cuts)
    sheet = replace(file.sheet, cuts=cuts)
    writer, settings = SvgWriter(), SvgSettings.model_validate({"unit": "mm"})
    measured = SvgMeasurer().measure(writer.write(sheet, settings).value, file.declared).value
    alone = box_of(cut.outline for cut in cuts if cut.kind == "cut")
    said = words(card(Written(file.name, "svg", writer.writes(sheet, settings), measured, file.declared)))
    assert "Width 7.68 in 195.0 mm" in said
    assert f"without them the file measures {alone.width / 25.4:.2f} in x {alone.height / 25.4:.2f} in" in said


def test_it_tells_each_fabric_as_measured() -> None:
    file = svg("crab.svg", unit="mm")
    coral = [cut.outline for cut in file.sheet.cuts if cut.ref.fabric == "coral" and cut.kind == "cut"]
    box = box_of(coral)
    assert f"Coral print {box.width / 25.4:.2f} in x {box.height / 25.4:.2f} in" in words(card(file))


def test_a_unit_that_is_only_declared_is_said_to_be() -> None:
    said = words(card(dxf("crab.dxf", version="R12", unit="in")))
    assert "states no unit; one is 25.4 mm" in said


def test_one_card_for_all_files_and_nothing_from_elsewhere() -> None:
    page = card(svg("crab <1>.svg", unit="mm"), dxf("crab.dxf", unit="mm"))
    assert "crab &lt;1&gt;.svg" in page
    assert page.index("crab &lt;1&gt;.svg") < page.index("crab.dxf")
    assert not re.search(r"<script|https?://|src=|@import", page)


def test_it_says_size_first_and_ungroup_after() -> None:
    said = words(card(svg("crab.svg", unit="mm")))
    assert said.index("type the width") < said.index("Only then ungroup")
    assert "proportions" in said


def test_the_same_files_give_the_same_bytes() -> None:
    assert card(svg("crab.svg", unit="mm")) == card(svg("crab.svg", unit="mm"))
    assert [writer.name for writer in clothpath_writers()] == ["size-card"]
