"""What one unit of a DXF drawing measures.

Terminology
    stated unit     the header variable $INSUNITS
    measurement     the header variable $MEASUREMENT: 0 English, 1 metric; a hint at the unit where none is stated

Source: DXF Reference, HEADER section and table of $INSUNITS values. US survey units: 1 ft = 1200/3937 m, Mendenhall
Order (1893).
"""

from __future__ import annotations

from typing import Any, Final

from clothpath.curves import Box
from clothpath.findings import Finding, note, warning
from clothpath.units import as_inches, as_millimeters

__all__ = ["MM_PER_CODE", "UNIT_NAMES", "taken_unit"]

_SURVEY_FOOT: Final = 1200 / 3937 * 1000

MM_PER_CODE: Final[dict[int, float]] = {
    1: 25.4,
    2: 304.8,
    3: 1609344.0,
    4: 1.0,
    5: 10.0,
    6: 1000.0,
    7: 1e6,
    8: 25.4e-6,
    9: 25.4e-3,
    10: 914.4,
    11: 1e-7,
    12: 1e-6,
    13: 1e-3,
    14: 100.0,
    15: 1e4,
    16: 1e5,
    17: 1e12,
    18: 149597870700e3,
    19: 9460730472580800e3,
    20: 149597870700e3 * 206264.80624709636,
    21: _SURVEY_FOOT,
    22: _SURVEY_FOOT / 12,
    23: _SURVEY_FOOT * 3,
    24: _SURVEY_FOOT * 5280,
}
"""$INSUNITS to millimeters; 0 (unitless) is not in it."""

UNIT_NAMES: Final[dict[int, str]] = {
    1: "in", 2: "ft", 3: "mi", 4: "mm", 5: "cm", 6: "m", 7: "km", 8: "microinch", 9: "mil", 10: "yd", 11: "angstrom",
    12: "nm", 13: "micron", 14: "dm", 15: "dam", 16: "hm", 17: "gm", 18: "au", 19: "light year", 20: "parsec",
    21: "US survey ft", 22: "US survey in", 23: "US survey yd", 24: "US survey mi",
}  # fmt: skip

INCHES_UP_TO: Final = 60.0
"""A drawing without a unit whose longer side is below this is taken to be in inches (common practice: appliqué blocks
and panels are seldom over 60 in, and seldom under 60 mm)."""
SMALLEST_MM: Final = 10.0
LARGEST_MM: Final = 3000.0
"""A picture outside these is doubtful whatever its unit."""


def taken_unit(header: Any, box: Box) -> tuple[float, str | None, list[Finding]]:
    """Millimeters to the unit, the stated unit or None, and what there is to say about it.

    `box` is the drawing's, in its own units.
    """
    code = _code(header, "$INSUNITS")
    if code in MM_PER_CODE:
        scale = MM_PER_CODE[code]
        return scale, UNIT_NAMES[code], _doubt(UNIT_NAMES[code], scale, box)
    measurement = _code(header, "$MEASUREMENT")
    inches = max(box.width, box.height) <= INCHES_UP_TO
    why = "by its size"
    if measurement == 0:
        inches, why = True, "as its measurement system ($MEASUREMENT) is English"
    elif measurement == 1:
        inches, why = False, "as its measurement system ($MEASUREMENT) is metric"
    unit, scale = ("inches", 25.4) if inches else ("millimeters", 1.0)
    return (
        scale,
        None,
        [
            warning(
                "unit-assumed",
                f"The drawing states no unit; it was taken to be in {unit}, {why}, and is then {_size(box, scale)}. "
                f"{_others(box, scale)}",
                hint="State the finished size, or save the drawing with its unit.",
            ),
            *_doubt(unit, scale, box),
        ],
    )


def _code(header: Any, name: str) -> int | None:
    try:
        return int(header.get(name))
    except (TypeError, ValueError):
        return None


def _size(box: Box, scale: float) -> str:
    width, height = box.width * scale, box.height * scale
    return f"{as_inches(width)} x {as_inches(height)} ({as_millimeters(width)} x {as_millimeters(height)})"


def _others(box: Box, taken: float) -> str:
    """The size that each other reading gives."""
    readings = [("millimeters", 1.0), ("centimeters", 10.0), ("inches", 25.4)]
    told = [f"in {name} it would be {_size(box, scale)}" for name, scale in readings if scale != taken]
    return (told[0][0].upper() + told[0][1:]) + ", " + ", ".join(told[1:]) + "."


def _doubt(unit: str, scale: float, box: Box) -> list[Finding]:
    longest = max(box.width, box.height) * scale
    if SMALLEST_MM <= longest <= LARGEST_MM:
        return []
    return [
        warning(
            "size-doubtful",
            f"Read in {unit}, the drawing is {_size(box, scale)}, which is {'small' if longest < 100 else 'large'} "
            f"for appliqué. {_others(box, scale)}",
            hint="Check the unit, or state the finished size.",
        )
    ]


def agreement(stated: str) -> Finding:
    """The drawing says its unit."""
    return note("unit-stated", f"The drawing states its unit: {stated}.")
