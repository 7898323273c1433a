"""First check of every writer: the file holds what the sheet says, read by a library that did not write it."""

from __future__ import annotations

import io
import re

import numpy as np
import pypdfium2
import pytest
from sheets import crab_sheet
from svgpathtools import svg2paths2

from clothpath.curves import box_of
from clothpath.plugins.writers.dxf import DxfSettings, DxfWriter
from clothpath.plugins.writers.hpgl import HpglSettings, HpglWriter
from clothpath.plugins.writers.pdf import PdfSettings, PdfWriter
from clothpath.plugins.writers.svg import SvgSettings, SvgWriter


@pytest.mark.parametrize(("unit", "per_mm"), [("mm", 1.0), ("in", 1 / 25.4), ("px", 96 / 25.4)])
def test_svg_page_is_the_mat(unit: str, per_mm: float) -> None:
    data = SvgWriter().write(crab_sheet(), SvgSettings(unit=unit)).value
    _, _, root = svg2paths2(io.StringIO(data.decode()))
    width, height = (float(root[key].removesuffix(unit)) for key in ("width", "height"))
    assert (width, height) == pytest.approx((203.2 * per_mm, 304.8 * per_mm), abs=1e-3)
    assert [float(v) for v in root["viewBox"].split()] == [0, 0, width, height]


def test_svg_lines_are_where_the_sheet_has_them() -> None:
    sheet = SvgWriter().writes(crab_sheet(), SvgSettings())
    found, _, _ = svg2paths2(io.StringIO(SvgWriter().write(sheet, SvgSettings()).value.decode()))
    assert len(found) == len(sheet.cuts)
    for path, cut in zip(found, sheet.cuts, strict=True):
        left, right, top, bottom = path.bbox()
        box = cut.path.box
        assert (left, right) == pytest.approx((box.left, box.right), abs=0.002)
        assert (304.8 - bottom, 304.8 - top) == pytest.approx((box.bottom, box.top), abs=0.002)


def test_pdf_boxes_are_at_full_size() -> None:
    sheet = crab_sheet()
    page = pypdfium2.PdfDocument(PdfWriter().write(sheet, PdfSettings()).value)[0]
    left, bottom, right, top = page.get_trimbox()
    assert ((right - left) / 72 * 25.4, (top - bottom) / 72 * 25.4) == pytest.approx((203.2, 304.8), abs=0.001)


def test_hpgl_counts_in_fortieths_of_a_millimeter() -> None:
    sheet = HpglWriter().writes(crab_sheet(), HpglSettings())
    text = HpglWriter().write(sheet, HpglSettings()).value.decode()
    downs = re.findall(r"PU(\d+),(\d+);PD([\d,]+);", text)
    assert len(downs) == len(sheet.cuts)
    points = np.array([int(v) for x, y, rest in downs for v in (x, y, *rest.split(","))]).reshape(-1, 2) * 0.025
    box = box_of(cut.path for cut in sheet.cuts)
    assert points.min(axis=0) == pytest.approx((box.left, box.bottom), abs=0.0126)
    assert points.max(axis=0) == pytest.approx((box.right, box.top), abs=0.0126)


def test_dxf_passes_the_audit() -> None:
    import ezdxf

    for version in ("R12", "R2000", "R2010"):
        data = DxfWriter().write(crab_sheet(), DxfSettings(version=version)).value
        document = ezdxf.read(io.StringIO(data.decode()))
        assert not document.audit().errors
        assert len(document.modelspace()) == len(crab_sheet().cuts)
