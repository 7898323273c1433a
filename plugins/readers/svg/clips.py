"""Clip paths and masks applied to what they bound.

Terminology
    bounds      the regions outside which nothing is drawn
    soft mask   one that lets colors through in part: nothing can be cut along it

Sources: clipping paths and masks, CSS Masking 1, 5 and 7; luminance of a color, SVG 2, 14.3 and Filter Effects 1.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final, cast

import shapely

from clothpath.areas.booleans import difference, union
from clothpath.areas.fills import FillRule, Tangled, regions_of, within
from clothpath.areas.stretches import inside
from clothpath.curves import Affine, OpenPath, Outline, Path, outline, transformed
from clothpath.plugins.readers.svg.document import place
from clothpath.plugins.readers.svg.notes import Notes
from clothpath.plugins.readers.svg.pathdata import Subpath
from clothpath.plugins.readers.svg.scene import Clip, Shape
from clothpath.plugins.readers.svg.style import color_of, paint_of
from clothpath.regions import Region, as_polygon

__all__ = ["MOST_MM", "Bounds", "bounded", "bounded_path", "is_measurable", "ring_of"]

MOST_MM: Final = 1e6
"""No coordinate of a drawing is as large as this, in mm."""
SOFT: Final = 0.02
"""A mask that lets through less than this is shut; within this of all it is open."""


class Bounds:
    """The regions of clips, worked out once each."""

    def __init__(self, notes: Notes) -> None:
        self.notes = notes
        self._known: dict[int, tuple[Region, ...]] = {}

    def of(self, clip: Clip) -> tuple[Region, ...]:
        found = self._known.get(id(clip))
        if found is None:
            found = self._mask(clip) if clip.kind == "mask" else self._clip(clip)
            self._known[id(clip)] = found
        return found

    def _clip(self, clip: Clip) -> tuple[Region, ...]:
        every = [region for shape in clip.shapes for region in self._shape(shape, "clip-rule")]
        return union(every) if len(every) > 1 else tuple(every)

    def _mask(self, clip: Clip) -> tuple[Region, ...]:
        shown: tuple[Region, ...] = ()
        for shape in clip.shapes:
            light = _light(shape, clip.by_alpha)
            regions = self._shape(shape, "fill-rule")
            if light is None or SOFT < light < 1 - SOFT:
                message = "A mask lets shapes through in part; its edge was taken as a sharp one."
                self.notes.add("warning", "soft-mask", message, place(shape.element), "Cut the shape in the drawing.")
            if light is None or light >= 0.5:
                shown = union([*shown, *regions]) if shown and regions else regions or shown
            elif not clip.by_alpha and shown and regions:
                shown = difference(shown, regions)
        return shown

    def _shape(self, shape: Shape, rule: str) -> tuple[Region, ...]:
        rings = [
            transformed(ring_of(sub), shape.to_page) for sub in shape.subpaths if is_measurable(sub, shape.to_page)
        ]
        try:
            regions = regions_of(rings, cast(FillRule, shape.style[rule]))
        except Tangled:
            self.notes.add("warning", "scribble", "A clip path is a scribble; it was not used.", place(shape.element))
            return ()
        return bounded(regions, shape.clips, self)


def is_measurable(sub: Subpath, to_page: Affine) -> bool:
    """Whether the subpath stays within MOST_MM on the page."""
    points = map(to_page.apply, sub.points)
    return all(abs(point.real) < MOST_MM and abs(point.imag) < MOST_MM for point in points)


def ring_of(sub: Subpath) -> Outline:
    """The subpath closed by a straight line."""
    ring = sub.path()
    return outline(sub.start, ring.segments())


def _light(shape: Shape, by_alpha: bool) -> float | None:
    """How much a mask's shape lets through, from 0 to 1; None: it varies."""
    style = shape.style
    paint = paint_of(style["fill"], style["color"])
    if paint is None or (paint.color is None and not paint.server):
        return 0.0
    if paint.color is None:
        return None
    color = color_of(paint.color, "black")
    assert color is not None
    alpha = paint.opacity * _fraction(style["fill-opacity"]) * shape.opacity
    if by_alpha:
        return alpha
    r, g, b = (int(color[0][i : i + 2], 16) / 255 for i in (1, 3, 5))
    return alpha * (0.2125 * r + 0.7154 * g + 0.0721 * b)


def _fraction(text: str) -> float:
    return float(text[:-1]) / 100 if text.endswith("%") else float(text)


def bounded(regions: Sequence[Region], clips: Sequence[Clip], bounds: Bounds) -> tuple[Region, ...]:
    """What the clips leave of the regions."""
    found = tuple(regions)
    for clip in clips:
        found = within(found, bounds.of(clip))
    return found


def bounded_path(path: OpenPath, clips: Sequence[Clip], bounds: Bounds) -> list[Path]:
    """What the clips leave of an open path: the parts that run inside all of them."""
    found: list[Path] = [path]
    for clip in clips:
        shape = shapely.union_all([as_polygon(region) for region in bounds.of(clip)])
        found = [part for each in found for part in inside(each, shape)]
    return found
