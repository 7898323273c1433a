"""The table of planted faults: every format against every fault, from the writer's bytes to the proof's finding.

Faults between layout and file are planted in what the writer is given; faults of the file are planted in its bytes. The
sheet that the proof compares with never has them.
"""

from __future__ import annotations

import base64
import re
import zlib
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest
from gulls import beside_sheet, flipped_in_place, gull_sheet, moved_sheet, piece_cuts

from clothpath.contracts import CutWriter, Measurer
from clothpath.curves import Affine, open_path
from clothpath.cutplan import Blade, CutSheet, MatCuts, sheets
from clothpath.cutting.tips import allowed
from clothpath.findings import Refusal
from clothpath.plugins.measurers.dxf import DxfMeasurer
from clothpath.plugins.measurers.eps import EpsMeasurer
from clothpath.plugins.measurers.gcode import GcodeMeasurer
from clothpath.plugins.measurers.hpgl import HpglMeasurer
from clothpath.plugins.measurers.pdf import PdfMeasurer
from clothpath.plugins.measurers.svg import SvgMeasurer
from clothpath.plugins.transforms.drag_knife import DragKnife, DragKnifeSettings
from clothpath.plugins.writers.dxf import DxfWriter
from clothpath.plugins.writers.eps import EpsWriter
from clothpath.plugins.writers.gcode import GcodeWriter
from clothpath.plugins.writers.hpgl import HpglWriter
from clothpath.plugins.writers.pdf import PdfWriter
from clothpath.plugins.writers.svg import SvgWriter
from clothpath.proof import prove

SHEET, TWO_MATS = gull_sheet(), beside_sheet()
BLADE = Blade(offset=0.25, overcut=1.0, compensated_by="file")
"""0.25 mm is usual, an overcut of 0.5 to 1 mm (common practice)."""


def knifed(sheet: CutSheet) -> CutSheet:
    """The sheet with paths for the holder of a drag knife."""
    plan = replace(sheet.plan, mats=(MatCuts(sheet.cuts),), blade=BLADE)
    return sheets(DragKnife().apply(plan, DragKnifeSettings(), BLADE).value, "mat")[0]


FORMATS: dict[str, tuple[CutWriter, dict[str, Any], Measurer]] = {
    "svg-mm": (SvgWriter(), {}, SvgMeasurer()),
    "svg-in-fills": (SvgWriter(), {"unit": "in", "style": "fills"}, SvgMeasurer()),
    "svg-72px": (SvgWriter(), {"unit": "px", "density": 72}, SvgMeasurer()),
    "dxf-splines": (DxfWriter(), {"curves": "splines"}, DxfMeasurer()),
    "dxf-R12": (DxfWriter(), {"version": "R12", "unit": "in"}, DxfMeasurer()),
    "dxf-R2010-polylines": (DxfWriter(), {"version": "R2010", "curves": "polylines"}, DxfMeasurer()),
    "pdf": (PdfWriter(), {}, PdfMeasurer()),
    "pdf-letter": (PdfWriter(), {"paper": "letter"}, PdfMeasurer()),
    "hpgl": (HpglWriter(), {}, HpglMeasurer()),
    "hpgl-turned": (HpglWriter(), {"origin": "upper-left", "x_axis": "down", "y_axis": "right"}, HpglMeasurer()),
    "eps": (EpsWriter(), {}, EpsMeasurer()),
    "gcode-arcs": (GcodeWriter(), {}, GcodeMeasurer()),
    "gcode-lines-in": (GcodeWriter(), {"curves": "lines", "unit": "in"}, GcodeMeasurer()),
    "gcode-tangential": (GcodeWriter(), {"knife": "tangential"}, GcodeMeasurer()),
    "svg-two-mats": (SvgWriter(), {}, SvgMeasurer()),
    "dxf-two-mats": (DxfWriter(), {}, DxfMeasurer()),
    "pdf-two-mats": (PdfWriter(), {}, PdfMeasurer()),
    "eps-two-mats": (EpsWriter(), {}, EpsMeasurer()),
    "svg-compensated": (SvgWriter(), {}, SvgMeasurer()),
    "dxf-compensated": (DxfWriter(), {}, DxfMeasurer()),
    "dxf-R12-compensated": (DxfWriter(), {"version": "R12", "unit": "in"}, DxfMeasurer()),
    "pdf-compensated": (PdfWriter(), {}, PdfMeasurer()),
    "hpgl-compensated": (HpglWriter(), {"markings": "draw"}, HpglMeasurer()),
    "eps-compensated": (EpsWriter(), {}, EpsMeasurer()),
    "gcode-compensated": (GcodeWriter(), {}, GcodeMeasurer()),
    "gcode-lines-compensated": (GcodeWriter(), {"curves": "lines", "markings": "draw"}, GcodeMeasurer()),
}


