"""Union, difference and intersection of regions, curves kept.

Terminology
    operand     regions taken together; they may touch but not overlap
    winding     how often rings run around a point, counterclockwise counted positive
    resolve     make regions from rings that cross themselves and each other, by the winding of each face between them
    speck       a part or a hole too thin to mean anything: what is left where two edges nearly coincide
    crack       the same, open at an end
    spur        a part too narrow to be cut that sticks out of a wider one

The work is done on polygons that stand for the curves (see `tracks`), the result is made of the operands' own curves:
whole where they are whole, cut exactly where they are cut.

Sources: overlay of polygons and union of linework, shapely; winding number by crossings of a ray, K. Hormann and
A. Agathos, The point in polygon problem for arbitrary polygons, Computational Geometry 20 (2001).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray

from clothpath.curves import Bools, Outline, Points, backwards
from clothpath.fitting.retracing import retraced
from clothpath.fitting.tracks import Geometries, Track, joined, lines_of, polygons_in, rings_in, track_of
from clothpath.regions import Region

__all__ = [
    "SPECK_WIDTH_MM",
    "difference",
    "intersection",
    "nested",
    "resolved",
    "resolved_each",
    "union",
    "without_cracks",
    "without_specks",
    "without_spurs",
    "wound",
]

SIDES_AT_ONCE: Final = 1_000_000
"""Pairs of a spot and an edge that are looked at together, to bound the memory that it takes."""
SPECK_WIDTH_MM: Final = 0.01
"""Parts and holes that are narrower than this on average are specks, in mm: half the budget for a change of shape."""
CRACK_MM: Final = 1.0
"""Slits shorter than this are the points of notches, in mm."""
NO_POINTS: Final = np.empty(0, np.complex128)
BACK_RAD: Final = math.radians(140)
"""A line that turns by more than this within a little has turned back."""
LONG: Final = 5.0
"""A spur's perimeter by its width, at least: it is twice as long as it is wide."""
CRUMB_MM2: Final = 0.01
"""Less than this of something is none of it, in mm^2."""
WIDER: Final = 1.02
"""What a disk reaches is widened by this much, so that the polygon of its rim holds the edges that it follows."""

Windings = NDArray[np.intp]


def union(of: Sequence[Region]) -> tuple[Region, ...]:
    """All that lies in any of the regions; they may overlap."""
    if len(of) == 1:
        return tuple(of)
    track, polygons = polygons_in(of)
    return retraced(without_specks(shapely.union_all(polygons)), track)


def difference(of: Sequence[Region], less: Sequence[Region]) -> tuple[Region, ...]:
    """What lies in `of` and not in `less`."""
    return _overlay(of, less, shapely.difference)


def intersection(of: Sequence[Region], other: Sequence[Region]) -> tuple[Region, ...]:
    """What lies in both."""
    return _overlay(of, other, shapely.intersection)


_Rule = Callable[[shapely.Geometry, shapely.Geometry], shapely.Geometry]


def _overlay(of: Sequence[Region], other: Sequence[Region], rule: _Rule) -> tuple[Region, ...]:
    own_track, own = polygons_in(of)
    other_track, others = polygons_in(other)
    result = rule(shapely.union_all(own), shapely.union_all(others))
    return retraced(without_specks(result), joined(own_track, other_track))


def without_specks(geometry: shapely.Geometry, width: float = SPECK_WIDTH_MM) -> shapely.Geometry:
    """The polygons of a geometry without parts and holes that are narrower than `width` mm on average.

    The width of a strip is twice its area by its perimeter.
    """

    parts = shapely.get_parts(geometry)
    parts = parts[(shapely.get_type_id(parts) == shapely.GeometryType.POLYGON) & ~shapely.is_empty(parts)]
    kept = parts[~_are_specks(parts, width)]
    for i in np.flatnonzero(shapely.get_num_interior_rings(kept)).tolist():
        holes = np.array(kept[i].interiors, object)
        specks = _are_specks(shapely.polygons(holes), width)
        if specks.any():
            kept[i] = shapely.Polygon(kept[i].exterior, holes[~specks])
    return shapely.multipolygons(kept)


def _are_specks(polygons: Geometries, width: float) -> Bools:
    specks: Bools = 2 * shapely.area(polygons) <= width * shapely.length(polygons)
    return specks


