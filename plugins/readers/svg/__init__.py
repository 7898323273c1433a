"""The SVG reader: drawings of any drawing program, compressed or not, well-formed or not.

Nothing outside the file is ever opened, no script is run, and the settings limit how much of a file is taken on.
Source: Scalable Vector Graphics (SVG) 2, W3C; section numbers stand beside what they govern.
"""

from __future__ import annotations

from collections.abc import Sequence

from pydantic import Field

from clothpath.contracts import Millimeters, Reader, hookimpl
from clothpath.curves import Affine
from clothpath.design import Design, Source
from clothpath.files.reading import Deadline, ReadingSettings, uncollected
from clothpath.findings import Outcome, Refusal, error
from clothpath.picture.fabrics import guessed
from clothpath.plugins.readers.svg.document import parsed, place, seems_svg
from clothpath.plugins.readers.svg.limits import Limits
from clothpath.plugins.readers.svg.notes import Notes
from clothpath.plugins.readers.svg.pieces import Habits, pieces_of, tell_of_lines
from clothpath.plugins.readers.svg.sizes import BareUnit, Density, page_of, size_findings
from clothpath.plugins.readers.svg.style import root_attributes, sheet_in
from clothpath.plugins.readers.svg.viewport import Viewport
from clothpath.plugins.readers.svg.walk import Walk
from clothpath.regions import extent

__all__ = ["SvgReader", "SvgSettings", "clothpath_readers"]


class SvgSettings(ReadingSettings):
    """How an SVG file is read."""

    gap: Millimeters = Field(0.1, description="widest gap between the ends of a line that is closed")
    wide_stroke: Millimeters = Field(3.0, description="open lines at least this wide are shapes, not markings")
    pixels_per_inch: Density = Field("guess", description="what px meant, where the drawing states no real unit")
    bare_unit: BareUnit = Field("px", description="what a page width or height without unit is in")
    most_points: int = Field(200_000, gt=0, description="most lines and curves once <use> is followed")
    most_elements: int = Field(100_000, gt=0, description="most elements once <use> is followed")


class SvgReader:
    name = "svg"
    summary = "SVG drawings of any drawing program, compressed (.svgz) too"
    settings = SvgSettings

    def recognizes(self, head: bytes) -> float:
        return seems_svg(head)

    def read(self, data: bytes, settings: SvgSettings) -> Outcome[Design]:
        """The design; see `contracts.Reader`.

        Raises:
            Refusal: the file is no SVG, is harmful or beyond a limit, or has nothing that can be cut or marked.
        """
        with uncollected():
            return self._read(data, settings)

    def _read(self, data: bytes, settings: SvgSettings) -> Outcome[Design]:
        deadline = Deadline(self.name, settings.most_seconds)
        root, damage = parsed(data, settings)
        notes = Notes()
        notes.extend(damage)
        limits = Limits(settings.most_elements, settings.most_points, deadline, notes)
        sheet = sheet_in(root, limits.check_time)
        notes.sheet_left_out(sheet.left_out if sheet else ())
        given = root_attributes(root, sheet)
        page = page_of(given, settings.pixels_per_inch, settings.bare_unit)
        walk = Walk(root, sheet, notes, limits)
        to_page = Affine(d=-1.0, f=page.height or 0.0) @ page.to_mm
        shapes = walk.shapes(to_page, Viewport(*page.view, *page.view, page.mm_per_px))
        found = pieces_of(
            shapes,
            Habits(settings.gap, settings.wide_stroke, max(page.width or 0.0, page.height or 0.0)),
            notes,
            limits.check_time,
        )
        if not found.pieces and not found.markings:
            hint = "Draw the pieces as closed lines or filled shapes; turn texts and pictures into paths."
            raise Refusal(*notes.all(), error("nothing-drawn", "The drawing has no line that could be cut.", hint=hint))
        picture = extent([piece.region.outer for piece in found.pieces] or [each.path for each in found.markings])
        notes.extend(size_findings(given, page, picture, place(root)))
        tell_of_lines(found, page.width, page.height, notes)
        pieces, fabrics = guessed(found.pieces)
        size = (page.width, page.height) if page.width and page.height else None
        source = Source("", self.name, page.unit, page.mm_per_unit, size)
        return Outcome(Design("", pieces, tuple(found.markings), fabrics, source), notes.all())


@hookimpl
def clothpath_readers() -> Sequence[Reader]:
    return [SvgReader()]
