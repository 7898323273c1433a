"""What each kind of entity of a DXF drawing becomes."""

from __future__ import annotations

from math import pi, sqrt, tan
from typing import Final

import pytest
from dxf_text import (
    Case,
    arc,
    case,
    circle,
    dxf,
    entity,
    expected,
    line,
    lwpolyline,
    polyline,
    second_opinion,
    shown,
    spline,
    square,
)

QUARTER: Final = tan(pi / 8)
"""The bulge of a quarter circle: tan(90 degrees / 4)."""
CAP: Final = pi / 4 - 1 / 2
"""Area between a quarter circle of radius 1 and its chord."""
UNIT: Final = (0.0, 0.0, 10.0, 10.0)

SIDES: Final = [line(0, 0, 10, 0), line(10, 0, 10, 10), line(10, 10, 0, 10), line(0, 10, 0, 0)]
# fmt: off
OUTLINES: Final = [
    case("four lines make one piece", "LINE", dxf(line(0, 0, 10, 0), line(10, 0, 10, 10), line(10, 10, 0, 10),
         line(0, 10, 0, 0)), [100], UNIT),
    case("in any order and direction", "LINE", dxf(line(0, 0, 10, 0), line(0, 10, 10, 10), line(0, 0, 0, 10),
         line(10, 10, 10, 0)), [100], UNIT),
    case("a gap of 0.05 mm is closed, and said", "LINE", dxf(line(0, 0, 10, 0), line(10, 0, 10, 10), line(10, 10, 0,
         10), line(0, 10, 0, 0.05)), [100], UNIT, "gap-closed"),
    case("a gap of 0.3 mm is not", "LINE", dxf(line(0, 0, 10, 0), line(10, 0, 0, 10), line(0, 10, 0, 0.3),
         square(20, 0, 10)), [100], (20, 0, 30, 10), "open-line", lines=1),
    case("a line drawn twice counts once", "LINE", dxf(line(0, 0, 10, 0), line(10, 0, 0, 10), line(0, 10, 0, 0),
         line(10, 0, 0, 0)), [50], UNIT, "repeated-line"),
    case("a line without length is left out", "LINE", dxf(line(0, 0, 10, 0), line(10, 0, 0, 10), line(0, 10, 0, 0),
         line(3, 3, 3, 3)), [50], UNIT, "line-without-length"),
    case("a shared side: both areas, not their union", "LINE", dxf(square(30, 0, 10), line(0, 0, 10, 0), line(10, 0,
         10, 10), line(10, 10, 0, 10), line(0, 10, 0, 0), line(10, 0, 20, 0), line(20, 0, 20, 10), line(20, 10, 10,
         10)), [100, 100, 100], (0, 0, 40, 10), "junction"),
    case("a line that ends in the middle of two sides halves them", "LINE", dxf(*SIDES, line(5, 0, 5, 10)), [50, 50],
         UNIT, "end-on-line junction"),
    case("one that ends there on one side only is a marking", "LINE", dxf(*SIDES, line(5, 0, 5, 5)), [100], UNIT,
         "open-line", lines=1),
    case("a half circle on a longer line is a piece", "LINE, ARC", dxf(line(-20, 0, 20, 0), arc(0, 0, 10, 0, 180)),
         [50 * pi], (-10, 0, 10, 10), "end-on-line open-line", lines=2),
    case("an outline that overshoots its own start", "LWPOLYLINE", dxf(lwpolyline([(-3, 0), (10, 0), (10, 10), (0, 10),
         (0, 0)], False)), [100], UNIT, "end-on-line open-line", lines=1),
    case("both diagonals quarter a square", "LINE", dxf(*SIDES, line(0, 0, 10, 10), line(10, 0, 0, 10)), [25] * 4, UNIT,
         "lines-joined-crossing junction"),
    case("open lines that only cross are markings, and told", "LINE", dxf(line(-2, 20, 12, 20), line(5, 15, 5, 25),
         circle(5, 5, 5)), [25 * pi], UNIT, "open-line open-lines-cross", lines=2),
    case("a tail at a corner is a marking", "LINE", dxf(line(0, 0, 10, 0), line(10, 0, 10, 10), line(10, 10, 0, 10),
         line(0, 10, 0, 0), line(10, 10, 15, 15)), [100], UNIT, "open-line", lines=1),
    case("lines of two layers are not joined", "8 layer", dxf(line(0, 0, 30, 0), line(30, 0, 0, 30), line(0, 30, 0,
         0, layer="b"), square(40, 0, 10)), [100], (40, 0, 50, 10), "open-line", lines=2),
    case("a circle", "CIRCLE", dxf(circle(5, 5, 5)), [25 * pi], UNIT),
    case("a circle in a circle of the same layer is a hole", "CIRCLE; even-odd", dxf(circle(0, 0, 10), circle(0, 0,
         4)), [84 * pi], (-10, -10, 10, 10), holes=1),
    case("an island in the hole is a piece again", "CIRCLE; even-odd", dxf(circle(0, 0, 10), circle(0, 0, 6),
         circle(0, 0, 2)), [64 * pi, 4 * pi], (-10, -10, 10, 10), holes=1),
    case("of another layer it is a piece on top", "8 layer", dxf(circle(0, 0, 10), circle(0, 0, 4, layer="b")), [100
         * pi, 16 * pi], (-10, -10, 10, 10), layers=("a", "b")),
    case("of another color it is a piece on top", "62 color", dxf(circle(0, 0, 10, 62, 1), circle(0, 0, 4, 62, 5)),
         [100 * pi, 16 * pi], (-10, -10, 10, 10), colors=("#ff0000", "#0000ff")),
    case("circles that overlap are two pieces", "CIRCLE", dxf(circle(0, 0, 10), circle(12, 0, 10)), [100 * pi, 100 *
         pi], (-10, -10, 22, 10)),
    case("two half arcs make a circle", "ARC 50, 51: counterclockwise", dxf(arc(0, 0, 10, 0, 180), arc(0, 0, 10,
         180, 0)), [100 * pi], (-10, -10, 10, 10)),
    case("an arc runs counterclockwise through 0 degrees", "ARC 50, 51", dxf(arc(0, 0, 10, 270, 90), line(0, 10, 0,
         -10)), [50 * pi], (0, -10, 10, 10)),
    case("an arc of a full turn is a circle", "ARC 50, 51", dxf(arc(0, 0, 10, 0, 360)), [100 * pi], (-10, -10, 10,
         10)),
    case("a quarter pie of arc and lines", "ARC", dxf(arc(0, 0, 10, 0, 90), line(0, 0, 10, 0), line(0, 0, 0, 10)),
         [25 * pi], UNIT),
    case("an ellipse by its axis and ratio", "ELLIPSE 11, 40", dxf(entity("ELLIPSE", 10, 0, 20, 0, 30, 0, 11, 10,
         21, 0, 31, 0, 40, 0.5, 41, 0, 42, 2 * pi)), [50 * pi], (-10, -5, 10, 5)),
    case("an ellipse turned by its axis", "ELLIPSE 11: x^2 = a^2 cos^2 + b^2 sin^2", dxf(entity("ELLIPSE", 10, 0,
         20, 0, 30, 0, 11, 10, 21, 10, 31, 0, 40, 0.5, 41, 0, 42, 2 * pi)), [100 * pi], (-sqrt(125), -sqrt(125),
         sqrt(125), sqrt(125))),
    case("half an ellipse by parameters", "ELLIPSE 41, 42", dxf(entity("ELLIPSE", 10, 0, 20, 0, 30, 0, 11, 10, 21,
         0, 31, 0, 40, 0.5, 41, 0, 42, pi), line(-10, 0, 10, 0)), [25 * pi], (-10, 0, 10, 5)),
    case("an ellipse seen in a mirror runs the other way", "ELLIPSE 210: minor axis = extrusion x major axis",
         dxf(entity("ELLIPSE", 10, 0, 20, 0, 30, 0, 11, 10, 21, 0, 31, 0, 40, 0.5, 41, 0, 42, pi, 210, 0, 220, 0,
         230, -1 ), line(-10, 0, 10, 0)), [25 * pi], (-10, -5, 10, 0)),
    case("a circle below the drawing's plane is mirrored in x", "arbitrary axis algorithm", dxf(circle(20, 5, 5,
         210, 0, 220, 0, 230, -1)), [25 * pi], (-25, 0, -15, 10)),
    case("an arc there too", "arbitrary axis algorithm", dxf(arc(0, 0, 10, 270, 90, 210, 0, 220, 0, 230, -1),
         line(0, 10, 0, -10)), [50 * pi], (-10, -10, 0, 10)),
    case("a shape on a tilted plane is seen from above", "arbitrary axis algorithm", dxf(circle(0, 0, 10, 210, 0,
         220, sqrt(0.75), 230, 0.5)), [50 * pi], (-10, -5, 10, 5), "tilted", alike=False),
]
# fmt: on

