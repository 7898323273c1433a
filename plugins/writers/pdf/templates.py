"""The templates on a page, and the band that says how they are used.

Outlines are near black whatever the fabric, whose color is the dot in the label: a red line would look like a fault.

Terminology
    band        the words, and the check squares

Source: which way round templates are used: common practice.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby
from typing import Final

from clothpath.curves import Affine, Box
from clothpath.cutplan import CutSheet
from clothpath.cutting.testcut import TEST_CUT
from clothpath.design import Side
from clothpath.files.linework import Layer, Line, sheet_title
from clothpath.files.names import shown, text
from clothpath.pages.page import about
from clothpath.pages.paper import LEADING_MM, Page, draw_band, squares_width, wrapped
from clothpath.plugins.writers.pdf.labels import Label, draw_labels, key_of, labels_of

__all__ = ["draw_lines", "heading", "one_page", "said_of"]

GAP_MM: Final = 6.0
EDGE_MM: Final = 10.0
"""What the band keeps clear of the page's edges."""
LEAST_WIDTH_MM: Final = 190.0
"""Least width of a page, for the words in the band."""
LEAST_BAND_MM: Final = 42.0
DASH_MM: Final = 1.5
OUTLINE: Final = "#1a1a1a"
USES: Final[dict[Side, str]] = {
    "wrong-side-up": "Reversed, for {}: trace on the paper of the web, or press as freezer paper to the wrong side.",
    "right-side-up": "Not reversed, for {}: use on the right side of the cloth.",
}


def one_page(page: Page, sheet: CutSheet, found: Sequence[Line], on: Sequence[Layer]) -> None:
    """A page of the mat's size with the band below it; the mat is its trim box."""
    width = max(sheet.mat.width, LEAST_WIDTH_MM)
    labels = labels_of(sheet)
    said = wrapped(said_of(sheet, labels), width - squares_width() - 2 * EDGE_MM)
    band = max(LEAST_BAND_MM, len(said) * LEADING_MM + 2 * GAP_MM)
    onto = Affine.shift(complex(0, band))
    page.size(width, sheet.mat.height + band, Box(0, band, sheet.mat.width, band + sheet.mat.height))
    draw_lines(page, found, on, onto)
    draw_labels(page, labels, onto)
    draw_band(page, said, complex(EDGE_MM, band - GAP_MM))
    page.end()


def said_of(sheet: CutSheet, labels: Sequence[Label]) -> list[str]:
    """What the band says."""
    names = {fabric.key: shown(fabric.label or fabric.key, 40) for fabric in sheet.fabrics}
    said = [heading(sheet), *_sizes(sheet)]
    said.append("Print at 100 % (actual size). The squares must measure 1 in and 25 mm.")
    for side, use in USES.items():
        named = [names[key] for key, laid in sheet.laid if laid == side]
        if named:
            said.append(use.format(", ".join(named)))
    return said + key_of(sheet, labels)


def heading(sheet: CutSheet) -> str:
    """What the sheet is, with its size where the job has a title: "crab, small, for roll-24, mat 1 of 2"."""
    title = sheet.plan.title
    return f"{text(title, 80)}, {sheet.which}" if title else sheet_title(sheet)


def _sizes(sheet: CutSheet) -> list[str]:
    """The finished size of every design that the sheet has templates of."""
    present = {cut.ref.design for cut in sheet.cuts} - {TEST_CUT}
    designs = [demand.design for demand in sheet.plan.layout.demands if demand.design.name in present]
    said = []
    for design in designs:
        box = design.finished_box
        whose = f" of {shown(design.name, 40)}" if len(designs) > 1 else ""
        said.append(f"Finished size{whose}: {about(box.width)} wide, {about(box.height)} high.")
    return said


def draw_lines(page: Page, found: Sequence[Line], on: Sequence[Layer], onto: Affine) -> None:
    """Every line, near black; markings dashed."""
    for layer, run in groupby(found, key=lambda line: line.layer):
        fabric = on[layer].fabric
        page.stroke(OUTLINE, 0.0 if fabric else DASH_MM)
        for line in run:
            page.path(line.path, onto)
    page.stroke("#000000")
