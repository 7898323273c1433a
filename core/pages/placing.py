"""What a placement guide shows: for each piece its edges, seen or hidden, and its number where there is room for it.

Terminology
    number      the place of a piece in the layering order, counted from 1 without gaps
    seen        the part of an edge that no later piece covers
    hidden      the part that lies beneath a later piece; of what is cut, so that an underlap shows
    place       where the number stands: on the part of the piece that is seen, or beside it with a leader
    block edge  the outline of the block behind the picture: as stated, or a shape left out of cutting that holds all
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Final

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from clothpath.curves import Box, Path, Points, flattened
from clothpath.design import Design, Piece
from clothpath.regions import as_polygon, xy

__all__ = ["Guide", "GuidePiece", "guide_of"]

FLAT_MM: Final = 0.02
"""How finely edges are flattened: less than a printer shows."""
BENEATH_MM: Final = 0.1
"""An edge counts as hidden only this far inside what covers it, so that edges that meet are drawn once."""
SPECK_MM: Final = 0.5
"""Parts of edges shorter than this are left out."""
KEPT: Final = 4
"""How many guides a process keeps: jobs of one design in one size, for several machines, follow each other."""
ROOM_MM: Final = 3.2
"""Radius that a number needs."""
LEADERS_MM: Final = (9.0, 14.0, 20.0, 28.0)
"""How far from its piece a number may stand, the nearest first."""
CLEAR_MM: Final = 1.5
"""What a number keeps clear of the middle of a small piece that is not its own."""
GRAIN_CLEAR_MM: Final = 1.0
"""What a grain line keeps clear of edges."""
MARK_CLEAR_MM: Final = 0.4
"""What a number keeps clear of markings."""
WAYS: Final = 16
"""Directions that are tried for a leader."""


@dataclass(frozen=True, slots=True, eq=False)
class GuidePiece:
    """One piece on the guide.

    Attributes:
        seen, hidden: polylines of complex points, in mm of the picture.
        place: where its number stands.
        leader: the point of the piece to which a line leads from there; None: the number stands on the piece.
        clear: the part of the piece that is seen, without what the markings and the numbers need.
    """

    number: int
    piece: Piece
    seen: tuple[Points, ...]
    hidden: tuple[Points, ...]
    place: complex
    leader: complex | None
    clear: BaseGeometry


@dataclass(frozen=True, slots=True, eq=False)
class Guide:
    """What a guide of one design shows.

    Attributes:
        box: of the finished picture.
        block: the block edge; None where nothing says how large the block is.
    """

    pieces: tuple[GuidePiece, ...]
    marks: tuple[Path, ...]
    box: Box
    block: Box | None

    @property
    def center(self) -> complex:
        """Where the center lines cross: of the block, else of the picture."""
        return (self.block or self.box).center

    @property
    def whole(self) -> Box:
        """Everything that is drawn."""
        around = self.box if self.block is None else self.box.union(self.block)
        for each in self.pieces:
            x, y = each.place.real, each.place.imag
            around = around.union(Box(x - ROOM_MM, y - ROOM_MM, x + ROOM_MM, y + ROOM_MM))
        return around


@lru_cache(maxsize=KEPT)
def guide_of(design: Design, block: tuple[float, float] | None = None) -> Guide:
    """The guide of a design that is at its finished size; `block` is width and height of the block in mm, if stated.

    Raises:
        ValueError: nothing is cut.
    """
    ordered = sorted(design.cut_pieces, key=lambda piece: piece.order)
    box = design.finished_box
    finished = [as_polygon(piece.finished, FLAT_MM) for piece in ordered]
    cut = [as_polygon(piece.region, FLAT_MM) if piece.picture is not None else None for piece in ordered]
    above: BaseGeometry = shapely.Polygon()
    layers: list[tuple[BaseGeometry, BaseGeometry]] = []
    for shape in reversed(finished):
        layers.append((shape, above))
        above = shapely.union(above, shape)
    layers.reverse()
    edges = [_edges(own or shape, shape, over) for own, (shape, over) in zip(cut, layers, strict=True)]
    marks = tuple(marking.path for marking in design.markings if marking.role == "mark")
    drawn = [shapely.LineString(xy(flattened(path, FLAT_MM))) for path in marks]
    off_marks = shapely.buffer(shapely.union_all(drawn), MARK_CLEAR_MM, quad_segs=2)
    hidden = shapely.buffer(shapely.union_all([each for _, each in edges]), MARK_CLEAR_MM, quad_segs=2)
    spots = [_spot(shape, over, (shapely.union(off_marks, hidden), off_marks)) for shape, over in layers]
    small = [middle for middle, room in spots if room < ROOM_MM]
    taken: list[complex] = []
    found: list[GuidePiece] = []
    for number, (piece, (seen, beneath), (shape, over), spot) in enumerate(
        zip(ordered, edges, layers, spots, strict=True), 1
    ):
        place, leader = _place(spot, above, box, taken, small)
        taken.append(place)
        clear = shapely.difference(shapely.difference(shape, over), off_marks)
        found.append(GuidePiece(number, piece, _polylines(seen), _polylines(beneath), place, leader, clear))
    discs = shapely.buffer(shapely.points(xy(np.array(taken))), ROOM_MM, quad_segs=3)
    off = shapely.union_all(discs)
    found = [
        replace(each, clear=shapely.buffer(shapely.difference(each.clear, off), -GRAIN_CLEAR_MM, quad_segs=2))
        for each in found
    ]
    return Guide(tuple(found), marks, box, _block(design, box, block))


def _edges(cut: BaseGeometry, finished: BaseGeometry, over: BaseGeometry) -> tuple[BaseGeometry, BaseGeometry]:
    """What shows of a piece's edges, and what lies beneath."""
    covered = shapely.buffer(over, -BENEATH_MM)
    return shapely.difference(finished.boundary, over), shapely.intersection(cut.boundary, covered)


