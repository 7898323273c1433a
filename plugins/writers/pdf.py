"""PDF templates at full size, for cutting by hand or for software that takes PDF.

The page is the mat with a band below it. The band says how the templates are used, and carries a square of 1 in and one
of 25 mm to check the print with; nothing of it lies on the mat. The mat itself is the page's trim box, so that a
program can tell the templates from the rest. On letter or A4 paper the mat is tiled over pages that overlap.

Sources: default user space of 1/72 in, page boxes, ISO 32000-1, 8.3.2.3 and 14.11.2; which way round templates are
used, common practice.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from typing import TYPE_CHECKING, Final

from pydantic import Field

from clothpath.contracts import Declared, Settings, hookimpl
from clothpath.curves import Affine, Outline, Path, transformed
from clothpath.cutplan import CutSheet
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

if TYPE_CHECKING:
    from reportlab.pdfgen.canvas import Canvas

__all__ = ["PdfSettings", "PdfWriter"]

POINTS_PER_MM: Final = 72 / 25.4
BAND_MM: Final = 42.0
"""Height of the band below the mat."""
EDGE_MM: Final = 6.0
"""What the band keeps clear of the page's edges."""
LEAST_WIDTH_MM: Final = 190.0
"""Least width of the page, for the words in the band."""
LINE_MM: Final = 0.25
DASH_MM: Final = 1.5
FONT: Final = "Vera"
FONT_MM: Final = 3.2


class PdfSettings(Settings):
    """How PDF templates are written."""

    markings: Markings = Field("draw", description="Whether markings are drawn, dashed.")


class PdfWriter:
    """Writes PDF."""

    name: Final = "pdf"
    summary: Final = "PDF templates at full size, with squares to check the print"
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
        width = max(kept.mat.width, LEAST_WIDTH_MM)
        stream = io.BytesIO()
        canvas = _canvas(stream, width, kept.mat.height + BAND_MM, kept)
        canvas.setTrimBox(
            (0, BAND_MM * POINTS_PER_MM, kept.mat.width * POINTS_PER_MM, (BAND_MM + kept.mat.height) * POINTS_PER_MM)
        )
        _draw_lines(canvas, lines(kept, on), on, Affine.shift(complex(0, BAND_MM)))
        _draw_band(canvas, _captions(kept))
        canvas.showPage()
        canvas.save()
        return Outcome(stream.getvalue(), passes_note(sheet, self.name))


def _canvas(stream: io.BytesIO, width: float, height: float, sheet: CutSheet) -> Canvas:
    """A document with its font; sizes in mm."""
    from reportlab.pdfbase import pdfmetrics
    from reportlab.pdfbase.ttfonts import TTFont
    from reportlab.pdfgen.canvas import Canvas

    if FONT not in pdfmetrics.getRegisteredFontNames():
        pdfmetrics.registerFont(TTFont(FONT, "Vera.ttf"))
    canvas = Canvas(stream, pagesize=(width * POINTS_PER_MM, height * POINTS_PER_MM), invariant=1, pageCompression=1)
    canvas.setTitle(sheet_title(sheet))
    canvas.setCreator("Clothpath")
    canvas.setViewerPreference("PrintScaling", "None")
    return canvas


def _captions(sheet: CutSheet) -> list[str]:
    """What the band says, line by line."""
    labels = {fabric.key: text(fabric.label or fabric.key, 40) for fabric in sheet.fabrics}
    said = [sheet_title(sheet), "Print at 100 % (actual size). The squares must measure 1 in and 25 mm."]
    for side, words in (
        (
            "wrong-side-up",
            "Reversed, for {}: trace on the paper of the web, or press as freezer paper to the wrong side.",
        ),
        ("right-side-up", "Not reversed, for {}: use on the right side of the cloth."),
    ):
        named = [labels[key] for key, laid in sheet.laid if laid == side]
        if named:
            said.append(words.format(", ".join(named)))
    return said


def _draw_lines(canvas: Canvas, found: Sequence[Line], on: Sequence[Layer], onto: Affine) -> None:
    """Every line, in the color of its fabric; markings dashed and black."""
    to_points = Affine.scale(POINTS_PER_MM) @ onto
    canvas.setLineWidth(LINE_MM * POINTS_PER_MM)
    canvas.setLineJoin(1)
    layer = -1
    for line in found:
        if line.layer != layer:
            layer = line.layer
            fabric = on[layer].fabric
            canvas.setStrokeColor(ink(fabric.color) if fabric else "#000000")
            canvas.setDash([] if fabric else [DASH_MM * POINTS_PER_MM] * 2)
        _draw_path(canvas, transformed(line.path, to_points))


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


def _draw_band(canvas: Canvas, captions: Sequence[str]) -> None:
    """The squares, with the words beside them."""
    canvas.setDash([])
    canvas.setStrokeColor("#000000")
    canvas.setFillColor("#000000")
    canvas.setFont(FONT, FONT_MM * POINTS_PER_MM)
    left = EDGE_MM
    for side, name in ((25.4, "1 in"), (25.0, "25 mm")):
        canvas.rect(left * POINTS_PER_MM, EDGE_MM * POINTS_PER_MM, side * POINTS_PER_MM, side * POINTS_PER_MM)
        middle = (left + side / 2, EDGE_MM + side / 2 - FONT_MM / 3)
        canvas.drawCentredString(middle[0] * POINTS_PER_MM, middle[1] * POINTS_PER_MM, name)
        left += side + EDGE_MM
    for n, caption in enumerate(captions):
        top = BAND_MM - EDGE_MM - FONT_MM - 1.6 * FONT_MM * n
        canvas.drawString(left * POINTS_PER_MM, top * POINTS_PER_MM, caption)


@hookimpl
def clothpath_writers() -> list[PdfWriter]:
    """The PDF writer."""
    return [PdfWriter()]
