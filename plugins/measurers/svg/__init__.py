"""Measures SVG files: every shape's outline, through all transforms, in the unit that the file states.

Terminology
    user unit       the unit of a coordinate where it is written
    viewport        the rectangle that width and height give the picture; for the outermost svg it is the page
    viewBox         the rectangle in user units that is fitted to the viewport

What counts as a line: every path, rect, circle, ellipse, line, polyline and polygon that would be shown, whatever its
fill and stroke; each subpath is a line of its own. Text and pictures are none. The XML is read by the standard library,
path data by the grammar in `pathdata`; nothing here writes SVG.

Sources: SVG 1.1 (2nd ed.), 7.2 to 7.10 coordinate systems, viewBox and preserveAspectRatio, 9 basic shapes; CSS Values
and Units Level 3, 6.2: 1in = 96px = 2.54cm = 72pt = 6pc.
"""

from __future__ import annotations

import math
import re
import xml.etree.ElementTree as ET
from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import count
from typing import Final

from clothpath.contracts import Declared, Measured, Measurement, Measurer, hookimpl
from clothpath.curves import Affine, Curve, arc_segments, transformed
from clothpath.findings import Finding, Outcome, Refusal, error, note, warning
from clothpath.plugins.measurers.svg.pathdata import NUMBER, Subpath, subpaths
from clothpath.proving.measuring import as_found, reading

__all__ = ["SvgMeasurer"]

MM: Final[dict[str, float]] = {"mm": 1.0, "cm": 10.0, "in": 25.4, "pt": 25.4 / 72, "pc": 25.4 / 6}
CSS_PX_MM: Final = 25.4 / 96
HIDDEN: Final = frozenset(
    {"defs", "symbol", "clipPath", "mask", "marker", "pattern", "title", "desc", "metadata", "style"}
)
DEEPEST_USE: Final = 8
MOST_ELEMENTS: Final = 50_000
"""More elements than this, counted wherever a `use` repeats them, are no cut file."""
_LENGTH: Final = re.compile(rf"\s*({NUMBER})\s*(px|mm|cm|in|pt|pc|%)?\s*")
_TRANSFORM: Final = re.compile(r"\s*,?\s*(matrix|translate|scale|rotate|skewX|skewY)\s*\(([^()]*)\)\s*")
_NUMBER: Final = re.compile(NUMBER)


@dataclass(frozen=True, slots=True)
class _Scope:
    """What an element inherits: the map to mm, the innermost named group, how deep in `use` it is; and one count of all
    elements that were walked."""

    to_mm: Affine
    walked: Iterator[int]
    group: str = ""
    uses: int = 0


class SvgMeasurer:
    """Reads the outlines back from an SVG file."""

    name = "svg"
    budget_mm = 0.01

    def measure(self, data: bytes, declared: Declared) -> Outcome[Measurement]:
        """The outlines in `data`, in mm.

        Raises:
            Refusal: not XML, not SVG, no usable size, or a broken shape.
        """
        findings: list[Finding] = []
        with reading("SVG"):
            root = _root(data)
            unit, page, to_mm = _page(root, declared, findings)
            scope = _Scope(Affine(d=-1.0, f=page[1]) @ to_mm, count())
            by_id = {element.get("id", ""): element for element in root.iter()}
            lines = tuple(line for child in root for line in _lines(child, scope, by_id))
        return Outcome(Measurement(unit, page, lines), tuple(findings))


def _root(data: bytes) -> ET.Element:
    if b"<!ENTITY" in data:
        raise Refusal(error("damaged-file", "The SVG file defines entities of its own, which no cut file needs."))
    try:
        root = ET.fromstring(data)
    except ET.ParseError as fault:
        line, column = fault.position
        raise Refusal(
            error(
                "damaged-file",
                "The file is not well-formed SVG; it may be cut short or altered.",
                f"line {line}, column {column}",
                "Write the file again.",
            )
        ) from None
    if _tag(root) != "svg":
        raise Refusal(error("wrong-format", f"The file is XML but no SVG: it begins with <{_tag(root)}>."))
    return root


def _page(root: ET.Element, declared: Declared, findings: list[Finding]) -> tuple[str, tuple[float, float], Affine]:
    """The stated unit, the page in mm, and the map from the root's user units to mm (y still down)."""
    box = _view_box(root)
    texts = (root.get("width", ""), root.get("height", ""))
    sizes: list[float] = []
    unit = ""
    for side, text in enumerate(texts):
        match = _LENGTH.fullmatch(text)
        if match is None or match[2] == "%":
            if box is None:
                raise Refusal(
                    error("no-size", "The SVG file says neither its size nor a viewBox.", "<svg>", "Write it again.")
                )
            unit = ""
            sizes.append(box[2 + side] * _px(declared, "", findings))
            continue
        unit = match[2] or ""
        sizes.append(float(match[1]) * (MM[unit] if unit in MM else _px(declared, unit, findings)))
    page = (sizes[0], sizes[1])
    if not (0 < page[0] < math.inf and 0 < page[1] < math.inf):
        raise Refusal(error("no-size", f"The SVG file has no usable size: {texts[0]} x {texts[1]}.", "<svg>"))
    if box is None:
        return unit, page, Affine.scale(_px(declared, "px", findings))
    return unit, page, _fitted(root, box, 0, 0, *page)


