"""Curves of straight lines and cubic Béziers, in millimeters, y up.

Terminology
    point       a complex number x + iy
    path        a connected chain of segments; each is a straight line or a cubic Bézier
    outline     a closed path; counterclockwise area is positive
    open path   a path that need not return; only markings are open
    flatten     replace by a polyline that stays within a tolerance and keeps each segment's extreme points, so that
                bounding boxes stay exact

Source: area by Green's theorem, evaluated in closed form on the control points; more of them in `beziers`.
"""

from __future__ import annotations

import cmath
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cache, cached_property
from itertools import accumulate
from typing import Final, TypeAlias, TypeVar

import numpy as np
from numpy.typing import NDArray

from clothpath.beziers import extremes, points_at, stepped
from clothpath.plane import Affine, Bools, Box, Floats, Points

__all__ = [
    "FLATTEN_MM",
    "Affine",
    "Bools",
    "Box",
    "Curve",
    "Floats",
    "OpenPath",
    "Outline",
    "Path",
    "Points",
    "arc_segments",
    "area",
    "backwards",
    "box_of",
    "boxes",
    "circle",
    "cubics",
    "flattened",
    "gathered",
    "length",
    "open_path",
    "outline",
    "outlines_in",
    "polygon",
    "transformed",
]

FLATTEN_MM: Final = 0.005
"""Default largest distance between a curve and the polyline that stands for it, in millimeters."""
SAME_MM: Final = 1e-9
"""Points of a flattened path nearer than this are one, in mm: an extreme point may fall on a step, but for rounding."""
ARC_STEP: Final = math.pi / 4
"""Largest angle of one cubic in an arc: the radial error is then 4.2e-6 of the radius (error grows with angle^6)."""

Curve: TypeAlias = "tuple[complex] | tuple[complex, complex, complex]"
"""A segment from where the last one ended: (end,) is a line, (control, control, end) a cubic."""


@dataclass(frozen=True, eq=False)
class Path:
    """A connected chain of lines and cubics.

    Attributes:
        nodes: (n, 3) complex; row i is the start of segment i and its two control points. In the rows of straight
            segments the control points lie at the thirds, whatever was passed.
        straight: (n,) bool; whether segment i is a line.
        end: where the last segment ends.

    Equal by value, hashable, picklable; the arrays are read-only.

    Raises:
        ValueError: no segment, shapes that do not fit, or a coordinate that is not finite.
    """

    nodes: Points
    straight: Bools
    end: complex

    def __post_init__(self) -> None:
        nodes = np.array(self.nodes, dtype=np.complex128)
        straight = np.array(self.straight, dtype=np.bool_)
        if nodes.ndim != 2 or nodes.shape[1:] != (3,) or straight.shape != nodes.shape[:1] or not len(nodes):
            raise ValueError("a path needs (n, 3) nodes and (n,) flags, n >= 1")
        nodes += 0.0  # no negative zeros: equal values have equal bytes
        if straight.any():
            starts = nodes[:, 0]
            step = np.empty_like(starts)
            step[:-1] = starts[1:]
            step[-1] = self.end
            with np.errstate(over="ignore", invalid="ignore"):  # what is not finite is refused below
                step = (step - starts) / 3
                nodes[straight, 1] = (starts + step)[straight]
                nodes[straight, 2] = (starts + 2 * step)[straight]
        if not (np.isfinite(nodes).all() and cmath.isfinite(self.end)):
            raise ValueError("a path needs finite coordinates")
        nodes.setflags(write=False)
        straight.setflags(write=False)
        object.__setattr__(self, "nodes", nodes)
        object.__setattr__(self, "straight", straight)
        object.__setattr__(self, "end", complex(self.end) + 0.0)

    def __len__(self) -> int:
        return len(self.nodes)

    def __eq__(self, other: object) -> bool:
        return (
            type(other) is type(self)
            and isinstance(other, Path)
            and self.end == other.end
            and np.array_equal(self.straight, other.straight)
            and np.array_equal(self.nodes, other.nodes)
        )

    def __hash__(self) -> int:
        return hash((type(self).__name__, self.nodes.tobytes(), self.straight.tobytes(), self.end))

    def __reduce__(self) -> tuple[type[Path], tuple[Points, Bools, complex]]:
        return type(self), (self.nodes, self.straight, self.end)

    @property
    def start(self) -> complex:
        return complex(self.nodes[0, 0])

    @cached_property
    def box(self) -> Box:
        """The exact bounding box."""
        return box_of([self])

    def segments(self) -> list[Curve]:
        """The segments in order, as (end,) or (control, control, end)."""
        ends = [*self.nodes[1:, 0].tolist(), self.end]
        return [
            (end,) if line else (c1, c2, end)
            for (_, c1, c2), line, end in zip(self.nodes.tolist(), self.straight.tolist(), ends, strict=True)
        ]


class OpenPath(Path):
    """A path whose two ends are its own."""


class Outline(Path):
    """A closed path: the last segment ends where the first begins.

    Raises:
        ValueError: as Path, or the ends do not meet.
    """

    def __post_init__(self) -> None:
        super().__post_init__()
        if self.end != self.start:
            raise ValueError(f"an outline must end where it starts: {self.end} is not {self.start}")


