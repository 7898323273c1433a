"""Measures DXF files: the curves of model space, read tag by tag.

Terminology
    tag         a group code and a value, on two lines of the file
    bulge       tan(angle/4) of an arc between two vertices; positive runs counterclockwise
    span        the part of a B-spline between two different knots; a polynomial
    blossom     the polar form of a span: its values at repeated span ends are the Bézier control points

Measured are LINE, LWPOLYLINE, POLYLINE, SPLINE, ARC, CIRCLE and ELLIPSE in model space; LINE, ARC and ELLIPSE entities
of one layer that follow each other end to start are one line. What else is there is named in a finding. The drawing's
unit is $INSUNITS; R12 has none. No DXF library is used.

Sources: DXF reference (group codes, $INSUNITS, bulge, object coordinates); blossoms, L. Ramshaw, Blossoming: a
connect-the-dots approach to splines (1987); rational splines, L. Piegl and W. Tiller, The NURBS Book (2nd ed., 1997).
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Final

from clothpath.contracts import Declared, Measured, Measurement, Measurer, hookimpl
from clothpath.curves import Affine, Curve, Path, arc_segments, transformed
from clothpath.findings import Finding, Outcome, Refusal, error, note, warning
from clothpath.proving.measuring import as_found, on_the_mat, reading

__all__ = ["DxfMeasurer"]

UNITS: Final[dict[int, tuple[str, float]]] = {
    1: ("in", 25.4), 2: ("ft", 304.8), 4: ("mm", 1.0), 5: ("cm", 10.0), 6: ("m", 1000.0), 10: ("yd", 914.4),
}  # fmt: skip
JOIN_MM: Final = 0.001
"""Entities that follow each other this near are one line."""
SAME_KNOT: Final = 1e-9
RATIONAL_STEPS: Final = 128
"""Chords for one span of a rational spline: within 0.0002 of the radius of a half circle's span."""
SILENT: Final = frozenset({"VERTEX", "SEQEND", "VIEWPORT", "ATTRIB", "ATTDEF"})

_Tags = list[tuple[int, str]]


class DxfMeasurer:
    """Reads the curves back from a DXF file."""

    name = "dxf"
    budget_mm = 0.01

    def measure(self, data: bytes, declared: Declared) -> Outcome[Measurement]:
        """The lines in `data`, in mm.

        Raises:
            Refusal: not a DXF file in text form, cut short, or an entity that cannot be read.
        """
        sections = _sections(_tags(data))
        findings: list[Finding] = []
        unit, mm = _unit(sections.get("HEADER", []), declared, findings)
        others: Counter[str] = Counter()
        with reading("DXF"):
            entities = _joined(_drawn(_entities(sections.get("ENTITIES", [])), others), JOIN_MM / mm)
            found = [Measured(transformed(line.path(), Affine.scale(mm)), line.layer) for line in entities]
            lines = on_the_mat(found, declared)
        if others:
            named = ", ".join(f"{count} {kind}" for kind, count in sorted(others.items()))
            findings.append(warning("not-measured", f"The file also holds what is not measured: {named}."))
        return Outcome(Measurement(unit, None, lines.value), (*findings, *lines.findings))


@dataclass(frozen=True, slots=True)
class _Line:
    """What one entity draws, in drawing units; `joins` if it is of a kind that may be a part of a longer line."""

    layer: str
    start: complex
    curves: list[Curve]
    closed: bool = False
    joins: bool = False

    @property
    def end(self) -> complex:
        return self.curves[-1][-1]

    def path(self) -> Path:
        return as_found(self.start, self.curves, self.closed)


