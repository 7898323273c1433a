"""Measures PDF files: the paths that a page paints, through all matrices, 1/72 in to the unit.

Terminology
    user space      the coordinates of a page, 1/72 in to the unit, y up
    trim box        the part of a page that remains when it is cut to size: the mat, where the file states one
    band            what the page has beyond its trim box: captions, check squares

Painted paths count as lines, each subpath one, in the order in which they are painted. A line that lies wholly outside
the trim box belongs to the band and is not counted; a note says how many. One that reaches into the trim box, even if
it leaves it, is counted. Only the first page is a mat; more pages are a warning. PDFium reads the file.

Sources: ISO 32000-1:2008, 7.4.4 Flate streams, 8.3.2.3 user space, 8.5.2 path construction, 14.11.2 page boundaries.
"""

from __future__ import annotations

import base64
import ctypes
import re
import zlib
from collections.abc import Callable, Iterator
from typing import Any, Final

import pypdfium2.raw as pdfium

from clothpath.contracts import Declared, Measured, Measurement, Measurer, hookimpl
from clothpath.curves import Affine, Box, Curve, Path, transformed
from clothpath.findings import Finding, Outcome, Refusal, error, note, warning
from clothpath.measuring import as_found, reading

__all__ = ["PdfMeasurer"]

POINT_MM: Final = 25.4 / 72
DEEPEST_FORM: Final = 8
_STREAM: Final = re.compile(rb"obj(?:(?!obj).)*?/Length (\d+)(?! \d+ R)(?:(?!obj).)*?>>\s*?stream\r?\n", re.S)
_START: Final = re.compile(rb"startxref\s+(\d+)\s+%%EOF\s*\Z")


class PdfMeasurer:
    """Reads the painted paths back from a PDF file."""

    name = "pdf"
    budget_mm = 0.01

    def measure(self, data: bytes, declared: Declared) -> Outcome[Measurement]:
        """The lines in `data`, in mm from the lower left corner of the trim box.

        Raises:
            Refusal: not PDF, cut short, locked, or without a page.
        """
        _whole(data)
        document = pdfium.FPDF_LoadMemDocument64(data, len(data), None)
        if not document:
            raise Refusal(error("damaged-file", "The PDF file cannot be opened; it is damaged or locked."))
        try:
            with reading("PDF"):
                return _measured(document, data)
        finally:
            pdfium.FPDF_CloseDocument(document)


def _whole(data: bytes) -> None:
    """Refuse what is cut short: readers of PDF mend that without a word."""
    if not data.startswith(b"%PDF-"):
        raise Refusal(error("wrong-format", "The file is no PDF: it does not begin with %PDF."))
    match = _START.search(data, max(0, len(data) - 1024))
    at = int(match[1]) if match else -1
    if match is None or not (data.startswith(b"xref", at) or re.match(rb"\d+ \d+ obj", data[at : at + 20])):
        message = "The PDF file does not end as it should; it is cut short or altered."
        raise Refusal(error("damaged-file", message, f"byte {len(data)}", "Write the file again."))
    for stream in _STREAM.finditer(data):
        if b"/FlateDecode" in stream[0]:
            _checked(data[stream.end() : stream.end() + int(stream[1])], b"/ASCII85Decode" in stream[0], stream.end())


def _checked(packed: bytes, armored: bool, at: int) -> None:
    """Refuse a packed stream whose checksum is not that of its content (RFC 1950): PDFium does not look."""
    try:
        zlib.decompress(base64.a85decode(packed.strip().removesuffix(b"~>")) if armored else packed)
    except (ValueError, zlib.error):
        message = "A part of the PDF file is not what was packed into it; its bytes were altered."
        raise Refusal(error("damaged-file", message, f"byte {at}", "Write the file again.")) from None


def _measured(document: Any, data: bytes) -> Outcome[Measurement]:
    findings: list[Finding] = []
    pages = pdfium.FPDF_GetPageCount(document)
    page = pdfium.FPDF_LoadPage(document, 0) if pages > 0 else None
    if not page:
        raise Refusal(error("damaged-file", "The PDF file has no page that can be read.", "page 1"))
    try:
        if pages > 1:
            message = f"The PDF file has {pages} pages; only the first is measured."
            findings.append(warning("not-measured", message, "page 1"))
        if b"/UserUnit" in data:
            findings.append(
                warning("not-measured", "The PDF file changes its unit (UserUnit), which is not allowed for.")
            )
        mat = _mat(page)
        to_mm = Affine.scale(POINT_MM) @ Affine.shift(-complex(mat.left, mat.bottom))
        count = pdfium.FPDFPage_CountObjects(page)
        objects = [pdfium.FPDFPage_GetObject(page, n) for n in range(count)]
        lines = tuple(_lines(objects, to_mm, 0))
    finally:
        pdfium.FPDF_ClosePage(page)
    size = (mat.width * POINT_MM, mat.height * POINT_MM)
    on_mat = tuple(line for line in lines if _touches(line.path, size))
    if len(on_mat) < len(lines):
        message = f"{len(lines) - len(on_mat)} lines lie in the band beside the mat and are not counted."
        findings.append(note("beside-the-mat", message, "page 1"))
    return Outcome(Measurement("pt", size, on_mat), tuple(findings))