AnyPath = TypeVar("AnyPath", bound=Path)


def open_path(start: complex, segments: Iterable[Curve]) -> OpenPath:
    """The open path from `start` along `segments`."""
    return OpenPath(*_assembled(start, segments))


def outline(start: complex, segments: Iterable[Curve]) -> Outline:
    """The closed path from `start` along `segments`; a straight line closes it if the ends do not coincide."""
    listed = list(segments)
    if not listed or listed[-1][-1] != start:
        listed.append((start,))
    return Outline(*_assembled(start, listed))


def outlines_in(nodes: Points, straight: Bools, ends: Sequence[int]) -> list[Outline]:
    """Many outlines at once, from their segments one after the other; faster than one by one, and the same.

    Args:
        nodes: (n, 3), straight: (n,); as of a Path.
        ends: for each outline, one more than the number of its last segment.

    Raises:
        ValueError: as Path.
    """
    if not len(ends):
        return []
    nodes = np.asarray(nodes, dtype=np.complex128) + 0.0
    straight = np.array(straight, dtype=np.bool_)
    firsts = np.array([0, *ends[:-1]])
    starts = nodes[firsts, 0]
    following = np.append(nodes[1:, 0], 0)
    following[np.asarray(ends) - 1] = starts
    lines = np.flatnonzero(straight)
    at = nodes[lines, 0]
    with np.errstate(over="ignore", invalid="ignore"):  # what is not finite is refused below
        step = (following[lines] - at) / 3
        nodes[lines, 1] = at + step
        nodes[lines, 2] = at + 2 * step
    if not np.isfinite(nodes).all():
        raise ValueError("a path needs finite coordinates")
    nodes.setflags(write=False)
    straight.setflags(write=False)
    found: list[Outline] = []
    for first, end, start in zip(firsts.tolist(), ends, starts.tolist(), strict=True):
        made = object.__new__(Outline)
        made.__dict__.update(nodes=nodes[first:end], straight=straight[first:end], end=start)
        found.append(made)
    return found


def _assembled(start: complex, segments: Iterable[Curve]) -> tuple[Points, Bools, complex]:
    rows: list[tuple[complex, complex, complex]] = []
    straight: list[bool] = []
    at = complex(start)
    for segment in segments:
        if len(segment) == 1:
            rows.append((at, at, at))
            straight.append(True)
            at = complex(segment[0])
        else:
            rows.append((at, segment[0], segment[1]))
            straight.append(False)
            at = complex(segment[2])
    return np.array(rows, dtype=np.complex128).reshape(-1, 3), np.array(straight, dtype=np.bool_), at


def polygon(points: Sequence[complex] | Points) -> Outline:
    """The closed polygon through `points` (the first not repeated at the end)."""
    corners = np.asarray(points, dtype=np.complex128)
    nodes = np.repeat(corners[:, None], 3, axis=1)
    return Outline(nodes, np.ones(len(corners), dtype=np.bool_), complex(corners[0]))


def circle(center: complex, radius: float) -> Outline:
    """A counterclockwise circle of eight cubics, within 4.2e-6 of the radius."""
    return outline(center + radius, arc_segments(center, complex(radius), complex(0, radius), 0.0, 2 * math.pi))


def arc_segments(center: complex, u: complex, v: complex, start: float, sweep: float) -> list[Curve]:
    """The elliptical arc center + u cos(t) + v sin(t), t from `start` over `sweep` radians, as cubics.

    `u` and `v` are conjugate half diameters, so that any affine image of a circle can be given. Control points at
    4/3 tan(step/4) along the tangents: M. Goldapp, Approximation of circular arcs by cubic polynomials, CAGD 8 (1991).
    A full turn ends exactly where it starts.
    """
    count = max(1, math.ceil(abs(sweep) / ARC_STEP - 1e-9))
    step = sweep / count
    k = 4 / 3 * math.tan(step / 4)
    ahead, back = (u - 1j * v) / 2, (u + 1j * v) / 2  # u cos(t) + v sin(t) = ahead e^it + back e^-it

    def at(t: float) -> tuple[complex, complex]:
        turned, other = ahead * cmath.rect(1, t), back * cmath.rect(1, -t)
        return center + (turned + other), k * 1j * (turned - other)

    segments: list[Curve] = []
    point, tangent = first, handle = at(start)
    for i in range(1, count + 1):
        end, next_tangent = at(start + i * step)
        segments.append((point + tangent, end - next_tangent, end))
        point, tangent = end, next_tangent
    if abs(abs(sweep) - 2 * math.pi) < 1e-12:
        segments[-1] = (segments[-1][0], first - handle, first)
    return segments


def cubics(path: Path) -> Points:
    """All segments as cubics: (n, 4) control points."""
    points = np.empty((len(path), 4), dtype=np.complex128)
    points[:, :3] = path.nodes
    points[:-1, 3] = path.nodes[1:, 0]
    points[-1, 3] = path.end
    return points