def _spot(shape: BaseGeometry, over: BaseGeometry, lines: Sequence[BaseGeometry]) -> tuple[complex, float]:
    """The middle of the largest circle in the part of a piece that is seen, and its radius.

    It keeps clear of the first of `lines` that leave a number room, and always of the last.
    """
    seen = shapely.difference(shape, over)
    seen = shape if seen.is_empty else seen
    middle, radius = _widest(seen)
    if radius >= ROOM_MM:
        for each in lines:
            beside, room = _widest(shapely.difference(seen, each))
            if room >= ROOM_MM:
                break
        if room:
            return beside, room
    return middle, radius


def _widest(shape: BaseGeometry) -> tuple[complex, float]:
    found = (0j, 0.0)
    for part in shapely.get_parts(shape).tolist():
        if part.geom_type == "Polygon" and part.area > math.pi * found[1] ** 2:
            (x, y), (rim_x, rim_y) = shapely.maximum_inscribed_circle(part, tolerance=0.1).coords
            found = max(found, (complex(x, y), math.hypot(rim_x - x, rim_y - y)), key=lambda each: each[1])
    return found


def _place(
    spot: tuple[complex, float], picture: BaseGeometry, box: Box, taken: Sequence[complex], small: Sequence[complex]
) -> tuple[complex, complex | None]:
    """Where a number stands, and to which point it leads if that is not on its piece."""
    middle, room = spot

    def free(place: complex) -> bool:
        clear = all(abs(place - other) >= 2 * ROOM_MM for other in taken)
        return clear and all(other == middle or abs(place - other) >= ROOM_MM + CLEAR_MM for other in small)

    if room >= ROOM_MM and free(middle):
        return middle, None
    outward = middle - box.center
    first = math.atan2(outward.imag, outward.real) if outward else 0.0
    turns = sorted((2 * math.pi * k / WAYS for k in range(WAYS)), key=lambda turn: min(turn, 2 * math.pi - turn))
    options = [
        middle + far * complex(math.cos(first + turn), math.sin(first + turn)) for far in LEADERS_MM for turn in turns
    ]
    good = [place for place in options if free(place)] or options
    near = [place for place in good if abs(place - middle) < LEADERS_MM[2]]
    beside = [p for p in near if shapely.distance(shapely.Point(p.real, p.imag), picture) >= ROOM_MM]
    return (beside or good)[0], middle


def _polylines(lines: BaseGeometry) -> tuple[Points, ...]:
    merged = shapely.line_merge(lines) if lines.geom_type == "MultiLineString" else lines
    parts = [part for part in shapely.get_parts(merged).tolist() if part.length >= SPECK_MM]
    return tuple(shapely.get_coordinates(part) @ np.array([1, 1j]) for part in parts if part.geom_type != "Point")


def _block(design: Design, box: Box, stated: tuple[float, float] | None) -> Box | None:
    if stated is not None:
        middle, (width, height) = box.center, stated
        return Box(middle.real - width / 2, middle.imag - height / 2, middle.real + width / 2, middle.imag + height / 2)
    behind = [
        piece.region.box
        for piece in design.pieces
        if piece.role == "omit" and piece.region.box.union(box) == piece.region.box
    ]
    return min(behind, key=lambda each: each.width * each.height, default=None)