def _px(declared: Declared, unit: str, findings: list[Finding]) -> float:
    """The size of a pixel or of a bare number: as declared, else as CSS defines it."""
    stated = "gives its size in px" if unit else "states no unit"
    known = {finding.code for finding in findings}
    if declared.mm_per_unit is not None:
        if "declared" not in known:
            findings.append(
                note("declared", f"The file {stated}; measured with {declared.mm_per_unit:.6g} mm to one, as declared.")
            )
        return declared.mm_per_unit
    if "unit-assumed" not in known:
        findings.append(warning("unit-assumed", f"The file {stated}; measured with 96 px to the inch (CSS)."))
    return CSS_PX_MM


def _view_box(element: ET.Element) -> tuple[float, float, float, float] | None:
    text = element.get("viewBox")
    if text is None:
        return None
    numbers = [float(number) for number in _NUMBER.findall(text)]
    if len(numbers) != 4 or not (numbers[2] > 0 and numbers[3] > 0):
        raise Refusal(error("damaged-file", f'The viewBox "{text}" is not four numbers with a size.', "<svg>"))
    return numbers[0], numbers[1], numbers[2], numbers[3]


def _fitted(
    element: ET.Element, box: tuple[float, float, float, float], x: float, y: float, width: float, height: float
) -> Affine:
    """The map from the viewBox to the viewport as preserveAspectRatio says (SVG 1.1, 7.8)."""
    words = element.get("preserveAspectRatio", "xMidYMid meet").split()
    align = words[0] if words else "xMidYMid"
    sx, sy = width / box[2], height / box[3]
    if align == "none":
        return Affine(sx, 0, 0, sy, x - box[0] * sx, y - box[1] * sy)
    scale = max(sx, sy) if words[-1] == "slice" else min(sx, sy)
    part = {"Min": 0.0, "Mid": 0.5, "Max": 1.0}
    spare_x, spare_y = width - box[2] * scale, height - box[3] * scale
    left = x + part.get(align[1:4], 0.5) * spare_x
    top = y + part.get(align[5:8], 0.5) * spare_y
    return Affine(scale, 0, 0, scale, left - box[0] * scale, top - box[1] * scale)


def _lines(element: ET.Element, scope: _Scope, by_id: dict[str, ET.Element]) -> Iterator[Measured]:
    """Every line of an element and what is in it, in mm."""
    if next(scope.walked) > MOST_ELEMENTS:
        raise Refusal(error("damaged-file", f"The SVG file has more than {MOST_ELEMENTS} elements.", _place(element)))
    tag = _tag(element)
    if tag in HIDDEN or _hidden(element):
        return
    to_mm = scope.to_mm @ _transform(element)
    if tag in ("g", "a", "switch", "svg"):
        named = element.get("id") or scope.group
        inner = replace(scope, to_mm=to_mm @ (_nested(element) if tag == "svg" else Affine()), group=named)
        for child in element:
            yield from _lines(child, inner, by_id)
    elif tag == "use":
        href = element.get("href") or element.get("{http://www.w3.org/1999/xlink}href") or ""
        target = by_id.get(href.removeprefix("#"))
        if target is None or scope.uses >= DEEPEST_USE:
            raise Refusal(error("damaged-file", f'A <use> refers to "{href}", which leads nowhere.', _place(element)))
        moved = to_mm @ Affine.shift(complex(_number(element, "x"), _number(element, "y")))
        yield from _lines(target, replace(scope, to_mm=moved, uses=scope.uses + 1), by_id)
    else:
        label = element.get("id") or element.findtext("{*}title") or ""
        for start, curves, closed in _shape(tag, element):
            yield Measured(transformed(as_found(start, curves, closed), to_mm), scope.group, label)


def _nested(element: ET.Element) -> Affine:
    """The map of a svg element inside another: its place and its viewBox."""
    x, y = _number(element, "x"), _number(element, "y")
    box = _view_box(element)
    if box is None:
        return Affine.shift(complex(x, y))
    return _fitted(element, box, x, y, _number(element, "width", box[2]), _number(element, "height", box[3]))


def _hidden(element: ET.Element) -> bool:
    style = element.get("style", "").replace(" ", "")
    return element.get("display") == "none" or "display:none" in style


