"""Entities as strokes: what each kind of entity draws, in the drawing's own unit, seen from above.

Terminology
    entity      one thing that a DXF file draws; the numbers are group codes of the DXF reference
    plane       an entity's own coordinate system, given by its extrusion (210, 220, 230): the direction that is "up"
                for it; (0, 0, -1) shows it in a mirror
    bulge       tan(angle / 4) of the arc from one vertex to the next, positive counterclockwise (42)
    fill        how the rings of an area nest: "parity", the "outermost" only, or "whole" with nothing taken out (75)

Source: DXF Reference, ENTITIES section, and "Arbitrary Axis Algorithm" and "Bulges" in "Advanced DXF Issues".
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any, Final, Literal, TypeAlias

from clothpath.areas.chains import Edge
from clothpath.curves import Affine, Curve, arc_segments
from clothpath.plugins.readers.dxf.splines import spline_edge

__all__ = ["CONVERTERS", "Entity", "Fill", "Stroke", "finite", "plane", "seen", "spot"]

Entity: TypeAlias = Any
"""An entity of ezdxf, which is not typed well enough to say more."""
Fill: TypeAlias = Literal["parity", "outermost", "whole"]

TILT: Final = 1 / 64
"""Below this share of x and y, an extrusion counts as upright (DXF reference, arbitrary axis algorithm)."""
STRAIGHT_BULGE: Final = 1e-9
"""A bulge below this is a line: its arc rises less than a millionth of a millimeter over a meter."""
FULL: Final = 2 * math.pi

_FRAME_VERTEX: Final = 16
_TEXT_BOUNDARY: Final = 8
_FILLS: Final[dict[int, Fill]] = {0: "parity", 1: "outermost", 2: "whole"}


@dataclass(frozen=True, slots=True)
class Stroke:
    """What an entity draws, or a part of it.

    Attributes:
        closed: it returns to its start.
        fill: None for a line; an area's rings have this of the whole area.
        width: of the line, in the drawing's unit; None if it has none.
    """

    edge: Edge
    closed: bool
    fill: Fill | None = None
    width: float | None = None


def plane(extrusion: Sequence[float], elevation: float = 0.0) -> Affine:
    """The map from an entity's own plane to the plan view of the drawing (arbitrary axis algorithm)."""
    nx, ny, nz = extrusion
    size = math.sqrt(nx * nx + ny * ny + nz * nz)
    if size == 0 or (nx == 0 and ny == 0 and nz > 0):
        return Affine()
    nx, ny, nz = nx / size, ny / size, nz / size
    ax = (nz, 0.0, -nx) if abs(nx) < TILT and abs(ny) < TILT else (-ny, nx, 0.0)
    scale = math.sqrt(sum(v * v for v in ax))
    ax = (ax[0] / scale, ax[1] / scale, ax[2] / scale)
    ay = (ny * ax[2] - nz * ax[1], nz * ax[0] - nx * ax[2])
    return Affine(ax[0], ax[1], ay[0], ay[1], nx * elevation, ny * elevation)


def seen(edge: Edge, affine: Affine) -> Edge:
    """The edge under the map."""
    if affine == Affine():
        return edge
    apply = affine.apply
    moved: list[Curve] = [
        (apply(s[0]),) if len(s) == 1 else (apply(s[0]), apply(s[1]), apply(s[2])) for s in edge.segments
    ]
    return Edge(apply(edge.start), tuple(moved))


def finite(edge: Edge, largest: float) -> bool:
    """Whether every point is a number and none lies farther out than `largest`."""
    if not abs(edge.start) <= largest:
        return False
    return all(abs(point) <= largest for segment in edge.segments for point in segment)


def spot(vector: Any) -> complex:
    """A point as seen from above."""
    return complex(vector[0], vector[1])


def _own_plane(entity: Entity, elevation: float = 0.0) -> Affine:
    return plane(entity.dxf.get("extrusion", (0, 0, 1)), elevation)


def _line(entity: Entity) -> Iterator[Stroke]:
    yield Stroke(Edge(spot(entity.dxf.start), ((spot(entity.dxf.end),),)), closed=False)


def _circle(entity: Entity) -> Iterator[Stroke]:
    center = entity.dxf.center
    edge = _turn(spot(center), _radius(entity.dxf.radius), 0.0, FULL)
    yield Stroke(seen(edge, _own_plane(entity, center[2])), closed=True)