# fmt: off
POLYLINES: Final = [
    case("a closed polyline", "LWPOLYLINE 70", dxf(square(0, 0, 10)), [100], UNIT),
    case("an open one whose ends coincide is closed", "LWPOLYLINE", dxf(lwpolyline([(0, 0), (10, 0), (10, 10), (0,
         0)], False)), [50], UNIT),
    case("an open one is a marking", "LWPOLYLINE 70", dxf(lwpolyline([(0, 0), (10, 0), (10, 10)], False), circle(5,
         5, 5)), [25 * pi], UNIT, "open-line", lines=1),
    case("two bulges of 1 are a circle", "LWPOLYLINE 42: tan(180/4)", dxf(lwpolyline([(0, 5, 1), (10, 5, 1)])), [25
         * pi], UNIT),
    case("a bulge of tan(22.5) is a quarter circle about a center left of the way", "LWPOLYLINE 42",
         dxf(lwpolyline([(0, 0, QUARTER), (10, 0, 0), (10, 10), (0, 10)])), [100 + 50 * CAP], (0, -5 * (sqrt(2) -
         1), 10, 10)),
    case("a negative bulge turns clockwise", "LWPOLYLINE 42", dxf(lwpolyline([(0, 0, -QUARTER), (10, 0, 0), (10,
         10), (0, 10)])), [100 - 50 * CAP], UNIT),
    case("a bulge above 1 is more than a half circle", "LWPOLYLINE 42: tan(270/4); GDAL takes the smaller arc",
         dxf(lwpolyline([(0, 0, tan(pi * 3 / 8)), (10, 0, 0)])), [50 * (pi - CAP)],
         (5 - 5 * sqrt(2), -5 - 5 * sqrt(2), 5 + 5 * sqrt(2), 0), alike=False),
    case("mirrored by its extrusion, bulges with it", "arbitrary axis algorithm", dxf(lwpolyline([(0, 5, 1), (10, 5,
         0)], True, 210, 0, 220, 0, 230, -1)), [12.5 * pi], (-10, 0, 0, 5)),
    case("a vertex given twice does no harm", "LWPOLYLINE", dxf(lwpolyline([(0, 0), (10, 0), (10, 0), (10, 10), (0,
         10), (0, 0)])), [100], UNIT),
    case("its width is no second outline", "LWPOLYLINE 43", dxf(square(0, 0, 10, 43, 2)), [100], UNIT, "wide-line",
         alike=False),
    case("an R12 polyline with bulges", "POLYLINE, VERTEX 42", dxf(polyline([(0, 5, 1), (10, 5, 1)], 1)), [25 * pi],
         UNIT ),
    case("an R12 polyline in space", "POLYLINE 70 bit 8", dxf(polyline([(0, 0), (10, 0), (10, 10), (0, 10)], 9)),
         [100], UNIT),
    case("the frame of a fitted polyline is not on it", "VERTEX 70 bits 8, 16", dxf(polyline([(0, -50), (0, 0), (10,
         0), (10, 10), (50, 50), (0, 10)], 5, [16, 8, 8, 8, 16, 8])), [100], UNIT, alike=False),
    case("a mesh is no outline", "POLYLINE 70 bit 16", dxf(square(0, 0, 10), entity("POLYLINE", 66, 1, 70, 16, 71,
         2, 72, 2) + "".join(entity("VERTEX", 10, x, 20, y, 30, 0, 70, 64) for x in (0, 5) for y in (0, 5)) +
         entity("SEQEND")), [100], UNIT, "broken-element", alike=False),
    case("a filled quadrilateral stores its last corners crosswise", "SOLID 12, 13", dxf(entity("SOLID", 10, 0, 20,
         0, 11, 10, 21, 0, 12, 0, 22, 10, 13, 10, 23, 10)), [100], UNIT),
    case("a filled triangle repeats its third corner", "SOLID", dxf(entity("SOLID", 10, 0, 20, 0, 11, 10, 21, 0, 12,
         0, 22, 10, 13, 0, 23, 10)), [50], UNIT),
    case("a face has its corners in their order", "3DFACE 10 to 13", dxf(entity("3DFACE", 10, 0, 20, 0, 11, 10, 21, 0,
         12, 10, 22, 10, 13, 0, 23, 10)), [100], UNIT),
    case("a face of three corners repeats the third", "3DFACE 13", dxf(entity("3DFACE", 10, 0, 20, 0, 11, 10, 21, 0, 12,
         10, 22, 10, 13, 10, 23, 10)), [50], UNIT),
    case("TRACE is like SOLID", "TRACE", dxf(entity("TRACE", 10, 0, 20, 0, 11, 10, 21, 0, 12, 0, 22, 10, 13, 10, 23,
         10)), [100], UNIT, alike=False),
]
# fmt: on

