"""Shapes to pieces and markings.

Terminology
    cut line    the edge of a filled shape, else the center line of a closed stroke; both on one shape are one cut line
    gap         how far the two ends of a line that is nearly closed are apart
    wide        said of a stroke that is itself the shape and no line

Sources: open subpaths are filled as if closed, SVG 2, 13.4; what a stroke paints, SVG 2, 13.5.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import Final, cast

import numpy as np
import shapely

from clothpath.areas.fills import Figure, FillRule, Tangled, regions_of_each
from clothpath.curves import (
    OpenPath,
    Outline,
    Path,
    box_of,
    flattened,
    open_path,
    transformed,
)
from clothpath.design import Drawn, Marking, Piece
from clothpath.plugins.readers.svg.clips import MOST_MM, Bounds, bounded, bounded_path, is_measurable
from clothpath.plugins.readers.svg.document import place
from clothpath.plugins.readers.svg.notes import Notes
from clothpath.plugins.readers.svg.pathdata import Subpath
from clothpath.plugins.readers.svg.rings import rings_of
from clothpath.plugins.readers.svg.scene import Shape
from clothpath.plugins.readers.svg.strokes import stroke_outline
from clothpath.regions import Region, box_of_regions, xy
from clothpath.units import both

__all__ = ["Found", "Habits", "pieces_of", "tell_of_lines"]

SAME_MM: Final = 0.005
SAME_PART: Final = 1e-4
"""Ends nearer than this, in mm or as a part of the page, whichever is less, coincide but for rounding."""

BATCH: Final = 20_000
SLIVER_MM: Final = 0.02
"""A shape may reach less far by this without a word once its slivers are gone, in mm: the budget for its shape."""
OFF_PAGE_MM: Final = 0.5
"""Pieces may reach over the edge of the page by this without a word, in mm."""


@dataclass(frozen=True, slots=True)
class Habits:
    """How lines are taken.

    Attributes:
        gap: mm; lines whose ends are this near to each other count as closed.
        wide_stroke: mm; open lines at least this wide are shapes.
        page: mm; the longer side of the page.
    """

    gap: float
    wide_stroke: float
    page: float


@dataclass(slots=True)
class Found:
    """Pieces and markings in drawing order."""

    pieces: list[Piece] = field(default_factory=list)
    markings: list[Marking] = field(default_factory=list)
    ids: set[str] = field(default_factory=set)

    def new_id(self, wanted: str, kind: str) -> str:
        """`wanted`, or a made-up one, with a number if it is taken."""
        number = 1 if wanted else len(self.pieces if kind == "piece" else self.markings) + 1
        stem = wanted or kind
        name = wanted or f"{kind}-{number}"
        while name in self.ids:
            number += 1
            name = f"{stem}-{number}"
        self.ids.add(name)
        return name


@dataclass(slots=True)
class _Seen:
    """A shape with what it paints, and its subpaths sorted by what becomes of them."""

    shape: Shape
    drawn: Drawn
    filled: bool
    closed: list[Subpath]
    open: list[Subpath]
    rings: list[Outline] = field(default_factory=list)


def pieces_of(shapes: Sequence[Shape], habits: Habits, notes: Notes, check_time: Callable[[], None]) -> Found:
    """The pieces and markings that the shapes are, in drawing order.

    Args:
        check_time: called now and then; raises if the reading takes too long.
    """
    seen = [each for shape in shapes if (each := _seen(shape, habits, notes)) is not None]
    same = min(SAME_MM, SAME_PART * habits.page)
    for each, rings in zip(seen, rings_of([(each.closed, each.shape.to_page) for each in seen], same), strict=True):
        if rings is None:
            notes.beyond_measure(each.shape.element)
        else:
            each.rings = rings
    found = Found()
    bounds = Bounds(notes)
    for batch in _batches(seen):
        check_time()
        left = iter(regions_of_each([figure for each in batch for figure in _figures(each)]))
        for each in batch:
            _add(found, each, _regions(each, left, notes), habits, bounds, notes)
    return found


def tell_of_lines(found: Found, width: float | None, height: float | None, notes: Notes) -> None:
    """Findings on open lines, and on pieces off the page, which viewers do not show; width and height in mm."""
    open_lines = [marking.drawn.where for marking in found.markings if not marking.drawn.is_named_marking]
    if open_lines:
        message = f"{len(open_lines)} open lines were taken for markings" if len(open_lines) > 1 else "An open line was"
        message += ": they do not close." if len(open_lines) > 1 else " taken for a marking: it does not close."
        hint = (
            "If one belongs to the edge of a piece, close it in the drawing, or have a wider gap closed: "
            '--set tidy.gap="1 mm", or gap = "1 mm" at the step tidy of a recipe.'
        )
        notes.add("note", "open-line", message, _some(open_lines), hint)
    if width is None or height is None:
        return
    off, over = [], []
    for piece in _near_the_edge(found.pieces, width, height):
        box = piece.region.box
        if box.left >= width or box.right <= 0 or box.bottom >= height or box.top <= 0:
            off.append(piece.drawn.where)
        elif min(box.left, box.bottom, width - box.right, height - box.top) < -OFF_PAGE_MM:
            over.append(piece.drawn.where)
    if off:
        message = f"Pieces off the page, which viewers do not show: {len(off)}; they were read all the same."
        notes.add("warning", "off-page", message, _some(off), "Delete them in the drawing, or omit them.")
    if over:
        message = f"Pieces that reach over the edge of the page: {len(over)}; they were read whole."
        notes.add("note", "over-page-edge", message, _some(over))


def _near_the_edge(pieces: Sequence[Piece], width: float, height: float) -> list[Piece]:
    """The pieces whose control points do not all lie on the page or hardly off it."""
    if not pieces:
        return []
    rings = [piece.region.outer.nodes for piece in pieces]
    nodes = np.concatenate(rings).ravel()
    out = np.maximum(np.abs(nodes.real - width / 2) - width / 2, np.abs(nodes.imag - height / 2) - height / 2)
    if out.max() <= OFF_PAGE_MM:
        return []
    firsts = np.cumsum([0, *(3 * len(ring) for ring in rings[:-1])])
    farthest = np.maximum.reduceat(out, firsts)
    return [pieces[i] for i in np.flatnonzero(farthest > OFF_PAGE_MM).tolist()]


def _some(places: Sequence[str]) -> str:
    shown = "; ".join(places[:5])
    return shown if len(places) <= 5 else f"{shown}; and {len(places) - 5} more"


def _batches(seen: Sequence[_Seen]) -> Iterator[Sequence[_Seen]]:
    """Shapes in portions of about BATCH rings and segments, so that the time can be looked at between them."""
    first = size = 0
    for i, each in enumerate(seen):
        size += sum(8 + len(ring) for ring in each.rings)
        if size > BATCH:
            yield seen[first : i + 1]
            first, size = i + 1, 0
    yield seen[first:]


def _seen(shape: Shape, habits: Habits, notes: Notes) -> _Seen | None:
    scale = abs(shape.to_page.determinant) ** 0.5
    filled, stroked = shape.fill.color is not None, shape.stroke.color is not None
    if scale == 0 or not (filled or stroked):
        notes.unpainted(shape.element)
        return None
    if stroked and not shape.stroke_width * scale < MOST_MM:
        notes.beyond_measure(shape.element)
        return None
    names = shape.names
    drawn = Drawn(
        fill=shape.fill.color,
        stroke=shape.stroke.color,
        stroke_width=shape.stroke_width * scale if stroked else None,
        layer=names.layer or (names.groups[0] if names.groups else ""),
        groups=names.groups,
        element=names.element,
        where=place(shape.element),
    )
    if filled and not stroked:
        return _Seen(shape, drawn, True, list(shape.subpaths), [])
    subs = [sub for sub in shape.subpaths if is_measurable(sub, shape.to_page)]
    if len(subs) < len(shape.subpaths):
        notes.beyond_measure(shape.element)
    if filled and any(_encloses(sub) for sub in subs):
        return _Seen(shape, drawn, True, subs, [])
    result = _Seen(shape, drawn, False, [], [])
    for sub in subs:
        width = abs(sub.end - sub.start) * scale
        if not sub.closed and 0 < width <= habits.gap and _encloses(sub):
            notes.add("note", "gap-closed", f"A line whose ends are {both(width)} apart was closed.", drawn.where)
        closed = sub.closed or (width <= habits.gap and _encloses(sub))
        (result.closed if closed and _encloses(sub) else result.open).append(sub)
    return result


def _encloses(sub: Subpath) -> bool:
    """Whether it can have an inside: it is not straight."""
    points = [point - sub.start for point in sub.points]
    size = max(max(abs(point.real), abs(point.imag)) for point in points)
    if size == 0:
        return False
    far = max(points, key=lambda point: abs(point / size)) / size
    return any(abs((far.conjugate() * (point / size)).imag) > 1e-9 for point in points)


def _figures(of: _Seen) -> list[Figure]:
    """What is filled together: a shape's subpaths; of a line drawn without fill, each ring by itself."""
    if of.filled:
        return [(of.rings, cast(FillRule, of.shape.style["fill-rule"]))]
    return [([ring], "nonzero") for ring in of.rings]


