"""Parts made ready for the search: checked, grown by half the spacing, and freed of points that do not matter.

Terminology:

grown outline
    the part and all that lies within half the spacing of it. Two grown outlines that do not overlap belong to parts
    that are at least the spacing apart. Simplified outward only: it never loses area.
blank
    a part with its grown outline, as it lies at turn 0.
posed
    a blank in one of its turns, moved so that the lower left corner of the true part's box lies at (0, 0).
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Final

import numpy as np
import shapely

from .parts import BadPartError, Part, Points, turned

__all__ = ["Blank", "Posed", "blanks", "pose"]

MITRE_LIMIT: Final = 1.2
"""Corners sharper than this are cut off outside of the round corner, which needs fewer points than a round one."""

FEW_POINTS: Final = 48
"""Outlines with no more points than this are left as they are."""

MANY_POINTS: Final = 160
"""Outlines with more points than this are simplified before they are grown, which takes long otherwise."""

LOSSES_MM: Final = (0.02, 0.05, 0.1, 0.2, 0.4)
"""How far an outline with very many points may be off, the first that leaves few enough."""

LOSS_MM: Final = 0.04
"""How much further out an outline with many points may be moved to save points."""


@dataclass(frozen=True, slots=True, eq=False)
class Blank:
    """`rings`: outer ring counterclockwise and holes clockwise, of the grown outline; `area` of the true part, mm².

    `poses` keeps the turns worked out so far.
    """

    part: Part
    rings: tuple[Points, ...]
    area: float
    poses: "dict[float, Posed]" = field(default_factory=dict)


@dataclass(frozen=True, slots=True, eq=False)
class Posed:
    """A blank in one turn. `origin` is where the part's own (0, 0) comes to lie; `width`, `height` of the true part."""

    blank: Blank
    turn: float
    rings: tuple[Points, ...]
    origin: tuple[float, float]
    width: float
    height: float


def blanks(parts: Sequence[Part], spacing: float) -> tuple[Blank, ...]:
    """One blank a part, in the same order.

    Raises:
        BadPartError: a part is not an area, or its numbers are not finite.
    """
    smallest = min((float(np.ptp(part.outer, axis=0).min()) for part in parts if len(part.outer)), default=0.0)
    return tuple(_blank(part, spacing, smallest) for part in parts)


def pose(blank: Blank, turn: float) -> Posed:
    """`blank` turned by `turn` degrees, the lower left corner of the true part's box at (0, 0)."""
    if turn not in blank.poses:
        true = turned(blank.part.outer, turn)
        low = true.min(axis=0)
        width, height = (true.max(axis=0) - low).tolist()
        rings = tuple(turned(ring, turn) - low for ring in blank.rings)
        blank.poses[turn] = Posed(blank, turn, rings, (float(-low[0]), float(-low[1])), width, height)
    return blank.poses[turn]


def _blank(part: Part, spacing: float, smallest: float) -> Blank:
    solid = _solid(part)
    lean, lost = _lean(solid)
    grown = _roomy(_grown(lean, spacing / 2 + lost), smallest)
    if shapely.get_num_coordinates(grown) > FEW_POINTS:
        grown = _fewer(grown, lean, spacing / 2 + lost, smallest)
    grown = shapely.orient_polygons(_trimmed(grown, solid, spacing / 2))
    rings = (grown.exterior, *grown.interiors)
    return Blank(part, tuple(shapely.get_coordinates(ring)[:-1] for ring in rings), float(solid.area))


def _grown(solid: shapely.Polygon, by: float) -> shapely.Polygon:
    return _largest(shapely.buffer(solid, by, join_style="mitre", mitre_limit=MITRE_LIMIT)) if by > 0 else solid


def _trimmed(grown: shapely.Polygon, solid: shapely.Polygon, by: float) -> shapely.Polygon:
    """`grown` without what it has, by mitres and simplifying, beyond the box of `solid` grown `by` mm."""
    x0, y0, x1, y1 = solid.bounds
    left, low, right, high = grown.bounds
    if x0 - by <= left and y0 - by <= low and right <= x1 + by and high <= y1 + by:
        return grown
    return _largest(shapely.intersection(grown, shapely.box(x0 - by, y0 - by, x1 + by, y1 + by)))


def _lean(solid: shapely.Polygon) -> tuple[shapely.Polygon, float]:
    """`solid` with `MANY_POINTS` at most if little is lost by it, and how far it may lie inside of what it was."""
    lean, lost = solid, 0.0
    for loss in LOSSES_MM:
        if shapely.get_num_coordinates(lean) <= MANY_POINTS:
            break
        simpler = shapely.simplify(solid, min(loss, 0.005 * _extent(solid)))
        if isinstance(simpler, shapely.Polygon) and simpler.is_valid and not simpler.is_empty:
            lean, lost = simpler, min(loss, 0.005 * _extent(solid))
    return lean, lost


def _extent(solid: shapely.Polygon) -> float:
    x0, y0, x1, y1 = solid.bounds
    return float(max(x1 - x0, y1 - y0))


def _solid(part: Part) -> shapely.Polygon:
    if len(part.outer) < 3 or not all(np.isfinite(ring).all() for ring in (part.outer, *part.holes)):
        raise BadPartError(part.key, "its outline is not a closed shape with finite numbers")
    if part.count < 0 or (part.turns is not None and not part.turns):
        raise BadPartError(part.key, "its count is negative or it has no allowed turn")
    solid = shapely.Polygon(part.outer, [hole for hole in part.holes if len(hole) >= 3])
    if not solid.is_valid:
        solid = _largest(shapely.union_all([shapely.make_valid(solid), shapely.Polygon(part.outer).convex_hull]))
    if solid.is_empty or not solid.area > 0:
        raise BadPartError(part.key, "its outline encloses no area")
    return solid


def _largest(shape: shapely.Geometry) -> shapely.Polygon:
    if isinstance(shape, shapely.Polygon):
        return shape
    pieces = [p for p in shapely.get_parts(shape) if isinstance(p, shapely.Polygon)]
    return max(pieces, key=lambda p: p.area, default=shapely.Polygon())


def _roomy(shape: shapely.Polygon, smallest: float) -> shapely.Polygon:
    """`shape` without the holes in which not even the smallest part could lie."""
    if not shapely.get_num_interior_rings(shape):
        return shape
    keep = []
    for ring in shape.interiors:
        x0, y0, x1, y1 = ring.bounds
        if min(x1 - x0, y1 - y0) > smallest:
            keep.append(ring)
    return shapely.Polygon(shape.exterior, keep)


def _fewer(grown: shapely.Polygon, solid: shapely.Polygon, by: float, smallest: float) -> shapely.Polygon:
    """`grown`, which is `solid` grown `by` mm, with fewer points.

    It is pushed out by what the simplification (Douglas and Peucker 1973) may take off.
    """
    loss = min(LOSS_MM, 0.002 * _extent(solid))
    fewer = _roomy(_largest(shapely.simplify(_grown(solid, by + loss), loss)), smallest)
    return fewer if fewer.is_valid and shapely.covers(fewer, grown) else grown