def without_cracks(geometry: shapely.Geometry, width: float = SPECK_WIDTH_MM) -> shapely.Geometry:
    """The polygons of a geometry with their cracks closed: slits narrower than `width` mm and longer than `CRACK_MM`.

    Two polygons that meet along one curve leave them where their curves are divided, and so flattened, differently.
    """
    if not (_turns_back(geometry, 2 * width, NO_POINTS) or _nearly_meet(geometry, width)):
        return geometry
    closed = geometry.buffer(width / 2, join_style="mitre").buffer(-width / 2, join_style="mitre")
    if shapely.length(geometry) - shapely.length(closed) < 2 * CRACK_MM:
        return geometry
    if not closed.is_valid:  # mitres of walls that nearly touch may cross
        closed = shapely.make_valid(closed, method="structure", keep_collapsed=False)
    walls = shapely.intersection(shapely.boundary(geometry), closed.buffer(-width / 4))
    return shapely.union(geometry, shapely.intersection(closed, walls.buffer(width, cap_style="square")))


def without_spurs(
    geometry: shapely.Geometry, before: shapely.Geometry, kept: shapely.Geometry, width: float
) -> shapely.Geometry:
    """The polygons of a geometry without their spurs: parts narrower than `width` mm that stick out.

    Args:
        before: what the geometry was made from; spurs between its own points stay.
        kept: spurs in which some of this lies stay.
    """
    if not _turns_back(geometry, 2 * width, _points_of(before)):
        return geometry
    wide = geometry.buffer(-width / 2, join_style="mitre").buffer(width / 2 * WIDER, join_style="mitre")
    narrow = shapely.get_parts(geometry.difference(wide))
    narrow = narrow[shapely.length(narrow) > LONG * width]
    spurs = narrow[shapely.area(shapely.intersection(narrow, kept)) < CRUMB_MM2]
    return geometry.difference(shapely.union_all(spurs)) if len(spurs) else geometry


def _nearly_meet(geometry: shapely.Geometry, within: float) -> bool:
    """Whether two parts of a geometry are no farther apart than so many mm."""
    parts = shapely.get_parts(geometry)
    return len(parts) > 1 and shapely.STRtree(parts).query(parts, "dwithin", within).shape[1] > len(parts)


def _turns_back(geometry: shapely.Geometry, within: float, old: Points) -> bool:
    """Whether a ring turns back within so many mm, as where something narrow ends, and not at old points only."""
    return any(_most_turned(ring, within, old) > BACK_RAD for ring in shapely.get_rings(shapely.get_parts(geometry)))


def _most_turned(ring: shapely.LinearRing, within: float, old: Points) -> float:
    """The largest angle, in radians, by which a closed line turns along so many mm that have a new point."""
    points = _points_of(ring)
    edges = np.diff(points)
    turn, sizes = np.angle(np.roll(edges, -1) * edges.conj()), np.abs(edges)
    is_new = ~np.isin(points[1:], old) if len(old) else np.ones(len(edges), np.bool_)
    if sizes.min() > within:
        return float(np.abs(turn[is_new]).max(initial=0.0))
    length = np.cumsum(np.tile(sizes, 2))
    turned, news = (np.concatenate(([0], np.cumsum(np.tile(each, 2)))) for each in (turn, is_new))
    first = np.arange(len(edges))
    last = np.searchsorted(length, length[first] + within, side="right")
    return float(np.abs(turned[last] - turned[first])[news[last] > news[first]].max(initial=0.0))


def _points_of(geometry: shapely.Geometry) -> Points:
    points: Points = shapely.get_coordinates(geometry).view(np.complex128).ravel()
    return points


def resolved(rings: Sequence[Outline], inside: Callable[[Windings], Bools]) -> tuple[Region, ...]:
    """The regions in which the rings' winding satisfies `inside`.

    Args:
        rings: in any number, crossing themselves and each other or not.
        inside: maps an array of winding numbers to whether such a place belongs to the result.
    """
    (found,) = resolved_each([rings], inside)
    return found


def resolved_each(groups: Sequence[Sequence[Outline]], inside: Callable[[Windings], Bools]) -> list[tuple[Region, ...]]:
    """As `resolved`, of each group of rings; together they take less time."""
    track = track_of([ring for rings in groups for ring in rings])
    lines = _lines(track)
    simple = shapely.is_simple(lines)
    found: list[tuple[Region, ...]] = []
    end = 0
    for rings in groups:
        start, end = end, end + len(rings)
        own = lines[start:end]
        whole = bool(simple[start:end].all()) and (len(rings) < 2 or shapely.is_simple(shapely.multilinestrings(own)))
        if whole and len(rings):
            found.append(_by_nesting(rings, own, inside))
        else:
            part = rings_in(track, start, end)
            found.append(retraced(without_specks(_wound(part, own, inside)), part))
    return found


