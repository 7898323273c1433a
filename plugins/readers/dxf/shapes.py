"""Entities as edges: what each kind of entity draws, in the drawing's own unit, seen from above.

Terminology
    entity      one thing that a DXF file draws; its group codes are those of the DXF reference
    extrusion   the direction (210, 220, 230) that is "up" for an entity; (0, 0, -1) shows it in a mirror
    bulge       tan(angle / 4) of the arc from one vertex to the next, positive counterclockwise (group code 42)

Source: DXF Reference, ENTITIES section; "Arbitrary Axis Algorithm" and "Bulges" in its appendix.
"""

from __future__ import annotations

import cmath
import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Any, Final, TypeAlias

from clothpath.chains import Edge
from clothpath.curves import Affine, Curve, arc_segments
from clothpath.plugins.readers.dxf.splines import spline_edge

__all__ = ["CONVERTERS", "Drawing", "Mark", "Shape", "extruded", "seen"]

Drawing: TypeAlias = Any  # ezdxf has no usable types here
Entity: TypeAlias = Any

TILT: Final = 1 / 64
"""Below this share of x and y, an extrusion counts as upright (DXF reference, arbitrary axis algorithm)."""


@dataclass(frozen=True, slots=True)
class Shape:
    """What one entity draws.

    Attributes:
        edge: the line itself.
        closed: it returns to its start.
        filled: it is an area (HATCH, SOLID) and not a line; `part` then tells the areas of one entity apart.
    """

    edge: Edge
    closed: bool
    filled: bool = False


@dataclass(frozen=True, slots=True)
class Mark:
    """A POINT: where it is, and the direction (group code 50) that notches are given in."""

    at: complex
    turn: float


def extruded(extrusion: Sequence[float], elevation: float = 0.0) -> Affine:
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


def _plan(entity: Entity, elevation: float = 0.0) -> Affine:
    return extruded(entity.dxf.get("extrusion", (0, 0, 1)), elevation)


def point(vector: Any) -> complex:
    return complex(vector[0], vector[1])


def _line(entity: Entity) -> list[Shape]:
    start, end = point(entity.dxf.start), point(entity.dxf.end)
    return [Shape(Edge(start, ((end,),)), closed=False)]


def _circle(entity: Entity) -> list[Shape]:
    center = entity.dxf.center
    edge = _turn(point(center), _radius(entity), 0.0, 2 * math.pi)
    return [Shape(seen(edge, _plan(entity, center[2])), closed=True)]


def _arc(entity: Entity) -> list[Shape]:
    center = entity.dxf.center
    start = math.radians(entity.dxf.start_angle)
    sweep = _sweep(start, math.radians(entity.dxf.end_angle))
    edge = _turn(point(center), _radius(entity), start, sweep)
    return [Shape(seen(edge, _plan(entity, center[2])), closed=sweep == 2 * math.pi)]


def _radius(entity: Entity) -> complex:
    radius = entity.dxf.radius
    if not radius > 0:
        raise ValueError("its radius is not positive")
    return complex(radius)


def _sweep(start: float, end: float) -> float:
    """Counterclockwise from one angle to the other, in (0, 2 pi]; equal angles are a full turn."""
    sweep = (end - start) % (2 * math.pi)
    return 2 * math.pi if sweep < 1e-9 or sweep > 2 * math.pi - 1e-9 else sweep


def _turn(center: complex, u: complex, start: float, sweep: float, v: complex | None = None) -> Edge:
    v = u * 1j if v is None else v
    first = center + u * math.cos(start) + v * math.sin(start)
    return Edge(first, tuple(arc_segments(center, u, v, start, sweep)))


def _ellipse(entity: Entity) -> list[Shape]:
    dxf = entity.dxf
    major, up = dxf.major_axis, dxf.get("extrusion", (0, 0, 1))
    size = math.sqrt(sum(v * v for v in up)) or 1.0
    u = point(major)
    minor = complex(up[1] * major[2] - up[2] * major[1], up[2] * major[0] - up[0] * major[2]) / size
    if major[0] == major[1] == major[2] == 0:
        raise ValueError("its axis has no length")
    sweep = _sweep(dxf.start_param, dxf.end_param)
    edge = _turn(point(dxf.center), u, dxf.start_param, sweep, minor * dxf.ratio)
    return [Shape(edge, closed=sweep == 2 * math.pi)]


def bulged(vertices: Sequence[tuple[complex, float]], closed: bool) -> Edge:
    """The chain through vertices, each with the bulge of the stretch to the next one.

    Raises:
        ValueError: fewer than two vertices.
    """
    if len(vertices) < 2:
        raise ValueError("it has fewer than two vertices")
    segments: list[Curve] = []
    targets = [*vertices[1:], vertices[0]] if closed else vertices[1:]
    for (start, bulge), (end, _) in zip(vertices, targets, strict=False):
        if start == end:
            continue
        segments.extend(_bulge(start, end, bulge) if bulge else [(end,)])
    if not segments:
        raise ValueError("it has no length")
    return Edge(vertices[0][0], tuple(segments))


def _bulge(start: complex, end: complex, bulge: float) -> list[Curve]:
    """The arc of a bulge: its included angle is 4 atan(bulge), its center on the perpendicular of the chord."""
    angle = 4 * math.atan(bulge)
    center = (start + end) / 2 + 1j * (end - start) * (1 - bulge * bulge) / (4 * bulge)
    u = start - center
    segments = arc_segments(center, u, u * 1j, 0.0, angle)
    last = segments[-1]
    assert len(last) == 3
    return [*segments[:-1], (last[0], last[1], end)]


