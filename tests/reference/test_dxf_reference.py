"""Facts of the DXF reference that the reader stands on, as published there."""

from __future__ import annotations

from math import atan, hypot, pi, radians, sin, tan

import pytest

from clothpath.curves import area
from clothpath.design import Design
from clothpath.plugins.readers.dxf import DxfReader
from clothpath.plugins.readers.dxf.shapes import plane
from clothpath.plugins.readers.dxf.sizes import MM_PER_CODE


def shown(insunits: int, entity: str) -> Design:
    """What the reader makes of one entity, written by hand as R2000 has it."""
    text = (
        "0 SECTION 2 HEADER 9 $ACADVER 1 AC1015 9 $INSUNITS 70 "
        f"{insunits} 0 ENDSEC 0 SECTION 2 ENTITIES {entity} 0 ENDSEC 0 EOF "
    ).replace(" ", "\n")
    reader = DxfReader()
    return reader.read(text.encode(), reader.settings()).value


def polyline(*vertices: tuple[float, float, float]) -> str:
    points = " ".join(f"10 {x!r} 20 {y!r} 42 {bulge!r}" for x, y, bulge in vertices)
    return f"0 LWPOLYLINE 100 AcDbEntity 8 a 100 AcDbPolyline 90 {len(vertices)} 70 1 {points}"


def square(side: float) -> str:
    return polyline((0, 0, 0), (side, 0, 0), (side, side, 0), (0, side, 0))


def circle(radius: float, color: int = 256) -> str:
    return f"0 CIRCLE 100 AcDbEntity 8 a 62 {color} 100 AcDbCircle 10 0 20 0 40 {radius}"


INSUNITS = {
    1: 25.4,  # inches: International Yard and Pound Agreement, 1959
    2: 304.8,  # feet
    3: 1609344,  # miles: 5280 ft
    4: 1,  # millimeters
    5: 10,  # centimeters
    6: 1e3,  # meters
    7: 1e6,  # kilometers
    8: 25.4e-6,  # microinches
    9: 25.4e-3,  # mils
    10: 914.4,  # yards
    11: 1e-7,  # angstroms: 1e-10 m
    12: 1e-6,  # nanometers
    13: 1e-3,  # microns
    14: 100,  # decimeters
    15: 1e4,  # decameters
    16: 1e5,  # hectometers
    17: 1e12,  # gigameters
    18: 149597870700e3,  # astronomical units: IAU 2012 Resolution B2
    19: 9460730472580800e3,  # light years: Julian year times c
    20: 3.0856775814913673e19,  # parsecs: 648000/pi au
    21: 1200e3 / 3937,  # US survey feet: Mendenhall Order, 1893
    22: 100e3 / 3937,  # US survey inches
    23: 3600e3 / 3937,  # US survey yards
    24: 6336000e3 / 3937,  # US survey miles
}
"""DXF Reference, HEADER section, $INSUNITS: the value's meaning; in millimeters by the definition of each unit."""


@pytest.mark.parametrize("code", INSUNITS)
def test_every_code_of_insunits_is_known(code: int) -> None:
    assert MM_PER_CODE[code] == pytest.approx(INSUNITS[code], rel=1e-12)


@pytest.mark.parametrize("code", [1, 2, 4, 5, 6, 9, 10, 13, 14, 21, 22])
def test_a_drawing_in_that_unit_has_that_size(code: int) -> None:
    side = 200 / INSUNITS[code]
    (piece,) = shown(code, square(side)).pieces
    assert area(piece.region.outer) == pytest.approx(40_000)


def test_zero_is_unitless() -> None:
    assert 0 not in MM_PER_CODE
    assert shown(0, square(200)).source.stated_unit is None


@pytest.mark.parametrize("degrees", [1, 30, 45, 90, 120, 180, 240, 300, 359])
def test_a_bulge_is_the_tangent_of_a_quarter_of_the_angle(degrees: float) -> None:
    """DXF Reference, "Bulges": segment of radius chord / (2 sin(angle / 2)), area r^2 (angle - sin angle) / 2."""
    angle, chord = radians(degrees), 100.0
    radius = chord / (2 * sin(angle / 2))
    (piece,) = shown(4, polyline((0, 0, tan(angle / 4)), (chord, 0, 0))).pieces
    off_by = 4.2e-6 * radius * radius * angle  # of the arcs that stand for it, see curves.ARC_STEP
    assert area(piece.region.outer) == pytest.approx(radius**2 * (angle - sin(angle)) / 2, abs=off_by)
    assert piece.region.box.bottom == pytest.approx(-chord / 2 * tan(angle / 4), rel=1e-5)  # sagitta
    assert 4 * atan(tan(angle / 4)) == pytest.approx(angle)


@pytest.mark.parametrize(
    "normal", [(0, 0, 1), (0, 0, -1), (1, 0, 0), (0, 1, 0), (0.01, 0.01, 1), (1, 1, 1), (-2, 3, 0.5)]
)
def test_the_arbitrary_axis_algorithm(normal: tuple[float, float, float]) -> None:
    """DXF Reference: Ax = Wy x N if |Nx| < 1/64 and |Ny| < 1/64, else Wz x N; Ay = N x Ax; both of length 1."""
    size = hypot(*normal)
    nx, ny, nz = (v / size for v in normal)

    def cross(a: tuple[float, ...], b: tuple[float, ...]) -> tuple[float, ...]:
        return a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]

    ax = cross((0, 1, 0) if abs(nx) < 1 / 64 and abs(ny) < 1 / 64 else (0, 0, 1), (nx, ny, nz))
    ax = tuple(v / hypot(*ax) for v in ax)
    ay = cross((nx, ny, nz), ax)
    ay = tuple(v / hypot(*ay) for v in ay)
    found = plane(normal, 2.0)
    assert (found.a, found.b, found.c, found.d) == pytest.approx((ax[0], ax[1], ay[0], ay[1]), abs=1e-12)
    if normal != (0, 0, 1):
        assert (found.e, found.f) == pytest.approx((2 * nx, 2 * ny), abs=1e-12)


COLORS = {1: "#ff0000", 2: "#ffff00", 3: "#00ff00", 4: "#00ffff", 5: "#0000ff", 6: "#ff00ff"}
"""DXF Reference, AutoCAD Color Index 1 to 6: red, yellow, green, cyan, blue, magenta."""


@pytest.mark.parametrize("index", COLORS)
def test_the_first_colors_of_the_index(index: int) -> None:
    assert shown(4, circle(9, index)).pieces[0].drawn.color == COLORS[index]


def test_a_circle_is_round_to_the_budget() -> None:
    """A written outline may be off by 0.01 mm; a circle of 2 m across as read is within that."""
    (piece,) = shown(4, circle(1000)).pieces
    points = piece.region.outer.nodes[:, 0]
    assert abs(points).tolist() == pytest.approx([1000] * len(points), abs=1e-9)
    assert area(piece.region.outer) == pytest.approx(pi * 1e6, rel=1e-5)
