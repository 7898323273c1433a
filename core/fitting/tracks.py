"""Curves kept through work on polygons.

Terminology
    track       the polyline edges of flattened outlines, each with the curve and the parameters that it stands for
    stretch     one curve from one parameter to another; backwards if the second is the smaller
    retrace     turn polygons made from tracks back into outlines: whole curves come back as they were, cut ones as
                their exact part, and where two curves cross the corner is moved from their polylines to the curves

A polygon's edge that lies on no track comes back as a straight line. Retraced outlines lie within TRACK_MM of the exact
figure wherever curves cross at an angle, and within twice that where they only graze each other.

Sources: blossoms of Béziers, G. Farin, Curves and Surfaces for CAGD (5th ed., 2002), ch. 4; crossing of two curves by
Newton's method, J. Stoer and R. Bulirsch, Introduction to Numerical Analysis (3rd ed., 2002), ch. 5.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Final, NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray

from clothpath.curves import Bools, Curve, Floats, Outline, Points, outline
from clothpath.regions import Region, region, xy

__all__ = [
    "TRACK_MM",
    "Stretch",
    "Track",
    "joined",
    "part_of",
    "polygon_of",
    "polygons_in",
    "retraced",
    "track_of",
]

TRACK_MM: Final = 0.002
"""Largest distance between a curve and the polyline that stands for it in an operation, in mm."""
ON_TRACK_MM: Final = 1e-6
"""A polygon's edge this near to a track lies on it, in mm: crossings are computed to about 1e-12 of their size."""
NOTHING_MM: Final = 1e-9
"""Points nearer than this are one, in mm."""
AT_ONCE: Final = 1_000_000
"""So many pairs of edges, or of spots and edges, are looked at together: more would take memory, fewer time."""
SPECK_MM: Final = 0.003
"""A stretch shorter than this is an accident of crossing near a node, in mm; it is left out."""
CROSSING_MM: Final = 0.02
"""The farthest that a corner is moved from its polylines to its curves, in mm."""
CROSSING_ROUNDS: Final = 8
STRAIGHT: Final = 1e-7
"""Two lines whose directions differ by less than this, in radians, are one."""

Indices = NDArray[np.intp]


@dataclass(frozen=True, slots=True, eq=False)
class Track:
    """The edges of flattened rings.

    Attributes:
        start, end: (n,) complex; where each edge starts and ends.
        curve: (n,) the row in `curves` that it stands for.
        t0, t1: (n,) that curve's parameters at its two ends.
        curves: (m, 4) complex control points.
        straight: (m,) bool.
        first: (k + 1,) the first edge of each of the k rings, and n.
    """

    start: Points
    end: Points
    curve: Indices
    t0: Floats
    t1: Floats
    curves: Points
    straight: Bools
    first: Indices


class Stretch(NamedTuple):
    """A curve's row in its track, from one parameter to another."""

    curve: int
    t0: float
    t1: float


def track_of(rings: Sequence[Outline], tolerance: float = TRACK_MM) -> Track:
    """The track of rings, flattened within `tolerance` mm."""
    sizes = np.array([0, *itertools.accumulate(map(len, rings))])
    curves, straight = _rows_of(rings, sizes)
    bend = np.maximum(
        np.abs(curves[:, 0] - 2 * curves[:, 1] + curves[:, 2]), np.abs(curves[:, 1] - 2 * curves[:, 2] + curves[:, 3])
    )
    count = np.where(straight, 1, np.ceil(np.sqrt(0.75 * bend / tolerance))).clip(1).astype(np.intp)
    before = np.concatenate(([0], np.cumsum(count)))
    curve = np.repeat(np.arange(len(curves)), count)
    step = np.arange(len(curve)) - before[curve]
    t0, t1 = step / count[curve], (step + 1) / count[curve]
    start = _at(curves, curve, t0)
    start[step == 0] = curves[:, 0]
    end = np.empty_like(start)
    end[:-1] = start[1:]
    last = before[1:] - 1
    end[last] = curves[:, 3]
    first = before[sizes]
    keep = np.abs(end - start) > NOTHING_MM
    if not keep.all():
        first = np.concatenate(([0], np.cumsum(keep)))[first]
        start, end, curve, t0, t1 = start[keep], end[keep], curve[keep], t0[keep], t1[keep]
        filled = first[1:] > first[:-1]
        end[:-1] = start[1:]
        end[first[1:][filled] - 1] = start[first[:-1][filled]]
    return Track(start, end, curve, t0, t1, curves, straight, first)


