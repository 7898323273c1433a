"""A large drawing printed over several sheets of paper that are joined.

Terminology
    form        the whole drawing, in its own coordinates, which every sheet shows through a window
    tile        a sheet that shows part of the drawing; neighbors overlap
    join mark   a cross in the middle of an overlap, at the same place of the drawing on both sheets
    map         how the sheets join, drawn small on the first of them

A tile's trim box is the window: where the form stands on a page says which part of the drawing the page shows.

Sources: form XObjects, ISO 32000-1, 8.10; paper sizes, ISO 216 and ANSI/ASME Y14.1.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final, Literal

from clothpath.curves import Affine, Box
from clothpath.pages.paper import PT, Page
from clothpath.pages.tiling import Tile

__all__ = ["EDGE_MM", "FORM", "PAPER_MM", "PaperName", "draw_map", "draw_tile", "window_of"]

PaperName = Literal["letter", "a4"]
PAPER_MM: Final[dict[PaperName, tuple[float, float]]] = {"letter": (215.9, 279.4), "a4": (210.0, 297.0)}
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


def window_of(paper: tuple[float, float]) -> tuple[float, float]:
    """Width and height in mm of what a sheet can show of a drawing."""
    return paper[0] - 2 * EDGE_MM, paper[1] - 2 * EDGE_MM - FOOT_MM


def draw_map(page: Page, boxes: Sequence[Box], tiles: Sequence[Tile], top: float) -> None:
    """Say below `top` how the sheets are joined, and draw it; `boxes` are of what the sheets show."""
    with page.artifact():
        many = f"{len(tiles)} sheets follow. Lay each over its neighbor so that the crosses meet, and tape them."
        page.words(complex(EDGE_MM, top), many if len(tiles) > 1 else "One sheet follows.")
        whole = tiles[0].window
        for tile in tiles[1:]:
            whole = whole.union(tile.window)
        scale = MAP_MM / max(whole.width, whole.height)
        corner = complex(EDGE_MM, top - GAP_MM - whole.height * scale)
        onto = Affine.shift(corner) @ Affine.scale(scale) @ Affine.shift(-complex(whole.left, whole.bottom))
        for box in boxes:
            page.box(_mapped(box, onto), fill="#dddddd")
        for tile in tiles:
            page.box(_mapped(tile.window, onto))
            page.words_about(onto.apply(tile.window.center), [str(tile.number)])


def draw_tile(page: Page, said: str, tile: Tile, count: int, paper: tuple[float, float]) -> None:
    """The form through the window, the join marks, and which of how many sheets it is."""
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
        page.words(complex(left, EDGE_MM + FOOT_MM / 3), f"{said}, sheet {tile.number} of {count}{neighbors}")


def _mapped(box: Box, onto: Affine) -> Box:
    corner, opposite = onto.apply(complex(box.left, box.bottom)), onto.apply(complex(box.right, box.top))
    return Box(corner.real, corner.imag, opposite.real, opposite.imag)