WRONG_UNIT: dict[str, tuple[bytes, bytes]] = {
    "svg-mm": (rb'(width="[\d.]+)mm" (height="[\d.]+)mm"', rb'\1in" \2in"'),
    "svg-in-fills": (rb'(width="[\d.]+)in" (height="[\d.]+)in"', rb'\1mm" \2mm"'),
    "svg-72px": (rb'(width="[\d.]+)px" (height="[\d.]+)px"', rb'\1mm" \2mm"'),
    "dxf-splines": (rb"(\$INSUNITS\r?\n 70\r?\n\s*)4", rb"\g<1>1"),
    "dxf-R2010-polylines": (rb"(\$INSUNITS\r?\n 70\r?\n\s*)4", rb"\g<1>5"),
    "gcode-arcs": (rb"G21", rb"G20"),
    "gcode-lines-in": (rb"G20", rb"G21"),
    "gcode-tangential": (rb"G21", rb"G20"),
    "svg-two-mats": (rb'(width="[\d.]+)mm" (height="[\d.]+)mm"', rb'\1in" \2in"'),
    "dxf-two-mats": (rb"(\$INSUNITS\r?\n 70\r?\n\s*)4", rb"\g<1>1"),
    "svg-compensated": (rb'(width="[\d.]+)mm" (height="[\d.]+)mm"', rb'\1px" \2px"'),
    "dxf-compensated": (rb"(\$INSUNITS\r?\n 70\r?\n\s*)4", rb"\g<1>5"),
    "gcode-compensated": (rb"G21", rb"G20"),
    "gcode-lines-compensated": (rb"G21", rb"G20"),
}
"""In the bytes, where the format states a unit."""
UNIT_FACTOR = {
    "hpgl": 0.025 / 0.0254,
    "hpgl-turned": 0.025 / 0.0254,
    "hpgl-compensated": 0.025 / 0.0254,
    "dxf-R12": 25.4,
    "dxf-R12-compensated": 25.4,
    "pdf": 25.4 / 72,
    "pdf-letter": 25.4 / 72,
    "pdf-compensated": 25.4 / 72,
    "eps": 25.4 / 72,
    "eps-compensated": 25.4 / 72,
    "pdf-two-mats": 25.4 / 72,
    "eps-two-mats": 25.4 / 72,
}
"""Elsewhere the writer is made to count in another unit: thousandths of an inch, inches, millimeters."""


def meant(name: str) -> CutSheet:
    """What the file is of."""
    return TWO_MATS if name.endswith("two-mats") else SHEET


def planned(name: str, sheet: CutSheet) -> CutSheet:
    """What the writer of this file is given."""
    return knifed(sheet) if name.endswith("compensated") else sheet


def written(name: str, sheet: CutSheet | None = None, scale: float = 1.0) -> bytes:
    """The file; `scale` is that of a writer which counts in another unit: it scales what was planned."""
    writer, settings, _ = FORMATS[name]
    sheet = moved_sheet(planned(name, sheet or meant(name)), Affine.scale(scale))
    return writer.write(sheet, writer.settings(**settings)).value