def _regions(of: _Seen, left: Iterator[tuple[Region, ...] | Tangled], notes: Notes) -> tuple[Region, ...]:
    taken = [next(left) for _ in range(1 if of.filled else len(of.rings))]
    good = [each for each in taken if not isinstance(each, Tangled)]
    if len(good) < len(taken):
        message = "A shape crosses itself so often that it is a scribble; it was left out."
        notes.add("warning", "scribble", message, of.drawn.where, "Draw its edge as one simple line.")
    if of.filled or len(good) < 2:
        regions = tuple(region for each in good for region in each)
        _tell_of_slivers(of, regions, notes)
        return regions
    return _holes_assigned([region for each in good for region in each])


def _tell_of_slivers(of: _Seen, regions: Sequence[Region], notes: Notes) -> None:
    """A finding if what is kept of a shape that crosses itself reaches less far than its lines do."""
    if not regions or (len(regions) == 1 and regions[0].outer is of.rings[0]):
        return
    whole = {(ring.end, len(ring)) for ring in of.rings}
    if whole.issuperset((region.outer.end, len(region.outer)) for region in regions):
        return
    drawn, kept = box_of(of.rings), box_of_regions(regions)
    ways = (kept.left - drawn.left, kept.bottom - drawn.bottom, drawn.right - kept.right, drawn.top - kept.top)
    if max(ways) > SLIVER_MM:
        message = "Where a shape crosses itself, slivers too thin to cut or to see were left off its edge; "
        message += f"it reaches {max(ways):.2f} mm less far now."
        notes.add("note", "sliver-dropped", message, of.drawn.where)


