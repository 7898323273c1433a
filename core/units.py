"""Lengths and speeds as people write and read them; millimeters and seconds inside.

Terminology
    length      a number with its unit; a bare number is no length
    speed       a length in a second or a minute ("80 mm/s")
    fraction    inches in sixteenths or coarser, as a ruler shows them ("4 3/8 in")
    stated step the value of the last digit or fraction that a person wrote ("1 3/4 in" is stated in quarters)

Sources: 1 in = 25.4 mm and 1 yd = 0.9144 m, International Yard and Pound Agreement (1959); pt and pc, CSS Values and
Units Level 3 (1in = 72pt = 6pc). A pixel is no length here: what it measures depends on who wrote it.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

__all__ = [
    "CUTTING_STEP_IN",
    "MM_PER_UNIT",
    "Length",
    "LengthError",
    "Speed",
    "SpeedError",
    "as_inches",
    "as_millimeters",
    "as_typed",
    "as_typed_mm",
    "both",
    "cutting_size",
    "cutting_size_mm",
    "parse_length",
    "parse_speed",
]

_INCH: Final = Fraction("25.4")
_EXACT: Final[dict[str, Fraction]] = {
    "mm": Fraction(1),
    "cm": Fraction(10),
    "m": Fraction(1000),
    "in": _INCH,
    "ft": 12 * _INCH,
    "yd": 36 * _INCH,
    "pt": _INCH / 72,
    "pc": _INCH / 6,
}
MM_PER_UNIT: Final[dict[str, float]] = {unit: float(mm) for unit, mm in _EXACT.items()}
"""Millimeters to the unit, by its short name."""
CUTTING_STEP_IN: Final = Fraction(1, 8)
"""Cutting sizes are rounded up to this, in inches: the finest line that a quilting ruler shows."""
TINY_MM: Final = 25.4 / 32
"""A length below this is no sixteenth of an inch, not even rounded."""
SUM_SLACK_MM: Final = 1e-4
"""Two sums that differ by less than this are one length: 1/4 in is 6.35 mm, told as 6.4 mm, however it came about."""
ROUNDING_SLACK_MM: Final = 0.005
"""A cutting size this little over a ruler line is that line."""

_SPELLINGS: Final[dict[str, str]] = {
    **{unit: unit for unit in MM_PER_UNIT},
    **dict.fromkeys(('"', "″", "”", "''", "inch", "inches", "ins"), "in"),
    **dict.fromkeys(("'", "′", "’", "foot", "feet"), "ft"),
    **dict.fromkeys(("yard", "yards", "yds"), "yd"),
    **dict.fromkeys(("millimeter", "millimeters", "millimetre", "millimetres"), "mm"),
    **dict.fromkeys(("centimeter", "centimeters", "centimetre", "centimetres"), "cm"),
    **dict.fromkeys(("meter", "meters", "metre", "metres"), "m"),
    **dict.fromkeys(("point", "points"), "pt"),
    **dict.fromkeys(("pica", "picas"), "pc"),
}
_SECONDS: Final[dict[str, float]] = {
    **dict.fromkeys(("s", "sec", "second"), 1.0),
    **dict.fromkeys(("min", "minute"), 60.0),
}
_VULGAR: Final[dict[str, str]] = {
    "½": "1/2", "¼": "1/4", "¾": "3/4", "⅛": "1/8", "⅜": "3/8", "⅝": "5/8", "⅞": "7/8", "⅓": "1/3", "⅔": "2/3",
}  # fmt: skip
_LENGTH: Final = re.compile(
    r"""(?P<sign>[+-])?\s*
        (?: (?P<whole>\d+)(?:\s+|\s*-\s*)(?P<num>\d+)\s*[/⁄]\s*(?P<den>\d+)
          | (?P<num2>\d+)\s*[/⁄]\s*(?P<den2>\d+)
          | (?P<decimal>\d+(?:\.\d*)?|\.\d+) )
        \s*(?P<unit>[^\d\s].*)?""",
    re.VERBOSE,
)


class LengthError(ValueError):
    """The text is no length; the message says what would be."""


@dataclass(frozen=True, slots=True)
class Length:
    """A length as somebody stated it.

    Attributes:
        mm: its value in millimeters.
        step_mm: the value of its last stated digit or fraction, in millimeters.
        text: as it was written.
    """

    mm: float
    step_mm: float
    text: str


def parse_length(text: str) -> Length:
    """Read a length with its unit: "4 3/8 in", '4-3/8"', "111mm", "10.5 cm", "¾ yd".

    Raises:
        LengthError: no number, no unit, an unknown unit, or a zero denominator.
    """
    if re.search(r"\d,\d", text):
        raise LengthError(f'"{text}" has a comma; write the decimal point as a point')
    spelled = text.strip()
    for sign, plain in _VULGAR.items():
        spelled = spelled.replace(sign, f" {plain}")
    match = _LENGTH.fullmatch(spelled.strip())
    if match is None:
        raise LengthError(f'"{text}" is not a length such as "4 3/8 in" or "111 mm"')
    parts = match.groupdict()
    if parts["unit"] is None:
        raise LengthError(f'"{text}" has no unit; write "{text.strip()} in" or "{text.strip()} mm"')
    unit = _SPELLINGS.get(parts["unit"].strip().lower().rstrip("."))
    if unit is None:
        known = ", ".join(MM_PER_UNIT)
        extra = "; a pixel has no fixed size, so say inches or millimeters" if parts["unit"].strip() == "px" else ""
        raise LengthError(f'"{text}" has the unit "{parts["unit"].strip()}", which is not one of {known}{extra}')
    number, step = _number(parts, text)
    if parts["sign"] == "-":
        number = -number
    scale = _EXACT[unit]
    return Length(float(number * scale), float(step * scale), text.strip())


class SpeedError(ValueError):
    """The text is no speed; the message says what would be."""


@dataclass(frozen=True, slots=True)
class Speed:
    """A speed as somebody stated it, in millimeters a second and as it was written."""

    mm_per_second: float
    text: str


def parse_speed(text: str) -> Speed:
    """Read a speed with its unit: "80 mm/s", "3 in/s", "1200 mm/min", "4 m per minute".

    Raises:
        SpeedError: it is not a length in a second or a minute, or not more than 0.
    """
    way, slash, time = re.sub(r"\s+per\s+", "/", text).rpartition("/")
    seconds = _SECONDS.get(time.strip().lower().rstrip("."))
    if not slash or seconds is None:
        raise SpeedError(f'"{text}" is not a speed such as "80 mm/s", "3 in/s" or "1200 mm/min"')
    try:
        length = parse_length(way)
    except LengthError as fault:
        raise SpeedError(f'"{text}" is not a speed such as "80 mm/s": {fault}') from None
    if length.mm <= 0:
        raise SpeedError(f'"{text}" is not a speed; it must be more than 0')
    return Speed(length.mm / seconds, text.strip())


def _number(parts: dict[str, str | None], text: str) -> tuple[Fraction, Fraction]:
    if decimal := parts["decimal"]:
        digits = len(decimal.partition(".")[2])
        return Fraction(decimal), Fraction(1, 10**digits)
    denominator = int(parts["den"] or parts["den2"] or 0)
    if denominator == 0:
        raise LengthError(f'"{text}" divides by zero')
    numerator = int(parts["num"] or parts["num2"] or 0)
    return int(parts["whole"] or 0) + Fraction(numerator, denominator), Fraction(1, denominator)


def as_inches(mm: float, step: Fraction = Fraction(1, 16)) -> str:
    """`mm` in inches to the nearest `step`, as a ruler is read: "4 3/8 in"."""
    return _inches(round(mm / 25.4 / float(step)), step)


def as_millimeters(mm: float) -> str:
    """`mm` to a tenth, without a trailing zero: "111 mm", "111.1 mm"."""
    return f"{_to_tenth(mm):.1f}".removesuffix(".0") + " mm"


def both(mm: float) -> str:
    """A length for a person of either habit: "4 3/8 in (111.1 mm)"; one that no ruler shows as "0.02 in (0.5 mm)"."""
    if 0 < abs(mm) < TINY_MM:
        return f"{mm / 25.4:.2g} in ({mm:.2g} mm)"
    return f"{as_inches(mm)} ({as_millimeters(mm)})"


def as_typed(mm: float) -> str:
    """A length as programs show it and take it: "4.37 in", to a hundredth."""
    return f"{mm / 25.4:.2f} in"


def as_typed_mm(mm: float) -> str:
    """A length as programs show it and take it: "111.0 mm", to a tenth."""
    return f"{_to_tenth(mm):.1f} mm"


def _to_tenth(mm: float) -> float:
    """`mm` to a tenth; in the middle between two the larger, also where the last digit of a sum fell short of it."""
    return round(mm + math.copysign(SUM_SLACK_MM, mm), 1) + 0.0


def cutting_size(mm: float) -> str:
    """A size to cut, in inches rounded up to `CUTTING_STEP_IN`."""
    return _inches(math.ceil(Fraction((mm - ROUNDING_SLACK_MM) / 25.4) / CUTTING_STEP_IN), CUTTING_STEP_IN)


def cutting_size_mm(mm: float) -> str:
    """A size to cut, in whole millimeters rounded up."""
    return f"{math.ceil(mm - ROUNDING_SLACK_MM)} mm"


def _inches(count: int, step: Fraction) -> str:
    """`count` times `step`, in lowest terms."""
    sign = "-" if count < 0 else ""
    whole, rest = divmod(abs(count) * step.numerator, step.denominator)
    if rest == 0:
        return f"{sign}{whole} in"
    common = math.gcd(rest, step.denominator)
    fraction = f"{rest // common}/{step.denominator // common}"
    return f"{sign}{whole} {fraction} in" if whole else f"{sign}{fraction} in"