def _rows_of(rings: Sequence[Outline], sizes: Indices) -> tuple[Points, Bools]:
    """The segments of all rings as cubics, (m, 4), and which are straight; `sizes` are (k + 1,) first rows and m."""
    curves = np.empty((sizes[-1], 4), np.complex128)
    if not len(curves):
        return curves, np.empty(0, np.bool_)
    np.concatenate([ring.nodes for ring in rings], out=curves[:, :3])
    curves[:-1, 3] = curves[1:, 0]
    curves[sizes[1:] - 1, 3] = [ring.end for ring in rings]
    return curves, np.concatenate([ring.straight for ring in rings])


def rings_in(track: Track, start: int, end: int) -> Track:
    """The track of the rings from number `start` to `end`, of a track of many."""
    a, b = track.first[start], track.first[end]
    return replace(
        track, start=track.start[a:b], end=track.end[a:b], curve=track.curve[a:b], t0=track.t0[a:b], t1=track.t1[a:b],
        first=track.first[start : end + 1] - a,
    )  # fmt: skip


def polygons_in(regions: Iterable[Region], tolerance: float = TRACK_MM) -> tuple[Track, NDArray[np.object_]]:
    """The track of the regions' rings, and each region as a valid polygon of the track's own points.

    Where flattening lets rings touch or cross by a hair, they are made valid; rings of fewer than three points are
    left out.
    """
    listed = list(regions)
    track = track_of([ring for each in listed for ring in each], tolerance)
    ends = np.array([0, *itertools.accumulate(1 + len(each.holes) for each in listed)])
    size = np.diff(track.first)
    if (size < 3).any():
        polygons = np.array([_polygon(track, a, b) for a, b in itertools.pairwise(ends.tolist())], object)
    else:
        ring = np.repeat(np.arange(len(size)), size + 1)
        point = np.arange(len(ring)) - ring
        point[track.first[1:] + np.arange(len(size))] = track.first[:-1]  # each ring's first point is repeated
        offsets = (track.first + np.arange(len(track.first)), ends)
        polygons = shapely.from_ragged_array(shapely.GeometryType.POLYGON, xy(track.start[point]), offsets)
    crossed = ~shapely.is_valid(polygons)
    if crossed.any():
        polygons[crossed] = shapely.make_valid(polygons[crossed], method="structure", keep_collapsed=False)
    return track, polygons


def _polygon(track: Track, start: int, end: int) -> shapely.Polygon:
    """The polygon of the rings from `start` to `end`, as it is; empty if the outer one has fewer than three points."""
    rings = [xy(track.start[track.first[i] : track.first[i + 1]]) for i in range(start, end)]
    return (
        shapely.Polygon(rings[0], [ring for ring in rings[1:] if len(ring) >= 3])
        if len(rings[0]) >= 3
        else shapely.Polygon()
    )


def joined(*tracks: Track) -> Track:
    """Several tracks as one; where their edges coincide, the earlier track gives the curve."""
    rows = np.cumsum([0, *(len(track.curves) for track in tracks)])
    edges = np.cumsum([0, *(len(track.start) for track in tracks)])
    return Track(
        np.concatenate([track.start for track in tracks]),
        np.concatenate([track.end for track in tracks]),
        np.concatenate([track.curve + row for track, row in zip(tracks, rows, strict=False)]),
        np.concatenate([track.t0 for track in tracks]),
        np.concatenate([track.t1 for track in tracks]),
        np.concatenate([track.curves for track in tracks]),
        np.concatenate([track.straight for track in tracks]),
        np.concatenate([*(track.first[:-1] + edge for track, edge in zip(tracks, edges, strict=False)), edges[-1:]]),
    )


