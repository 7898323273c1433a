"""The templates on a page, each with its name in it, and the band that says how they are used.

Terminology
    band        the words, and the check squares
    label       piece, fabric, and whether the template is reversed, inside its outline; left out where it has no room

Source: which way round templates are used: common practice.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import groupby
from typing import Final

import shapely

from clothpath.curves import Affine, Box, flattened
from clothpath.cutplan import CutSheet
from clothpath.design import Side
from clothpath.ink import ink
from clothpath.linework import Layer, Line, sheet_title
from clothpath.names import text
from clothpath.paper import FONT_MM, LEADING_MM, Page, draw_band, squares_width, width_of, wrapped
from clothpath.regions import xy

__all__ = ["NOTES", "draw_labels", "draw_lines", "one_page", "said_of"]

GAP_MM: Final = 6.0
EDGE_MM: Final = 10.0
"""What the band keeps clear of the page's edges."""
LEAST_WIDTH_MM: Final = 190.0
"""Least width of a page, for the words in the band."""
LEAST_BAND_MM: Final = 42.0
DASH_MM: Final = 1.5
LABEL_SIZES_MM: Final = (3.2, 2.4, 1.8)
"""Sizes of letters that are tried for a label, the largest first."""
LABEL_FLAT_MM: Final = 0.2
"""How finely outlines are flattened to find room for a label."""
USES: Final[dict[Side, str]] = {
    "wrong-side-up": "Reversed, for {}: trace on the paper of the web, or press as freezer paper to the wrong side.",
    "right-side-up": "Not reversed, for {}: use on the right side of the cloth.",
}
NOTES: Final[dict[Side, str]] = {"wrong-side-up": "reversed", "right-side-up": "not reversed"}


def one_page(page: Page, sheet: CutSheet, found: Sequence[Line], on: Sequence[Layer]) -> None:
    """A page of the mat's size with the band below it; the mat is its trim box."""
    width = max(sheet.mat.width, LEAST_WIDTH_MM)
    said = wrapped(said_of(sheet), width - squares_width() - 2 * EDGE_MM)
    band = max(LEAST_BAND_MM, len(said) * LEADING_MM + 2 * GAP_MM)
    onto = Affine.shift(complex(0, band))
    page.size(width, sheet.mat.height + band, Box(0, band, sheet.mat.width, band + sheet.mat.height))
    draw_lines(page, found, on, onto)
    draw_labels(page, sheet, onto)
    draw_band(page, said, complex(EDGE_MM, band - GAP_MM))
    page.end()


def said_of(sheet: CutSheet) -> list[str]:
    """What the band says."""
    labels = {fabric.key: text(fabric.label or fabric.key, 40) for fabric in sheet.fabrics}
    said = [sheet_title(sheet), "Print at 100 % (actual size). The squares must measure 1 in and 25 mm."]
    for side, use in USES.items():
        named = [labels[key] for key, laid in sheet.laid if laid == side]
        if named:
            said.append(use.format(", ".join(named)))
    return said


def draw_lines(page: Page, found: Sequence[Line], on: Sequence[Layer], onto: Affine) -> None:
    """Every line, in the color of its fabric; markings dashed and black."""
    for layer, run in groupby(found, key=lambda line: line.layer):
        fabric = on[layer].fabric
        page.stroke(ink(fabric.color) if fabric else "#000000", 0.0 if fabric else DASH_MM)
        for line in run:
            page.path(line.path, onto)
    page.stroke("#000000")


def draw_labels(page: Page, sheet: CutSheet, onto: Affine) -> None:
    """The label of each piece, where it has most room."""
    laid = dict(sheet.laid)
    fabrics = {fabric.key: text(fabric.label or fabric.key, 40) for fabric in sheet.fabrics}
    with page.artifact():
        for ref, cuts in sheet.pieces():
            rings = {cut.ring: xy(flattened(cut.outline, LABEL_FLAT_MM)) for cut in cuts if cut.kind == "cut"}
            if 0 in rings:
                shape = shapely.Polygon(rings.pop(0), list(rings.values()))
                said = [text(ref.label or ref.piece, 40), fabrics[ref.fabric], NOTES[laid[ref.fabric]]]
                _draw_label(page, shape, said, onto)


def _draw_label(page: Page, shape: shapely.Polygon, said: Sequence[str], onto: Affine) -> None:
    """As much of the label as has room, in the largest letters for which there is room."""
    if not shape.is_valid:
        return
    (x, y), (rim_x, rim_y) = shapely.maximum_inscribed_circle(shape, tolerance=LABEL_FLAT_MM).coords
    radius = math.hypot(rim_x - x, rim_y - y)
    widths = [width_of(line) / FONT_MM for line in said]
    for count in range(len(said), 0, -1):
        for size in LABEL_SIZES_MM:
            width = max(widths[:count]) * size
            height = size * (LEADING_MM / FONT_MM * (count - 1) + 1)
            if math.hypot(width, height) <= 2 * radius:
                page.words_about(onto.apply(complex(x, y)), said[:count], size=size)
                return