def _tags(data: bytes) -> _Tags:
    if b"Binary DXF" in data[:24]:
        raise Refusal(error("wrong-format", "The DXF file is in binary form; only the text form is measured."))
    rows = data.decode("utf-8", "replace").replace("\r\n", "\n").split("\n")
    while rows and not rows[-1].strip():
        rows.pop()
    if len(rows) < 2 or len(rows) % 2 or (rows[-2].strip(), rows[-1].strip()) != ("0", "EOF"):
        known = "SECTION" in (row.strip() for row in rows[:64])
        code, what = (
            ("damaged-file", "does not end with EOF; it is cut short") if known else ("wrong-format", "is no DXF")
        )
        raise Refusal(error(code, f"The file {what}.", f"line {len(rows)}", "Write the file again."))
    try:
        return list(zip(map(int, rows[::2]), rows[1::2], strict=True))
    except ValueError:
        line = next(n for n, row in enumerate(rows[::2]) if not row.strip().lstrip("-").isdigit()) * 2 + 1
        raise Refusal(
            error("damaged-file", "The DXF file has something that is no group code.", f"line {line}")
        ) from None


def _sections(tags: _Tags) -> dict[str, _Tags]:
    found: dict[str, _Tags] = {}
    name, begun = "", 0
    for n, (code, value) in enumerate(tags):
        if code == 0 and value == "SECTION":
            if name:
                raise Refusal(error("damaged-file", f"The section {name} of the DXF file does not end.", f"tag {n}"))
            name, begun = (tags[n + 1][1].strip(), n + 2) if n + 1 < len(tags) else ("", n)
        elif code == 0 and value == "ENDSEC":
            found[name] = tags[begun:n]
            name = ""
    if name or "ENTITIES" not in found:
        raise Refusal(
            error("damaged-file", f"The section {name or 'ENTITIES'} of the DXF file is missing or cut short.")
        )
    return found


def _unit(header: _Tags, declared: Declared, findings: list[Finding]) -> tuple[str, float]:
    code = 0
    for (_, name), (_, value) in pairwise(header):
        if name == "$INSUNITS":
            code = int(_number(value, "$INSUNITS"))
    if code in UNITS:
        return UNITS[code]
    says = "does not state its unit" if code == 0 else f"states a unit ($INSUNITS {code}) that no cut file uses"
    if declared.mm_per_unit is not None:
        message = f"The DXF file {says}; measured with {declared.mm_per_unit:.6g} mm to the unit, as declared."
        findings.append(note("declared", message, "$INSUNITS"))
        return "", declared.mm_per_unit
    findings.append(warning("unit-assumed", f"The DXF file {says}; measured as millimeters.", "$INSUNITS"))
    return "", 1.0


def _entities(tags: _Tags) -> Iterator[tuple[str, _Tags]]:
    """Each entity's kind and its tags."""
    begins = [n for n, (code, _) in enumerate(tags) if code == 0]
    for n, end in zip(begins, [*begins[1:], len(tags)], strict=True):
        yield tags[n][1].strip(), tags[n + 1 : end]


def _number(text: str, of: _Entity | str) -> float:
    """The number in a value of an entity, or of what is named."""
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        where = of if isinstance(of, str) else of.where
        raise Refusal(error("damaged-file", f'"{text.strip()}" is no number.', where, "Write the file again."))
    return value


def _drawn(entities: Iterator[tuple[str, _Tags]], others: Counter[str]) -> Iterator[_Line]:
    """What the entities draw; kinds that are not measured are counted in `others`."""
    vertices: list[tuple[complex, float]] | None = None
    polyline: _Entity | None = None
    for kind, tags in entities:
        entity = _Entity(kind, tags)
        if entity.integer(67):
            continue
        if kind == "POLYLINE":
            polyline, vertices = entity, []
            if entity.integer(70) & (16 | 64):
                others["mesh"] += 1
        elif kind == "VERTEX" and vertices is not None:
            if not entity.integer(70) & 16:
                vertices.append((entity.point(10), entity.real(42)))
        elif kind == "SEQEND" and polyline is not None and vertices is not None:
            if not polyline.integer(70) & (16 | 64):
                yield from polyline.through(vertices, bool(polyline.integer(70) & 1))
            polyline = vertices = None
        elif kind in ("LINE", "LWPOLYLINE", "SPLINE", "ARC", "CIRCLE", "ELLIPSE"):
            yield from entity.lines()
        elif kind not in SILENT:
            others[kind] += 1
    if vertices is not None:
        raise Refusal(error("damaged-file", "A POLYLINE of the DXF file does not end.", "ENTITIES"))


