"""Measures PDF files: the paths that a page paints, through all matrices, 1/72 in to the unit.

Terminology
    user space      the coordinates of a page, 1/72 in to the unit, y up
    trim box        the part of a page that remains when it is cut to size: the mat, where the file states one
    band            what the page has beyond its trim box: captions, check squares
    artifact        what is marked as no part of the drawing: captions, check squares, join marks
    tile            a page that shows a part of a larger drawing, the form, through a window

Painted paths that are no artifacts count as lines, each subpath one, in the order in which they are painted. A line
that lies wholly outside the trim box belongs to the band and is not counted; a note says how many. One that reaches
into the trim box, even if it leaves it, is counted. Where a file has several pages, and each with lines shows them
through one form, they are tiles: a line is counted once, if the tiles show it alike and together show all of it, at the
place that it has in the form. Of other pages only the first with lines is measured, and a warning says so. PDFium reads
the file.

Sources: ISO 32000-1:2008, 7.4.4 Flate streams, 8.3.2.3 user space, 8.5.2 path construction, 8.10 forms, 14.8.2.2
artifacts, 14.11.2 page boundaries.
"""

from __future__ import annotations

import base64
import ctypes
import re
import zlib
from collections.abc import Callable, Iterator
from dataclasses import astuple, dataclass, replace
from typing import Any, Final

import numpy as np
import pypdfium2.raw as pdfium
import shapely

from clothpath.contracts import Declared, Measured, Measurement, Measurer, hookimpl
from clothpath.curves import Affine, Box, Curve, Path, flattened, transformed
from clothpath.findings import Finding, Outcome, Refusal, error, note, warning
from clothpath.proving.measuring import as_found, reading
from clothpath.regions import xy

__all__ = ["PdfMeasurer"]

POINT_MM: Final = 25.4 / 72
DEEPEST_FORM: Final = 8
ALIKE_MM: Final = 0.002
"""By how much two tiles may show a line otherwise: what single precision makes of it."""
SEEN_MM: Final = 0.01
"""A line that reaches this far beyond what is seen is seen."""
_FORM: Final = re.compile(rb"/Subtype\s*/Form\b")
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


@dataclass(frozen=True, slots=True)
class _Sheet:
    """What one page shows, in mm on the page.

    Attributes:
        number: from 1.
        trim: the trim box, else the crop box, else the media box.
        lines: all that is painted and no artifact.
        form: where the first form with lines stands; None: the page's lines are its own.
        window: what is seen of the form.
    """

    number: int
    trim: Box
    lines: tuple[Measured, ...]
    form: Affine | None
    window: Box


def _measured(document: Any, data: bytes) -> Outcome[Measurement]:
    findings: list[Finding] = []
    if b"/UserUnit" in data:
        findings.append(warning("not-measured", "The PDF file changes its unit (UserUnit), which is not allowed for."))
    one_form = len(_FORM.findall(data)) == 1
    sheets: list[_Sheet] = []
    for number in range(pdfium.FPDF_GetPageCount(document)):
        page = pdfium.FPDF_LoadPage(document, number)
        if not page:
            raise Refusal(error("damaged-file", "A page of the PDF file cannot be read.", f"page {number + 1}"))
        try:
            sheets.append(_sheet(page, number + 1, sheets if one_form else []))
        finally:
            pdfium.FPDF_ClosePage(page)
    if not sheets:
        raise Refusal(error("damaged-file", "The PDF file has no page."))
    shown = [sheet for sheet in sheets if sheet.lines]
    tiles = [sheet for sheet in shown if sheet.form is not None]
    if len(sheets) > 1 and tiles and len(tiles) == len(shown):
        return _joined(tiles, findings)
    if len(shown) > 1:
        message = f"{len(shown)} pages of the PDF file have lines; only the first of them is measured."
        findings.append(warning("not-measured", message, f"page {shown[0].number}"))
    return _alone((shown or sheets)[0], findings)


def _alone(sheet: _Sheet, findings: list[Finding]) -> Outcome[Measurement]:
    """The lines of one page, from the corner of its trim box, without those in the band."""
    to_mat = Affine.shift(-complex(sheet.trim.left, sheet.trim.bottom))
    lines = [replace(line, path=transformed(line.path, to_mat)) for line in sheet.lines]
    size = (sheet.trim.width, sheet.trim.height)
    on_mat = tuple(line for line in lines if _touches(line.path, size))
    if len(on_mat) < len(lines):
        message = f"{len(lines) - len(on_mat)} lines lie in the band beside the mat and are not counted."
        findings.append(note("beside-the-mat", message, f"page {sheet.number}"))
    return Outcome(Measurement("pt", size, on_mat), tuple(findings))


