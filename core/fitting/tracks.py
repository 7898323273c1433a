"""Curves kept through work on polygons: polylines that know which curves they stand for.

Terminology
    track       the polyline edges of flattened outlines, each with the curve and the parameters that it stands for

What is made from the polygons of a track is turned back into curves by `retracing`.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray

from clothpath.beziers import points_on_steps, steps_within
from clothpath.curves import Bools, Floats, Outline, Points, gathered
from clothpath.regions import Region, xy

__all__ = [
    "TRACK_MM",
    "Geometries",
    "Track",
    "crossings_in",
    "joined",
    "lines_of",
    "polygons_in",
    "rings_in",
    "track_of",
    "tracks_in",
]

TRACK_MM: Final = 0.002
"""Largest distance between a curve and the polyline that stands for it in an operation, in mm."""
NOTHING_MM: Final = 1e-9
"""Points nearer than this are one, in mm."""

Geometries = NDArray[np.object_]
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


def track_of(rings: Sequence[Outline], tolerance: float = TRACK_MM) -> Track:
    """The track of rings, flattened within `tolerance` mm."""
    curves, straight, sizes = gathered(rings)
    count = np.where(straight, 1, steps_within(curves, tolerance)).astype(np.intp)
    before = np.concatenate(([0], np.cumsum(count)))
    curve = np.repeat(np.arange(len(curves)), count)
    step = np.arange(len(curve)) - before[curve]
    t0, t1 = step / count[curve], (step + 1) / count[curve]
    start = points_on_steps(curves[curve], step, count[curve])
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


def rings_in(track: Track, start: int, end: int) -> Track:
    """The track of the rings from number `start` to `end`, of a track of many."""
    a, b = track.first[start], track.first[end]
    low, high = (int(track.curve[a]), int(track.curve[b - 1]) + 1) if b > a else (0, 0)
    first = track.first[start : end + 1] - a
    return Track(track.start[a:b], track.end[a:b], track.curve[a:b] - low, track.t0[a:b], track.t1[a:b],
                 track.curves[low:high], track.straight[low:high], first)  # fmt: skip


def lines_of(track: Track, which: Bools) -> Geometries:
    """Those rings of a track as closed lines, each of three points or more; None for the others."""
    lines = np.full(len(which), None, object)
    ring = np.repeat(np.arange(len(which)), np.diff(track.first))
    if which.all():
        lines[:] = shapely.linearrings(xy(track.start), indices=ring)
    elif which.any():
        rows = which[ring]
        lines[which] = shapely.linearrings(xy(track.start[rows]), indices=(np.cumsum(which) - 1)[ring[rows]])
    return lines


def polygons_in(regions: Sequence[Region], tolerance: float = TRACK_MM) -> tuple[Track, Geometries]:
    """The track of the regions' rings, and each region as a valid polygon of the track's own points.

    Where flattening lets rings touch or cross by a hair, they are made valid; rings of fewer than three points are
    left out.
    """
    track, polygons = _flattened(regions, tolerance)
    crossed = ~shapely.is_valid(polygons)
    if crossed.any():
        polygons[crossed] = shapely.make_valid(polygons[crossed], method="structure", keep_collapsed=False)
    return track, polygons


def crossings_in(regions: Sequence[Region], tolerance: float = TRACK_MM) -> list[complex | None]:
    """Where each region crosses itself, flattened within `tolerance` mm; None where it does not."""
    polygons = _flattened(regions, tolerance)[1]
    found: list[complex | None] = [None] * len(polygons)
    for i in np.flatnonzero(~shapely.is_valid(polygons)).tolist():
        x, y = shapely.is_valid_reason(polygons[i]).rpartition("[")[2].rstrip("]").split()[:2]
        found[i] = complex(float(x), float(y))
    return found


def tracks_in(regions: Sequence[Region]) -> tuple[list[Track], Geometries]:
    """As `polygons_in`, but each region with a track of its own."""
    track, polygons = polygons_in(regions)
    ends = [0, *itertools.accumulate(1 + len(each.holes) for each in regions)]
    return [rings_in(track, a, b) for a, b in itertools.pairwise(ends)], polygons


def _flattened(regions: Sequence[Region], tolerance: float) -> tuple[Track, Geometries]:
    """The track of the regions' rings, and each region as a polygon, valid or not."""
    track = track_of([ring for each in regions for ring in each], tolerance)
    ends = np.array([0, *itertools.accumulate(1 + len(each.holes) for each in regions)])
    size = np.diff(track.first)
    if (size < 3).any():
        return track, np.array([_polygon(track, a, b) for a, b in itertools.pairwise(ends.tolist())], object)
    ring = np.repeat(np.arange(len(size)), size + 1)
    point = np.arange(len(ring)) - ring
    point[track.first[1:] + np.arange(len(size))] = track.first[:-1]  # each ring's first point is repeated
    offsets = (track.first + np.arange(len(track.first)), ends)
    return track, shapely.from_ragged_array(shapely.GeometryType.POLYGON, xy(track.start[point]), offsets)


def _polygon(track: Track, start: int, end: int) -> shapely.Polygon:
    """The polygon of the rings from `start` to `end`, as it is; empty if the outer one has fewer than three points."""
    rings = [xy(track.start[track.first[i] : track.first[i + 1]]) for i in range(start, end)]
    if len(rings[0]) < 3:
        return shapely.Polygon()
    return shapely.Polygon(rings[0], [ring for ring in rings[1:] if len(ring) >= 3])


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
