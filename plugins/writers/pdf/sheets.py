"""Templates over several sheets of paper that are joined.

Terminology
    cover       the first sheet: how the templates are used, check squares, and a map of the others
    tile        a sheet that shows part of the mat through a window; neighbors overlap
    join mark   a cross in the middle of an overlap, at the same place of the mat on both sheets

Every tile shows the same form, whose coordinates are those of the mat, and its trim box is the window: where the form
stands on a page says which part of the mat the page shows.

Source: form XObjects, ISO 32000-1, 8.10.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from clothpath.curves import Affine, Box
from clothpath.cutplan import CutSheet
from clothpath.linework import Layer, Line, sheet_title
from clothpath.names import text
from clothpath.plugins.writers.pdf.page import LEADING_MM, PT, Page, wrapped
from clothpath.plugins.writers.pdf.templates import (
    NOTES,
    SQUARES,
    draw_band,
    draw_labels,
    draw_lines,
    said_of,
    squares_width,
)
from clothpath.tiling import Tile, tiled

__all__ = ["many_pages"]

EDGE_MM: Final = 10.0
"""What every sheet keeps clear of the paper's edges; most printers need 4 to 7 mm (memory)."""
FOOT_MM: Final = 8.0
"""Height of the line of words below a tile."""
GAP_MM: Final = 6.0
MARK_MM: Final = 8.0
"""Length of a join mark's arms, end to end."""
MAP_MM: Final = 90.0
"""Longer side of the map."""
FORM: Final = "mat"


def many_pages(
    page: Page,
    sheet: CutSheet,
    found: Sequence[Line],
    on: Sequence[Layer],
    paper: tuple[float, float],
    overlap: float,
) -> None:
    """The cover, then a page a tile, on paper of this width and height in mm."""
    boxes = [line.path.box for line in found]
    window = (paper[0] - 2 * EDGE_MM, paper[1] - 2 * EDGE_MM - FOOT_MM)
    tiles = tiled(boxes, window, overlap)
    page.canvas.beginForm(FORM, 0, 0, sheet.mat.width * PT, sheet.mat.height * PT)
    draw_lines(page, found, on, Affine())
    draw_labels(page, sheet, Affine())
    page.canvas.endForm()
    page.size(*paper)
    _cover(page, sheet, boxes, tiles, paper)
    page.end()
    for tile in tiles:
        _tile(page, sheet, tile, len(tiles), paper)
        page.end()


def _cover(
    page: Page, sheet: CutSheet, boxes: Sequence[Box], tiles: Sequence[Tile], paper: tuple[float, float]
) -> None:
    said = wrapped(said_of(sheet), paper[0] - squares_width() - 2 * EDGE_MM)
    top = paper[1] - EDGE_MM
    draw_band(page, said, complex(EDGE_MM, top))
    under = top - max(SQUARES[0][0], len(said) * LEADING_MM) - 3 * GAP_MM
    with page.artifact():
        many = f"{len(tiles)} sheets follow. Lay each over its neighbor so that the crosses meet, and tape them."
        page.words(complex(EDGE_MM, under), many if len(tiles) > 1 else "One sheet follows.")
        whole = tiles[0].window
        for tile in tiles[1:]:
            whole = whole.union(tile.window)
        scale = MAP_MM / max(whole.width, whole.height)
        corner = complex(EDGE_MM, under - GAP_MM - whole.height * scale)
        onto = Affine.shift(corner) @ Affine.scale(scale) @ Affine.shift(-complex(whole.left, whole.bottom))
        for box in boxes:
            page.box(_mapped(box, onto), fill="#dddddd")
        for tile in tiles:
            page.box(_mapped(tile.window, onto))
            page.words_about(onto.apply(tile.window.center), [str(tile.number)])


def _mapped(box: Box, onto: Affine) -> Box:
    corner, opposite = onto.apply(complex(box.left, box.bottom)), onto.apply(complex(box.right, box.top))
    return Box(corner.real, corner.imag, opposite.real, opposite.imag)


def _tile(page: Page, sheet: CutSheet, tile: Tile, count: int, paper: tuple[float, float]) -> None:
    """The mat through the window, the join marks, and which sheet it is."""
    window = tile.window
    left, bottom = EDGE_MM, EDGE_MM + FOOT_MM
    shown = Box(left, bottom, left + window.width, bottom + window.height)
    shift = complex(left - window.left, bottom - window.bottom)
    page.size(*paper, shown)
    canvas = page.canvas
    canvas.saveState()
    clip = canvas.beginPath()
    clip.rect(shown.left * PT, shown.bottom * PT, shown.width * PT, shown.height * PT)
    canvas.clipPath(clip, stroke=0, fill=0)
    canvas.translate(shift.real * PT, shift.imag * PT)
    canvas.doForm(FORM)
    canvas.restoreState()
    with page.artifact():
        for mark in tile.joins:
            page.cross(mark + shift, MARK_MM)
        neighbors = "".join(f"; {side}: sheet {number}" for side, number in tile.neighbors)
        said = f"{text(sheet_title(sheet), 50)}, {_turned(sheet)}, sheet {tile.number} of {count}{neighbors}"
        page.words(complex(left, EDGE_MM + FOOT_MM / 3), said)


def _turned(sheet: CutSheet) -> str:
    """Whether the templates are reversed; where some are, each says so itself."""
    sides = {side for _, side in sheet.laid}
    return NOTES[sides.pop()] if len(sides) == 1 else "some reversed, as they say"