def _joined(tiles: list[_Sheet], findings: list[Finding]) -> Outcome[Measurement]:
    """The lines of a form that several pages show through windows, in the form's own place.

    Raises:
        Refusal: the pages do not show the same.
    """
    first, windows = _unplaced(tiles[0]), []
    for tile in tiles:
        lines = _unplaced(tile)
        same = len(lines) == len(first) and all(_alike(a.path, b.path) for a, b in zip(lines, first, strict=True))
        if not same:
            message = f"Page {tile.number} shows the drawing otherwise than page {tiles[0].number} does."
            raise Refusal(error("pages-differ", message, f"page {tile.number}", "Write the file again."))
        at = _place_of(tile)
        windows.append(shapely.box(*(np.array(astuple(tile.window)) - [at.real, at.imag] * 2)))
    seen = shapely.union_all(windows).buffer(SEEN_MM)
    whole = tuple(line for line in first if seen.covers(shapely.LineString(xy(flattened(line.path)))))
    if len(whole) < len(first):
        message = f"{len(first) - len(whole)} lines are cut off: no page, or pages together, show all of them."
        findings.append(warning("cut-off", message, "", "Write the file again."))
    return Outcome(Measurement("pt", None, whole), tuple(findings))


def _place_of(tile: _Sheet) -> complex:
    return tile.form.apply(0j) if tile.form else 0j


def _unplaced(tile: _Sheet) -> tuple[Measured, ...]:
    """The lines of a page without the shift of the form, but with whatever else its matrix does."""
    back = Affine.shift(-_place_of(tile))
    return tuple(replace(line, path=transformed(line.path, back)) for line in tile.lines)


def _alike(a: Path, b: Path) -> bool:
    same_kind = type(a) is type(b) and np.array_equal(a.straight, b.straight)
    return same_kind and float(np.abs(a.nodes - b.nodes).max()) <= ALIKE_MM


def _sheet(page: Any, number: int, before: list[_Sheet]) -> _Sheet:
    """One page; where the file has one form only, its lines are taken from a page `before` that shows it."""
    trim = _mat(page)
    objects = [pdfium.FPDFPage_GetObject(page, n) for n in range(pdfium.FPDFPage_CountObjects(page))]
    forms = [each for each in objects if pdfium.FPDFPageObj_GetType(each) == pdfium.FPDF_PAGEOBJ_FORM]
    forms = [each for each in forms if not _artifact(each)]
    form = Affine.scale(POINT_MM) @ _matrix(forms[0]) if forms else None
    window = _seen_of(forms[0], trim) if forms else trim
    known = next((sheet for sheet in before if sheet.form is not None), None)
    alone = len(forms) == 1 and all(_artifact(each) for each in objects if each is not forms[0])
    if known is not None and known.form is not None and form is not None and alone:
        onto = form @ known.form.inverse()
        lines = tuple(replace(line, path=transformed(line.path, onto)) for line in known.lines)
    else:
        lines = tuple(_lines(objects, Affine.scale(POINT_MM), 0))
    return _Sheet(number, trim, lines, form if alone else None, window)


def _artifact(of: Any) -> bool:
    """Whether an object is marked as no part of the drawing (ISO 32000-1, 14.8.2.2)."""
    name, length = (ctypes.c_ushort * 16)(), ctypes.c_ulong()
    for n in range(pdfium.FPDFPageObj_CountMarks(of)):
        mark = pdfium.FPDFPageObj_GetMark(of, n)
        pdfium.FPDFPageObjMark_GetName(mark, name, ctypes.sizeof(name), ctypes.byref(length))
        if bytes(name)[: length.value].decode("utf-16-le").rstrip("\0") == "Artifact":
            return True
    return False


def _seen_of(form: Any, trim: Box) -> Box:
    """The part of the page in which a form is seen: its clip path's box, within the trim box."""
    clip = pdfium.FPDFPageObj_GetClipPath(form)
    x, y = ctypes.c_float(), ctypes.c_float()
    window = trim
    for path in range(max(0, pdfium.FPDFClipPath_CountPaths(clip)) if clip else 0):
        points: list[complex] = []
        for n in range(pdfium.FPDFClipPath_CountPathSegments(clip, path)):
            segment = pdfium.FPDFClipPath_GetPathSegment(clip, path, n)
            pdfium.FPDFPathSegment_GetPoint(segment, ctypes.byref(x), ctypes.byref(y))
            points.append(complex(x.value, y.value) * POINT_MM)
        xs, ys = [point.real for point in points], [point.imag for point in points]
        window = Box(
            max(window.left, min(xs)), max(window.bottom, min(ys)), min(window.right, max(xs)), min(window.top, max(ys))
        )
    return window


def _mat(page: Any) -> Box:
    """The trim box, else the crop box, else the media box, in mm."""
    getters: tuple[Callable[..., int], ...] = (
        pdfium.FPDFPage_GetTrimBox,
        pdfium.FPDFPage_GetCropBox,
        pdfium.FPDFPage_GetMediaBox,
    )
    for get in getters:
        sides = [ctypes.c_float() for _ in range(4)]
        if get(page, *(ctypes.byref(side) for side in sides)):
            left, bottom, right, top = (side.value * POINT_MM for side in sides)
            return Box(left, bottom, right, top)
    raise Refusal(error("damaged-file", "A page of the PDF file has no size."))


def _touches(path: Path, size: tuple[float, float]) -> bool:
    box = path.box
    return box.right > 0 and box.top > 0 and box.left < size[0] and box.bottom < size[1]


def _lines(objects: list[Any], to_mm: Affine, depth: int) -> Iterator[Measured]:
    """The lines of page objects that are no artifacts; forms hold objects of their own."""
    for each in objects:
        kind = pdfium.FPDFPageObj_GetType(each)
        if _artifact(each):
            continue
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
