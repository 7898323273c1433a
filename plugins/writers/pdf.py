"""PDF templates at full size, for cutting by hand or for software that takes PDF.

Terminology
    band        what the page has below the mat: how the templates are used, and a square of 1 in and one of 25 mm to
                check the print with
    tile        the part of the mat that one sheet of paper shows; neighbors overlap
    join mark   a cross in the middle of an overlap, at the same place of the mat on both sheets

As one page, the page is the mat with the band below it, and the mat is the page's trim box, so that a program can tell
the templates from the rest. On letter or A4 paper a first sheet has the band and shows how the others join; each other
sheet shows the same form, whose coordinates are those of the mat, through a window, which is its trim box. All that is
no template is marked as an artifact.

Sources: default user space of 1/72 in, form XObjects, page boxes, artifacts: ISO 32000-1, 8.3.2.3, 8.10, 14.11.2 and
14.8.2.2; paper sizes: ISO 216 and ANSI/ASME Y14.1; which way round templates are used: common practice.
"""

from __future__ import annotations

import io
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated, Final, Literal

from pydantic import Field

from clothpath.contracts import Declared, Millimeters, Settings, hookimpl
from clothpath.curves import Affine, Box, Outline, Path, transformed
from clothpath.cutplan import CutSheet
from clothpath.design import Side
from clothpath.findings import Outcome
from clothpath.ink import ink
from clothpath.linework import (
    Layer,
    Line,
    Markings,
    blade_of,
    carried,
    layers,
    lines,
    passes_note,
    passes_once,
    sheet_title,
)
from clothpath.names import text
from clothpath.tiling import Tile, tiled

if TYPE_CHECKING:
    from reportlab.pdfgen.canvas import Canvas

__all__ = ["PdfSettings", "PdfWriter"]

PT: Final = 72 / 25.4
"""Points to the millimeter."""
PAPER_MM: Final = {"letter": (215.9, 279.4), "a4": (210.0, 297.0)}
EDGE_MM: Final = 10.0
"""What every sheet keeps clear of the paper's edges; most printers need 4 to 7 mm (memory)."""
FOOT_MM: Final = 8.0
"""Height of the line of words below a tile."""
LEAST_WIDTH_MM: Final = 190.0
"""Least width of a single page, for the words in the band."""
LEAST_BAND_MM: Final = 42.0
SQUARES: Final = ((25.4, "1 in"), (25.0, "25 mm"))
GAP_MM: Final = 6.0
LINE_MM: Final = 0.25
DASH_MM: Final = 1.5
MARK_MM: Final = 8.0
"""Length of a join mark's arms, end to end."""
USES: Final[dict[Side, str]] = {
    "wrong-side-up": "Reversed, for {}: trace on the paper of the web, or press as freezer paper to the wrong side.",
    "right-side-up": "Not reversed, for {}: use on the right side of the cloth.",
}
FONT: Final = "Vera"
FONT_MM: Final = 3.2
LEADING_MM: Final = 5.0
MAP_MM: Final = 90.0
"""Longer side of the map of the sheets."""


class PdfSettings(Settings):
    """How PDF templates are written."""

    paper: Literal["mat", "letter", "a4"] = Field(
        "mat", description="One page of the mat's size, or sheets of this paper to be joined."
    )
    overlap: Annotated[Millimeters, Field(ge=0, le=50)] = Field(12.0, description="How much neighboring sheets share.")
    markings: Markings = Field("draw", description="Whether markings are drawn, dashed.")


class PdfWriter:
    """Writes PDF."""

    name: Final = "pdf"
    summary: Final = "PDF templates at full size, on one page or on letter or A4 sheets to be joined"
    suffix: Final = ".pdf"
    settings: Final = PdfSettings

    def writes(self, sheet: CutSheet, settings: PdfSettings) -> CutSheet:
        """All that is cut, and the markings unless they are left out."""
        return passes_once(carried(sheet, settings.markings))

    def declared(self, sheet: CutSheet, settings: PdfSettings) -> Declared:
        """Nothing of the size, which a PDF states."""
        return blade_of(sheet)

    def write(self, sheet: CutSheet, settings: PdfSettings) -> Outcome[bytes]:
        """The file."""
        kept = self.writes(sheet, settings)
        on = layers(kept)
        found = lines(kept, on)
        stream = io.BytesIO()
        page = _Page(_canvas(stream, sheet_title(kept)))
        if settings.paper == "mat":
            _single_page(page, kept, found, on)
        else:
            _sheets(page, kept, found, on, PAPER_MM[settings.paper], settings.overlap)
        page.canvas.save()
        return Outcome(stream.getvalue(), passes_note(sheet, self.name))