def _arc(entity: Entity) -> Iterator[Stroke]:
    center = entity.dxf.center
    start = math.radians(entity.dxf.start_angle)
    sweep = _sweep(start, math.radians(entity.dxf.end_angle))
    edge = _turn(spot(center), _radius(entity.dxf.radius), start, sweep)
    yield Stroke(seen(edge, _own_plane(entity, center[2])), closed=sweep == FULL)


def _radius(radius: float) -> complex:
    if not radius > 0:
        raise ValueError("its radius is not positive")
    return complex(radius)


def _sweep(start: float, end: float) -> float:
    """Counterclockwise from one angle to the other, in (0, 2 pi]; equal angles are a full turn."""
    sweep = (end - start) % FULL
    return FULL if sweep < 1e-9 or sweep > FULL - 1e-9 else sweep


def _turn(center: complex, u: complex, start: float, sweep: float, v: complex | None = None) -> Edge:
    v = u * 1j if v is None else v
    first = center + u * math.cos(start) + v * math.sin(start)
    return Edge(first, tuple(arc_segments(center, u, v, start, sweep)))


def _ellipse(entity: Entity) -> Iterator[Stroke]:
    dxf = entity.dxf
    major, up = dxf.major_axis, dxf.get("extrusion", (0, 0, 1))
    size = math.sqrt(sum(v * v for v in up)) or 1.0
    if major[0] == major[1] == major[2] == 0 or dxf.ratio == 0:
        raise ValueError("one of its axes has no length")
    minor = complex(up[1] * major[2] - up[2] * major[1], up[2] * major[0] - up[0] * major[2]) / size
    sweep = _sweep(dxf.start_param, dxf.end_param)
    yield Stroke(_turn(spot(dxf.center), spot(major), dxf.start_param, sweep, minor * dxf.ratio), closed=sweep == FULL)


def _bulged(vertices: Sequence[tuple[complex, float]], closed: bool) -> Edge:
    """The chain through vertices, each with the bulge of the stretch to the next one."""
    if len(vertices) < 2:
        raise ValueError("it has fewer than two vertices")
    segments: list[Curve] = []
    targets = [*vertices[1:], vertices[0]] if closed else vertices[1:]
    for (start, bulge), (end, _) in zip(vertices, targets, strict=False):
        if start != end:
            segments.extend(_bulge(start, end, bulge))
    if not segments:
        raise ValueError("it has no length")
    return Edge(vertices[0][0], tuple(segments))


def _bulge(start: complex, end: complex, bulge: float) -> list[Curve]:
    """The arc of a bulge: its included angle is 4 atan(bulge), its center on the perpendicular of the chord."""
    if abs(bulge) < STRAIGHT_BULGE:
        return [(end,)]
    center = (start + end) / 2 + 1j * (end - start) * (1 - bulge * bulge) / (4 * bulge)
    u = start - center
    *segments, last = arc_segments(center, u, u * 1j, 0.0, 4 * math.atan(bulge))
    return [*segments, (end,) if len(last) == 1 else (last[0], last[1], end)]


def _lwpolyline(entity: Entity) -> Iterator[Stroke]:
    vertices = [(complex(x, y), float(bulge)) for x, y, bulge in entity.get_points("xyb")]
    closed = bool(entity.closed)
    edge = _bulged(vertices, closed)
    width = entity.dxf.get("const_width", 0.0) or None
    moved = seen(edge, _own_plane(entity, entity.dxf.get("elevation", 0.0)))
    yield Stroke(moved, closed or edge.end == edge.start, width=width)


def _polyline(entity: Entity) -> Iterator[Stroke]:
    if entity.is_poly_face_mesh or entity.is_polygon_mesh:
        raise ValueError("it is the mesh of a solid body")
    on_curve = [vertex for vertex in entity.vertices if not vertex.dxf.flags & _FRAME_VERTEX]
    closed, flat = bool(entity.is_closed), bool(entity.is_2d_polyline)
    edge = _bulged([(spot(v.dxf.location), v.dxf.get("bulge", 0.0) if flat else 0.0) for v in on_curve], closed)
    if flat:
        edge = seen(edge, _own_plane(entity, entity.dxf.get("elevation", (0, 0, 0))[2]))
    width = entity.dxf.get("default_start_width", 0.0)
    even = width == entity.dxf.get("default_end_width", 0.0)
    yield Stroke(edge, closed or edge.end == edge.start, width=width if width and even else None)


