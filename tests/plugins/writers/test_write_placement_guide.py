"""The placement guide, read back by pdfplumber and PDFium.

ISO 32000-1: user space of 1/72 in; paper sizes: ISO 216 and ANSI/ASME Y14.1.
"""

from __future__ import annotations

import io
from dataclasses import replace

import pdfplumber
import pypdfium2
import pytest
from pdfminer.pdftypes import resolve1
from writer_sheets import crab, crab_layout

from clothpath.curves import Affine
from clothpath.cutplan import Blade, CutPlan, as_laid
from clothpath.design import mapped
from clothpath.layout import Demand
from clothpath.plugins.writers.placement_guide import PlacementGuide, PlacementGuideSettings, clothpath_writers
from clothpath.units import both

PT = 72 / 25.4


def plan(scale: float = 1.0) -> CutPlan:
    made = as_laid(crab_layout(), Blade())
    return replace(made, layout=replace(made.layout, demands=(Demand(mapped(crab(), Affine.scale(scale))),)))


def guide(of: CutPlan, **chosen: object) -> bytes:
    (document,) = PlacementGuide().compose(of, PlacementGuideSettings.model_validate(chosen)).value
    assert document.name == "placement-guide.pdf"
    return document.data


def said(data: bytes, page: int) -> str:
    return pypdfium2.PdfDocument(data)[page].get_textpage().get_text_bounded().replace("\r\n", " ")


@pytest.mark.parametrize(("paper", "size"), [("letter", (215.9, 279.4)), ("a4", (210, 297))])
def test_sheets_are_of_the_paper(paper: str, size: tuple[float, float]) -> None:
    document = pypdfium2.PdfDocument(guide(plan(3), paper=paper))
    assert len(document) > 3
    for page in document:
        got = sorted((page.get_width() / PT, page.get_height() / PT))
        assert got == pytest.approx(sorted(size), abs=0.01)


def test_check_squares_measure_an_inch_and_25_mm() -> None:
    with pdfplumber.open(io.BytesIO(guide(plan()))) as document:
        sides = {
            round(rect["width"] / PT, 2)
            for rect in document.pages[0].rects
            if rect["width"] == pytest.approx(rect["height"], abs=0.01)
        }
    assert {25.4, 25.0} <= sides


def test_the_picture_is_at_its_finished_size() -> None:
    data = guide(plan(), paper="whole", **{"block-width": "8 in", "block-height": "7 in"})
    with pdfplumber.open(io.BytesIO(data)) as document:
        page = document.pages[1]
        block = max(page.rects, key=lambda rect: rect["width"])
        curves = [curve for curve in (*page.curves, *page.lines) if curve["linewidth"] == pytest.approx(1.2, abs=0.01)]
        left, right = min(c["x0"] for c in curves), max(c["x1"] for c in curves)
        low, high = min(c["top"] for c in curves), max(c["bottom"] for c in curves)
    assert (block["width"] / PT, block["height"] / PT) == pytest.approx((203.2, 177.8), abs=0.01)
    box = crab().finished_box
    assert ((right - left) / PT, (high - low) / PT) == pytest.approx((box.width, box.height), abs=0.05)


def test_every_number_is_on_the_picture_and_in_the_list() -> None:
    data = guide(plan(), paper="whole")
    listed = said(data, 0)
    with pdfplumber.open(io.BytesIO(data)) as document:
        picture = [word["text"] for word in document.pages[1].extract_words(x_tolerance=1)]
    assert sorted(picture) == ["1", "2", "3", "4", "5", "6"]
    for piece in crab().pieces:
        assert piece.label in listed
    assert "Eye, Coral print, 2 of it" in listed


def test_the_title_says_the_size_and_the_grain_is_shown_where_it_matters() -> None:
    made = plan()
    design = crab()
    fabrics = tuple(replace(fabric, grain="lengthwise") for fabric in design.fabrics)
    demands = (Demand(replace(design, fabrics=fabrics)),)
    grained = guide(replace(made, title="crab, small", layout=replace(made.layout, demands=demands)), paper="whole")
    assert f"Placement guide: crab, small, finished about {both(design.finished_box.width)}" in said(grained, 0)
    assert "Shell, Coral print, grain lengthwise" in said(grained, 0)
    assert "grain" in said(grained, 1)
    assert "grain" not in said(guide(made, paper="whole"), 1)


def test_what_lines_mean_is_said() -> None:
    words = said(guide(plan()), 0)
    assert "right side" in words
    assert "dashed ones lie beneath a later piece" in words
    assert "actual size" in words


def test_mirror_images_are_told_apart_on_the_first_sheet() -> None:
    words = " ".join(said(guide(plan()), 0).split())
    assert words.count("are mirror images: they do not fit in each other's places.") == 2
    assert "Left claw (Coral print, 4 on the placement guide)" in words


def test_a_large_picture_goes_over_several_sheets_that_say_how_they_join() -> None:
    data = guide(plan(2.5))
    count = len(pypdfium2.PdfDocument(data)) - 1
    assert count > 1
    assert f"{count} sheets follow" in said(data, 0)
    assert f"sheet 1 of {count}; right: sheet 2" in said(data, 1)


def test_a_wide_picture_is_printed_across_the_paper_if_that_saves_sheets() -> None:
    box = crab().finished_box
    wide = plan(230 / box.width)
    assert box.height * 230 / box.width < 180
    document = pypdfium2.PdfDocument(guide(wide))
    assert len(document) == 2
    assert document[1].get_width() > document[1].get_height()


def test_fonts_are_embedded() -> None:
    with pdfplumber.open(io.BytesIO(guide(plan()))) as document:
        for page in document.pages:
            fonts = resolve1(page.page_obj.attrs["Resources"])["Font"]
            for font in resolve1(fonts).values():
                described = resolve1(resolve1(font).get("FontDescriptor", {}))
                assert "FontFile2" in described


def test_a_design_each_has_its_own_guide() -> None:
    made = plan()
    two = (Demand(crab()), Demand(replace(crab(), name="crab/blue")))
    documents = PlacementGuide().compose(
        replace(made, layout=replace(made.layout, demands=two)), PlacementGuideSettings()
    )
    names = [document.name for document in documents.value]
    assert len(set(names)) == 2
    assert all("/" not in name for name in names)


def test_the_same_plan_gives_the_same_bytes() -> None:
    assert guide(plan()) == guide(plan())
    assert [writer.name for writer in clothpath_writers()] == ["placement-guide"]
