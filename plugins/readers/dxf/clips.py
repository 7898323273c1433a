"""Blocks of which only a part is shown: the clip of an INSERT.

Terminology
    clip        a polygon in the block's own coordinates; what lies outside is not drawn
    inverted    said of a clip that shows what lies outside it

Closed lines are cut along the clip's edge, open ones end there.
Source: DXF Reference, SPATIAL_FILTER, which an insert's extension dictionary holds under ACAD_FILTER.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any, Final

import shapely

from clothpath.areas.chains import edges_of, joined
from clothpath.areas.touches import crossings, split
from clothpath.areas.webs import SAME_MM, Edge
from clothpath.curves import Affine, Points, flattened, open_path
from clothpath.plugins.readers.dxf.shapes import Stroke, seen

__all__ = ["Clip", "clip_of", "within"]

SIZE: Final = 1000.0
"""The clip is worked on at this size, in mm, so that tolerances are small against it whatever the drawing's unit."""


@dataclass(frozen=True, slots=True)
class Clip:
    corners: tuple[complex, ...]
    inverted: bool


def clip_of(insert: Any) -> Clip | None:
    """The clip of an insert; None if all of its block is shown."""
    from ezdxf.xclip import XClip

    clip = XClip(insert)
    if not clip.has_clipping_path or not clip.is_clipping_enabled:
        return None
    path = clip.get_block_clipping_path()
    corners = tuple(complex(vertex.x, vertex.y) for vertex in path.inner_polygon())
    return Clip(corners, path.is_inverted_clip) if len(corners) > 2 else None


def within(clip: Clip, strokes: Sequence[Stroke], tick: Callable[[], None]) -> list[list[Stroke]]:
    """What is left of each stroke inside the clip: itself, nothing, or parts.

    Raises:
        ValueError: the clip's corners enclose nothing or are no numbers.
    """
    extent = max(abs(corner - clip.corners[0]) for corner in clip.corners)
    if not 0 < extent < float("inf"):
        raise ValueError("its clip encloses nothing")
    grown = Affine.scale(SIZE / extent) @ Affine.shift(-clip.corners[0])
    back = Affine.shift(clip.corners[0]) @ Affine.scale(extent / SIZE)
    corners = [grown.apply(corner) for corner in clip.corners]
    polygon = shapely.make_valid(shapely.Polygon([(corner.real, corner.imag) for corner in corners]))
    if polygon.area == 0:
        raise ValueError("its clip encloses nothing")
    shapely.prepare(polygon)
    sides = [Edge(a, ((b,),)) for a, b in pairwise([*corners, corners[0]]) if a != b]
    kept: list[list[Stroke]] = []
    for stroke in strokes:
        tick()
        edge = seen(stroke.edge, grown)
        parts = list(_parts(edge, stroke.closed, sides, polygon, tick))
        if parts == [edge]:
            kept.append([stroke])
        else:
            kept.append([replace(stroke, edge=seen(part, back), closed=part.end == part.start) for part in parts])
    return kept


def _parts(
    edge: Edge, closed: bool, sides: Sequence[Edge], polygon: shapely.Geometry, tick: Callable[[], None]
) -> Iterator[Edge]:
    """The edge where it lies inside; of a closed one, the outlines of what it shares with the polygon."""
    both = [edge, *sides]
    found = crossings(both, range(len(both)), tick)
    across = any(cut[0] == 0 for _, cuts in found for cut in cuts)
    if not across and not closed:
        if _covers(polygon, edge):
            yield edge
        return
    if not across:
        outline = _polygon(edge)
        if polygon.covers(outline):
            yield edge
        elif outline.covers(polygon):
            yield Edge(sides[0].start, tuple(side.segments[0] for side in sides))
        return
    parts = split(both, (cut for _, cuts in found for cut in cuts))
    inside = [
        part for part, owner in zip(parts.edges, parts.owners, strict=True) if not owner and _covers(polygon, part)
    ]
    if not closed:
        yield from inside
        return
    outline = _polygon(edge)
    along = [part for part, owner in zip(parts.edges, parts.owners, strict=True) if owner and _covers(outline, part)]
    made = joined([*inside, *along], SAME_MM)
    yield from (edges_of(run.path) for run in made.loops)
    yield from (edges_of(run.path) for run in made.chains)


def _polygon(edge: Edge) -> shapely.Geometry:
    return shapely.make_valid(shapely.Polygon([(point.real, point.imag) for point in _points(edge)]))


def _covers(area: shapely.Geometry, part: Edge) -> bool:
    """Whether the part, which does not cross the edge, lies inside: its middle does."""
    points = _points(part)
    middle = points[len(points) // 2] if len(points) > 2 else points.mean()
    return bool(shapely.distance(area, shapely.Point(middle.real, middle.imag)) <= SAME_MM)


def _points(edge: Edge) -> Points:
    return flattened(open_path(edge.start, edge.segments))
