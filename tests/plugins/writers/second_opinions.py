"""Written files read by other code than wrote them: every line as points in mm, mat coordinates, in file order.

SVG by svgpathtools, PDF by pdfplumber, DXF by a tag parser with scipy's B-splines, EPS, HPGL and G-code by small
interpreters of the published commands.
"""

from __future__ import annotations

import io
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import pairwise
from xml.etree import ElementTree

import numpy as np
import pdfplumber
from gcodeparser import parse_gcode_lines
from pdfminer.layout import LTCurve, LTFigure
from scipy.interpolate import BSpline
from svgpathtools import parse_path

__all__ = [
    "Line",
    "dxf_header",
    "dxf_layers",
    "dxf_lines",
    "dxf_tags",
    "eps_lines",
    "gcode_lines",
    "hpgl_lines",
    "pdf_lines",
    "svg_lines",
]

DENSE = 128
"""Points a segment."""
OTHER_OPERATORS = ("newpath", "setlinewidth", "setlinejoin", "setdash", "gsave", "grestore", "showpage")
SVG = "{http://www.w3.org/2000/svg}"


@dataclass(frozen=True)
class Line:
    """A line as read; a closed one ends where it starts."""

    points: np.ndarray
    group: str = ""
    name: str = ""

    @property
    def closed(self) -> bool:
        return abs(self.points[0] - self.points[-1]) < 1e-9


def svg_lines(data: bytes, mm_per_unit: float) -> list[Line]:
    """Subpaths in file order; `group` is the id of the group right below the root, `name` the path's id."""
    root = ElementTree.fromstring(data)
    height = float(root.get("viewBox").split()[3])
    found = []
    for group in root.findall(f"{SVG}g"):
        for element in group.iter(f"{SVG}path"):
            for part in parse_path(element.get("d")).continuous_subpaths():
                points = np.concatenate([segment.points(np.linspace(0, 1, DENSE)) for segment in part])
                found.append(
                    Line((points.real + 1j * (height - points.imag)) * mm_per_unit, group.get("id"), element.get("id"))
                )
    return found


def pdf_lines(data: bytes, page: int = 0) -> list[Line]:
    """Stroked paths, no artifacts, that reach into the trim box, from its lower left corner; `group` is the color."""
    with pdfplumber.open(io.BytesIO(data)) as document:
        shown = document.pages[page]
        left, bottom, right, top = shown.page_obj.attrs["TrimBox"]
        found = []
        for each in _shapes(shown.layout):
            points = _from_operators(each.original_path) - complex(left, bottom)
            if each.stroke and each.tag != "Artifact" and points.real.max() > 0 and points.imag.max() > 0:
                found.append(Line(points * 25.4 / 72, str(each.stroking_color)))
        assert right > left
        assert top > bottom
        return found


def _shapes(container: Iterable[object]) -> Iterator[LTCurve]:
    for each in container:
        if isinstance(each, LTCurve):
            yield each
        elif isinstance(each, LTFigure):
            yield from _shapes(each)


def _from_operators(path: list[tuple]) -> np.ndarray:
    points: list[np.ndarray] = []
    for operator, *given in path:
        to = [complex(x, y) for x, y in given]
        if operator in ("m", "l"):
            points.append(np.array([to[0]]))
        elif operator == "c":
            points.append(_bezier(points[-1][-1], *to))
        elif operator == "h":
            points.append(points[0][:1])
        else:
            raise AssertionError(operator)
    return np.concatenate(points)


def _bezier(a: complex, b: complex, c: complex, d: complex) -> np.ndarray:
    t = np.linspace(0, 1, DENSE)
    return (1 - t) ** 3 * a + 3 * (1 - t) ** 2 * t * b + 3 * (1 - t) * t**2 * c + t**3 * d


def dxf_tags(data: bytes) -> list[tuple[int, str]]:
    """Group codes and values of an ASCII DXF file."""
    lines = data.decode("ascii").split("\n")
    assert lines[-1] == ""
    assert len(lines) % 2 == 1
    return [(int(code), value) for code, value in zip(lines[:-1:2], lines[1::2], strict=True)]