def part_of(curve: Points, t0: float, t1: float) -> tuple[complex, complex, complex, complex]:
    """The control points of a cubic's part from t0 to t1, backwards if t1 < t0: its blossom at the four arguments."""
    p0, p1, p2, p3 = curve.tolist()
    if t0 == 0 and t1 == 1:
        return p0, p1, p2, p3
    if t0 == 1 and t1 == 0:
        return p3, p2, p1, p0

    def blossom(a: float, b: float, c: float) -> complex:
        q0, q1, q2 = p0 + (p1 - p0) * a, p1 + (p2 - p1) * a, p2 + (p3 - p2) * a
        r0, r1 = q0 + (q1 - q0) * b, q1 + (q2 - q1) * b
        return complex(r0 + (r1 - r0) * c)

    return blossom(t0, t0, t0), blossom(t0, t0, t1), blossom(t0, t1, t1), blossom(t1, t1, t1)


def retraced(geometry: shapely.Geometry, track: Track) -> tuple[Region, ...]:
    """The polygons of a geometry that was made from a track, as regions bounded by the track's curves.

    In order of their lowest, then leftmost corner of the box, so that the order does not depend on the library's.
    """
    polygons = [part for part in shapely.get_parts(geometry) if part.geom_type == "Polygon" and not part.is_empty]
    polygons.sort(key=lambda part: (*part.bounds[1::-1], *part.bounds[2:], part.area))
    index = _index_of(track)
    found = []
    for polygon in polygons:
        rings = [_retraced_ring(ring, track, index) for ring in (polygon.exterior, *polygon.interiors)]
        if rings[0] is not None:
            found.append(region(rings[0], [ring for ring in rings[1:] if ring is not None]))
    return tuple(found)


_Index = dict[tuple[complex, complex], int]
"""Edges of a track by their two ends; of several alike the first."""


def _index_of(track: Track) -> _Index:
    ends = zip(track.start[::-1].tolist(), track.end[::-1].tolist(), strict=True)
    return dict(zip(ends, range(len(track.start) - 1, -1, -1), strict=True))


def _retraced_ring(ring: shapely.LinearRing, track: Track, index: _Index) -> Outline | None:
    coordinates = shapely.get_coordinates(ring)
    points: Points = np.ascontiguousarray(coordinates).view(np.complex128).ravel()
    return _outline_along(_bits(points, track, index), track)


_Bit = tuple[complex, complex, Stretch | None]
"""A run of a ring: where it starts and ends, and the stretch it follows; None for a bare line."""


def _bits(points: Points, track: Track, index: _Index) -> list[_Bit]:
    """The ring's edges gathered into stretches; `points` repeats the first at the end."""
    listed = points.tolist()
    pairs = list(itertools.pairwise(listed))
    there = [index.get(pair, -1) for pair in pairs]
    row = np.array([index.get((b, a), -1) if i < 0 else i for (a, b), i in zip(pairs, there, strict=True)])
    ahead = np.array(there) >= 0
    curve = np.where(row >= 0, track.curve[row], -1)
    t0 = np.where(ahead, track.t0[row], track.t1[row])
    t1 = np.where(ahead, track.t1[row], track.t0[row])
    missing = np.flatnonzero(row < 0)
    if len(missing):
        beside = np.stack((curve[missing - 1], curve[(missing + 1) % len(curve)]), axis=1)
        found = _stretches_under(points[missing], points[missing + 1], track, beside)
        curve[missing], t0[missing], t1[missing] = found
    ahead = t1 > t0
    before = np.roll(curve, 1)
    runs_on = (curve >= 0) & (curve == before) & (np.abs(np.roll(t1, 1) - t0) < 1e-7) & (ahead == np.roll(ahead, 1))
    (first,) = np.nonzero(~runs_on)
    if not len(first):
        first = np.array([0])
    last = np.roll(first, -1) - 1
    bits: list[_Bit] = []
    for i, j in zip(first.tolist(), last.tolist(), strict=True):
        stretch = Stretch(int(curve[i]), float(t0[i]), float(t1[j])) if curve[i] >= 0 else None
        bits.append((listed[i], listed[j + 1], stretch))
    return _without_spikes(bits)


