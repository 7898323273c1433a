"""Which piece lies over which, and where their edges meet.

Terminology
    upper, lower    of two pieces the one laid later, the one laid earlier
    overlap         the lower piece runs on beneath the upper one; a drawing whose pieces do so is *stacked*
    shared edge     a stretch of the lower piece's edge along which the upper piece begins; a drawing whose pieces meet
                    so is *butted*
    free edge       an edge that is not shared
    reach           how far two edges may be apart, or overlap, and still be taken for one: drawings do not meet exactly
    parallel        along a shared edge: where the two edges keep the same distance; where pieces merely touch, it grows
    place           where on a ring: the segment's number plus the parameter on it
    width           of a piece: the diameter of the largest circle in it

Upper pieces count as they are in the finished picture, the lower one as it is to be cut. A stretch is shared where a
point just outside the lower piece lies in the upper one, and a point just inside does not.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final, Literal

import numpy as np
import shapely
from numpy.typing import NDArray

from clothpath.curves import Floats, Outline, Points, cubics
from clothpath.design import Design, Piece
from clothpath.fitting.fits import derivatives
from clothpath.regions import Region, as_polygon, xy

__all__ = [
    "REACH_MM",
    "Contact",
    "Layering",
    "Pair",
    "SharedEdge",
    "Stretch",
    "contacts",
    "layering",
    "luminance",
    "reordered",
    "stretches",
    "width_of",
]

REACH_MM: Final = 0.25
"""Default reach, in mm: about a stroke of a fine pen."""
JUST_MM: Final = 0.02
"""How far a point "just outside" is from the edge, in mm."""
STEP_MM: Final = 1.0
"""Edges are searched at points no farther apart than this, in mm."""
SHORT_MM: Final = 1.5
"""A shared edge shorter than this is none, in mm: pieces cross there, or touch in a point."""
CROSSING_MM: Final = 8.0
"""The same for two pieces that overlap elsewhere: their edges run together for a while before they cross at a slant."""
HALVINGS: Final = 12
"""Halvings of a step to find the end of a shared edge."""
OUTLINE_MM: Final = 0.01
"""Flattening of the pieces when they are compared, in mm."""
PARALLEL_MM: Final = 0.05
"""By how much the distance of two edges may differ from its middle value where they are parallel, in mm."""
PARALLEL_STEPS: Final = 48
"""Steps in which the distance along a shared edge is measured."""
OVERLAP_MM2: Final = 0.5
"""Pieces that have less than this in common do not overlap, in mm^2."""

Indices = NDArray[np.intp]
Layering = Literal["stacked", "butted", "mixed", "apart"]


@dataclass(frozen=True, slots=True)
class Stretch:
    """A stretch of a ring from one place to another, to what it belongs, and its length in mm, about.

    `end` is beyond the ring's number of segments where the stretch runs on past the ring's start.
    """

    start: float
    end: float
    owner: int
    length: float


Owners = Callable[[Points, Points], Indices]


@dataclass(frozen=True, slots=True)
class SharedEdge:
    """A stretch of one of the lower piece's rings, run in the ring's own direction.

    Attributes:
        ring: 0 for the outer ring, then the holes.
        start, end: places; `end` is beyond the ring's number of segments where the stretch runs on past its start.
        upper: the id of the piece that begins there.
        length: in mm.
        parallel: how much of it is parallel to the upper piece's edge, in mm, about.
        spread: by how much its distance from that edge varies in all but the nearest and the farthest tenth, in mm.
    """

    ring: int
    start: float
    end: float
    upper: str
    length: float
    parallel: float
    spread: float


@dataclass(frozen=True, slots=True)
class Pair:
    """An upper and a lower piece that overlap, and by how much, in mm^2."""

    lower: str
    upper: str
    overlap: float


@dataclass(frozen=True, slots=True)
class Contact:
    """All that a piece has to do with those laid after it.

    Attributes:
        piece: the lower piece.
        shared: its shared edges, ring by ring in order.
        overlaps: the uppers that it runs on beneath.
    """

    piece: Piece
    shared: tuple[SharedEdge, ...]
    overlaps: tuple[Pair, ...]


def contacts(design: Design, reach: float = REACH_MM) -> tuple[Contact, ...]:
    """For every piece that is cut, in layering order, its contacts with those above it."""
    pieces = design.cut_pieces
    polygons = [_valid(as_polygon(piece.finished, OUTLINE_MM)) for piece in pieces]
    shapely.prepare(polygons)
    tree = shapely.STRtree(polygons)
    near: list[list[int]] = [[] for _ in pieces]
    for low, high in zip(*tree.query(polygons, predicate="dwithin", distance=reach).tolist(), strict=True):
        if low < high:
            near[low].append(high)
    found = []
    for i, piece in enumerate(pieces):
        uppers = {pieces[j].id: polygons[j] for j in sorted(near[i])}
        areas = {j: polygons[i].intersection(polygons[j]).area for j in sorted(near[i])}
        overlaps = tuple(Pair(piece.id, pieces[j].id, area) for j, area in areas.items() if area > OVERLAP_MM2)
        beneath = {pair.upper for pair in overlaps}
        shared = _shared_edges(piece.region, uppers, reach)
        kept = tuple(edge for edge in shared if edge.length > CROSSING_MM or edge.upper not in beneath)
        found.append(Contact(piece, kept, overlaps))
    return tuple(found)


def layering(found: Sequence[Contact]) -> Layering:
    """How a drawing's pieces lie on each other."""
    overlapping, touching = any(each.overlaps for each in found), any(each.shared for each in found)
    if overlapping:
        return "mixed" if touching else "stacked"
    return "butted" if touching else "apart"


