"""Shapes to pieces and markings.

Terminology
    cut line    the edge of a filled shape, else the center line of a closed stroke; fill and stroke on one shape are one
    gap         how far the two ends of a path that is nearly closed are apart

Sources: open subpaths are filled as if closed, SVG 2, 13.4; what a stroke paints, SVG 2, 13.5.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import cast

from clothpath.curves import Curve, Outline, open_path, outline, transformed
from clothpath.design import Drawn, Marking, Piece
from clothpath.plugins.readers.svg.document import place
from clothpath.plugins.readers.svg.notes import Notes
from clothpath.plugins.readers.svg.pathdata import Subpath
from clothpath.plugins.readers.svg.style import Paint, paint_of
from clothpath.plugins.readers.svg.walk import Shape
from clothpath.regions import FillRule, Region, regions_of
from clothpath.units import both

__all__ = ["Found", "pieces_of"]


@dataclass(slots=True)
class Found:
    """Pieces and markings in drawing order."""

    pieces: list[Piece] = field(default_factory=list)
    markings: list[Marking] = field(default_factory=list)
    ids: set[str] = field(default_factory=set)

    def new_id(self, wanted: str, kind: str) -> str:
        """`wanted`, or a made-up one, with a number if it is taken."""
        number = len(self.pieces) + len(self.markings) + 1 if not wanted else 1
        name = wanted or f"{kind}-{number}"
        stem = wanted or kind
        while name in self.ids:
            number += 1
            name = f"{stem}-{number}"
        self.ids.add(name)
        return name


def pieces_of(shapes: Iterable[Shape], gap: float, notes: Notes) -> Found:
    """The pieces and markings that the shapes are.

    Args:
        gap: in mm; stroked paths whose ends are this near to each other count as closed.
    """
    found = Found()
    for shape in shapes:
        fill, stroke = _paints(shape)
        scale = abs(shape.to_page.determinant) ** 0.5
        if scale == 0 or not (_shows(fill) or _shows(stroke)):
            notes.unpainted(shape.element)
            continue
        drawn = _drawn(shape, fill, stroke, scale)
        regions: tuple[Region, ...] = ()
        if _shows(fill):
            rings = [transformed(_closed(sub), shape.to_page) for sub in shape.subpaths]
            regions = regions_of(rings, cast(FillRule, shape.style["fill-rule"]))
        if not regions and _shows(stroke):
            rings = []
            for sub in shape.subpaths:
                width = abs(sub.end - sub.start) * scale
                if sub.closed or width <= gap:
                    if not sub.closed and width:
                        message = f"A line whose ends are {both(width)} apart was taken as closed."
                        notes.add("note", "gap-closed", message, drawn.where)
                    rings.append(transformed(_closed(sub), shape.to_page))
                else:
                    _add_marking(found, shape, sub, drawn)
            regions = regions_of(rings, "evenodd") if rings else ()
        for region in regions:
            _add_piece(found, shape, region, drawn)
    return found


def _paints(shape: Shape) -> tuple[Paint, Paint]:
    style = shape.style
    current = style["color"]
    fill = Paint() if shape.tag == "line" else paint_of(style["fill"], current) or Paint()
    stroke = paint_of(style["stroke"], current) or Paint()
    if shape.stroke_width <= 0:
        stroke = Paint()
    return (
        Paint(fill.color, fill.opacity * _part(style["fill-opacity"]), fill.server),
        Paint(stroke.color, stroke.opacity * _part(style["stroke-opacity"]), stroke.server),
    )


def _part(text: str) -> float:
    word = text.strip()
    value = float(word[:-1]) / 100 if word.endswith("%") else float(word)
    return min(1.0, max(0.0, value))


def _shows(paint: Paint) -> bool:
    return (paint.color is not None or paint.server != "") and paint.opacity > 0


def _closed(sub: Subpath) -> Outline:
    segments: list[Curve] = list(sub.segments)
    if sub.end != sub.start:
        segments.append((sub.start,))
    return outline(sub.start, segments)


def _drawn(shape: Shape, fill: Paint, stroke: Paint, scale: float) -> Drawn:
    names = shape.names
    shown = _shows(stroke)
    return Drawn(
        fill=fill.color if _shows(fill) else None,
        stroke=stroke.color if shown else None,
        stroke_width=shape.stroke_width * scale if shown else None,
        layer=names.layer or (names.groups[0] if names.groups else ""),
        groups=names.groups,
        element=names.element,
        where=place(shape.element),
    )


def _name(shape: Shape) -> str:
    names = shape.names
    if names.shown_by and names.element:
        return f"{names.shown_by}-{names.element}"
    return names.shown_by or names.element


def _add_piece(found: Found, shape: Shape, region: Region, drawn: Drawn) -> None:
    name = found.new_id(_name(shape), "piece")
    label = shape.names.label or name.replace("-", " ")
    order = len(found.pieces) + 1
    found.pieces.append(Piece(name, label, region, "", "cut", order, 1, drawn))


def _add_marking(found: Found, shape: Shape, sub: Subpath, drawn: Drawn) -> None:
    name = found.new_id(_name(shape), "marking")
    label = shape.names.label or name.replace("-", " ")
    path = transformed(open_path(sub.start, sub.segments), shape.to_page)
    found.markings.append(Marking(name, label, path, "mark", drawn))