def _without_spikes(bits: list[_Bit]) -> list[_Bit]:
    """The bits without ways out and back along one curve: cracks that rounding leaves between polygons."""
    i = 0
    while len(bits) > 1 and i < len(bits):
        before, after = bits[i - 1], bits[i]
        out, back = before[2], after[2]
        if out is None or back is None or out.curve != back.curve or abs(out.t1 - back.t0) > 1e-6:
            i += 1
            continue
        left = back._replace(t0=out.t0)
        bits[i] = (before[0], after[1], left)
        if abs(left.t1 - left.t0) < 1e-6:
            bits.pop(i)
        bits.pop(i - 1)
        i = max(i - 2, 0)
    return bits


def _stretches_under(a: Points, b: Points, track: Track, beside: Indices) -> tuple[Indices, Floats, Floats]:
    """The parts of the track on which edges from a to b lie, as curves and their parameters; curve -1 if on none.

    Where there is a choice it is a curve `beside` the edge, (m, 2), else the first.
    """
    half = len(a) // 2
    if half and len(a) * len(track.start) > AT_ONCE:
        first = _stretches_under(a[:half], b[:half], track, beside[:half])
        rest = _stretches_under(a[half:], b[half:], track, beside[half:])
        curve, t0, t1 = (np.concatenate(both) for both in zip(first, rest, strict=True))
        return curve, t0, t1
    chord = track.end - track.start
    size = np.abs(chord)
    along = chord.conj() / size
    from_a, from_b = ((each[:, None] - track.start) * along for each in (a, b))
    low, high = np.minimum(from_a.real, from_b.real), np.maximum(from_a.real, from_b.real)
    reach = np.maximum(np.maximum(np.abs(from_a.imag), np.abs(from_b.imag)), np.maximum(-low, high - size))
    on = reach < ON_TRACK_MM
    near = on & ((track.curve == beside[:, :1]) | (track.curve == beside[:, 1:]))
    row = np.where(near.any(axis=1), near.argmax(axis=1), on.argmax(axis=1))
    span = track.t1[row] - track.t0[row]
    each = np.arange(len(a))
    ta, tb = (track.t0[row] + span * np.clip(part.real[each, row] / size[row], 0, 1) for part in (from_a, from_b))
    return np.where(on.any(axis=1), track.curve[row], -1), ta, tb


def _outline_along(bits: list[_Bit], track: Track) -> Outline | None:
    """The closed outline along the bits, each corner where the curves on its two sides cross."""
    bits = [bit for bit in bits if abs(bit[0] - bit[1]) > SPECK_MM or _is_long(bit[2])]
    if len(bits) == 1:
        stretch = bits[0][2]
        return None if stretch is None else _closed_curve(track.curves[stretch.curve], stretch)
    if not bits:
        return None
    parts = [bit[2] for bit in bits]
    corners: list[complex] = []
    for i in range(len(bits)):
        before = i - 1
        corner, parts[before], parts[i] = _corner(bits[i][0], parts[before], parts[i], track)
        corners.append(corner)
    segments: list[Curve] = []
    for i, part in enumerate(parts):
        end = corners[(i + 1) % len(parts)]
        if part is None or track.straight[part.curve]:
            segments.append((end,))
        else:
            c0, c1, c2, c3 = part_of(track.curves[part.curve], part.t0, part.t1)
            segments.append((c1 + (corners[i] - c0), c2 + (end - c3), end))
    return _outline_of(corners[0], segments)