def _canvas(stream: io.BytesIO, title: str) -> Canvas:
    """An empty document with its font."""
    from reportlab.pdfbase import pdfmetrics
    from reportlab.pdfbase.ttfonts import TTFont
    from reportlab.pdfgen.canvas import Canvas

    if FONT not in pdfmetrics.getRegisteredFontNames():
        pdfmetrics.registerFont(TTFont(FONT, "Vera.ttf"))
    canvas = Canvas(stream, invariant=1, pageCompression=1, initialFontName=FONT)  # type: ignore[arg-type]
    canvas.setTitle(title)
    canvas.setCreator("Clothpath")
    canvas.setViewerPreference("PrintScaling", "None")
    return canvas


@dataclass(frozen=True, slots=True)
class _Page:
    """A canvas that counts in millimeters from the lower left corner of the page."""

    canvas: Canvas

    def size(self, width: float, height: float, window: Box | None = None) -> None:
        """Of the current page, with its trim box."""
        self.canvas.setPageSize((width * PT, height * PT))
        box = window or Box(0, 0, width, height)
        self.canvas.setTrimBox((box.left * PT, box.bottom * PT, box.right * PT, box.top * PT))

    @contextmanager
    def artifact(self) -> Iterator[None]:
        """What is drawn inside is no template."""
        self.canvas.addLiteral("/Artifact BMC")
        self.canvas.saveState()
        self.canvas.setDash([])
        self.canvas.setLineWidth(LINE_MM * PT)
        yield
        self.canvas.restoreState()
        self.canvas.addLiteral("EMC")

    def square(self, left: float, bottom: float, side: float, name: str) -> None:
        """A square with its name in it."""
        self.canvas.rect(left * PT, bottom * PT, side * PT, side * PT)
        self.words(left + side / 2, bottom + side / 2 - FONT_MM / 3, name, centered=True)

    def words(self, x: float, y: float, said: str, *, centered: bool = False) -> None:
        """One line of words."""
        self.canvas.setFont(FONT, FONT_MM * PT)
        draw = self.canvas.drawCentredString if centered else self.canvas.drawString
        draw(x * PT, y * PT, _printable(said))


def _printable(said: str) -> str:
    """The words in what the font has."""
    from reportlab.pdfbase import pdfmetrics

    known = pdfmetrics.getFont(FONT).face.charWidths  # type: ignore[attr-defined]
    return "".join(char if ord(char) in known else "?" for char in said)


def _wrapped(said: Sequence[str], width: float) -> list[str]:
    """The lines of words broken at `width` mm."""
    from reportlab.lib.utils import simpleSplit

    return [line for each in said for line in simpleSplit(_printable(each), FONT, FONT_MM * PT, width * PT)]


def _captions(sheet: CutSheet) -> list[str]:
    """What the band says."""
    labels = {fabric.key: text(fabric.label or fabric.key, 40) for fabric in sheet.fabrics}
    said = [sheet_title(sheet), "Print at 100 % (actual size). The squares must measure 1 in and 25 mm."]
    for side, use in (
        (
            "wrong-side-up",
            "Reversed, for {}: trace on the paper of the web, or press as freezer paper to the wrong side.",
        ),
        ("right-side-up", "Not reversed, for {}: use on the right side of the cloth."),
    ):
        named = [labels[key] for key, laid in sheet.laid if laid == side]
        if named:
            said.append(use.format(", ".join(named)))
    return said


def _band(page: _Page, said: Sequence[str], left: float, top: float) -> None:
    """The squares and, beside them, the words."""
    with page.artifact():
        at = left
        for side, name in SQUARES:
            page.square(at, top - SQUARES[0][0], side, name)
            at += side + GAP_MM
        for n, line in enumerate(said):
            page.words(at, top - FONT_MM - LEADING_MM * n, line)


def _single_page(page: _Page, sheet: CutSheet, found: Sequence[Line], on: Sequence[Layer]) -> None:
    """The mat with the band below it."""
    width = max(sheet.mat.width, LEAST_WIDTH_MM)
    squares = sum(side + GAP_MM for side, _ in SQUARES)
    said = _wrapped(_captions(sheet), width - squares - 2 * EDGE_MM)
    band = max(LEAST_BAND_MM, len(said) * LEADING_MM + 2 * GAP_MM)
    page.size(width, sheet.mat.height + band, Box(0, band, sheet.mat.width, band + sheet.mat.height))
    _draw_lines(page.canvas, found, on, Affine.shift(complex(0, band)))
    _band(page, said, EDGE_MM, band - GAP_MM)
    page.canvas.showPage()


def _sheets(
    page: _Page,
    sheet: CutSheet,
    found: Sequence[Line],
    on: Sequence[Layer],
    paper: tuple[float, float],
    overlap: float,
) -> None:
    """A first sheet with the band and the map, then a sheet a tile."""
    boxes = [line.path.box for line in found]
    window = (paper[0] - 2 * EDGE_MM, paper[1] - 2 * EDGE_MM - FOOT_MM)
    tiles = tiled(boxes, window, overlap)
    page.canvas.beginForm("mat", 0, 0, sheet.mat.width * PT, sheet.mat.height * PT)
    _draw_lines(page.canvas, found, on, Affine())
    page.canvas.endForm()
    page.size(*paper)
    _cover(page, sheet, boxes, tiles, paper)
    page.canvas.showPage()
    for tile in tiles:
        _tile(page, sheet_title(sheet), tile, tiles, paper)
        page.canvas.showPage()