def gathered(paths: Sequence[Path]) -> tuple[Points, Bools, NDArray[np.intp]]:
    """The segments of several paths, one path after the other.

    Returns:
        (n, 4) control points of all segments as cubics, (n,) whether each is straight, and the number of each path's
        first segment, with n at the end.
    """
    first = np.array([0, *accumulate(map(len, paths))])
    p = np.empty((first[-1], 4), dtype=np.complex128)
    if not len(p):
        return p, np.empty(0, dtype=np.bool_), first
    np.concatenate([path.nodes for path in paths], out=p[:, :3])
    p[:-1, 3] = p[1:, 0]
    p[first[1:] - 1, 3] = [path.end for path in paths]
    return p, np.concatenate([path.straight for path in paths]), first


def transformed(path: AnyPath, affine: Affine) -> AnyPath:
    """The path under the map; exact for lines and cubics alike."""
    nodes = affine.apply_all(path.nodes)
    end = complex(nodes[0, 0]) if isinstance(path, Outline) else affine.apply(path.end)
    return type(path)(nodes, path.straight, end)


def backwards(path: AnyPath) -> AnyPath:
    """The same curve run the other way, from the same starting point if it is closed."""
    points = cubics(path)[::-1, ::-1]
    return type(path)(points[:, :3], path.straight[::-1], complex(points[-1, 3]))


def area(closed: Outline) -> float:
    """The signed area in mm^2, exact (Green's theorem): positive if counterclockwise."""
    if closed.straight.all():
        corners = closed.nodes[:, 0] - closed.end
        return float(np.vdot(corners[:-1], corners[1:]).imag / 2)
    p = cubics(closed) - closed.end
    x, y = p.real, p.imag
    terms = (
        (y[:, 3] - y[:, 0]) * (x[:, 1] + x[:, 2])
        - (x[:, 3] - x[:, 0]) * (y[:, 1] + y[:, 2])
        + y[:, 1] * (x[:, 0] - x[:, 2])
        - x[:, 1] * (y[:, 0] - y[:, 2])
        + y[:, 3] * (x[:, 2] + x[:, 0] / 3)
        - x[:, 3] * (y[:, 2] + y[:, 0] / 3)
    )
    return float(3 * terms.sum() / 20)


def length(path: Path) -> float:
    """The arc length in mm, by 16-point Gauss-Legendre quadrature on halves of each cubic."""
    p = cubics(path)
    lines = np.abs(p[:, 3] - p[:, 0])[path.straight].sum()
    d = 3 * np.diff(p[~path.straight], axis=1)
    if not len(d):
        return float(lines)
    roots, weights = _gauss()
    t = np.concatenate(((roots + 1) / 4, (roots + 3) / 4))
    w = np.concatenate((weights, weights)) / 4
    basis = np.stack(((1 - t) ** 2, 2 * t * (1 - t), t**2))
    return float(lines + (np.abs(d @ basis) @ w).sum())


@cache
def _gauss() -> tuple[Floats, Floats]:
    """Roots and weights of 16-point Gauss-Legendre quadrature on [-1, 1]."""
    roots, weights = np.polynomial.legendre.leggauss(16)
    return roots, weights


def box_of(paths: Iterable[Path]) -> Box:
    """The exact bounding box of several paths.

    Raises:
        ValueError: there are none.
    """
    each = boxes(list(paths))
    if not each:
        raise ValueError("no paths, so no box")
    return Box(
        min(box.left for box in each),
        min(box.bottom for box in each),
        max(box.right for box in each),
        max(box.top for box in each),
    )


def boxes(paths: Sequence[Path]) -> list[Box]:
    """The exact bounding box of each path; together they take less time, and every path keeps its own."""
    new = [path for path in paths if "box" not in path.__dict__]
    if new:
        p, straight, first = gathered(new)
        segment, t = extremes(p, ~straight)
        path_of = np.repeat(np.arange(len(new)), np.diff(first))[segment]
        bent = points_at(p[segment], t)
        sides = []
        for part, more in ((p.real, bent.real), (p.imag, bent.imag)):
            low = np.minimum.reduceat(np.minimum(part[:, 0], part[:, 3]), first[:-1])
            high = np.maximum.reduceat(np.maximum(part[:, 0], part[:, 3]), first[:-1])
            np.minimum.at(low, path_of, more)
            np.maximum.at(high, path_of, more)
            sides.append((low, high))
        (left, right), (bottom, top) = sides
        for path, *box in zip(new, left.tolist(), bottom.tolist(), right.tolist(), top.tolist(), strict=True):
            path.__dict__["box"] = Box(*box)
    return [path.box for path in paths]


def flattened(path: Path, tolerance: float = FLATTEN_MM) -> Points:
    """Points along the path: (m,) complex, the polyline through them within `tolerance` mm of the curve.

    Ends of segments and the extreme points of each axis are kept. A closed path's first point is not repeated.
    """
    points: Points = path.nodes[:, 0] if path.straight.all() else stepped(cubics(path), ~path.straight, tolerance)
    if not isinstance(path, Outline):
        points = np.append(points, path.end)
    return np.asarray(points[np.append(True, np.abs(np.diff(points)) > SAME_MM)])