def _is_long(stretch: Stretch | None) -> bool:
    return stretch is not None and abs(stretch.t1 - stretch.t0) > 0.5


def _closed_curve(curve: Points, stretch: Stretch) -> Outline:
    p0, p1, p2, p3 = part_of(curve, stretch.t0, stretch.t1)
    return outline(p0, [(p1, p2 + (p0 - p3), p0)])


def _corner(
    at: complex, before: Stretch | None, after: Stretch | None, track: Track
) -> tuple[complex, Stretch | None, Stretch | None]:
    """Where two stretches meet near `at`, and the stretches run to there."""
    if before is None or after is None:
        return at, before, after
    a, b = track.curves[before.curve], track.curves[after.curve]
    whole_a, whole_b = before.t1 in (0.0, 1.0), after.t0 in (0.0, 1.0)
    if whole_a and (whole_b or abs(_point(a, before.t1) - at) <= ON_TRACK_MM):
        return _point(a, before.t1), before, after
    if whole_b and abs(_point(b, after.t0) - at) <= ON_TRACK_MM:
        return _point(b, after.t0), before, after
    t, u = before.t1, after.t0
    for _ in range(CROSSING_ROUNDS):
        gap = _point(b, u) - _point(a, t)
        da, db = _slope(a, t), _slope(b, u)
        cross = (da.conjugate() * db).imag
        if abs(cross) <= 1e-3 * abs(da) * abs(db):
            break
        step_t, step_u = (gap.conjugate() * db).imag / cross, (gap.conjugate() * da).imag / cross
        t, u = min(max(t + step_t, 0.0), 1.0), min(max(u + step_u, 0.0), 1.0)
        if abs(step_t) + abs(step_u) < 1e-13:
            break
    corner = _point(a, t)
    kept = abs(corner - _point(b, u)) < 1e-6 and abs(corner - at) < CROSSING_MM
    if kept and (before.t1 > before.t0) == (t > before.t0) and (after.t1 > after.t0) == (after.t1 > u):
        return corner, before._replace(t1=t), after._replace(t0=u)
    return at, before, after


def _outline_of(start: complex, segments: list[Curve]) -> Outline | None:
    """The outline with straight lines that run on in one direction made one."""
    ends = [start, *(segment[-1] for segment in segments)]
    heads = [(segments[i][-1] - ends[i]) if len(segments[i]) == 1 else None for i in range(len(segments))]
    kept: list[Curve] = []
    for i, segment in enumerate(segments):
        ahead, behind = heads[i], heads[i - 1]
        if kept and ahead is not None and behind is not None and _one_line(behind, ahead):
            kept[-1] = segment
        else:
            kept.append(segment)
    first, last = heads[0], heads[-1]
    if len(kept) > 2 and first is not None and last is not None and _one_line(last, first):
        start = kept[-2][-1]
        kept.pop()
    return outline(start, kept) if len(kept) > 2 or any(len(segment) == 3 for segment in kept) else None


def _one_line(a: complex, b: complex) -> bool:
    turned = a.conjugate() * b
    return turned.real > 0 and abs(turned.imag) <= STRAIGHT * turned.real


def _at(curves: Points, row: Indices, t: Floats) -> Points:
    """The points on the rows of the (m, 4) control points at the parameters t."""
    s = 1 - t
    points: Points = np.ascontiguousarray(curves.T).take(row, axis=1)
    points *= (s * s * s, 3 * s * s * t, 3 * s * t * t, t * t * t)
    return points[0] + points[1] + points[2] + points[3]


def _point(p: Points, t: float) -> complex:
    s = 1 - t
    return complex(s**3 * p[0] + 3 * s * s * t * p[1] + 3 * s * t * t * p[2] + t**3 * p[3])


def _slope(p: Points, t: float) -> complex:
    s = 1 - t
    return complex(3 * (s * s * (p[1] - p[0]) + 2 * s * t * (p[2] - p[1]) + t * t * (p[3] - p[2])))