def dxf_header(data: bytes) -> dict[str, list[str]]:
    """Header variables and their values."""
    found: dict[str, list[str]] = {}
    name = ""
    for code, value in dxf_tags(data):
        if code == 9:
            name = value
            found[name] = []
        elif code == 0 and value == "ENDSEC":
            return found
        elif name:
            found[name].append(value)
    raise AssertionError("no header")


def dxf_layers(data: bytes) -> dict[str, int]:
    """Names and colors in the layer table."""
    tags = dxf_tags(data)
    found = {}
    for n, tag in enumerate(tags):
        if tag == (0, "LAYER"):
            entry = dict(reversed(tags[n + 1 : n + 12]))
            found[entry[2]] = int(entry[62])
    return found


def dxf_lines(data: bytes, mm_per_unit: float) -> list[Line]:
    """Entities in file order, arcs by bulge = tan(angle/4) and splines by scipy."""
    tags = dxf_tags(data)
    tags = tags[tags.index((2, "ENTITIES")) + 1 :]
    tags = tags[: tags.index((0, "ENDSEC"))]
    starts = [n for n, (code, _) in enumerate(tags) if code == 0]
    entities = [tags[a:b] for a, b in zip(starts, [*starts[1:], len(tags)], strict=True)]
    found: list[Line] = []
    while entities:
        kind, entity = entities[0][0][1], entities.pop(0)
        layer = next(value for code, value in entity if code == 8)
        if kind == "SPLINE":
            points = _spline(entity)
        elif kind == "LWPOLYLINE":
            points = _vertices(entity[1:], entity)
        elif kind == "POLYLINE":
            vertices: list[tuple[int, str]] = []
            while entities[0][0][1] == "VERTEX":
                vertices += entities.pop(0)[1:]
            assert entities.pop(0)[0][1] == "SEQEND"
            points = _vertices(vertices, entity)
        else:
            raise AssertionError(kind)
        found.append(Line(points * mm_per_unit, layer))
    return found


def _values(entity: list[tuple[int, str]], code: int) -> list[float]:
    return [float(value) for each, value in entity if each == code]


def _spline(entity: list[tuple[int, str]]) -> np.ndarray:
    knots = np.array(_values(entity, 40))
    points = np.array(_values(entity, 10)) + 1j * np.array(_values(entity, 20))
    degree = int(_values(entity, 71)[0])
    assert len(knots) == _values(entity, 72)[0] == len(points) + degree + 1
    assert len(points) == _values(entity, 73)[0]
    at = np.unique(np.concatenate([np.linspace(a, b, DENSE) for a, b in pairwise(knots)]))
    return BSpline(knots, points, degree)(at)


def _vertices(tags: list[tuple[int, str]], entity: list[tuple[int, str]]) -> np.ndarray:
    corners: list[list[float]] = []
    for code, value in tags:
        if code == 10:
            corners.append([float(value), 0.0, 0.0])
        elif code in (20, 42) and corners:
            corners[-1][1 if code == 20 else 2] = float(value)
    if int(_values(entity, 70)[0]) & 1:
        corners.append([*corners[0][:2], 0.0])
    found = [np.array([complex(*corners[0][:2])])]
    for (x0, y0, bulge), (x1, y1, _) in pairwise(corners):
        found.append(_arc(complex(x0, y0), complex(x1, y1), bulge))
    return np.concatenate(found)


def _arc(a: complex, b: complex, bulge: float) -> np.ndarray:
    """The included angle is 4 atan(bulge); the apothem follows from it."""
    if bulge == 0:
        return np.array([a, b])
    angle = 4 * np.arctan(bulge)
    radius = abs(b - a) / 2 / np.sin(angle / 2)
    center = (a + b) / 2 + 1j * (b - a) / abs(b - a) * radius * np.cos(angle / 2)
    return np.append(center + (a - center) * np.exp(1j * angle * np.linspace(0, 1, DENSE)), b)