def _cover(
    page: _Page, sheet: CutSheet, boxes: Sequence[Box], tiles: Sequence[Tile], paper: tuple[float, float]
) -> None:
    """The first sheet: the band, and below it the map."""
    squares = sum(side + GAP_MM for side, _ in SQUARES)
    said = _wrapped(_captions(sheet), paper[0] - squares - 2 * EDGE_MM)
    top = paper[1] - EDGE_MM
    _band(page, said, EDGE_MM, top)
    bottom = top - max(SQUARES[0][0], len(said) * LEADING_MM) - 3 * GAP_MM
    with page.artifact():
        joining = f"{len(tiles)} sheets follow. Lay each over its neighbor so that the crosses meet, and tape them."
        page.words(EDGE_MM, bottom, joining if len(tiles) > 1 else "One sheet follows.")
        whole = tiles[0].window
        for tile in tiles[1:]:
            whole = whole.union(tile.window)
        scale = MAP_MM / max(whole.width, whole.height)
        onto = Affine.shift(complex(EDGE_MM, bottom - GAP_MM - whole.height * scale)) @ Affine.scale(scale)
        onto = onto @ Affine.shift(-complex(whole.left, whole.bottom))
        page.canvas.setFillColor("#dddddd")
        for box in boxes:
            _map_box(page, box, onto, fill=1)
        page.canvas.setFillColor("#000000")
        for tile in tiles:
            _map_box(page, tile.window, onto, fill=0)
            at = onto.apply(tile.window.center)
            page.words(at.real, at.imag - FONT_MM / 3, str(tile.number), centered=True)


def _map_box(page: _Page, box: Box, onto: Affine, *, fill: int) -> None:
    corner = onto.apply(complex(box.left, box.bottom)) * PT
    scale = onto.a * PT
    page.canvas.rect(corner.real, corner.imag, box.width * scale, box.height * scale, stroke=1 - fill, fill=fill)


def _tile(page: _Page, title: str, tile: Tile, tiles: Sequence[Tile], paper: tuple[float, float]) -> None:
    """One sheet: the mat through its window, the join marks, and which sheet it is."""
    window = tile.window
    left, bottom = EDGE_MM, EDGE_MM + FOOT_MM
    page.size(*paper, Box(left, bottom, left + window.width, bottom + window.height))
    shift = complex(left - window.left, bottom - window.bottom)
    canvas = page.canvas
    canvas.saveState()
    clip = canvas.beginPath()
    clip.rect(left * PT, bottom * PT, window.width * PT, window.height * PT)
    canvas.clipPath(clip, stroke=0, fill=0)
    canvas.translate(shift.real * PT, shift.imag * PT)
    canvas.doForm("mat")
    canvas.restoreState()
    with page.artifact():
        for mark in tile.joins:
            at = (mark + shift) * PT
            arm = MARK_MM / 2 * PT
            canvas.line(at.real - arm, at.imag, at.real + arm, at.imag)
            canvas.line(at.real, at.imag - arm, at.real, at.imag + arm)
        neighbors = "".join(f"; {side}: sheet {number}" for side, number in tile.neighbors)
        page.words(left, EDGE_MM + FOOT_MM / 3, f"{text(title, 60)}, sheet {tile.number} of {len(tiles)}{neighbors}")


def _draw_lines(canvas: Canvas, found: Sequence[Line], on: Sequence[Layer], onto: Affine) -> None:
    """Every line, in the color of its fabric; markings dashed and black."""
    to_points = Affine.scale(PT) @ onto
    canvas.setLineWidth(LINE_MM * PT)
    canvas.setLineJoin(1)
    layer = -1
    for line in found:
        if line.layer != layer:
            layer = line.layer
            fabric = on[layer].fabric
            canvas.setStrokeColor(ink(fabric.color) if fabric else "#000000")
            canvas.setDash([] if fabric else [DASH_MM * PT] * 2)
        _draw_path(canvas, transformed(line.path, to_points))
    canvas.setDash([])
    canvas.setStrokeColor("#000000")


def _draw_path(canvas: Canvas, path: Path) -> None:
    drawn = canvas.beginPath()
    drawn.moveTo(path.start.real, path.start.imag)
    closed = isinstance(path, Outline)
    segments = path.segments()
    if closed and path.straight[-1]:
        segments.pop()
    for segment in segments:
        if len(segment) == 1:
            drawn.lineTo(segment[0].real, segment[0].imag)
        else:
            drawn.curveTo(*(value for point in segment for value in (point.real, point.imag)))
    if closed:
        drawn.close()
    canvas.drawPath(drawn, stroke=1, fill=0)


@hookimpl
def clothpath_writers() -> list[PdfWriter]:
    """The PDF writer."""
    return [PdfWriter()]