def _mat(page: Any) -> Box:
    """The trim box, else the crop box, else the media box, in points."""
    getters: tuple[Callable[..., int], ...] = (
        pdfium.FPDFPage_GetTrimBox,
        pdfium.FPDFPage_GetCropBox,
        pdfium.FPDFPage_GetMediaBox,
    )
    for get in getters:
        sides = [ctypes.c_float() for _ in range(4)]
        if get(page, *(ctypes.byref(side) for side in sides)):
            left, bottom, right, top = (side.value for side in sides)
            return Box(left, bottom, right, top)
    raise Refusal(error("damaged-file", "The page of the PDF file has no size.", "page 1"))


def _touches(path: Path, size: tuple[float, float]) -> bool:
    box = path.box
    return box.right > 0 and box.top > 0 and box.left < size[0] and box.bottom < size[1]


def _lines(objects: list[Any], to_mm: Affine, depth: int) -> Iterator[Measured]:
    """The lines of page objects; forms hold objects of their own."""
    for each in objects:
        kind = pdfium.FPDFPageObj_GetType(each)
        if kind == pdfium.FPDF_PAGEOBJ_PATH and _painted(each):
            here = to_mm @ _matrix(each)
            color = _color(each)
            for path in _paths(each):
                yield Measured(transformed(path, here), color)
        elif kind == pdfium.FPDF_PAGEOBJ_FORM and depth < DEEPEST_FORM:
            count = pdfium.FPDFFormObj_CountObjects(each)
            inner = [pdfium.FPDFFormObj_GetObject(each, n) for n in range(count)]
            yield from _lines(inner, to_mm @ _matrix(each), depth + 1)


def _painted(path: Any) -> bool:
    fill, stroke = ctypes.c_int(), ctypes.c_int()
    pdfium.FPDFPath_GetDrawMode(path, ctypes.byref(fill), ctypes.byref(stroke))
    return bool(fill.value or stroke.value)


def _matrix(of: Any) -> Affine:
    matrix = pdfium.FS_MATRIX()
    pdfium.FPDFPageObj_GetMatrix(of, ctypes.byref(matrix))
    return Affine(matrix.a, matrix.b, matrix.c, matrix.d, matrix.e, matrix.f)


def _color(path: Any) -> str:
    """The color of the stroke, "#rrggbb"."""
    rgba = [ctypes.c_uint() for _ in range(4)]
    if not pdfium.FPDFPageObj_GetStrokeColor(path, *(ctypes.byref(part) for part in rgba)):
        return ""
    return "#" + "".join(f"{part.value:02x}" for part in rgba[:3])


def _paths(of: Any) -> Iterator[Path]:
    """The subpaths of a path object, in its own coordinates; those of no length are none."""
    x, y = ctypes.c_float(), ctypes.c_float()
    to_x, to_y = ctypes.byref(x), ctypes.byref(y)
    start = 0j
    curves: list[Curve] = []
    controls: list[complex] = []
    for n in range(pdfium.FPDFPath_CountSegments(of)):
        segment = pdfium.FPDFPath_GetPathSegment(of, n)
        pdfium.FPDFPathSegment_GetPoint(segment, to_x, to_y)
        point = complex(x.value, y.value)
        kind = pdfium.FPDFPathSegment_GetType(segment)
        if kind == pdfium.FPDF_SEGMENT_MOVETO:
            if curves:
                yield as_found(start, curves, False)
            start, curves = point, []
        elif kind == pdfium.FPDF_SEGMENT_LINETO:
            curves.append((point,))
        else:
            controls.append(point)
            if len(controls) == 3:
                curves.append((controls[0], controls[1], controls[2]))
                controls = []
        if curves and not controls and pdfium.FPDFPathSegment_GetClose(segment):
            yield as_found(start, curves, True)
            curves = []
    if curves:
        yield as_found(start, curves, False)


@hookimpl
def clothpath_measurers() -> list[Measurer]:
    return [PdfMeasurer()]
