"""From polygons back to curves.

Terminology
    stretch     one curve of a track from one parameter to another; backwards if the second is the smaller
    bit         a run of a polygon's ring along one stretch, or along none: a bare line
    retrace     turn polygons made from tracks back into outlines: whole curves come back as they were, cut ones as
                their exact part, and where two curves cross the corner is moved from their polylines to the curves

A polygon's edge that lies on no track comes back as a straight line. Retraced outlines lie within TRACK_MM of the exact
figure wherever curves cross at an angle, and within twice that where they only graze each other.

Source: crossing of two curves by Newton's method, J. Stoer and R. Bulirsch, Introduction to Numerical Analysis (3rd
ed., 2002), ch. 5.
"""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray

from clothpath.beziers import part_of, point, slope
from clothpath.curves import Bools, Curve, Floats, Outline, Points, outline
from clothpath.fitting.tracks import Track
from clothpath.regions import Region, region

__all__ = ["Stretch", "retraced"]

ON_TRACK_MM: Final = 1e-6
"""A polygon's edge this near to a track lies on it, in mm: crossings are computed to about 1e-12 of their size."""
AT_ONCE: Final = 1_000_000
"""So many pairs of edges are looked at together: more would take memory, fewer time."""
SPECK_MM: Final = 0.003
"""A stretch shorter than this is an accident of crossing near a node, in mm; it is left out."""
CROSSING_MM: Final = 0.02
"""The farthest that a corner is moved from its polylines to its curves, in mm."""
CROSSING_ROUNDS: Final = 8
STRAIGHT: Final = 1e-7
"""Two lines whose directions differ by less than this, in radians, are one."""
RUNS_ON: Final = 1e-7
"""Parameters that differ by no more than this are one."""

Indices = NDArray[np.intp]


class Stretch(NamedTuple):
    """A curve's row in its track, from one parameter to another."""

    curve: int
    t0: float
    t1: float


class _Bit(NamedTuple):
    """A run of a ring: where it starts and ends, and the stretch it follows; None for a bare line."""

    start: complex
    end: complex
    stretch: Stretch | None


def retraced(geometry: shapely.Geometry, track: Track) -> tuple[Region, ...]:
    """The polygons of a geometry that was made from a track, as regions bounded by the track's curves.

    In order of their lowest, then leftmost corner of the box, so that the order does not depend on the library's.
    """
    parts = shapely.get_parts(geometry)
    polygons = parts[(shapely.get_type_id(parts) == shapely.GeometryType.POLYGON) & ~shapely.is_empty(parts)]
    if not len(polygons):
        return ()
    if len(polygons) > 1:
        left, bottom, right, top = shapely.bounds(polygons).T
        polygons = polygons[np.lexsort((shapely.area(polygons), top, right, left, bottom))]
    _, coordinates, (points_from, rings_from) = shapely.to_ragged_array(polygons)
    points: Points = np.ascontiguousarray(coordinates).view(np.complex128).ravel()
    rings = [_outline_along(bits, track) for bits in _bits(points, points_from, track)]
    found = []
    for a, b in zip(rings_from[:-1].tolist(), rings_from[1:].tolist(), strict=True):
        outer = rings[a]
        if outer is not None:
            found.append(region(outer, [ring for ring in rings[a + 1 : b] if ring is not None]))
    return tuple(found)


