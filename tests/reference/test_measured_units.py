"""What a unit of each format measures, as its standard says, through writer and measurer alike."""

from __future__ import annotations

import math

import pytest

from clothpath.contracts import Declared
from clothpath.curves import area, circle, polygon
from clothpath.plugins.measurers.dxf import UNITS
from clothpath.plugins.measurers.hpgl import UNIT_MM
from clothpath.plugins.measurers.pdf import POINT_MM
from clothpath.plugins.measurers.svg import CSS_PX_MM, MM, SvgMeasurer
from clothpath.units import MM_PER_UNIT


def test_the_inch_and_the_yard() -> None:
    """International Yard and Pound Agreement, 1959: 1 yd = 0.9144 m, so 1 in = 25.4 mm."""
    assert MM_PER_UNIT["in"] == 25.4
    assert MM_PER_UNIT["yd"] == pytest.approx(914.4)
    assert MM_PER_UNIT["yd"] == pytest.approx(36 * MM_PER_UNIT["in"])


def test_css_absolute_units() -> None:
    """CSS Values and Units Level 3, 6.2: 1in = 2.54cm = 25.4mm = 72pt = 6pc = 96px."""
    assert pytest.approx(MM["in"]) == 2.54 * MM["cm"] == 25.4 * MM["mm"]
    assert pytest.approx(MM["in"]) == 72 * MM["pt"]
    assert pytest.approx(MM["in"]) == 6 * MM["pc"]
    assert pytest.approx(MM["in"]) == 96 * CSS_PX_MM


def test_hpgl_unit() -> None:
    """HP-GL reference: a plotter unit is 0.025 mm, 1016 to the inch."""
    assert UNIT_MM == 0.025
    assert pytest.approx(25.4) == 1016 * UNIT_MM


def test_pdf_and_postscript_unit() -> None:
    """ISO 32000-1, 8.3.2.3, and PostScript Language Reference, 4.3.1: 1/72 in."""
    assert pytest.approx(25.4) == 72 * POINT_MM


def test_dxf_unit_codes() -> None:
    """DXF reference, $INSUNITS: 1 inches, 2 feet, 4 millimeters, 5 centimeters, 6 meters, 10 yards."""
    assert {code: name for code, (name, _) in UNITS.items()} == {1: "in", 2: "ft", 4: "mm", 5: "cm", 6: "m", 10: "yd"}
    assert all(mm == pytest.approx(MM_PER_UNIT[name]) for name, mm in UNITS.values())


def test_areas_of_known_figures() -> None:
    """Disc pi r^2; regular n-gon (n/2) r^2 sin(2 pi/n); a triangle half its base by its height."""
    assert area(circle(0, 7)) == pytest.approx(math.pi * 49, rel=1e-5)
    hexagon = polygon([5 * complex(math.cos(math.pi * k / 3), math.sin(math.pi * k / 3)) for k in range(6)])
    assert area(hexagon) == pytest.approx(3 * 25 * math.sin(math.pi / 3))
    assert area(polygon([0, 12, 3 + 5j])) == pytest.approx(30)


def test_a_physical_square_inch_in_every_svg_unit() -> None:
    """The viewBox maps the same user units to whatever width and height state (SVG 1.1, 7.7)."""
    for width in ("1in", "25.4mm", "2.54cm", "72pt", "6pc"):
        data = f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}" height="{width}" viewBox="0 0 10 10">'
        data += '<path d="M0 0H10V10H0Z"/></svg>'
        (line,) = SvgMeasurer().measure(data.encode(), Declared()).value.lines
        assert (line.path.box.width, line.path.box.height) == pytest.approx((25.4, 25.4))
