"""Path data: the `d` attribute, and point lists, as lines and cubics.

Terminology
    subpath     a start point, segments from there, and whether it was closed by Z
    plain       without arcs and quadratics, and faultless: what kurbopy can be trusted with, and reads much faster
    fault       the place from which on path data is not what the grammar allows; what stands before it counts

Sources: grammar and error handling, SVG 2, 9.3 (Path data) and 9.5.4; arcs by end points, SVG 2, B.2.4 and B.2.5;
degree elevation of a quadratic, G. Farin, Curves and Surfaces for CAGD (5th ed., 2002), 6.1.
"""

from __future__ import annotations

import cmath
import math
import re
from dataclasses import dataclass, field
from typing import Final

from kurbopy import BezPath

from clothpath.curves import Curve, arc_segments

__all__ = ["Subpath", "parse_path", "parse_points"]

_SPACE: Final = r"[ \t\n\r\f]"
_NUMBER: Final = r"[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]+)?"
_BETWEEN: Final = rf"(?>{_SPACE}*,?{_SPACE}*)"
_NUMBERS: Final = re.compile(_NUMBER)
_RUN: Final = re.compile(rf"{_SPACE}*(?>{_NUMBER})(?>{_BETWEEN}(?>{_NUMBER}))*+{_SPACE}*+")
_ARC: Final = re.compile(_BETWEEN.join([rf"({_NUMBER})"] * 3 + ["([01])"] * 2 + [rf"({_NUMBER})"] * 2))
_GAP: Final = re.compile(_BETWEEN)
_BLANK: Final = re.compile(rf"{_SPACE}*")


def _repeated(letters: str, count: int) -> str:
    unit = _BETWEEN.join([f"(?>{_NUMBER})"] * count)
    return rf"[{letters}]{_SPACE}*+(?>{unit})(?>{_BETWEEN}{unit})*+"


_ARGUMENTS: Final = "|".join(_repeated(*each) for each in (("MmLl", 2), ("HhVv", 1), ("Cc", 6), ("Ss", 4)))
_PLAIN: Final = re.compile(rf"{_SPACE}*+(?=[Mm])(?>(?>{_ARGUMENTS}|[Zz]){_SPACE}*+)++")
"""Faultless data without A, Q and T: kurbopy's arcs are coarse, and its T mirrors what it should not."""
_COMMANDS: Final = re.compile(r"([MmZzLlHhVvCcSsQqTtAa])([^MmZzLlHhVvCcSsQqTtAa]*)")
_ARITY: Final = {"M": 2, "L": 2, "H": 1, "V": 1, "C": 6, "S": 4, "Q": 4, "T": 2, "A": 7, "Z": 0}


_Pair = tuple[float, float]


@dataclass(slots=True)
class Subpath:
    """One connected run of a path, in the coordinates of its element."""

    start: complex
    segments: list[Curve] = field(default_factory=list)
    closed: bool = False

    @property
    def end(self) -> complex:
        return self.segments[-1][-1] if self.segments else self.start


def parse_points(text: str) -> tuple[list[complex], int | None]:
    """The points of a polyline or polygon, and the offset of the first fault or None; an odd last number is a fault."""
    numbers, fault = _numbers(text, 0)
    if len(numbers) % 2:
        numbers.pop()
        fault = len(text) if fault is None else fault
    return [complex(x, y) for x, y in zip(numbers[::2], numbers[1::2], strict=True)], fault


def parse_path(text: str) -> tuple[list[Subpath], int | None]:
    """The subpaths up to the first fault, and the offset of that fault or None; those without a segment are dropped."""
    if _PLAIN.fullmatch(text):
        pen = _Pen()
        BezPath.from_svg(text).draw(pen)
        if pen.finite:
            return [sub for sub in pen.found if sub.segments], None
    return _parsed_with_care(text)