def width_of(region: Region) -> float:
    """The diameter of the largest circle in a region, in mm, within 1 %."""
    polygon = _valid(as_polygon(region, OUTLINE_MM))
    size = max(region.box.width, region.box.height)
    return 2 * float(shapely.maximum_inscribed_circle(polygon, size / 1000).length)


def luminance(color: str) -> float:
    """The relative luminance of "#rrggbb", from 0 (black) to 1 (white): WCAG 2.2, relative luminance (sRGB)."""
    parts = [int(color[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def reordered(design: Design, over: Sequence[tuple[str, str]]) -> Design:
    """The design with the first piece of each pair laid after the second; the others keep their order.

    Raises:
        KeyError: there is no such piece.
        ValueError: two pairs contradict each other; the message names a pair.
    """
    order = [piece.id for piece in design.pieces]
    for upper, lower in over:
        if lower not in order or upper not in order:
            raise KeyError(lower if lower not in order else upper)
        if order.index(lower) > order.index(upper):
            order.remove(lower)
            order.insert(order.index(upper), lower)
    for upper, lower in over:
        if order.index(lower) > order.index(upper):
            raise ValueError(f'"{upper}" over "{lower}"')
    by_id = {piece.id: piece for piece in design.pieces}
    return replace(design, pieces=tuple(replace(by_id[each], order=i + 1) for i, each in enumerate(order)))


def _shared_edges(of: Region, uppers: Mapping[str, shapely.Geometry], reach: float) -> tuple[SharedEdge, ...]:
    names, polygons = list(uppers), list(uppers.values())

    def owners(at: Points, outward: Points) -> Indices:
        return _owners(at, outward, polygons, reach)

    return tuple(
        SharedEdge(number, each.start, each.end, names[each.owner], *_measured(ring, each, polygons[each.owner]))
        for number, ring in enumerate(of)
        if uppers
        for each in stretches(ring, owners, SHORT_MM, 2 * reach)
    )


def _measured(ring: Outline, stretch: Stretch, upper: shapely.Geometry) -> tuple[float, float, float]:
    """A stretch's length, its parallel part and the spread of its distance from an upper piece's edge, in mm."""
    places = np.linspace(stretch.start, stretch.end, PARALLEL_STEPS + 1)
    at, _ = _on(cubics(ring), places)
    middles = (at[1:] + at[:-1]) / 2
    apart = shapely.distance(upper.boundary, shapely.points(xy(middles)))
    apart = np.where(shapely.contains_xy(upper, *xy(middles).T), -apart, apart)
    steps = np.abs(np.diff(at))
    order = np.argsort(apart, kind="stable")
    tenth, half, most = apart[order[np.searchsorted(np.cumsum(steps[order]), steps.sum() * np.array([0.1, 0.5, 0.9]))]]
    parallel = steps[np.abs(apart - half) <= PARALLEL_MM].sum()
    return float(steps.sum()), float(parallel), float(most - tenth)


def stretches(ring: Outline, owners: Owners, shortest: float, near: float) -> list[Stretch]:
    """The stretches of a ring that belong to something, in order along it.

    Args:
        owners: maps points of the ring, and the directions out of the region there, to the number of what each belongs
            to; -1: to nothing.
        shortest: stretches shorter than this, in mm, are dropped.
        near: an end this near to a node, in mm, is the node.
    """
    p = cubics(ring)
    places, steps = _searched(p)
    owner = _dropped(owners(*_on(p, places)), steps, shortest)
    if (owner == owner[0]).all():
        return [Stretch(0.0, float(len(p)), int(owner[0]), float(steps.sum()))] if owner[0] >= 0 else []
    (first,) = np.nonzero(owner != np.roll(owner, 1))
    low = np.where(first == 0, places[-1] - len(p), places[first - 1])
    ends = np.mod(_where_it_changes(p, low, places[first], owner[first - 1], owners, near), len(p))
    found = []
    for k, i in enumerate(first.tolist()):
        start, end = float(ends[k]), float(ends[(k + 1) % len(ends)])
        if owner[i] >= 0:
            end = end if end > start else end + len(p)
            size = float(steps[np.mod(places - start, len(p)) < end - start].sum())
            found.append(Stretch(start, end, int(owner[i]), size))
    return found


def _searched(p: Points) -> tuple[Floats, Floats]:
    """Places along a ring, the middles of even steps, and the length of each step, in mm."""
    size = np.abs(np.diff(p, axis=1)).sum(axis=1)
    count = np.ceil(size / STEP_MM).clip(2).astype(np.intp)
    row = np.repeat(np.arange(len(p)), count)
    step = np.arange(len(row)) - np.repeat(np.cumsum(count) - count, count)
    return row + (step + 0.5) / count[row], (size / count)[row]


def _owners(at: Points, outward: Points, uppers: Sequence[shapely.Geometry], reach: float) -> Indices:
    """The number of the upper piece that begins at each point of an edge; -1 where the edge is free."""
    shifts = (JUST_MM, reach + JUST_MM, -reach - JUST_MM)
    outside, beyond, inside = (xy(at + shift * outward).T for shift in shifts)
    owner = np.full(len(at), -1, np.intp)
    for j, upper in enumerate(uppers):
        begins = (owner < 0) & (shapely.contains_xy(upper, *outside) | shapely.contains_xy(upper, *beyond))
        if begins.any():
            owner[begins & ~shapely.contains_xy(upper, *inside)] = j
    return owner


def _on(p: Points, places: Floats) -> tuple[Points, Points]:
    """The points of a ring at places, and the directions out of the region there."""
    around = np.mod(places, len(p))
    around = np.where(around < len(p), around, 0.0)  # a hair below 0 is rounded up to the whole
    row = around.astype(np.intp)
    at, slope, _ = derivatives(p[row], (around - row.astype(np.float64))[:, None])
    return at[:, 0], -1j * slope[:, 0] / np.maximum(np.abs(slope[:, 0]), 1e-300)


def _dropped(owner: Indices, steps: Floats, shortest: float) -> Indices:
    """The owners without stretches that are too short."""
    (first,) = np.nonzero(owner != np.roll(owner, 1))
    if not len(first):
        return owner
    kept = owner.copy()
    for k, i in enumerate(first.tolist()):
        size = (int(first[(k + 1) % len(first)]) - i) % len(owner)
        rows = (np.arange(size) + i) % len(owner)
        if steps[rows].sum() < shortest:
            kept[rows] = -1
    return kept


def _where_it_changes(p: Points, low: Floats, high: Floats, before: Indices, owners: Owners, near: float) -> Floats:
    """The places, each between two, at which something else begins; a node where one is near enough."""
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        same = owners(*_on(p, middle)) == before
        low, high = np.where(same, middle, low), np.where(same, high, middle)
    places = (low + high) / 2
    nodes = np.round(places)
    at, _ = _on(p, places)
    close = np.abs(p[nodes.astype(np.intp) % len(p), 0] - at) < near
    return np.where(close, nodes, places)


def _valid(polygon: shapely.Polygon) -> shapely.Geometry:
    return polygon if polygon.is_valid else shapely.make_valid(polygon, method="structure", keep_collapsed=False)