def _spline(entity: Entity) -> Iterator[Stroke]:
    poles = [spot(p) for p in entity.control_points]
    if poles:
        edge = spline_edge(entity.dxf.degree, list(entity.knots), poles, list(entity.weights))
    else:
        tangents = [entity.dxf.get("start_tangent"), entity.dxf.get("end_tangent")]
        edge = _through(list(entity.fit_points), tangents if None not in tangents else None)
    yield Stroke(edge, closed=edge.end == edge.start)


def _through(points: list[Any], tangents: list[Any] | None) -> Edge:
    """The curve through the fit points of a spline that has no control points, as CAD programs draw it."""
    from ezdxf.math import fit_points_to_cad_cv

    if len(points) < 2:
        raise ValueError("it has neither control points nor fit points")
    spline = fit_points_to_cad_cv(points, tangents=tangents)
    return spline_edge(spline.degree, list(spline.knots()), [spot(p) for p in spline.control_points])


def _solid(entity: Entity) -> Iterator[Stroke]:
    dxf = entity.dxf
    crosswise = [dxf.vtx0, dxf.vtx1, dxf.get("vtx3", dxf.vtx2), dxf.vtx2]  # the last two are stored swapped
    edge = _bulged([(spot(corner), 0.0) for corner in crosswise], closed=True)
    yield Stroke(seen(edge, _own_plane(entity, dxf.vtx0[2])), closed=True, fill="whole")


def _face(entity: Entity) -> Iterator[Stroke]:
    dxf = entity.dxf
    corners = [spot(corner) for corner in (dxf.vtx0, dxf.vtx1, dxf.vtx2, dxf.get("vtx3", dxf.vtx2))]
    yield Stroke(_bulged([(corner, 0.0) for corner in corners], closed=True), closed=True)


def _double_line(entity: Entity) -> Iterator[Stroke]:
    parts = [part for part in entity.virtual_entities() if part.dxftype() in ("LINE", "ARC")]
    if not parts:
        raise ValueError("the style of the double line is not in the file")
    for part in parts:
        yield from CONVERTERS[part.dxftype()](part)


def _hatch(entity: Entity) -> Iterator[Stroke]:
    fill = _FILLS.get(entity.dxf.get("hatch_style", 0), "parity")
    own = _own_plane(entity, entity.dxf.get("elevation", (0, 0, 0))[2])
    for boundary in entity.paths:
        if boundary.path_type_flags & _TEXT_BOUNDARY:
            continue
        if hasattr(boundary, "vertices"):
            vertices = [(complex(x, y), bulge) for x, y, bulge in boundary.vertices]
            yield Stroke(seen(_bulged(vertices, closed=True), own), closed=True, fill=fill)
        else:
            for part in boundary.edges:
                edge = _boundary_edge(part)
                yield Stroke(seen(edge, own), closed=edge.end == edge.start, fill=fill)


def _boundary_edge(part: Any) -> Edge:
    match part.EDGE_TYPE:
        case "LineEdge":
            return Edge(spot(part.start), ((spot(part.end),),))
        case "ArcEdge":
            start = math.radians(part.start_angle)
            return _turn(spot(part.center), _radius(part.radius), start, _sweep(start, math.radians(part.end_angle)))
        case "EllipseEdge":
            u = spot(part.major_axis)
            sweep = _sweep(part.start_param, part.end_param)
            return _turn(spot(part.center), u, part.start_param, sweep, u * 1j * part.ratio)
        case "SplineEdge" if part.control_points:
            poles = [spot(p) for p in part.control_points]
            return spline_edge(part.degree, list(part.knot_values), poles, list(part.weights))
        case "SplineEdge":
            return _through([(*p, 0.0) for p in part.fit_points], None)
    raise ValueError(f"its boundary has an unknown part {part.EDGE_TYPE}")


CONVERTERS: Final[dict[str, Callable[[Entity], Iterator[Stroke]]]] = {
    "LINE": _line,
    "ARC": _arc,
    "CIRCLE": _circle,
    "ELLIPSE": _ellipse,
    "LWPOLYLINE": _lwpolyline,
    "POLYLINE": _polyline,
    "SPLINE": _spline,
    "SOLID": _solid,
    "TRACE": _solid,
    "3DFACE": _face,
    "MLINE": _double_line,
    "HATCH": _hatch,
    "MPOLYGON": _hatch,
}
"""What draws; each raises ValueError, in words, for an entity that cannot be drawn."""
