"""SVG cut files: one group a fabric, in millimeters, inches, or pixels of a stated density.

The page is the mat, its width and height stated in the file's unit and its viewBox counted in the same, so that no
reader has to guess. Coordinates are SVG's: from the upper left corner, y down. Curves stay curves. The outlines of a
piece that are cut one after the other are one path, so that its holes go with it if it is moved. Lines take a dark
shade of their fabric's color (`clothpath.pages.ink`), so that no line is the red of a fault; filled shapes the color.

Sources: SVG 1.1 (2nd ed.), 7 and 8; absolute units, CSS Values and Units Level 3 (1in = 96px).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from itertools import groupby
from typing import Final, Literal
from xml.sax.saxutils import escape

import numpy as np
from pydantic import Field

from clothpath.contracts import Declared, Settings, hookimpl
from clothpath.curves import Affine, Outline, Path, cubics
from clothpath.cutplan import CutSheet
from clothpath.files.linework import (
    Layer,
    Line,
    Markings,
    blade_of,
    by_fabric,
    carried,
    layers,
    lines,
    passes_note,
    passes_once,
    sheet_title,
)
from clothpath.findings import Outcome
from clothpath.pages.ink import ink, shade

__all__ = ["SvgSettings", "SvgWriter"]

GRID_MM: Final = 0.001
"""Coordinates are written to this or finer."""
LINE_MM: Final = 0.2
"""Width of a line, for the eye only."""
CSS_DENSITY: Final = 96

_DIGITS: Final = {"mm": 3, "in": 5, "px": 3}


class SvgSettings(Settings):
    """How an SVG file is written."""

    unit: Literal["mm", "in", "px"] = Field("mm", description="The unit of width, height and coordinates.")
    density: Literal[72, 90, 96] = Field(
        96, description="Pixels to the inch that the cutting software assumes; with unit = px only."
    )
    style: Literal["strokes", "fills"] = Field("strokes", description="Lines to be cut, or filled shapes.")
    markings: Markings = Field("draw", description="Whether markings are drawn, in a group of their own.")


class SvgWriter:
    """Writes SVG."""

    name: Final = "svg"
    summary: Final = "SVG in mm, inches or pixels, one group a fabric"
    suffix: Final = ".svg"
    settings: Final = SvgSettings

    def writes(self, sheet: CutSheet, settings: SvgSettings) -> CutSheet:
        """Markings first, then fabric by fabric; filled shapes go together with their holes, and below the markings."""
        kept = passes_once(by_fabric(carried(sheet, settings.markings)))
        if settings.style == "strokes":
            return kept
        marks = [cut for cut in kept.cuts if cut.kind == "mark"]
        shapes = [cut for _, of_piece in carried(kept, "leave-out").pieces() for cut in of_piece]
        return replace(kept, cuts=(*shapes, *marks))

    def declared(self, sheet: CutSheet, settings: SvgSettings) -> Declared:
        """The density, where it is not the standard's."""
        density = 25.4 / settings.density if settings.unit == "px" else None
        return replace(blade_of(sheet), mm_per_unit=density)

    def write(self, sheet: CutSheet, settings: SvgSettings) -> Outcome[bytes]:
        """The file."""
        kept = self.writes(sheet, settings)
        scale = _units_per_mm(settings)
        width, height = kept.mat.width * scale, kept.mat.height * scale
        onto_page = Affine(a=scale, d=-scale, f=height)
        digits = _DIGITS[settings.unit]
        size = [_plain(value, digits) for value in (width, height)]
        on = layers(kept)
        found = lines(kept, on)
        order = sorted(range(len(on)), key=lambda n: on[n].fabric is not None and settings.style == "strokes")
        parts = [
            '<?xml version="1.0" encoding="UTF-8"?>\n'
            '<svg xmlns="http://www.w3.org/2000/svg" version="1.1" '
            f'width="{size[0]}{settings.unit}" height="{size[1]}{settings.unit}" viewBox="0 0 {size[0]} {size[1]}">\n'
            f"<title>{escape(sheet_title(kept))}</title>\n"
        ]
        for number in order:
            of_layer = [line for line in found if line.layer == number]
            if of_layer:
                parts += _group(on[number], of_layer, settings, onto_page, _plain(LINE_MM * scale, digits))
        parts.append("</svg>\n")
        return Outcome("".join(parts).encode(), passes_note(sheet, self.name))


def _units_per_mm(settings: SvgSettings) -> float:
    return {"mm": 1.0, "in": 1 / 25.4, "px": settings.density / 25.4}[settings.unit]


def _group(layer: Layer, of_layer: list[Line], settings: SvgSettings, onto_page: Affine, width: str) -> Iterable[str]:
    digits = _DIGITS[settings.unit]
    filled = settings.style == "fills" and layer.fabric
    tone = ink if filled else shade
    color = tone(layer.fabric.color) if layer.fabric else "#000000"
    look = (
        f'fill="{color}" fill-rule="evenodd" stroke="none"'
        if filled
        else (f'fill="none" stroke="{color}" stroke-width="{width}"')
    )
    yield f'<g id="{layer.id}" {look}>\n<title>{escape(layer.title)}</title>\n'
    for _, run in groupby(of_layer, key=lambda line: line.cut.ref if layer.fabric else line.id):
        of_shape = list(run)
        first = min(of_shape, key=lambda line: line.cut.ring)
        data = " ".join(_path_data(line.path, onto_page, digits) for line in of_shape)
        yield f'<path id="{first.id}" d="{data}"><title>{escape(first.title)}</title></path>\n'
    yield "</g>\n"


def _path_data(path: Path, onto_page: Affine, digits: int) -> str:
    """The path in absolute commands M, L, C and Z."""
    points = np.round(onto_page.apply_all(cubics(path)[:, 1:]).view(np.float64), digits) + 0.0
    numbers = [str(value).removesuffix(".0") for value in points.ravel().tolist()]
    start = onto_page.apply(path.start)
    parts = [f"M{_plain(start.real, digits)} {_plain(start.imag, digits)}"]
    closed = isinstance(path, Outline)
    last = len(path) - 1
    for n, straight in enumerate(path.straight.tolist()):
        at = 6 * n
        if not straight:
            parts.append("C" + " ".join(numbers[at : at + 6]))
        elif not (closed and n == last):
            parts.append(f"L{numbers[at + 4]} {numbers[at + 5]}")
    return "".join(parts) + ("Z" if closed else "")


def _plain(value: float, digits: int) -> str:
    return str(round(value, digits) + 0.0).removesuffix(".0")


@hookimpl
def clothpath_writers() -> list[SvgWriter]:
    """The SVG writer."""
    return [SvgWriter()]
