"""The DXF measurer on files written by hand; splines against scipy, figures against their formulas."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.interpolate import BSpline

from clothpath.contracts import Declared, Measurement
from clothpath.curves import Affine, Outline, Path, area, cubics
from clothpath.findings import Refusal
from clothpath.plugins.measurers.dxf import DxfMeasurer

Tag = tuple[int, object]


def document(*entities: Sequence[Tag], insunits: int | None = 4) -> bytes:
    tags: list[Tag] = [(0, "SECTION"), (2, "HEADER")]
    if insunits is not None:
        tags += [(9, "$INSUNITS"), (70, insunits)]
    tags += [(0, "ENDSEC"), (0, "SECTION"), (2, "ENTITIES")]
    for entity in entities:
        tags += entity
    tags += [(0, "ENDSEC"), (0, "EOF")]
    return "".join(f"{code}\n{value}\n" for code, value in tags).encode()


def measured(*entities: Sequence[Tag], insunits: int | None = 4) -> Measurement:
    return DxfMeasurer().measure(document(*entities, insunits=insunits), Declared()).value


def line(x1: float, y1: float, x2: float, y2: float, layer: str = "0") -> list[Tag]:
    return [(0, "LINE"), (8, layer), (10, x1), (20, y1), (11, x2), (21, y2)]


def polyline(vertices: Sequence[tuple[float, float, float]], closed: bool, up: float = 1.0) -> list[Tag]:
    tags: list[Tag] = [(0, "LWPOLYLINE"), (8, "sand"), (90, len(vertices)), (70, int(closed)), (230, up)]
    for x, y, bulge in vertices:
        tags += [(10, x), (20, y)] + ([(42, bulge)] if bulge else [])
    return tags


def spline(degree: int, knots: Sequence[float], points: Sequence[complex], weights: Sequence[float] = ()) -> list[Tag]:
    tags: list[Tag] = [(0, "SPLINE"), (8, "sea"), (70, 8), (71, degree), (72, len(knots)), (73, len(points))]
    tags += [(40, knot) for knot in knots] + [(41, weight) for weight in weights]
    for point in points:
        tags += [(10, point.real), (20, point.imag), (30, 0.0)]
    return tags


def only(measurement: Measurement) -> Path:
    (found,) = measurement.lines
    return found.path


@pytest.mark.parametrize(
    ("code", "unit", "mm"), [(1, "in", 25.4), (2, "ft", 304.8), (4, "mm", 1), (5, "cm", 10), (6, "m", 1000)]
)
def test_insunits(code: int, unit: str, mm: float) -> None:
    """DXF reference, $INSUNITS: 1 inches, 2 feet, 4 millimeters, 5 centimeters, 6 meters."""
    found = measured(line(0, 0, 3, 4), insunits=code)
    assert found.unit == unit
    assert only(found).end == pytest.approx((3 + 4j) * mm)


def test_a_unit_that_is_not_stated_is_declared_or_said_to_be_assumed() -> None:
    for insunits in (None, 0, 13):
        data = document(line(0, 0, 1, 0), insunits=insunits)
        assumed = DxfMeasurer().measure(data, Declared())
        assert [finding.code for finding in assumed.findings] == ["unit-assumed"]
        told = DxfMeasurer().measure(data, Declared(mm_per_unit=25.4))
        assert [finding.code for finding in told.findings] == ["declared"]
        assert only(told.value).end == pytest.approx(25.4)
        assert told.value.unit == ""


@given(st.floats(5, 340), st.booleans())
def test_bulge_is_the_tangent_of_a_quarter_of_the_angle(degrees: float, clockwise: bool) -> None:
    """DXF reference. The segment that an arc of angle a cuts off a circle of radius r is r^2 (a - sin a)/2 large."""
    angle = math.radians(degrees)
    bulge = math.tan(angle / 4) * (-1 if clockwise else 1)
    radius = 10 / math.sin(angle / 2)
    found = only(measured(polyline([(0, 0, bulge), (20, 0, 0)], closed=True)))
    assert isinstance(found, Outline)
    expected = radius**2 * (angle - math.sin(angle)) / 2
    assert area(found) == pytest.approx(expected * (-1 if clockwise else 1), rel=1e-4)


def test_old_polylines_are_read_like_new_ones() -> None:
    tags: list[Tag] = [(0, "POLYLINE"), (8, "sand"), (66, 1), (70, 1)]
    for x, y, bulge in ((0, 0, 1), (20, 0, 0), (20, 10, 0)):
        tags += [(0, "VERTEX"), (8, "sand"), (10, x), (20, y), (42, bulge)]
    tags += [(0, "SEQEND")]
    found = measured(tags)
    assert found.lines[0].group == "sand"
    assert area(only(found)) == pytest.approx(100 + math.pi * 50, rel=1e-5)  # type: ignore[arg-type]


@settings(max_examples=30)
@given(st.integers(1, 3), st.integers(0, 5), st.booleans(), st.data())
def test_splines_are_what_scipy_makes_of_them(degree: int, more: int, clamped: bool, data: st.DataObject) -> None:
    count = degree + 1 + more
    steps = data.draw(st.lists(st.sampled_from([0.0, 0.5, 1.0, 2.0]), min_size=count, max_size=count))
    inner = np.cumsum([1.0, *steps])[: count - degree + 1]
    if clamped:
        knots = [inner[0]] * degree + inner.tolist() + [inner[-1]] * degree
    else:
        knots = (
            [inner[0] - k for k in range(degree, 0, -1)]
            + inner.tolist()
            + [inner[-1] + k for k in range(1, degree + 1)]
        )
    if inner[-1] == inner[0] or any(inner.tolist().count(knot) > degree for knot in inner.tolist()):
        return
    coordinate = st.floats(-50, 50).map(lambda value: round(value, 3))
    points = [complex(*data.draw(st.tuples(coordinate, coordinate))) for _ in range(count)]
    path = only(measured(spline(degree, knots, points)))
    spans = sorted(set(inner.tolist()))
    curve = BSpline(np.array(knots), np.array(points), degree)
    for (a, b), control in zip(pairwise(spans), cubics(path), strict=True):
        for t in (0.0, 0.3, 0.5, 0.9, 0.999):
            s = 1 - t
            here = s**3 * control[0] + 3 * s * s * t * control[1] + 3 * s * t * t * control[2] + t**3 * control[3]
            assert here == pytest.approx(complex(curve(a + t * (b - a))), abs=1e-6)


def test_a_rational_circle_is_a_circle() -> None:
    """L. Piegl, W. Tiller, The NURBS Book, 7.5: nine points and weights 1, sqrt(1/2), ... make a full circle."""
    corners = [1, 1 + 1j, 1j, -1 + 1j, -1, -1 - 1j, -1j, 1 - 1j, 1]
    weights = [1 if k % 2 == 0 else math.sqrt(0.5) for k in range(9)]
    found = only(measured(spline(2, [0, 0, 0, 1, 1, 2, 2, 3, 3, 4, 4, 4], [10 * complex(c) for c in corners], weights)))
    assert isinstance(found, Outline)
    assert area(found) == pytest.approx(math.pi * 100, rel=1e-4)


def test_circles_arcs_and_ellipses() -> None:
    circle: list[Tag] = [(0, "CIRCLE"), (8, "0"), (10, 5), (20, 6), (40, 7)]
    arc: list[Tag] = [(0, "ARC"), (8, "0"), (10, 0), (20, 0), (40, 10), (50, 270), (51, 90)]
    ellipse: list[Tag] = [
        (0, "ELLIPSE"),
        (8, "0"),
        (10, 0),
        (20, 0),
        (11, 0),
        (21, 10),
        (40, 0.5),
        (41, 0),
        (42, 2 * math.pi),
    ]
    found = measured(circle, arc, ellipse)
    assert area(found.lines[0].path) == pytest.approx(math.pi * 49, rel=1e-5)  # type: ignore[arg-type]
    assert found.lines[1].path.start == pytest.approx(-10j)
    assert found.lines[1].path.end == pytest.approx(10j)
    assert found.lines[1].path.box.right == pytest.approx(10)
    assert abs(area(found.lines[2].path)) == pytest.approx(math.pi * 50, rel=1e-5)  # type: ignore[arg-type]


def test_lines_and_arcs_that_follow_each_other_are_one_outline() -> None:
    arc: list[Tag] = [(0, "ARC"), (8, "0"), (10, 10), (20, 5), (40, 5), (50, 270), (51, 90)]
    found = measured(line(0, 0, 10, 0), arc, line(10, 10, 0, 10), line(0, 10, 0, 0), line(30, 0, 40, 0))
    assert [isinstance(each.path, Outline) for each in found.lines] == [True, False]
    assert area(found.lines[0].path) == pytest.approx(100 + math.pi * 12.5, rel=1e-5)  # type: ignore[arg-type]


def test_lines_of_different_layers_or_apart_stay_apart() -> None:
    assert len(measured(line(0, 0, 9, 0), line(9, 0, 9, 9, "b"), line(9, 9.01, 0, 0, "b")).lines) == 3


def test_an_extrusion_that_points_down_mirrors() -> None:
    """DXF reference, object coordinate systems: for the normal (0, 0, -1) the x axis points to the left."""
    found = only(measured(polyline([(0, 0, 0), (20, 0, 0), (0, 5, 0)], closed=True, up=-1.0)))
    assert (found.box.left, found.box.right) == (-20, 0)


def test_what_is_not_measured_is_said() -> None:
    insert: list[Tag] = [(0, "INSERT"), (2, "claw"), (10, 0), (20, 0)]
    outcome = DxfMeasurer().measure(document(line(0, 0, 1, 1), insert, insert), Declared())
    assert [finding.code for finding in outcome.findings] == ["not-measured"]
    assert "2 INSERT" in outcome.findings[0].message


def test_a_frame_takes_the_lines_to_the_mat() -> None:
    frame = Affine.shift(100) @ Affine.turn(90)
    outcome = DxfMeasurer().measure(document(line(1, 0, 2, 0), insunits=1), Declared(frame=frame))
    assert only(outcome.value).start == pytest.approx(100 + 25.4j)
    assert [finding.code for finding in outcome.findings] == ["declared"]


@pytest.mark.parametrize(
    ("data", "code", "words"),
    [
        (b"", "wrong-format", "no DXF"),
        (b"hello\nworld\n", "wrong-format", "no DXF"),
        (document(line(0, 0, 1, 1))[:-6], "damaged-file", "EOF"),
        (document(line(0, 0, 1, 1)).replace(b"LINE\n8\n", b"LINE\nx8\n"), "damaged-file", "line 17"),
        (document(line(0, 0, 1, 1)).replace(b"ENDSEC\n0\nEOF", b"ENDSE\n0\nEOF"), "damaged-file", "ENTITIES"),
        (document([(0, "LINE"), (10, "1.x"), (20, 0)]), "damaged-file", "1.x"),
        (document(polyline([(0, 0, 0), (1, 0, 0)], True)[:-1]), "damaged-file", "no y"),
        (document([*polyline([(0, 0, 0), (1, 0, 0)], True), (10, 5), (20, 5)]), "damaged-file", "2 vertices"),
        (document(spline(3, [0, 0, 0, 0, 1, 1, 1], [0, 1, 2, 3])), "damaged-file", "do not fit"),
        (document([(0, "LINE"), (10, 0), (20, 0), (11, "1e999"), (21, 0)]), "damaged-file", "1e999"),
        (document([(0, "CIRCLE"), (10, 1), (20, 1), (40, 0)]), "damaged-file", "no radius"),
        (document([(0, "POLYLINE"), (70, 1), (0, "VERTEX"), (10, 0), (20, 0)]), "damaged-file", "does not end"),
    ],
)
def test_damage_is_refused_and_placed(data: bytes, code: str, words: str) -> None:
    with pytest.raises(Refusal) as refused:
        DxfMeasurer().measure(data, Declared())
    (finding,) = refused.value.findings
    assert finding.code == code
    assert words in f"{finding.message} {finding.where}"