# fmt: off
CUBIC: Final = [
    0,
    0,
    0,
    0,
    1,
    1,
    1,
    1,
]
# fmt: on
# fmt: off
SPLINES: Final = [
    case("a cubic Bézier comes back as it is", "SPLINE; area = 21600 B(3, 3) = 720, height 3/4 of 40", dxf(spline(3,
         CUBIC, [(0, 0), (0, 40), (30, 40), (30, 0)]), line(0, 0, 30, 0)), [720], (0, 0, 30, 30)),
    case("a parabola of degree 2", "SPLINE 71; Archimedes: 2/3 of base times height", dxf(spline(2, [0, 0, 0, 1, 1,
         1], [(0, 0), (15, 40), (30, 0)]), line(0, 0, 30, 0)), [400], (0, 0, 30, 20)),
    case("a polygon of degree 1", "SPLINE 71; GDAL misses its corner", dxf(spline(1, [0, 0, 1, 2, 2], [(0, 0),
         (30, 0), (0, 30)]), line(0, 30, 0, 0)), [450], (0, 0, 30, 30), alike=False),
    case("knots inside", "SPLINE 40; two parabolas", dxf(spline(2, [0, 0, 0, 0.5, 1, 1, 1], [(0, 0), (10, 20), (30,
         20), (40, 0)]), line(0, 0, 40, 0)), [1600 / 3], (0, 0, 40, 20)),
    case("a quarter circle with weights", "SPLINE 41: 1, cos 45, 1", dxf(spline(2, [0, 0, 0, 1, 1, 1], [(10, 0),
         (10, 10), (0, 10)], [1, sqrt(0.5), 1]), line(0, 10, 0, 0), line(0, 0, 10, 0)), [25 * pi], UNIT),
    case("a whole circle with weights", "SPLINE 41; nine poles", dxf(spline(2, [0, 0, 0, 1, 1, 2, 2, 3, 3, 4, 4, 4],
         [(10, 0), (10, 10), (0, 10), (-10, 10), (-10, 0), (-10, -10), (0, -10), (10, -10), (10, 0)], [1, sqrt(0.5)]
         * 4 + [1]) ), [100 * pi], (-10, -10, 10, 10)),
    case("weights that are all alike change nothing", "SPLINE 41", dxf(spline(2, [0, 0, 0, 1, 1, 1], [(0, 0), (15,
         40), (30, 0)], [2, 2, 2]), line(0, 0, 30, 0)), [400], (0, 0, 30, 20)),
    case("degree 5: a line raised to it stays a line", "SPLINE 71", dxf(spline(5, [0] * 6 + [1] * 6, [(6 * i, 4 * i)
         for i in range(6)]), line(30, 20, 30, 0), line(30, 0, 0, 0)), [300], (0, 0, 30, 20)),
    case("a closed uniform spline without clamped ends",
         "SPLINE 70 bits 1, 2; area 4 r^2 (245 - 1) / 720 with r^2 = 450, by the B-spline of degree 6",
         dxf(spline(3, list(range(11)), [(0, 0), (30, 0), (30, 30), (0, 30), (0, 0), (30, 0), (30, 30)], flags=11)),
         [610], (1.25, 1.25, 28.75, 28.75), alike=False),  # GDAL makes its own knots for it
    case("a spline through points", "SPLINE 11 without 10", dxf(entity("SPLINE", 70, 8, 71, 3, 72, 0, 73, 0, 74, 3,
         11, 0, 21, 0, 31, 0, 11, 10, 21, 0, 31, 0, 11, 30, 21, 0, 31, 0), line(30, 0, 0, 30), line(0, 30, 0, 0)),
         [450], (0, 0, 30, 30), alike=False),
    case("a spline whose knots do not fit its poles is told", "SPLINE 72, 73", dxf(spline(3, [0, 0, 1, 1], [(0, 0),
         (0, 40), (30, 40), (30, 0)]), circle(5, 5, 5)), [25 * pi], UNIT, "broken-element", alike=False),
]
# fmt: on


CASES: Final = [*OUTLINES, *POLYLINES, *SPLINES]


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.purpose)
def test_shows_what_the_reference_says(case: Case) -> None:
    assert shown(case) == expected(case)


@pytest.mark.parametrize("case", [case for case in CASES if case.alike], ids=lambda case: case.purpose)
def test_another_parser_sees_the_same_box(case: Case) -> None:
    ours, theirs = second_opinion(case)
    assert ours == pytest.approx(theirs, abs=2e-3 * max(theirs[2] - theirs[0], theirs[3] - theirs[1]))
