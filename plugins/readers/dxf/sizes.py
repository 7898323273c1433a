"""What one unit of a DXF drawing measures.

Terminology
    stated unit     the header variable $INSUNITS
    measurement     the header variable $MEASUREMENT: 0 English, 1 metric; a hint at the unit where none is stated

Source: DXF Reference, HEADER section and table of $INSUNITS values. US survey units: 1 ft = 1200/3937 m, Mendenhall
Order (1893).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Final

from clothpath.curves import Box
from clothpath.findings import Finding, note, warning
from clothpath.units import as_inches, as_millimeters

__all__ = ["MM_PER_CODE", "UNIT_NAMES", "Unit", "metric_or_english", "unit_of"]

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

ENGLISH: Final = frozenset({1, 2, 3, 8, 9, 10, 21, 22, 23, 24})
"""Codes of units that go with the English measurement system."""
INCH_FORMATS: Final = {3: "engineering", 4: "architectural"}
"""$LUNITS of which feet and inches are a part (DXF reference)."""

INCHES_UP_TO: Final = 60.0
"""A drawing without a unit whose longer side is below this is taken to be in inches: appliqué is seldom larger than 60
in and seldom smaller than 60 mm (common practice)."""
DOUBTFUL: Final = (24.0, 150.0)
"""Between these a longer side makes sense in inches and in millimeters."""
SMALLEST_MM: Final = 10.0
LARGEST_MM: Final = 3000.0
"""A picture outside these is doubtful whatever its unit."""


@dataclass(frozen=True, slots=True)
class Unit:
    """What one unit of the drawing measures, in mm; its name if the drawing states it; what there is to say."""

    mm: float
    stated: str | None
    findings: tuple[Finding, ...]


def unit_of(header: Mapping[str, int], box: Box) -> Unit:
    """The unit of a drawing.

    Args:
        header: the header variables that the file itself sets, of $INSUNITS, $MEASUREMENT and $LUNITS.
        box: the drawing's, in its own unit.
    """
    code = header.get("$INSUNITS", 0)
    measurement = header.get("$MEASUREMENT")
    if code in MM_PER_CODE:
        name, mm = UNIT_NAMES[code], MM_PER_CODE[code]
        return Unit(mm, name, (*_disputed(code, measurement, box), *_doubtful(name, mm, box)))
    inches, why = _guess(header, measurement, max(box.width, box.height))
    name, mm = ("inches", 25.4) if inches else ("millimeters", 1.0)
    assumed = warning(
        "unit-assumed",
        f"The drawing states no unit; it was taken to be in {name} ({why}), and is then {_size(box, mm)}. "
        f"{_others(box, mm)}",
        hint="State the finished size, or save the drawing with its unit.",
    )
    return Unit(mm, None, (assumed, *_doubtful(name, mm, box)))


def metric_or_english(stated: str, box: Box) -> Unit:
    """The unit of a pattern file that calls it "metric" (millimeters) or "english" (inches)."""
    name, mm = ("in", 25.4) if stated == "english" else ("mm", 1.0)
    return Unit(mm, name, tuple(_doubtful(name, mm, box)))


def _guess(header: Mapping[str, int], measurement: int | None, longest: float) -> tuple[bool, str]:
    """Whether inches, and why, with how sure that is."""
    if (format_code := header.get("$LUNITS")) in INCH_FORMATS:
        return True, f"fairly sure: its numbers are shown in the {INCH_FORMATS[format_code]} format"
    if measurement in (0, 1):
        system = "English" if measurement == 0 else "metric"
        return measurement == 0, f"fairly sure: its measurement system is {system}"
    low, high = DOUBTFUL
    return longest <= INCHES_UP_TO, "no more than a guess" if low < longest < high else "fairly sure, from its size"


def _disputed(code: int, measurement: int | None, box: Box) -> Iterator[Finding]:
    if measurement in (0, 1) and (measurement == 0) != (code in ENGLISH):
        system = "English" if measurement == 0 else "metric"
        mm = MM_PER_CODE[code]
        yield note(
            "unit-disputed",
            f"The drawing states the unit {UNIT_NAMES[code]}, but its measurement system is {system}. It was taken in "
            f"{UNIT_NAMES[code]} and is {_size(box, mm)}. {_others(box, mm)}",
            hint="Check the size.",
        )


def _size(box: Box, mm: float) -> str:
    width, height = box.width * mm, box.height * mm
    return f"{as_inches(width)} x {as_inches(height)} ({as_millimeters(width)} x {as_millimeters(height)})"


def _others(box: Box, taken: float) -> str:
    """The size that each other likely reading gives."""
    readings = [("millimeters", 1.0), ("centimeters", 10.0), ("inches", 25.4)]
    told = [f"in {name} it would be {_size(box, mm)}" for name, mm in readings if mm != taken]
    return f"{told[0][0].upper()}{told[0][1:]}, {', '.join(told[1:])}."


def _doubtful(unit: str, mm: float, box: Box) -> Iterator[Finding]:
    longest = max(box.width, box.height) * mm
    if not SMALLEST_MM <= round(longest, 3) <= LARGEST_MM:
        how = "small" if longest < SMALLEST_MM else "large"
        yield warning(
            "size-doubtful",
            f"Read in {unit}, the drawing is {_size(box, mm)}: very {how} for appliqué. {_others(box, mm)}",
            hint="Check the unit, or state the finished size.",
        )
