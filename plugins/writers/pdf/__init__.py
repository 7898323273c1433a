"""PDF templates at full size, for cutting by hand or for software that takes PDF.

As one page, the page is the mat with a band below it, and the mat is the page's trim box, so that a program can tell
the templates from the rest. On letter or A4 paper the mat is shown on several sheets to be joined. All that is no
template is marked as an artifact. Fonts are embedded.
"""

from __future__ import annotations

import io
from collections.abc import Iterator
from typing import Annotated, Final, Literal

from pydantic import Field

from clothpath.contracts import Declared, Millimeters, Settings, hookimpl
from clothpath.cutplan import CutSheet
from clothpath.files.linework import (
    Markings,
    blade_of,
    carried,
    layers,
    lines,
    passes_note,
    passes_once,
    sheet_title,
)
from clothpath.findings import Outcome
from clothpath.pages.fonts import respelled
from clothpath.pages.joining import PAPER_MM
from clothpath.pages.paper import document
from clothpath.plugins.writers.pdf.sheets import many_pages
from clothpath.plugins.writers.pdf.templates import one_page

__all__ = ["PdfSettings", "PdfWriter"]


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
        page = document(stream, sheet_title(kept))
        if settings.paper == "mat":
            one_page(page, kept, found, on)
        else:
            many_pages(page, kept, found, on, PAPER_MM[settings.paper], settings.overlap)
        page.canvas.save()
        return Outcome(stream.getvalue(), (*passes_note(sheet, self.name), *respelled(_names(kept))))


def _names(sheet: CutSheet) -> Iterator[str]:
    """What people call things on the sheet."""
    yield from (demand.design.name for demand in sheet.plan.layout.demands)
    yield from (fabric.label or fabric.key for fabric in sheet.fabrics)
    yield from (cut.ref.label or cut.ref.piece for cut in sheet.cuts)


@hookimpl
def clothpath_writers() -> list[PdfWriter]:
    """The PDF writer."""
    return [PdfWriter()]