def _by_nesting(rings: Sequence[Outline], lines: Geometries, inside: Callable[[Windings], Bools]) -> tuple[Region, ...]:
    """The regions of rings that do not meet."""
    polygons = shapely.polygons(lines)
    starts = np.array([ring.start for ring in rings])
    within = shapely.contains_xy(polygons, starts.real[:, None], starts.imag[:, None])
    np.fill_diagonal(within, False)
    twice = (np.where(shapely.is_ccw(lines), 2, -2) * shapely.area(polygons)).tolist()
    around = {i: np.flatnonzero(row).tolist() for i, row in enumerate(within)}
    return nested(range(len(rings)), rings, twice, around, inside)


def nested(
    here: Sequence[int],
    rings: Sequence[Outline],
    twice: Sequence[float],
    around: Mapping[int, Sequence[int]],
    inside: Callable[[Windings], Bools],
) -> tuple[Region, ...]:
    """The regions of the rings `here`, which do not meet, by which lies in which; in the order of their outer rings.

    A ring is an outer one where the inside begins, a hole where it ends, and nothing where crossing it changes nothing.

    Args:
        twice: twice the signed area of each ring.
        around: for each ring, those in which it lies; those that lie in none may be left out.
    """
    turn = {i: 1 if twice[i] > 0 else -1 for i in here}
    beyond = np.array([sum(turn[j] for j in around.get(i, ())) for i in here], np.intp)
    outside, within = inside(beyond).tolist(), inside(beyond + np.array(list(turn.values()))).tolist()
    holes: dict[int, list[Outline]] = {
        i: [] for i, out, into in zip(here, outside, within, strict=True) if into and not out
    }
    for i, out, into in zip(here, outside, within, strict=True):
        if out and not into:
            owner = min((j for j in around[i] if j in holes), key=lambda j: abs(twice[j]))
            holes[owner].append(rings[i] if twice[i] < 0 else backwards(rings[i]))
    return tuple(Region(rings[i] if twice[i] > 0 else backwards(rings[i]), tuple(found)) for i, found in holes.items())


def wound(track: Track, inside: Callable[[Windings], Bools]) -> shapely.Geometry:
    """The polygons in which the winding of a track's rings satisfies `inside`."""
    lines = _lines(track)
    if len(lines) == 1 and shapely.is_simple(lines[0]):
        turn = np.array([1 if lines[0].is_ccw else -1, 0])
        return shapely.Polygon(lines[0]) if (inside(turn) == [True, False]).all() else _wound(track, lines, inside)
    return _wound(track, lines, inside)


def _lines(track: Track) -> Geometries:
    """Each ring of a track as a line; None for one of fewer than three points."""
    return lines_of(track, np.diff(track.first) >= 3)


def _wound(track: Track, lines: Geometries, inside: Callable[[Windings], Bools]) -> shapely.Geometry:
    faces = shapely.get_parts(shapely.polygonize([shapely.union_all(lines)]))
    if not len(faces):
        return shapely.Polygon()
    spots = shapely.get_coordinates(shapely.point_on_surface(faces))
    around = _windings(np.ascontiguousarray(spots).view(np.complex128).ravel(), track)
    return _merged(faces[inside(around)])


def _merged(faces: Geometries) -> shapely.Geometry:
    """Faces of one web of lines as one geometry: those beside each other share their edges, point by point."""
    if not len(faces):
        return shapely.Polygon()
    try:
        return shapely.coverage_union_all(faces)
    except shapely.errors.GEOSException:  # rounding let faces overlap by a hair
        return shapely.union_all(faces)


def _windings(spots: Points, track: Track) -> Windings:
    """The winding number of the track's closed rings around each spot.

    A line run both ways cancels out, even for a spot on it: the side is told from the lower end, whichever way it runs.
    """
    a, b = track.start, track.end
    rising = b.imag > a.imag
    low, high = np.where(rising, a, b), np.where(rising, b, a)
    bottom, top, chord = low.imag, high.imag, (high - low).conj()
    turn = np.where(rising, 1, -1)
    windings: Windings = np.zeros(len(spots), np.intp)
    at_once = max(1, SIDES_AT_ONCE // max(1, len(a)))
    for first in range(0, len(spots), at_once):
        p = spots[first : first + at_once]
        spot, side = np.nonzero((bottom <= p.imag[:, None]) & (top > p.imag[:, None]))
        left = (chord[side] * (p[spot] - low[side])).imag > 0
        np.add.at(windings, spot[left] + first, turn[side[left]])
    return windings