def _lwpolyline(entity: Entity) -> list[Shape]:
    vertices = [(complex(x, y), bulge) for x, y, bulge in entity.get_points("xyb")]
    edge = bulged(vertices, bool(entity.closed))
    plan = _plan(entity, entity.dxf.get("elevation", 0.0))
    return [Shape(seen(edge, plan), closed=_returns(edge, bool(entity.closed)))]


def _returns(edge: Edge, closed: bool) -> bool:
    return closed or edge.end == edge.start


def _polyline(entity: Entity) -> list[Shape]:
    if entity.is_poly_face_mesh or entity.is_polygon_mesh:
        raise ValueError("it is a solid body's mesh")
    drawn = [v for v in entity.vertices if not v.dxf.flags & 16]  # 16: frame of a curve, not on it
    closed = bool(entity.is_closed)
    flat = bool(entity.is_2d_polyline)
    vertices = [(point(v.dxf.location), v.dxf.get("bulge", 0.0) if flat else 0.0) for v in drawn]
    edge = bulged(vertices, closed)
    plan = _plan(entity, entity.dxf.get("elevation", (0, 0, 0))[2]) if flat else Affine()
    return [Shape(seen(edge, plan), closed=_returns(edge, closed))]


def _spline(entity: Entity) -> list[Shape]:
    edge = _spline_from(
        entity.dxf.degree,
        list(entity.knots),
        [point(p) for p in entity.control_points],
        list(entity.weights),
        entity,
        bool(entity.closed),
    )
    return [Shape(edge, closed=_returns(edge, False))]


def _spline_from(
    degree: int, knots: list[float], poles: list[complex], weights: list[float], entity: Entity, closed: bool
) -> Edge:
    if not poles:
        tool = _through(entity, closed)
        degree, knots, weights = tool.degree, list(tool.knots()), list(tool.weights())
        poles = [point(p) for p in tool.control_points]
    size = max(abs(p - poles[0]) for p in poles)
    return spline_edge(degree, knots, poles, weights, size * 1e-6)


def _through(entity: Entity, closed: bool) -> Any:
    """The curve through the fit points of a spline that has no poles."""
    from ezdxf.math import fit_points_to_cad_cv, fit_points_to_cubic_bezier  # noqa: F401

    points = list(entity.fit_points)
    if len(points) < 2:
        raise ValueError("it has neither control points nor fit points")
    tangents = None
    if getattr(entity, "dxf", None) is not None and entity.dxf.hasattr("start_tangent", "end_tangent"):
        tangents = [entity.dxf.start_tangent, entity.dxf.end_tangent]
    return fit_points_to_cad_cv(points, tangents=tangents)


def _solid(entity: Entity) -> list[Shape]:
    corners = [entity.dxf.vtx0, entity.dxf.vtx1, entity.dxf.get("vtx3", entity.dxf.vtx2), entity.dxf.vtx2]
    edge = bulged([(point(p), 0.0) for p in corners], closed=True)  # 3rd and 4th corner are stored crosswise
    return [Shape(seen(edge, _plan(entity, corners[0][2])), closed=True, filled=True)]


def _hatch(entity: Entity) -> list[Shape]:
    plan = _plan(entity, entity.dxf.get("elevation", (0, 0, 0))[2])
    shapes: list[Shape] = []
    for boundary in entity.paths:
        edges = _polyline_boundary(boundary) if hasattr(boundary, "vertices") else _edge_boundary(boundary)
        shapes.extend(Shape(seen(edge, plan), closed, filled=True) for edge, closed in edges)
    return shapes


def _polyline_boundary(boundary: Any) -> Iterable[tuple[Edge, bool]]:
    return [(bulged([(complex(x, y), bulge) for x, y, bulge in boundary.vertices], closed=True), True)]


def _edge_boundary(boundary: Any) -> Iterable[tuple[Edge, bool]]:
    for edge in boundary.edges:
        yield from _boundary_edge(edge)


def _boundary_edge(edge: Any) -> Iterable[tuple[Edge, bool]]:
    kind = edge.EDGE_TYPE
    if kind == "LineEdge":
        yield Edge(point(edge.start), ((point(edge.end),),)), False
    elif kind == "ArcEdge":
        start = math.radians(edge.start_angle)
        sweep = _sweep(start, math.radians(edge.end_angle))
        yield _turn(point(edge.center), complex(edge.radius), start, sweep), sweep == 2 * math.pi
    elif kind == "EllipseEdge":
        u = point(edge.major_axis)
        sweep = _sweep(edge.start_param, edge.end_param)
        yield _turn(point(edge.center), u, edge.start_param, sweep, u * 1j * edge.ratio), sweep == 2 * math.pi
    elif kind == "SplineEdge":
        poles = [point(p) for p in edge.control_points]
        made = _spline_from(edge.degree, list(edge.knot_values), poles, list(edge.weights), edge, bool(edge.periodic))
        yield made, made.start == made.end


CONVERTERS: Final[dict[str, Callable[[Entity], list[Shape]]]] = {
    "LINE": _line,
    "ARC": _arc,
    "CIRCLE": _circle,
    "ELLIPSE": _ellipse,
    "LWPOLYLINE": _lwpolyline,
    "POLYLINE": _polyline,
    "SPLINE": _spline,
    "SOLID": _solid,
    "TRACE": _solid,
    "HATCH": _hatch,
    "MPOLYGON": _hatch,
}
"""What draws; each raises ValueError, in words, for an entity that cannot be drawn."""


def finite(edge: Edge, largest: float) -> bool:
    """Whether every point is a number not above `largest`."""
    return all(cmath.isfinite(p) and abs(p) <= largest for p in (edge.start, *(p for s in edge.segments for p in s)))