class _Pen:
    """Takes the elements of a kurbopy path down as subpaths."""

    def __init__(self) -> None:
        self.found: list[Subpath] = []
        self._segments: list[Curve] = []
        self._at = 0j

    @property
    def finite(self) -> bool:
        every = [point for sub in self.found for segment in sub.segments for point in segment]
        return cmath.isfinite(sum(every)) and all(cmath.isfinite(sub.start) for sub in self.found)

    def moveTo(self, to: _Pair) -> None:  # noqa: N802 - the pen protocol's names
        self._at = complex(*to)
        self._segments = []
        self.found.append(Subpath(self._at, self._segments))

    def lineTo(self, to: _Pair) -> None:  # noqa: N802
        self._at = _line(self._segments, self._at, complex(*to))

    def curveTo(self, first: _Pair, second: _Pair, to: _Pair) -> None:  # noqa: N802
        self._at = _cubic(self._segments, self._at, complex(*first), complex(*second), complex(*to))

    def closePath(self) -> None:  # noqa: N802
        self.found[-1].closed = True
        self._at = self.found[-1].start

    def endPath(self) -> None:  # noqa: N802
        """Nothing is left to do for an open subpath."""


def _parsed_with_care(text: str) -> tuple[list[Subpath], int | None]:
    """As `parse_path`, for any data."""
    found: list[Subpath] = []
    fault: int | None = None
    blank = _BLANK.match(text)
    position = blank.end() if blank else 0
    at = mirrored = 0j
    last = ""
    segments: list[Curve] | None = None
    for match in _COMMANDS.finditer(text, position):
        letter = match[1]
        command = letter.upper()
        if match.start() != position or (not found and command != "M"):
            break
        arity = _ARITY[command]
        arguments, fault = (_arc_numbers if command == "A" else _numbers)(match[2], match.start(2))
        position = match.end()
        if command == "Z":
            fault = match.start(2) if fault is None and arguments else fault
            if segments is not None:
                found[-1].closed = True
                at, segments = found[-1].start, None
        else:
            spare = len(arguments) % arity
            if spare or not arguments:
                fault = match.end() if fault is None else fault
                del arguments[len(arguments) - spare :]
            relative = letter != command
            if command == "M" and arguments:
                at = complex(arguments[0], arguments[1]) + (at if relative else 0)
                segments = []
                found.append(Subpath(at, segments))
                del arguments[:2]
            elif segments is None:
                segments = []
                found.append(Subpath(at, segments))
            at, mirrored = _DRAW[command](
                segments, at, mirrored if last in _KIN[command] else None, arguments, relative
            )
        last = command
        if fault is not None:
            break
    if fault is None and position < len(text):
        fault = position
    return [sub for sub in found if sub.segments], fault


_Drawn = tuple[complex, complex]
"""Where a command ends, and the control point that a following S or T mirrors."""


def _lines(into: list[Curve], at: complex, _: complex | None, numbers: list[float], relative: bool) -> _Drawn:
    for end in _points(numbers):
        at = _line(into, at, end + at if relative else end)
    return at, at


def _levels(into: list[Curve], at: complex, _: complex | None, numbers: list[float], relative: bool) -> _Drawn:
    for x in numbers:
        at = _line(into, at, at + x if relative else complex(x, at.imag))
    return at, at


def _plumbs(into: list[Curve], at: complex, _: complex | None, numbers: list[float], relative: bool) -> _Drawn:
    for y in numbers:
        at = _line(into, at, at + 1j * y if relative else complex(at.real, y))
    return at, at


def _cubics(into: list[Curve], at: complex, _: complex | None, numbers: list[float], relative: bool) -> _Drawn:
    points = _points(numbers)
    second = at
    for first, second, end in zip(points[::3], points[1::3], points[2::3], strict=True):
        origin = at if relative else 0j
        second += origin
        at = _cubic(into, at, first + origin, second, end + origin)
    return at, second


def _smooth_cubics(
    into: list[Curve], at: complex, mirrored: complex | None, numbers: list[float], relative: bool
) -> _Drawn:
    points = _points(numbers)
    before = at if mirrored is None else mirrored
    for second, end in zip(points[::2], points[1::2], strict=True):
        origin = at if relative else 0j
        first, before = 2 * at - before, second + origin
        at = _cubic(into, at, first, before, end + origin)
    return at, before


def _quadratics(into: list[Curve], at: complex, _: complex | None, numbers: list[float], relative: bool) -> _Drawn:
    points = _points(numbers)
    control = at
    for control, end in zip(points[::2], points[1::2], strict=True):
        origin = at if relative else 0j
        control += origin
        at = _quadratic(into, at, control, end + origin)
    return at, control


def _smooth_quadratics(
    into: list[Curve], at: complex, mirrored: complex | None, numbers: list[float], relative: bool
) -> _Drawn:
    control = at if mirrored is None else mirrored
    for end in _points(numbers):
        control = 2 * at - control
        at = _quadratic(into, at, control, end + at if relative else end)
    return at, control