def _tag(element: ET.Element) -> str:
    return element.tag.rpartition("}")[2] if isinstance(element.tag, str) else "title"


def _place(element: ET.Element) -> str:
    name = element.get("id")
    return f'<{_tag(element)} id="{name}">' if name else f"<{_tag(element)}>"


def _number(element: ET.Element, key: str, default: float = 0.0) -> float:
    """An attribute in user units; the absolute units are those of CSS, 96 to the inch."""
    text = element.get(key)
    if text is None:
        return default
    match = _LENGTH.fullmatch(text)
    if match is None or match[2] == "%":
        raise Refusal(error("damaged-file", f'{key}="{text}" is not a length.', _place(element)))
    return float(match[1]) * (MM[match[2]] / CSS_PX_MM if match[2] in MM else 1.0)


def _transform(element: ET.Element) -> Affine:
    """The element's transform list as one map (SVG 1.1, 7.6)."""
    text = element.get("transform", "")
    whole, at = Affine(), 0
    while at < len(text.rstrip(" ,\t\r\n")):
        match = _TRANSFORM.match(text, at)
        if match is None:
            raise Refusal(error("damaged-file", f'transform="{text}" cannot be read.', _place(element)))
        v = [float(number) for number in _NUMBER.findall(match[2])]
        kind, at = match[1], match.end()
        if kind == "matrix" and len(v) == 6:
            one = Affine(*v)
        elif kind == "translate" and len(v) in (1, 2):
            one = Affine.shift(complex(*v))
        elif kind == "scale" and len(v) in (1, 2):
            one = Affine.scale(*v)
        elif kind == "rotate" and len(v) in (1, 3):
            about = complex(*v[1:])
            one = Affine.shift(about) @ Affine.turn(v[0]) @ Affine.shift(-about)
        elif kind == "skewX" and len(v) == 1:
            one = Affine(c=math.tan(math.radians(v[0])))
        elif kind == "skewY" and len(v) == 1:
            one = Affine(b=math.tan(math.radians(v[0])))
        else:
            raise Refusal(error("damaged-file", f'transform="{text}" has the wrong count of numbers.', _place(element)))
        whole = whole @ one
    return whole


def _shape(tag: str, element: ET.Element) -> Iterator[Subpath]:
    """The subpaths of a shape, each as start, curves, and whether the file closes it; those of no length are none."""
    if tag == "path":
        yield from subpaths(element.get("d", ""), _place(element))
    elif tag in ("polyline", "polygon"):
        v = [float(number) for number in _NUMBER.findall(element.get("points", ""))]
        if len(v) >= 4:
            points = [complex(x, y) for x, y in zip(v[::2], v[1::2], strict=False)]
            yield points[0], [(point,) for point in points[1:]], tag == "polygon"
    elif tag == "line":
        start = complex(_number(element, "x1"), _number(element, "y1"))
        yield start, [(complex(_number(element, "x2"), _number(element, "y2")),)], False
    elif tag in ("circle", "ellipse"):
        rx = _number(element, "r") if tag == "circle" else _number(element, "rx")
        ry = rx if tag == "circle" else _number(element, "ry")
        center = complex(_number(element, "cx"), _number(element, "cy"))
        if rx > 0 and ry > 0:
            yield center + rx, arc_segments(center, complex(rx), complex(0, ry), 0.0, 2 * math.pi), True
    elif tag == "rect":
        yield from _rect(element)


def _rect(element: ET.Element) -> Iterator[Subpath]:
    x, y = _number(element, "x"), _number(element, "y")
    w, h = _number(element, "width"), _number(element, "height")
    if not (w > 0 and h > 0):
        return
    rx = _number(element, "rx", _number(element, "ry"))
    ry = _number(element, "ry", rx)
    rx, ry = min(rx, w / 2), min(ry, h / 2)
    if rx <= 0 or ry <= 0:
        yield complex(x, y), [(complex(x + w, y),), (complex(x + w, y + h),), (complex(x, y + h),)], True
        return
    corners = (
        (complex(x + w - rx, y + ry), -math.pi / 2, complex(x + w - rx, y)),
        (complex(x + w - rx, y + h - ry), 0.0, complex(x + w, y + h - ry)),
        (complex(x + rx, y + h - ry), math.pi / 2, complex(x + rx, y + h)),
        (complex(x + rx, y + ry), math.pi, complex(x, y + ry)),
    )
    curves: list[Curve] = []
    for center, start, at in corners:
        curves.append((at,))
        curves.extend(arc_segments(center, complex(rx), complex(0, ry), start, math.pi / 2))
    yield complex(x + rx, y), curves, True


@hookimpl
def clothpath_measurers() -> list[Measurer]:
    return [SvgMeasurer()]
