"""The basic shapes as subpaths.

Source: equivalent paths of the basic shapes, SVG 2, 10.2 to 10.7; auto values of rx and ry, SVG 2, 10.2 and 10.4;
negative and zero sizes are not drawn, SVG 2, 8.9 and 10.2 to 10.4.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from itertools import pairwise
from typing import Final

from clothpath.curves import Curve, arc_segments
from clothpath.plugins.readers.svg.pathdata import Subpath, parse_path, parse_points
from clothpath.plugins.readers.svg.viewport import Axis

__all__ = ["SHAPES", "Attribute", "Measure", "subpaths"]

SHAPES: Final = frozenset({"path", "rect", "circle", "ellipse", "line", "polyline", "polygon"})

Measure = Callable[[str, Axis], float | None]
"""The value of a geometry attribute of the element in user units; None: not given, `auto`, or no length."""
Attribute = Callable[[str], str]
"""The text of an attribute, "" if it is not there."""


def subpaths(tag: str, measure: Measure, attribute: Attribute) -> tuple[list[Subpath], int | None]:
    """The outline of a shape as its equivalent path, and the offset of the first fault in its data or None."""
    if tag == "path":
        return parse_path(attribute("d"))
    if tag in ("polyline", "polygon"):
        points, fault = parse_points(attribute("points"))
        return _through(points, tag == "polygon"), fault
    if tag == "line":
        start = complex(measure("x1", "x") or 0, measure("y1", "y") or 0)
        end = complex(measure("x2", "x") or 0, measure("y2", "y") or 0)
        return _through([start, end], False), None
    if tag == "rect":
        return _rect(measure), None
    center = complex(measure("cx", "x") or 0, measure("cy", "y") or 0)
    if tag == "circle":
        radius = measure("r", "other") or 0.0
        return _ellipse(center, radius, radius), None
    rx, ry = measure("rx", "x"), measure("ry", "y")
    rx, ry = rx if rx is not None else ry, ry if ry is not None else rx
    return _ellipse(center, rx or 0.0, ry or 0.0), None


def _through(points: list[complex], closed: bool) -> list[Subpath]:
    segments: list[Curve] = [(b,) for a, b in pairwise(points) if a != b]
    return [Subpath.along(points[0], segments, closed)] if segments else []


def _ellipse(center: complex, rx: float, ry: float) -> list[Subpath]:
    if rx <= 0 or ry <= 0:
        return []
    nodes = [center + complex(rx * node.real, ry * node.imag) for node in _CIRCLE.nodes]
    return [Subpath(nodes[0], nodes, _CIRCLE.straight, nodes[0], True)]


def _rect(measure: Measure) -> list[Subpath]:
    x, y = measure("x", "x") or 0.0, measure("y", "y") or 0.0
    width, height = measure("width", "x") or 0.0, measure("height", "y") or 0.0
    if width <= 0 or height <= 0:
        return []
    rx, ry = measure("rx", "x"), measure("ry", "y")
    rx, ry = (None if r is not None and r < 0 else r for r in (rx, ry))
    rx, ry = rx if rx is not None else ry, ry if ry is not None else rx
    rx, ry = min(rx or 0.0, width / 2), min(ry or 0.0, height / 2)
    corner = complex(x, y)
    if rx == 0 or ry == 0:
        return _through([corner, corner + width, corner + complex(width, height), corner + 1j * height], True)
    right, below = corner + width, corner + 1j * height
    path = Subpath(corner + rx, end=corner + rx, closed=True)
    for side, turned in (
        (right - rx, right + 1j * ry),
        (below + complex(width, -ry), below + complex(width - rx)),
        (below + rx, below - 1j * ry),
        (corner + 1j * ry, corner + rx),
    ):
        path.line_to(side)
        path.arc_to(rx, ry, 0.0, False, True, turned)
    return [path]


_CIRCLE: Final = Subpath.along(1 + 0j, arc_segments(0j, 1 + 0j, 1j, 0.0, 2 * math.pi), True)
"""The unit circle."""