def _arcs(into: list[Curve], at: complex, _: complex | None, numbers: list[float], relative: bool) -> _Drawn:
    for i in range(0, len(numbers), 7):
        rx, ry, turn, large, sweep, x, y = numbers[i : i + 7]
        at = _arc(
            into, at, (abs(rx), abs(ry)), turn, large != sweep, sweep != 0, complex(x, y) + (at if relative else 0)
        )
    return at, at


_DRAW: Final = {
    "M": _lines,
    "L": _lines,
    "H": _levels,
    "V": _plumbs,
    "C": _cubics,
    "S": _smooth_cubics,
    "Q": _quadratics,
    "T": _smooth_quadratics,
    "A": _arcs,
}
_KIN: Final = {**dict.fromkeys("MLHVCQA", ""), "S": "CS", "T": "QT"}
"""The commands whose control point a command mirrors if it follows one of them."""


def _points(numbers: list[float]) -> list[complex]:
    return list(map(complex, numbers[::2], numbers[1::2]))


def _numbers(text: str, offset: int) -> tuple[list[float], int | None]:
    """Numbers that stand at the beginning of `text`, and where, counted from `offset`, something else begins."""
    run = _RUN.match(text)
    if run is None:
        blank = _BLANK.fullmatch(text)
        return [], None if blank else offset
    numbers = [float(number) for number in _NUMBERS.findall(text, 0, run.end())]
    if not all(map(math.isfinite, numbers)):
        numbers = numbers[: next(i for i, number in enumerate(numbers) if not math.isfinite(number))]
        return numbers, offset
    return numbers, None if run.end() == len(text) else offset + run.end()


def _arc_numbers(text: str, offset: int) -> tuple[list[float], int | None]:
    """As `_numbers`, for arcs, whose two flags may stand without anything between them and what follows."""
    numbers: list[float] = []
    blank = _BLANK.match(text)
    position = blank.end() if blank else 0
    while position < len(text):
        match = _ARC.match(text, position)
        if match is None:
            break
        values = [float(value) for value in match.groups()]
        if not all(map(math.isfinite, values)):
            break
        numbers += values
        position = match.end()
        gap = _GAP.match(text, position)
        after = gap.end() if gap else position
        if after == len(text) and "," in text[position:]:
            return numbers, offset + position
        position = after
    return numbers, None if position == len(text) else offset + position


def _line(into: list[Curve], at: complex, end: complex) -> complex:
    if end != at:
        into.append((end,))
    return end


def _cubic(into: list[Curve], at: complex, first: complex, second: complex, end: complex) -> complex:
    if first == at and second == end:
        return _line(into, at, end)
    into.append((first, second, end))
    return end


def _quadratic(into: list[Curve], at: complex, control: complex, end: complex) -> complex:
    return _cubic(into, at, (at + 2 * control) / 3, (end + 2 * control) / 3, end)


def _arc(
    into: list[Curve], at: complex, radii: tuple[float, float], turn: float, far_side: bool, sweep: bool, end: complex
) -> complex:
    """The arc of SVG 2, B.2.4, with radii grown where they are too small (B.2.5)."""
    rx, ry = radii
    if at == end:
        return end
    if rx == 0 or ry == 0:
        return _line(into, at, end)
    axis = cmath.rect(1, math.radians(turn % 360))
    half = (at - end) / 2 * axis.conjugate()
    x, y = half.real / rx, half.imag / ry
    reach = x * x + y * y
    if not math.isfinite(reach):
        return _line(into, at, end)
    offset = 0j
    if reach > 1:
        grow = math.sqrt(reach)
        rx, ry, x, y = rx * grow, ry * grow, x / grow, y / grow
    elif reach:
        offset = (1 if far_side else -1) * math.sqrt(1 / reach - 1) * complex(y, -x)
    first, last = complex(x, y) - offset, -complex(x, y) - offset
    start = cmath.phase(first)
    angle = (cmath.phase(last) - start) % (2 * math.pi) - (0 if sweep else 2 * math.pi)
    middle = (at + end) / 2 + complex(offset.real * rx, offset.imag * ry) * axis
    into += arc_segments(middle, rx * axis, ry * axis * 1j, start, angle)
    into[-1] = (*into[-1][:-1], end)
    return end
