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
    return [Subpath(points[0], segments, closed)] if segments else []


def _ellipse(center: complex, rx: float, ry: float) -> list[Subpath]:
    if rx <= 0 or ry <= 0:
        return []
    segments = arc_segments(center, complex(rx), complex(0, ry), 0.0, 2 * math.pi)
    return [Subpath(center + rx, segments, True)]


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
    path = Subpath(corner + rx, closed=True)
    quarter = math.pi / 2
    u, v = complex(rx), complex(0, ry)
    for number, (end, middle) in enumerate(
        (
            (corner + width - rx, complex(x + width - rx, y + ry)),
            (complex(x + width, y + height - ry), complex(x + width - rx, y + height - ry)),
            (complex(x + rx, y + height), complex(x + rx, y + height - ry)),
            (complex(x, y + ry), complex(x + rx, y + ry)),
        )
    ):
        if end != path.end:
            path.segments.append((end,))
        path.segments += arc_segments(middle, u, v, (number - 1) * quarter, quarter)
    return [path]
