"""EPS cut files: one page the size of the mat, 1/72 in to the unit, plain operators only.

Every line is drawn by moveto, lineto, curveto, closepath and stroke, so that software which reads no more of the
language than these can take the file. The mat's lower left corner is the origin.

Sources: PostScript Language Reference (3rd ed.), 4.3.1 (default user space); Encapsulated PostScript File Format
Specification 3.0 and Document Structuring Conventions 3.0 (%%BoundingBox in whole, %%HiResBoundingBox in real numbers).
"""

from __future__ import annotations

import math
from typing import Final

from pydantic import Field

from clothpath.contracts import Declared, Settings, hookimpl
from clothpath.curves import Affine
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
from clothpath.files.names import ascii_text
from clothpath.files.painting import POSTSCRIPT, stroked
from clothpath.findings import Outcome
from clothpath.pages.ink import shade

__all__ = ["EpsSettings", "EpsWriter"]

POINTS_PER_MM: Final = 72 / 25.4
DIGITS: Final = 3
"""Decimals of a coordinate: 0.00018 mm."""
LINE_POINTS: Final = 0.5


class EpsSettings(Settings):
    """How an EPS file is written."""

    markings: Markings = Field("draw", description="Whether markings are drawn, in black and dashed.")


class EpsWriter:
    """Writes EPS."""

    name: Final = "eps"
    summary: Final = "EPS at full size, with exact bounding boxes"
    suffix: Final = ".eps"
    settings: Final = EpsSettings

    def writes(self, sheet: CutSheet, settings: EpsSettings) -> CutSheet:
        """All that is cut, and the markings unless they are left out."""
        return passes_once(carried(sheet, settings.markings))

    def declared(self, sheet: CutSheet, settings: EpsSettings) -> Declared:
        """Nothing of the size, which EPS states."""
        return blade_of(sheet)

    def write(self, sheet: CutSheet, settings: EpsSettings) -> Outcome[bytes]:
        """The file."""
        kept = self.writes(sheet, settings)
        on = layers(kept)
        width, height = kept.mat.width * POINTS_PER_MM, kept.mat.height * POINTS_PER_MM
        parts = [
            "%!PS-Adobe-3.0 EPSF-3.0\n"
            f"%%BoundingBox: 0 0 {math.ceil(width - 1e-9)} {math.ceil(height - 1e-9)}\n"
            f"%%HiResBoundingBox: 0 0 {_plain(width)} {_plain(height)}\n"
            f"%%Title: ({_string(sheet_title(kept))})\n"
            "%%Creator: (Clothpath)\n%%LanguageLevel: 1\n%%DocumentData: Clean7Bit\n%%EndComments\n"
            "%%BeginProlog\n%%EndProlog\n%%Page: 1 1\n"
            f"gsave\n{LINE_POINTS} setlinewidth\n1 setlinejoin\n"
        ]
        layer, to_points = -1, Affine.scale(POINTS_PER_MM)
        for line in lines(kept, on):
            if line.layer != layer:
                layer = line.layer
                fabric = on[layer].fabric
                dashes = "[] 0" if fabric else "[4 3] 0"
                parts.append(
                    f"% {ascii_text(on[layer].title)}\n{_color(fabric.color if fabric else None)}\n{dashes} setdash\n"
                )
            parts.append(f"% {ascii_text(line.title)}\nnewpath\n{stroked(line.path, to_points, DIGITS, POSTSCRIPT)}")
        parts.append("grestore\nshowpage\n%%EOF\n")
        return Outcome("".join(parts).encode("ascii"), passes_note(sheet, self.name))


def _color(color: str | None) -> str:
    if color is None:
        return "0 setgray"
    shown = shade(color)
    return " ".join(_plain(int(shown[i : i + 2], 16) / 255) for i in (1, 3, 5)) + " setrgbcolor"


def _plain(value: float) -> str:
    return str(round(value, DIGITS) + 0.0).removesuffix(".0")


def _string(said: str) -> str:
    """Text inside the parentheses of a PostScript string."""
    return ascii_text(said).replace("\\", r"\\").replace("(", r"\(").replace(")", r"\)")


@hookimpl
def clothpath_writers() -> list[EpsWriter]:
    """The EPS writer."""
    return [EpsWriter()]
