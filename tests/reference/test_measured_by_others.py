"""Second opinions on the measurers: third-party libraries and programs read the same files.

svgpathtools for SVG, ezdxf for DXF (it wrote the frame of the file, and takes no part in measuring), pdfplumber for PDF
(on pdfminer; the measurer uses PDFium), Ghostscript for EPS where it is installed.
"""

from __future__ import annotations

import io
import re
import shutil
import subprocess

import ezdxf
import pdfplumber
import pytest
from ezdxf import path as ezdxf_path
from gulls import gull_sheet
from svgpathtools import svgstr2paths

from clothpath.contracts import Declared, Measurement
from clothpath.curves import Box, box_of
from clothpath.plugins.measurers.dxf import DxfMeasurer
from clothpath.plugins.measurers.eps import EpsMeasurer
from clothpath.plugins.measurers.pdf import PdfMeasurer
from clothpath.plugins.measurers.svg import SvgMeasurer
from clothpath.plugins.writers.dxf import DxfSettings, DxfWriter
from clothpath.plugins.writers.eps import EpsSettings, EpsWriter
from clothpath.plugins.writers.pdf import PdfSettings, PdfWriter
from clothpath.plugins.writers.svg import SvgSettings, SvgWriter

SHEET = gull_sheet()


def boxes(measurement: Measurement) -> list[tuple[float, float, float, float]]:
    return [(b.left, b.bottom, b.right, b.top) for b in (line.path.box for line in measurement.lines)]


def whole(measurement: Measurement) -> Box:
    return box_of(line.path for line in measurement.lines)


@pytest.mark.parametrize(("unit", "mm"), [("mm", 1.0), ("in", 25.4)])
def test_svgpathtools_sees_the_same_boxes(unit: str, mm: float) -> None:
    data = SvgWriter().write(SHEET, SvgSettings(unit=unit)).value
    measured = SvgMeasurer().measure(data, Declared()).value
    paths, _ = svgstr2paths(data.decode())
    height = SHEET.mat.height
    bounds = [sub.bbox() for path in paths for sub in path.continuous_subpaths()]
    theirs = [(x0 * mm, height - y1 * mm, x1 * mm, height - y0 * mm) for x0, x1, y0, y1 in bounds]
    assert len(theirs) == len(SHEET.cuts)
    assert boxes(measured) == [pytest.approx(box, abs=1e-6) for box in theirs]


@pytest.mark.parametrize(
    "settings", [DxfSettings(curves="splines"), DxfSettings(version="R12"), DxfSettings(unit="in")]
)
def test_ezdxf_sees_the_same_boxes(settings: DxfSettings) -> None:
    data = DxfWriter().write(SHEET, settings).value
    measured = DxfMeasurer().measure(data, DxfWriter().declared(SHEET, settings)).value
    mm = 25.4 if settings.unit == "in" else 1.0
    document = ezdxf.read(io.StringIO(data.decode()))  # type: ignore[attr-defined]
    theirs = []
    for entity in document.modelspace():
        points = [vector * mm for vector in ezdxf_path.make_path(entity).flattening(0.0005 / mm)]
        xs, ys = [p.x for p in points], [p.y for p in points]
        theirs.append((min(xs), min(ys), max(xs), max(ys)))
    assert len(theirs) == len(SHEET.cuts)
    assert boxes(measured) == [pytest.approx(box, abs=0.002) for box in theirs]


def test_pdfplumber_sees_the_same_page_and_as_many_lines() -> None:
    data = PdfWriter().write(SHEET, PdfSettings()).value
    measured = PdfMeasurer().measure(data, Declared()).value
    point = 25.4 / 72
    with pdfplumber.open(io.BytesIO(data)) as document:
        page = document.pages[0]
        left, bottom, right, top = page.page_obj.attrs["TrimBox"]
        # what is marked as an artifact (labels, grain lines) is no content of the page: ISO 32000-1, 14.8.2.2
        drawn = [each for each in (*page.curves, *page.lines, *page.rects) if each.get("tag") != "Artifact"]
        inside = [each for each in drawn if page.height - each["top"] > bottom and page.height - each["bottom"] < top]
        ends = sorted((round(each["x0"] * point, 2), round(each["x1"] * point, 2)) for each in inside)
    assert measured.page == pytest.approx(((right - left) * point, (top - bottom) * point), abs=1e-3)
    assert len(ends) == len(SHEET.cuts)
    # pdfplumber's boxes are those of the points where segments meet
    nodes = [[*line.path.nodes[:, 0].real.tolist(), line.path.end.real] for line in measured.lines]
    ours = sorted((round(min(xs), 2), round(max(xs), 2)) for xs in nodes)
    assert [list(pair) for pair in ends] == [pytest.approx(list(pair), abs=0.02) for pair in ours]


@pytest.mark.skipif(shutil.which("gs") is None, reason="Ghostscript is not installed")
def test_ghostscript_sees_the_same_box() -> None:
    data = EpsWriter().write(SHEET, EpsSettings()).value
    measured = whole(EpsMeasurer().measure(data, Declared()).value)
    command = ["gs", "-q", "-dSAFER", "-dBATCH", "-dNOPAUSE", "-sDEVICE=bbox", "-"]
    # hair lines, since Ghostscript counts the width of a line
    thin = re.sub(rb"[\d.]+ setlinewidth", b"0 setlinewidth", data)
    said = subprocess.run(command, input=thin, capture_output=True, check=True, timeout=60).stderr.decode()
    match = re.search(r"%%HiResBoundingBox: ([\d.]+) ([\d.]+) ([\d.]+) ([\d.]+)", said)
    assert match is not None
    theirs = [float(value) * 25.4 / 72 for value in match.groups()]
    assert (measured.left, measured.bottom, measured.right, measured.top) == pytest.approx(theirs, abs=0.05)
