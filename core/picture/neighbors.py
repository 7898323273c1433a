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

import itertools
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
import shapely
from numpy.typing import NDArray

from clothpath.beziers import places_on, point
from clothpath.curves import Floats, Outline, Points, cubics
from clothpath.design import Design, Piece
from clothpath.fitting.fits import derivatives
from clothpath.fitting.tracks import polygons_in
from clothpath.picture.covers import over_each
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
    "place_on",
    "stretches",
    "stretches_of_each",
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

Geometries = NDArray[np.object_]
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
OwnersOfEach = Callable[[Indices, Points, Points], Indices]


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
    polygons = polygons_in([piece.finished for piece in pieces], OUTLINE_MM)[1]
    shapely.prepare(polygons)
    uppers = over_each(polygons, polygons, reach)
    low, high = np.array([(i, j) for i, over in enumerate(uppers) for j in over], np.intp).reshape(-1, 2).T
    area = np.where(shapely.contains_properly(polygons[low], polygons[high]), shapely.area(polygons[high]), np.nan)
    rest = np.isnan(area)
    area[rest] = shapely.area(shapely.intersection(polygons[low[rest]], polygons[high[rest]]))
    overlaps: list[list[Pair]] = [[] for _ in pieces]
    for i, j, common in zip(low.tolist(), high.tolist(), area.tolist(), strict=True):
        if common > OVERLAP_MM2:
            overlaps[i].append(Pair(pieces[i].id, pieces[j].id, common))
    shared = _shared_edges(pieces, uppers, polygons, reach)
    found = []
    for i, piece in enumerate(pieces):
        beneath = {pair.upper for pair in overlaps[i]}
        kept = tuple(edge for edge in shared[i] if edge.length > CROSSING_MM or edge.upper not in beneath)
        found.append(Contact(piece, kept, tuple(overlaps[i])))
    return tuple(found)


def layering(found: Sequence[Contact]) -> Layering:
    """How a drawing's pieces lie on each other."""
    overlapping, touching = any(each.overlaps for each in found), any(each.shared for each in found)
    if overlapping:
        return "mixed" if touching else "stacked"
    return "butted" if touching else "apart"


def place_on(ring: Outline, place: float) -> complex:
    """The point of a ring at a place."""
    (segment,), (t,) = places_on(np.array([place]), len(ring))
    return point(cubics(ring)[segment], float(t))


def width_of(region: Region, enough: float = math.inf) -> float:
    """The diameter of the largest circle in a region, in mm, within 1 %; or of any circle in it, if that is enough."""
    polygon = _valid(as_polygon(region, OUTLINE_MM))
    around = 2 * float(shapely.distance(polygon.boundary, polygon.centroid))
    if around >= enough and polygon.contains(polygon.centroid):
        return around
    size = max(region.box.width, region.box.height)
    return 2 * float(shapely.maximum_inscribed_circle(polygon, size / 1000).length)