def eps_lines(data: bytes) -> list[Line]:
    """Stroked paths in mm; `group` is the color."""
    body = data.decode("ascii").partition("%%EndProlog")[2]
    stack: list[float] = []
    found: list[Line] = []
    points: list[np.ndarray] = []
    color = ""
    for token in re.sub(r"%[^\n]*", "", body).replace("[", " [ ").replace("]", " ] ").split():
        if token in ("[", "]"):
            continue
        try:
            stack.append(float(token))
            continue
        except ValueError:
            pass
        if token == "moveto":
            points = [np.array([complex(*stack)])]
        elif token == "lineto":
            points.append(np.array([complex(*stack)]))
        elif token == "curveto":
            a, b, c = (complex(x, y) for x, y in zip(stack[::2], stack[1::2], strict=True))
            points.append(_bezier(points[-1][-1], a, b, c))
        elif token == "closepath":
            points.append(points[0][:1])
        elif token == "stroke":
            found.append(Line(np.concatenate(points) * 25.4 / 72, color))
        elif token in ("setrgbcolor", "setgray"):
            color = " ".join(f"{v:g}" for v in stack)
        else:
            assert token in ("newpath", "setlinewidth", "setlinejoin", "setdash", "gsave", "grestore", "showpage"), (
                token
            )
        stack = []
    return found


def hpgl_lines(data: bytes) -> list[Line]:
    """What each pen draws while it is down, 0.025 mm to the unit; `group` is the pen."""
    found: list[Line] = []
    at, pen, drawing, down = 0j, "", "", False
    drawn: list[complex] = []
    for command in data.decode("ascii").replace("\n", "").split(";"):
        word, values = command[:2], [float(v) for v in command[2:].split(",") if v]
        assert word in ("IN", "SP", "PU", "PD", "VS", "FS", ""), command
        if word == "SP":
            assert not down, "a pen is changed while it is down"
            pen = command[2:]
        if word in ("PU", "PD"):
            if word == "PD" and not down:
                drawn, drawing = [at], pen
            if word == "PU" and down:
                found.append(Line(np.array(drawn) * 0.025, drawing))
            down = word == "PD"
            for x, y in zip(values[::2], values[1::2], strict=True):
                at = complex(x, y)
                drawn.append(at)
    assert not down
    return found


def gcode_lines(data: bytes) -> list[Line]:
    """What is cut, in mm. A lift ends a line where it closes or the knife goes elsewhere, not where it turns."""
    found: list[Line] = []
    at, height, unit = 0j, None, None
    cut: list[np.ndarray] = []
    for line in parse_gcode_lines(data.decode("ascii")):
        letter, number = line.command
        if (letter, number) in (("G", 20), ("G", 21)):
            unit = 25.4 if number == 20 else 1.0
        if letter != "G" or number not in (0, 1, 2, 3):
            continue
        assert unit is not None, "a move before the unit"
        to = complex(line.params.get("X", at.real), line.params.get("Y", at.imag))
        height = line.params.get("Z", height)
        if number == 0 and to != at:
            assert height > 0, "the knife is dragged over the cloth"
        if number == 0 and cut and (to != at or to == cut[0][0]):
            found.append(Line(np.concatenate(cut) * unit))
            cut = []
        elif number in (1, 2, 3) and to != at:
            assert height <= 0, "a cut in the air"
            if number == 1:
                cut.append(np.array([at, to]))
            else:
                cut.append(_arc_about(at, to, at + complex(line.params["I"], line.params["J"]), number == 2))
        at = to
    if cut:
        found.append(Line(np.concatenate(cut) * unit))
    return found


def _arc_about(a: complex, b: complex, center: complex, clockwise: bool) -> np.ndarray:
    assert abs(abs(a - center) - abs(b - center)) < 5e-4, "the ends of an arc lie on different radii"
    angle = np.angle((b - center) / (a - center))
    if clockwise and angle > 0:
        angle -= 2 * np.pi
    elif not clockwise and angle < 0:
        angle += 2 * np.pi
    return np.append(center + (a - center) * np.exp(1j * angle * np.linspace(0, 1, DENSE)), b)