def _bits(points: Points, first: Indices, track: Track) -> list[list[_Bit]]:
    """The edges of each ring gathered into stretches; ring k has the points first[k] to first[k + 1], closed."""
    is_edge = np.ones(len(points), np.bool_)
    is_edge[first[1:] - 1] = False
    at = np.flatnonzero(is_edge)
    a, b = points[at], points[at + 1]
    ends = first[1:] - np.arange(1, len(first))  # one more than the last edge of each ring
    starts = np.concatenate(([0], ends[:-1]))
    before, after = np.arange(len(a)) - 1, np.arange(len(a)) + 1
    before[starts], after[ends - 1] = ends - 1, starts
    row, ahead = _rows_of_edges(a, b, track)
    curve = np.where(row >= 0, track.curve[row], -1)
    t0 = np.where(ahead, track.t0[row], track.t1[row])
    t1 = np.where(ahead, track.t1[row], track.t0[row])
    missing = np.flatnonzero(row < 0)
    if len(missing):
        beside = np.stack((curve[before[missing]], curve[after[missing]]), axis=1)
        curve[missing], t0[missing], t1[missing] = _stretches_under(a[missing], b[missing], track, beside)
    ahead = t1 > t0
    runs_on = (curve >= 0) & (curve == curve[before]) & (np.abs(t1[before] - t0) < RUNS_ON) & (ahead == ahead[before])
    found: list[list[_Bit]] = []
    heads = np.flatnonzero(~runs_on)
    ring_of = np.searchsorted(heads, ends).tolist()
    done = 0
    for start, upto in zip(starts.tolist(), ring_of, strict=True):
        here = heads[done:upto] if upto > done else np.array([start])
        done = upto
        last = before[np.roll(here, -1)]
        rows = zip(a[here].tolist(), b[last].tolist(), curve[here].tolist(), t0[here].tolist(), t1[last].tolist(),
                   strict=True)  # fmt: skip
        bits = [_Bit(p, q, Stretch(c, u, v) if c >= 0 else None) for p, q, c, u, v in rows]
        found.append(_without_returns(_without_spikes(bits), track))
    return found


def _rows_of_edges(a: Points, b: Points, track: Track) -> tuple[Indices, Bools]:
    """The track's edge between each a and b, of several alike the first, -1 if none; and whether it runs that way.

    One that runs that way is preferred.
    """
    order = np.argsort(track.start, kind="stable")
    sorted_starts = track.start[order]

    def found(heads: Points, tails: Points) -> Indices:
        row = np.full(len(heads), -1, np.intp)
        low, high = (np.searchsorted(sorted_starts, heads, side) for side in ("left", "right"))
        todo = np.flatnonzero(low < high)
        while len(todo):
            at = order[low[todo]]
            match = track.end[at] == tails[todo]
            row[todo[match]] = at[match]
            low[todo] += 1
            todo = todo[~match & (low[todo] < high[todo])]
        return row

    row = found(a, b)
    ahead = row >= 0
    rest = np.flatnonzero(~ahead)
    row[rest] = found(b[rest], a[rest])
    return row, ahead


def _without_spikes(bits: list[_Bit]) -> list[_Bit]:
    """The bits without ways out and back along one curve: cracks that rounding leaves between polygons."""
    i = 0
    while len(bits) > 1 and i < len(bits):
        before, after = bits[i - 1], bits[i]
        out, back = before.stretch, after.stretch
        if out is None or back is None or out.curve != back.curve or abs(out.t1 - back.t0) > 1e-6:
            i += 1
            continue
        left = back._replace(t0=out.t0)
        bits[i] = _Bit(before.start, after.end, left)
        if abs(left.t1 - left.t0) < 1e-6:
            bits.pop(i)
        bits.pop(i - 1)
        i = max(i - 2, 0)
    return bits


def _without_returns(bits: list[_Bit], track: Track) -> list[_Bit]:
    """The bits without ways out and back along two curves that are one but for a hair."""
    i = 0
    while len(bits) > 2 and i < len(bits):
        before, after = bits[i - 1], bits[i]
        if abs(before.start - after.end) < SPECK_MM and abs(_middle(before, track) - _middle(after, track)) < SPECK_MM:
            for k in sorted(((i - 1) % len(bits), i), reverse=True):
                bits.pop(k)
            i = max(i - 2, 0)
        else:
            i += 1
    return bits


def _middle(bit: _Bit, track: Track) -> complex:
    if bit.stretch is None:
        return (bit.start + bit.end) / 2
    return point(track.curves[bit.stretch.curve].tolist(), (bit.stretch.t0 + bit.stretch.t1) / 2)