class _Entity:
    """One entity's tags, by meaning."""

    def __init__(self, kind: str, tags: _Tags) -> None:
        self.kind = kind
        self.tags = tags
        self.first = dict(reversed(tags))

    @property
    def where(self) -> str:
        return f"{self.kind} {self.first.get(5, '').strip()}".strip()

    def real(self, code: int, default: float = 0.0) -> float:
        text = self.first.get(code)
        return default if text is None else _number(text, self)

    def integer(self, code: int) -> int:
        return int(self.real(code))

    def point(self, code: int) -> complex:
        return complex(self.real(code), self.real(code + 10))

    def all(self, code: int) -> list[float]:
        return [_number(value, self) for each, value in self.tags if each == code]

    def points(self) -> list[complex]:
        xs, ys = self.all(10), self.all(20)
        if len(xs) != len(ys):
            raise Refusal(error("damaged-file", "A point has an x and no y.", self.where, "Write the file again."))
        return list(map(complex, xs, ys))

    def line(self, start: complex, curves: list[Curve], closed: bool = False) -> _Line:
        """In the drawing's coordinates: where the extrusion points down, x counts the other way."""
        if self.real(230, 1.0) < 0 and self.kind not in ("LINE", "SPLINE", "ELLIPSE"):

            def turned(point: complex) -> complex:
                return complex(-point.real, point.imag)

            start = turned(start)
            curves = [(turned(c[0]),) if len(c) == 1 else (turned(c[0]), turned(c[1]), turned(c[2])) for c in curves]
        joins = self.kind in ("LINE", "ARC", "ELLIPSE") and not closed
        return _Line(self.first.get(8, "").strip(), start, curves, closed, joins)

    def lines(self) -> Iterator[_Line]:
        if self.kind == "LINE":
            yield self.line(self.point(10), [(self.point(11),)])
        elif self.kind == "LWPOLYLINE":
            yield from self.through(self.light_vertices(), bool(self.integer(70) & 1))
        elif self.kind == "SPLINE":
            yield self.spline()
        else:
            yield self.round()

    def light_vertices(self) -> list[tuple[complex, float]]:
        points = self.points()
        count = self.first.get(90)
        if count is not None and int(_number(count, self)) != len(points):
            message = f"A polyline announces {count.strip()} vertices and has {len(points)}."
            raise Refusal(error("damaged-file", message, self.where, "Write the file again."))
        bulges: list[float] = []
        for code, value in self.tags:
            if code == 10:
                bulges.append(0.0)
            elif code == 42 and bulges:
                bulges[-1] = _number(value, self)
        return list(zip(points, bulges, strict=True))

    def through(self, vertices: Sequence[tuple[complex, float]], closed: bool) -> Iterator[_Line]:
        """The polyline through vertices, each with the bulge of what follows it."""
        ends = [point for point, _ in vertices[1:]] + ([vertices[0][0]] if closed and vertices else [])
        curves: list[Curve] = []
        for (start, bulge), end in zip(vertices, ends, strict=False):
            if start == end:
                continue
            if bulge:
                center = (start + end) / 2 + 1j * (end - start) * (1 - bulge * bulge) / (4 * bulge)
                arc = arc_segments(center, start - center, 1j * (start - center), 0.0, 4 * math.atan(bulge))
                curves += [*arc[:-1], (*arc[-1][:-1], end)]
            else:
                curves.append((end,))
        if curves:
            yield self.line(vertices[0][0], curves, closed)

    def round(self) -> _Line:
        """CIRCLE, ARC (degrees, counterclockwise) and ELLIPSE (parameters in radians)."""
        center = self.point(10)
        if self.kind == "ELLIPSE":
            u = self.point(11)
            v = 1j * u * self.real(40) * (-1 if self.real(230, 1.0) < 0 else 1)
            start, end = self.real(41), self.real(42, 2 * math.pi)
        else:
            u = complex(self.real(40))
            v = 1j * u
            start, end = math.radians(self.real(50)), math.radians(self.real(51, 360.0))
        if not abs(u) > 0:
            raise Refusal(error("damaged-file", "A round entity has no radius.", self.where, "Write the file again."))
        sweep = (end - start) % (2 * math.pi) or 2 * math.pi
        full = self.kind == "CIRCLE" or abs(sweep - 2 * math.pi) < SAME_KNOT
        curves = arc_segments(center, u, v, start, 2 * math.pi if full else sweep)
        return self.line(center + u * math.cos(start) + v * math.sin(start), curves, full)

    def spline(self) -> _Line:
        degree, knots, points, weights = self.integer(71), self.all(40), self.points(), self.all(41)
        counts_fit = len(points) > degree and len(knots) == len(points) + degree + 1
        if not (1 <= degree <= 3 and counts_fit and knots == sorted(knots) and len(weights) in (0, len(points))):
            message = (
                f"A spline of degree {degree} has {len(points)} control points and {len(knots)} knots that do not fit."
            )
            raise Refusal(error("damaged-file", message, self.where, "Write the file again."))
        rational = len(set(weights)) > 1
        curves: list[Curve] = []
        added: list[Curve]
        start = 0j
        for k in range(degree, len(points)):
            if knots[k + 1] - knots[k] <= SAME_KNOT:
                continue
            near = points[k - degree : k + 1]
            if rational:
                span = _rational_span(degree, knots, k, near, weights[k - degree : k + 1])
                first, added = span[0], [(point,) for point in span[1:]]
            else:
                bezier = _bezier(degree, knots, k, near)
                first = bezier[0]
                added = [(bezier[1],) if degree == 1 else (bezier[1], bezier[2], bezier[3])]
            if not curves:
                start = first
            curves += added
        return self.line(start, curves)