def luminance(color: str) -> float:
    """The relative luminance of "#rrggbb", from 0 (black) to 1 (white): WCAG 2.2, relative luminance (sRGB)."""
    parts = [int(color[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def _shared_edges(
    pieces: Sequence[Piece], uppers: Sequence[Sequence[int]], polygons: Geometries, reach: float
) -> list[list[SharedEdge]]:
    """Each piece's shared edges with its uppers, ring by ring in order."""
    rings = [
        (i, number, ring) for i, piece in enumerate(pieces) if uppers[i] for number, ring in enumerate(piece.region)
    ]
    most = max(map(len, uppers), default=0)
    table = np.array([[*each, *[-1] * (most - len(each))] for each in uppers], np.intp).reshape(len(uppers), most)
    above = table[[i for i, _, _ in rings]]

    def owners(ring: Indices, at: Points, outward: Points) -> Indices:
        return _owners(at, outward, above[ring], polygons, reach)

    found: list[list[SharedEdge]] = [[] for _ in pieces]
    each_ring = stretches_of_each([ring for _, _, ring in rings], owners, SHORT_MM, 2 * reach)
    for (i, number, ring), own in zip(rings, each_ring, strict=True):
        for each in own:
            measured = _measured(ring, each, polygons[each.owner])
            found[i].append(SharedEdge(number, each.start, each.end, pieces[each.owner].id, *measured))
    return found


def _measured(ring: Outline, stretch: Stretch, upper: shapely.Geometry) -> tuple[float, float, float]:
    """A stretch's length, its parallel part and the spread of its distance from an upper piece's edge, in mm."""
    places = np.linspace(stretch.start, stretch.end, PARALLEL_STEPS + 1)
    at, _ = _Around.of([ring]).on(np.zeros(len(places), np.intp), places)
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
    (found,) = stretches_of_each([ring], lambda _, at, outward: owners(at, outward), shortest, near)
    return found


def stretches_of_each(
    rings: Sequence[Outline], owners: OwnersOfEach, shortest: float, near: float
) -> list[list[Stretch]]:
    """As `stretches`, of each ring; together they take less time. `owners` is also given the ring of each point."""
    if not rings:
        return []
    around = _Around.of(rings)
    searched = [_searched(p) for p in around.each]
    places, steps = (np.concatenate(parts) for parts in zip(*searched, strict=True))
    ring = np.repeat(np.arange(len(rings)), [len(own) for own, _ in searched])
    owner = owners(ring, *around.on(ring, places))
    ends = np.cumsum([0, *(len(own) for own, _ in searched)]).tolist()
    for a, b in itertools.pairwise(ends):
        owner[a:b] = _dropped(owner[a:b], steps[a:b], shortest)
    before = np.arange(len(owner)) - 1
    before[ends[:-1]] = np.array(ends[1:]) - 1
    (first,) = np.nonzero(owner != owner[before])
    low = np.where(before[first] < first, places[before[first]], places[before[first]] - around.count[ring[first]])
    changes = np.empty(0)
    if len(first):
        changes = _where_it_changes(around, ring[first], low, places[first], owner[before[first]], owners, near)
    limits = np.searchsorted(first, ends).tolist()
    found: list[list[Stretch]] = []
    for k, (a, b) in enumerate(itertools.pairwise(ends)):
        mine = slice(limits[k], limits[k + 1])
        count = int(around.count[k])
        found.append(_between(changes[mine] % count, owner[first[mine]], places[a:b], steps[a:b], count))
        if not len(first[mine]) and owner[a] >= 0:
            found[-1] = [Stretch(0.0, float(count), int(owner[a]), float(steps[a:b].sum()))]
    return found


def _between(changes: Floats, owner: Indices, places: Floats, steps: Floats, count: int) -> list[Stretch]:
    """The stretches of one ring, from each change to the next."""
    found = []
    for k, each in enumerate(owner.tolist()):
        start, end = float(changes[k]), float(changes[(k + 1) % len(changes)])
        if each >= 0:
            end = end if end > start else end + count
            size = float(steps[np.mod(places - start, count) < end - start].sum())
            found.append(Stretch(start, end, each, size))
    return found


@dataclass(frozen=True, slots=True, eq=False)
class _Around:
    """The segments of several rings.

    Attributes:
        each: (m, 4) control points for each ring.
        p: all of them.
        first, count: (k,) the first segment of each ring, and how many it has.
    """

    each: list[Points]
    p: Points
    first: Indices
    count: Indices

    @classmethod
    def of(cls, rings: Sequence[Outline]) -> _Around:
        each = [cubics(ring) for ring in rings]
        count = np.array([len(p) for p in each], np.intp)
        return cls(each, np.concatenate(each), np.cumsum(count) - count, count)

    def on(self, ring: Indices, places: Floats) -> tuple[Points, Points]:
        """The points of rings at places, and the directions out of the region there."""
        row, t = places_on(places, self.count[ring])
        at, slope, _ = derivatives(self.p[self.first[ring] + row], t[:, None])
        return at[:, 0], -1j * slope[:, 0] / np.maximum(np.abs(slope[:, 0]), 1e-300)


def _searched(p: Points) -> tuple[Floats, Floats]:
    """Places along a ring, the middles of even steps, and the length of each step, in mm."""
    size = np.abs(np.diff(p, axis=1)).sum(axis=1)
    count = np.ceil(size / STEP_MM).clip(2).astype(np.intp)
    row = np.repeat(np.arange(len(p)), count)
    step = np.arange(len(row)) - np.repeat(np.cumsum(count) - count, count)
    return row + (step + 0.5) / count[row], (size / count)[row]


def _owners(at: Points, outward: Points, uppers: Indices, polygons: Geometries, reach: float) -> Indices:
    """The number of the upper piece that begins at each point of an edge; -1 where the edge is free.

    `uppers` are each point's candidates, (n, k), the first that begins there first; -1 for none.
    """
    shifts = (JUST_MM, reach + JUST_MM, -reach - JUST_MM)
    outside, beyond, inside = (xy(at + shift * outward).T for shift in shifts)
    owner = np.full(len(at), -1, np.intp)
    for upper in uppers.T:
        rows = np.flatnonzero((owner < 0) & (upper >= 0))
        over = polygons[upper[rows]]
        begins = shapely.contains_xy(over, *outside[:, rows])
        begins |= shapely.contains_xy(over, *beyond[:, rows])
        rows, over = rows[begins], over[begins]
        rows = rows[~shapely.contains_xy(over, *inside[:, rows])]
        owner[rows] = upper[rows]
    return owner


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


def _where_it_changes(
    around: _Around, ring: Indices, low: Floats, high: Floats, before: Indices, owners: OwnersOfEach, near: float
) -> Floats:
    """The places, each between two, at which something else begins; a node where one is near enough.

    Where two neighboring places are near one node both stay, for nothing, or all of the ring, would lie between them.
    """
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        same = owners(ring, *around.on(ring, middle)) == before
        low, high = np.where(same, middle, low), np.where(same, high, middle)
    places = (low + high) / 2
    nodes = np.round(places)
    at, _ = around.on(ring, places)
    node, _ = around.on(ring, nodes)
    found = np.where(np.abs(node - at) < near, nodes, places)
    starts = np.flatnonzero(np.diff(ring, prepend=-1))
    following = np.arange(1, len(ring) + 1)
    following[np.append(starts[1:], len(ring)) - 1] = starts
    one = np.mod(found - found[following], around.count[ring]) == 0
    one[following] |= one.copy()
    return np.where(one, places, found)


def _valid(polygon: shapely.Polygon) -> shapely.Geometry:
    return polygon if polygon.is_valid else shapely.make_valid(polygon, method="structure", keep_collapsed=False)
