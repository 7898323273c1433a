"""Pages that people print (PDF), in millimeters from the lower left corner, with embedded fonts.

Terminology
    trim box        the part of a page that is the drawing, or shows a part of it
    artifact        what is drawn beside the drawing: words, check squares, join marks
    check squares   of 1 in and of 25 mm, to see that a print is at full size
    band            the check squares with words beside them

Sources: default user space of 1/72 in, page boxes, artifacts: ISO 32000-1, 8.3.2.3, 14.11.2 and 14.8.2.2.
"""

from __future__ import annotations

import io
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Final

from clothpath.curves import Affine, Box, Path
from clothpath.files.names import text
from clothpath.files.painting import PDF, stroked
from clothpath.pages.fonts import breakable, first_font, runs

if TYPE_CHECKING:
    from reportlab.lib.colors import Color
    from reportlab.pdfgen.canvas import Canvas

__all__ = [
    "FONT_MM",
    "LEADING_MM",
    "PT",
    "SQUARES",
    "Page",
    "document",
    "draw_band",
    "squares_width",
    "tint",
    "width_of",
    "wrapped",
]

PT: Final = 72 / 25.4
"""Points to the millimeter."""
DIGITS: Final = 3
"""Decimals of a coordinate in points: 0.00018 mm."""
LINE_MM: Final = 0.25
RIM_MM: Final = 0.1
"""Width of a disk's rim."""
FONT_MM: Final = 3.2
LONGEST_TITLE: Final = 400
"""Most letters of a document's title."""
LEADING_MM: Final = 5.0
SQUARES: Final = ((25.4, "1 in"), (25.0, "25 mm"))
GAP_MM: Final = 6.0
"""Between the squares, and from them to the words."""


def document(stream: io.BytesIO, title: str) -> Page:
    """An empty document, to be written to `stream`."""
    from reportlab import rl_config
    from reportlab.pdfgen.canvas import Canvas

    rl_config.useA85 = 0  # streams as bytes, not as letters
    canvas = Canvas(stream, invariant=1, pageCompression=1, initialFontName=first_font())  # type: ignore[arg-type]
    canvas.setTitle(text(title, LONGEST_TITLE))
    canvas.setCreator("Clothpath")
    canvas.setViewerPreference("PrintScaling", "None")
    return Page(canvas)


@dataclass(frozen=True, slots=True)
class Page:
    """The page that is being drawn."""

    canvas: Canvas

    def size(self, width: float, height: float, window: Box | None = None) -> None:
        """Of the page, with its trim box."""
        self.canvas.setPageSize((width * PT, height * PT))
        box = window or Box(0, 0, width, height)
        self.canvas.setTrimBox((box.left * PT, box.bottom * PT, box.right * PT, box.top * PT))

    def end(self) -> None:
        """The page is done; another may follow."""
        self.canvas.showPage()

    @contextmanager
    def artifact(self) -> Iterator[None]:
        """What is drawn inside belongs to no drawing."""
        self.canvas.addLiteral("/Artifact BMC")
        self.canvas.saveState()
        self.canvas.setDash([])
        self.canvas.setLineWidth(LINE_MM * PT)
        yield
        self.canvas.restoreState()
        self.canvas.addLiteral("EMC")

    def stroke(self, color: str, dash_mm: float = 0.0) -> None:
        """The look of the lines that follow."""
        self.canvas.setLineWidth(LINE_MM * PT)
        self.canvas.setLineJoin(1)
        self.canvas.setStrokeColor(tint(color))
        self.canvas.setDash([dash_mm * PT] * 2 if dash_mm else [])

    def path(self, path: Path, onto: Affine) -> None:
        """A line under a map to the page."""
        self.canvas.addLiteral(stroked(path, Affine.scale(PT) @ onto, DIGITS, PDF))

    def disk(self, middle: complex, radius: float, fill: str, rim: str) -> None:
        """A filled circle with a thin rim."""
        self.canvas.setFillColor(tint(fill))
        self.canvas.setStrokeColor(tint(rim))
        self.canvas.setLineWidth(RIM_MM * PT)
        self.canvas.circle(middle.real * PT, middle.imag * PT, radius * PT, stroke=1, fill=1)
        self.canvas.setFillColor(tint("#000000"))

    def box(self, box: Box, *, fill: str | None = None) -> None:
        """A rectangle: its outline, or filled."""
        if fill is not None:
            self.canvas.setFillColor(tint(fill))
        sides = (box.left * PT, box.bottom * PT, box.width * PT, box.height * PT)
        self.canvas.rect(*sides, stroke=int(fill is None), fill=int(fill is not None))
        self.canvas.setFillColor(tint("#000000"))

    def cross(self, at: complex, size: float) -> None:
        """Two arms of this length, end to end."""
        x, y, arm = at.real * PT, at.imag * PT, size / 2 * PT
        self.canvas.line(x - arm, y, x + arm, y)
        self.canvas.line(x, y - arm, x, y + arm)

    def words(self, at: complex, said: str, *, size: float = FONT_MM) -> None:
        """One line of words that begins at `at`."""
        x = at.real * PT
        for run in runs(said):
            self.canvas.setFont(run.font, size * PT)
            self.canvas.drawString(x, at.imag * PT, run.said)
            x += run.width * size * PT

    def words_about(self, at: complex, said: Sequence[str], *, size: float = FONT_MM) -> None:
        """Lines of words with their middle at `at`."""
        leading = LEADING_MM / FONT_MM * size
        for n, line in enumerate(said):
            y = at.imag + leading * (len(said) / 2 - n - 0.5) - size / 3
            self.words(complex(at.real - width_of(line, size) / 2, y), line, size=size)


@lru_cache(maxsize=256)
def tint(color: str) -> Color:
    """A color "#rrggbb" as the canvas takes it; the canvas itself would read it anew every time."""
    from reportlab.lib.colors import HexColor

    return HexColor(color)


def squares_width() -> float:
    """What the squares take of a band's width, in mm."""
    return sum(side + GAP_MM for side, _ in SQUARES)


def draw_band(page: Page, said: Sequence[str], corner: complex) -> None:
    """The squares below and right of `corner`, and beside them the words."""
    with page.artifact():
        at = corner.real
        for side, name in SQUARES:
            square = Box(at, corner.imag - SQUARES[0][0], at + side, corner.imag - SQUARES[0][0] + side)
            page.box(square)
            page.words_about(square.center, [name])
            at += side + GAP_MM
        for n, line in enumerate(said):
            page.words(complex(at, corner.imag - FONT_MM - LEADING_MM * n), line)


def width_of(said: str, size: float = FONT_MM) -> float:
    """Of one line of words, in mm."""
    return size * sum(run.width for run in runs(said))


def wrapped(said: Sequence[str], width: float) -> list[str]:
    """The lines of words broken at `width` mm."""
    lines: list[str] = []
    for each in said:
        first, *others = breakable(each) or [""]
        line = first
        for part in others:
            if width_of(line + part) > width:
                lines.append(line)
                line = part.lstrip()
            else:
                line += part
        lines.append(line)
    return lines