def faults_in(name: str, data: bytes) -> set[str]:
    """The codes of what measurer and proof find wrong in a file; none if it is released."""
    writer, chosen, measurer = FORMATS[name]
    settings, given = writer.settings(**chosen), planned(name, meant(name))
    try:
        declared = writer.declared(given, settings)
        measurement = measurer.measure(data, declared).value
    except Refusal as refusal:
        return {finding.code for finding in refusal.findings}
    sheet = writer.writes(given, settings)
    proof = prove(sheet, measurement, *allowed(sheet, declared, measurer.budget_mm))
    codes = {finding.code for finding in proof.findings if finding.severity == "error"}
    assert proof.ok is not bool(codes), "what is not released has a finding, and what has one is not released"
    return codes


def without(sheet: CutSheet, piece: str) -> CutSheet:
    gone = piece_cuts(sheet, piece)
    return replace(sheet, cuts=tuple(cut for n, cut in enumerate(sheet.cuts) if n not in gone))


def doubled(sheet: CutSheet, piece: str) -> CutSheet:
    return replace(sheet, cuts=(*sheet.cuts, *(sheet.cuts[n] for n in piece_cuts(sheet, piece))))


def opened(sheet: CutSheet, piece: str) -> CutSheet:
    n = piece_cuts(sheet, piece)[0]
    path = sheet.cuts[n].path
    *kept, last = path.segments()
    stop = last[-1] + 0.2 * (complex(path.nodes[-1, 0]) - last[-1])
    left = open_path(path.start, [*kept, (stop,)])
    return replace(sheet, cuts=(*sheet.cuts[:n], replace(sheet.cuts[n], outline=left, path=left), *sheet.cuts[n + 1 :]))


def moved_piece(sheet: CutSheet, piece: str, by: complex) -> CutSheet:
    moved = moved_sheet(sheet, Affine.shift(by))
    which = piece_cuts(sheet, piece)
    return replace(sheet, cuts=tuple(moved.cuts[n] if n in which else cut for n, cut in enumerate(sheet.cuts)))


PLANTED: dict[str, tuple[Callable[[CutSheet], CutSheet], str]] = {
    # 0.1 % is told as a size only where the lines lie far apart
    "scaled 1 %": (lambda sheet: moved_sheet(sheet, Affine.scale(1.01)), "wrong-size"),
    "scaled 0.1 %": (lambda sheet: moved_sheet(sheet, Affine.scale(1.001)), "off-place wrong-size"),
    "one piece mirrored": (lambda sheet: flipped_in_place(sheet, "left-wing"), "wrong-way-round"),
    "a slanting piece mirrored": (lambda sheet: flipped_in_place(sheet, "beak"), "wrong-way-round"),
    "all mirrored": (
        lambda sheet: moved_sheet(sheet, Affine.shift(sheet.mat.width) @ Affine.flip()),
        "whole-file-turned",
    ),
    "one piece missing": (lambda sheet: without(sheet, "right-wing"), "lost-line"),
    "one piece doubled": (lambda sheet: doubled(sheet, "body"), "doubled-line"),
    "an outline open": (lambda sheet: opened(sheet, "tail"), "open-outline"),
    "one piece moved 0.1 mm": (lambda sheet: moved_piece(sheet, "eye", 0.1), "off-place"),
    "outside the mat": (lambda sheet: moved_piece(sheet, "body", -60), "outside-mat"),
}


@pytest.mark.parametrize("name", FORMATS)
def test_a_file_as_written_is_released(name: str) -> None:
    assert faults_in(name, written(name)) == set()


@pytest.mark.parametrize("fault", PLANTED)
@pytest.mark.parametrize("name", FORMATS)
def test_a_planted_fault_is_caught_and_named(name: str, fault: str) -> None:
    plant, code = PLANTED[fault]
    assert set(code.split()) & faults_in(name, written(name, plant(meant(name))))


