"""Templates over several sheets of paper that are joined, after a first sheet that says how they are used.

Every sheet shows the same form, whose coordinates are those of the mat (see `clothpath.pages.joining`).
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from clothpath.curves import Affine
from clothpath.cutplan import CutSheet
from clothpath.files.linework import Layer, Line
from clothpath.files.names import text
from clothpath.pages.joining import EDGE_MM, FORM, draw_map, draw_tile, window_of
from clothpath.pages.paper import LEADING_MM, PT, SQUARES, Page, draw_band, squares_width, wrapped
from clothpath.pages.tiling import split, tiled
from clothpath.plugins.writers.pdf.labels import NOTES, draw_labels, labels_of
from clothpath.plugins.writers.pdf.templates import draw_lines, heading, said_of

__all__ = ["many_pages"]

GAP_MM: Final = 6.0
COVER_LINES: Final = 26
"""Most lines of words on one sheet, so that the map has room below them."""


def many_pages(
    page: Page,
    sheet: CutSheet,
    found: Sequence[Line],
    on: Sequence[Layer],
    paper: tuple[float, float],
    overlap: float,
) -> None:
    """The cover, then a page a tile, on paper of this width and height in mm, or across it if that splits less."""
    boxes = [line.path.box for line in found]
    ways = [(laid, tiled(boxes, window_of(laid), overlap)) for laid in (paper, paper[::-1])]
    laid, tiles = min(ways, key=lambda way: (len(way[1]), split(boxes, way[1])))
    labels = labels_of(sheet)
    page.canvas.beginForm(FORM, 0, 0, sheet.mat.width * PT, sheet.mat.height * PT)
    draw_lines(page, found, on, Affine())
    draw_labels(page, labels, Affine())
    page.canvas.endForm()
    page.size(*paper)
    said = wrapped(said_of(sheet, labels), paper[0] - squares_width() - 2 * EDGE_MM)
    top = paper[1] - EDGE_MM
    while len(said) > COVER_LINES:
        draw_band(page, said[:COVER_LINES], complex(EDGE_MM, top))
        said = said[COVER_LINES:]
        page.end()
        page.size(*paper)
    draw_band(page, said, complex(EDGE_MM, top))
    draw_map(page, boxes, tiles, top - max(SQUARES[0][0], len(said) * LEADING_MM) - 3 * GAP_MM)
    page.end()
    for tile in tiles:
        draw_tile(page, f"{text(heading(sheet), 60)}, {_turned(sheet)}", tile, len(tiles), laid)
        page.end()


def _turned(sheet: CutSheet) -> str:
    """Whether the templates are reversed; where some are, each says so itself."""
    sides = {side for _, side in sheet.laid}
    return NOTES[sides.pop()] if len(sides) == 1 else "some reversed: see each label"