def _holes_assigned(regions: Sequence[Region]) -> tuple[Region, ...]:
    """Rings of one line drawing: one inside another that it does not cross is its hole."""
    lines = [shapely.LinearRing(xy(flattened(each.outer))) for each in regions]
    one, other = shapely.STRtree(lines).query(lines, predicate="intersects")
    crossed = {int(i) for i, j in zip(one, other, strict=True) if i != j}
    free = [each.outer for i, each in enumerate(regions) if i not in crossed and not each.holes]
    rest = [each for i, each in enumerate(regions) if i in crossed or each.holes]
    nested = regions_of_each([(free, "evenodd")])[0]
    return (*rest, *(() if isinstance(nested, Tangled) else nested))


def _add(found: Found, of: _Seen, regions: Sequence[Region], habits: Habits, bounds: Bounds, notes: Notes) -> None:
    shape, drawn = of.shape, of.drawn
    width = drawn.stroke_width or 0.0
    wide = width >= habits.wide_stroke and shape.style["stroke-dasharray"] in ("none", "")
    if regions and wide and not of.filled:
        message = f"A closed line {both(width)} wide was taken as a cut line along its middle."
        hint = "If the band itself is the piece, turn the stroke into a path in your drawing program."
        notes.add("warning", "wide-line", message, drawn.where, hint)
    if of.open and wide:
        message = f"An open line {both(width)} wide was taken as a shape of that width."
        hint = "If it is only a marking, draw it thinner, or set wide-stroke to more."
        notes.add("warning", "wide-stroke", message, drawn.where, hint)
        regions = [*regions, *stroke_outline(of.open, shape)]
    for region in bounded(regions, shape.clips, bounds):
        name = found.new_id(_name(shape), "piece")
        label = shape.names.label or name
        found.pieces.append(Piece(name, label, region, "", "cut", len(found.pieces) + 1, 1, drawn))
    if not wide:
        for sub in of.open:
            path = transformed(_line_of(sub), shape.to_page)
            for part in bounded_path(path, shape.clips, bounds):
                _add_marking(found, shape, part, drawn)


def _line_of(sub: Subpath) -> OpenPath:
    """The line that is drawn, with the straight line by which Z closes it, if that is another than the one there."""
    if sub.closed and sub.end != sub.start and len(sub.straight) > 1:
        return open_path(sub.start, [*sub.path().segments(), (sub.start,)])
    return sub.path()


def _add_marking(found: Found, shape: Shape, path: Path, drawn: Drawn) -> None:
    name = found.new_id(_name(shape), "marking")
    found.markings.append(Marking(name, shape.names.label or name, path, "mark", drawn))


def _name(shape: Shape) -> str:
    names = shape.names
    if names.shown_by and names.element and not names.alone:
        return f"{names.shown_by}-{names.element}"
    return names.shown_by or names.element