def _bezier(degree: int, knots: list[float], k: int, near: list[complex]) -> list[complex]:
    """The Bézier control points of the span from knot k on; those of degree 2 are raised to degree 3."""
    low, high = knots[k], knots[k + 1]
    if knots[k - degree + 1] == low and knots[k + degree] == high:
        found = near
    else:
        found = [_blossom(degree, knots, k, near, [low] * (degree - i) + [high] * i) for i in range(degree + 1)]
    if degree == 2:
        return [found[0], (found[0] + 2 * found[1]) / 3, (found[2] + 2 * found[1]) / 3, found[2]]
    return found


def _blossom(degree: int, knots: list[float], k: int, near: list[complex], at: list[float]) -> complex:
    """de Boor's scheme with one parameter a level."""
    row = list(near)
    for level in range(1, degree + 1):
        t = at[level - 1]
        for j in range(degree, level - 1, -1):
            low, high = knots[k - degree + j], knots[k + 1 + j - level]
            part = (t - low) / (high - low)
            row[j] = (1 - part) * row[j - 1] + part * row[j]
    return row[degree]


def _rational_span(degree: int, knots: list[float], k: int, near: list[complex], weights: list[float]) -> list[complex]:
    """Points along a span whose control points have weights, close enough for chords."""
    found: list[complex] = []
    weighted = [point * weight for point, weight in zip(near, weights, strict=True)]
    plain = [complex(weight) for weight in weights]
    for n in range(RATIONAL_STEPS + 1):
        t = knots[k] + (knots[k + 1] - knots[k]) * n / RATIONAL_STEPS
        found.append(
            _blossom(degree, knots, k, weighted, [t] * degree) / _blossom(degree, knots, k, plain, [t] * degree)
        )
    return found


def _joined(lines: Iterator[_Line], reach: float) -> Iterator[_Line]:
    """Lines of a layer that may join and follow each other end to start, as one; closed where they come back."""
    chain: _Line | None = None
    for line in lines:
        if chain is not None and not (
            line.joins and line.layer == chain.layer and abs(line.start - chain.end) <= reach
        ):
            yield chain
            chain = None
        if not line.joins:
            yield line
            continue
        curves = [*chain.curves, *line.curves] if chain else line.curves
        chain = replace(line, start=chain.start if chain else line.start, curves=curves)
        if abs(chain.end - chain.start) <= reach:
            yield replace(chain, closed=True)
            chain = None
    if chain is not None:
        yield chain


@hookimpl
def clothpath_measurers() -> list[Measurer]:
    return [DxfMeasurer()]