@pytest.mark.parametrize("name", FORMATS)
def test_a_wrong_unit_is_caught(name: str) -> None:
    if name in WRONG_UNIT:
        pattern, instead = WRONG_UNIT[name]
        data, count = re.subn(pattern, instead, written(name), count=1)
        assert count == 1
    else:
        data = written(name, scale=UNIT_FACTOR[name])
    assert {"wrong-size"} <= faults_in(name, data) <= {"wrong-size", "wrong-page"}


@pytest.mark.parametrize("name", FORMATS)
def test_a_truncated_file_is_caught_wherever_it_ends(name: str) -> None:
    data = written(name)
    last_needed = max(data.rfind(end) for end in (b"PD", b"%%EOF", b"</svg>", b"EOF", b"M2"))
    for n in range(1, 20):
        assert faults_in(name, data[: last_needed * n // 20])
    assert faults_in(name, data[: last_needed + 1])


DRAWING: dict[str, tuple[bytes, bytes]] = {
    "svg": (rb"<path.*</svg>", rb"<title>[^<]*</title>|stroke(?:-width)?=\"[^\"]*\""),
    "dxf": (
        rb"\bENTITIES\b.*?ENDSEC",
        rb"(?m)^(?:  5\r?\n\w+| 40\r?\n[\d.]+|330\r?\n\w+|100|(?: [123]0\r?\n0\.0\r?\n)*? 30\r?\n0\.0)\r?$",
    ),
    "hpgl": (rb"PU.*PU0,0", rb"SP\d"),
    "eps": (rb"newpath.*stroke", rb"(?m)^%.*$|^.*setrgbcolor"),
    "gcode": (rb"M0\b.*M2\b", rb"\([^)]*\)|[CZ]-?[\d.]+"),
}
"""Where the lines of a format stand, and what between them is no coordinate."""


@pytest.mark.parametrize("name", [name for name in FORMATS if not name.startswith("pdf")])
def test_a_changed_digit_of_a_coordinate_is_caught(name: str) -> None:
    """The first digit of every so manyth number of the drawing, up by one."""
    data = written(name)
    where, beside = DRAWING[name.partition("-")[0]]
    drawing = re.search(where, data, re.S)
    assert drawing is not None
    body = re.sub(beside, lambda match: b" " * len(match[0]), drawing[0])
    numbers = [drawing.start() + match.start() for match in re.finditer(rb"\d+\.\d+|\d{3,}", body)]
    assert len(numbers) > 60
    for at in numbers[:: len(numbers) // 10]:
        changed = data[:at] + bytes([48 + (data[at] - 47) % 10]) + data[at + 1 :]
        assert faults_in(name, changed), data[at - 40 : at + 20]


@pytest.mark.parametrize("name", FORMATS)
def test_no_changed_byte_ends_in_a_traceback(name: str) -> None:
    """Bytes all over the file, each turned to another: it is refused, held back, or what it holds is unharmed."""
    data = written(name)
    caught = 0
    for at in range(3, len(data), len(data) // 25):
        changed = data[:at] + bytes([data[at] ^ 0x15]) + data[at + 1 :]
        caught += bool(faults_in(name, changed))
    assert caught > 2


def inflated(stream: bytes) -> bytes:
    """What a stream of a PDF holds, whether or not it is armored as ASCII."""
    raw = stream if stream[:1] == b"x" else base64.a85decode(stream.strip().removesuffix(b"~>"))
    return zlib.decompressobj().decompress(raw)


@pytest.mark.parametrize("name", [name for name in FORMATS if name.startswith("pdf")])
def test_a_changed_byte_in_the_drawing_of_a_pdf_is_caught(name: str) -> None:
    data = written(name)
    streams = [match.span(1) for match in re.finditer(rb"stream\r?\n(.*?)endstream", data, re.S)]
    begin, end = max(
        (span for span in streams if b" RG" in inflated(data[slice(*span)])), key=lambda span: span[1] - span[0]
    )
    for at in range(begin, end - 8, (end - begin) // 30):
        assert faults_in(name, data[:at] + bytes([data[at] ^ 0x01]) + data[at + 1 :]), at - begin