def _stretches_under(a: Points, b: Points, track: Track, beside: Indices) -> tuple[Indices, Floats, Floats]:
    """The parts of the track on which edges from a to b lie, as curves and their parameters; curve -1 if on none.

    Where there is a choice it is a curve `beside` the edge, (m, 2), else the first.
    """
    edge, row = _near(a, b, track)
    chord = track.end[row] - track.start[row]
    size = np.abs(chord)
    along = chord.conj() / size
    from_a, from_b = ((each[edge] - track.start[row]) * along for each in (a, b))
    low, high = np.minimum(from_a.real, from_b.real), np.maximum(from_a.real, from_b.real)
    reach = np.maximum(np.maximum(np.abs(from_a.imag), np.abs(from_b.imag)), np.maximum(-low, high - size))
    on = np.flatnonzero(reach < ON_TRACK_MM)
    apart = (track.curve[row[on], None] != beside[edge[on]]).all(axis=1)
    on = on[np.lexsort((row[on], apart, edge[on]))]
    found, first = np.unique(edge[on], return_index=True)
    best = on[first]
    curve, t0, t1 = np.full(len(a), -1, np.intp), np.zeros(len(a)), np.zeros(len(a))
    curve[found] = track.curve[row[best]]
    span = track.t1[row[best]] - track.t0[row[best]]
    for t, part in ((t0, from_a), (t1, from_b)):
        t[found] = track.t0[row[best]] + span * np.clip(part.real[best] / size[best], 0, 1)
    return curve, t0, t1


def _near(a: Points, b: Points, track: Track) -> tuple[Indices, Indices]:
    """Pairs of an edge from a to b and a track's edge whose box holds its middle."""
    left, right = np.minimum(track.start.real, track.end.real), np.maximum(track.start.real, track.end.real)
    bottom, top = np.minimum(track.start.imag, track.end.imag), np.maximum(track.start.imag, track.end.imag)
    found: list[tuple[Indices, Indices]] = []
    at_once = max(1, AT_ONCE // len(left))
    for first in range(0, len(a), at_once):
        middle = (a[first : first + at_once, None] + b[first : first + at_once, None]) / 2
        x, y = middle.real, middle.imag
        near = (x > left - ON_TRACK_MM) & (x < right + ON_TRACK_MM)
        near &= (y > bottom - ON_TRACK_MM) & (y < top + ON_TRACK_MM)
        edge, row = np.nonzero(near)
        found.append((edge + first, row))
    return np.concatenate([edge for edge, _ in found]), np.concatenate([row for _, row in found])


def _outline_along(bits: list[_Bit], track: Track) -> Outline | None:
    """The closed outline along the bits, each corner where the curves on its two sides cross."""
    bits = [bit for bit in bits if abs(bit.start - bit.end) > SPECK_MM or _is_long(bit.stretch)]
    if len(bits) == 1:
        stretch = bits[0].stretch
        return None if stretch is None else _closed_curve(track.curves[stretch.curve], stretch)
    if not bits:
        return None
    parts = [bit.stretch for bit in bits]
    corners: list[complex] = []
    for i in range(len(bits)):
        before = i - 1
        corner, parts[before], parts[i] = _corner(bits[i].start, parts[before], parts[i], track)
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
    whole_a, whole_b = before.t1 in (0.0, 1.0), after.t0 in (0.0, 1.0)
    if whole_a and whole_b:
        return complex(track.curves[before.curve, 3 if before.t1 else 0]), before, after
    a, b = track.curves[before.curve].tolist(), track.curves[after.curve].tolist()
    if whole_a and abs(point(a, before.t1) - at) <= ON_TRACK_MM:
        return point(a, before.t1), before, after
    if whole_b and abs(point(b, after.t0) - at) <= ON_TRACK_MM:
        return point(b, after.t0), before, after
    t, u = before.t1, after.t0
    for _ in range(CROSSING_ROUNDS):
        gap = point(b, u) - point(a, t)
        da, db = slope(a, t), slope(b, u)
        cross = (da.conjugate() * db).imag
        if abs(cross) <= 1e-3 * abs(da) * abs(db):
            break
        step_t, step_u = (gap.conjugate() * db).imag / cross, (gap.conjugate() * da).imag / cross
        t, u = min(max(t + step_t, 0.0), 1.0), min(max(u + step_u, 0.0), 1.0)
        if abs(step_t) + abs(step_u) < 1e-13:
            break
    corner = point(a, t)
    kept = abs(corner - point(b, u)) < 1e-6 and abs(corner - at) < CROSSING_MM
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
