"""Path data: the `d` attribute, and point lists, as lines and cubics.

Terminology
    subpath     a start point, segments from there, and whether it was closed by Z
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
_COMMANDS: Final = re.compile(r"([MmZzLlHhVvCcSsQqTtAa])([^MmZzLlHhVvCcSsQqTtAa]*)")
_ARITY: Final = {"M": 2, "L": 2, "H": 1, "V": 1, "C": 6, "S": 4, "Q": 4, "T": 2, "A": 7, "Z": 0}


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
    """The subpaths up to the first fault, and the offset of that fault or None; a subpath without a segment is dropped."""
    found: list[Subpath] = []
    fault: int | None = None
    blank = _BLANK.match(text)
    position = blank.end() if blank else 0
    at = mirrored = 0j
    last = ""
    current: Subpath | None = None
    for match in _COMMANDS.finditer(text, position):
        if match.start() != position or (not found and match[1] not in "Mm"):
            break
        letter = match[1]
        command = letter.upper()
        arguments, fault = (
            _arc_numbers(match[2], match.start(2)) if command == "A" else _numbers(match[2], match.start(2))
        )
        arity = _ARITY[command]
        position = match.end()
        if arity == 0:
            if fault is None and arguments:
                fault = match.start(2)
            if current is not None:
                current.closed = True
                at = current.start
                current = None
            last = "Z"
        else:
            spare = len(arguments) % arity
            if spare or not arguments:
                fault = match.end() if fault is None else fault
                arguments = arguments[: len(arguments) - spare]
            relative = letter != command
            for i in range(0, len(arguments), arity):
                values = arguments[i : i + arity]
                if command == "M" and i == 0:
                    at = complex(values[0], values[1]) + (at if relative else 0)
                    current = Subpath(at)
                    found.append(current)
                    last = "M"
                    continue
                if current is None:
                    current = Subpath(at)
                    found.append(current)
                origin = at if relative else 0j
                if command in "LM":
                    at = _line(current, at, complex(values[0], values[1]) + origin)
                elif command == "H":
                    at = _line(current, at, complex(values[0] + origin.real, at.imag))
                elif command == "V":
                    at = _line(current, at, complex(at.real, values[0] + origin.imag))
                elif command in "CS":
                    first = complex(values[0], values[1]) + origin
                    if command == "S":
                        first, values = (2 * at - mirrored if last in "CS" else at), [0.0, 0.0, *values]
                    mirrored = complex(values[2], values[3]) + origin
                    at = _cubic(current, at, first, mirrored, complex(values[4], values[5]) + origin)
                elif command in "QT":
                    if command == "T":
                        mirrored = 2 * at - mirrored if last in "QT" else at
                    else:
                        mirrored = complex(values[0], values[1]) + origin
                    end = complex(values[-2], values[-1]) + origin
                    at = _cubic(current, at, (at + 2 * mirrored) / 3, (end + 2 * mirrored) / 3, end)
                else:
                    at = _arc(current, at, values, complex(values[5], values[6]) + origin)
                last = command
        if fault is not None:
            break
    if fault is None and position < len(text):
        fault = position
    return [sub for sub in found if sub.segments], fault


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


def _line(into: Subpath, at: complex, end: complex) -> complex:
    if end != at:
        into.segments.append((end,))
    return end


def _cubic(into: Subpath, at: complex, first: complex, second: complex, end: complex) -> complex:
    if first == at and second == end:
        return _line(into, at, end)
    into.segments.append((first, second, end))
    return end


def _arc(into: Subpath, at: complex, values: list[float], end: complex) -> complex:
    """The arc of SVG 2, B.2.4, with radii grown where they are too small (B.2.5)."""
    rx, ry = abs(values[0]), abs(values[1])
    if at == end:
        return end
    if rx == 0 or ry == 0:
        return _line(into, at, end)
    axis = cmath.rect(1, math.radians(values[2] % 360))
    half = (at - end) / 2 * axis.conjugate()
    x, y = half.real / rx, half.imag / ry
    reach = x * x + y * y
    if not math.isfinite(reach):
        return _line(into, at, end)
    if reach > 1:
        grow = math.sqrt(reach)
        rx, ry, x, y = rx * grow, ry * grow, x / grow, y / grow
        offset = 0j
    else:
        side = 1 if values[3] != values[4] else -1
        offset = side * math.sqrt(max(0.0, 1 / reach - 1)) * complex(y, -x) if reach else 0j
    first, last = complex(x, y) - offset, -complex(x, y) - offset
    start = cmath.phase(first)
    sweep = (cmath.phase(last) - start) % (2 * math.pi)
    if not values[4]:
        sweep -= 2 * math.pi
    middle = (at + end) / 2 + complex(offset.real * rx, offset.imag * ry) * axis
    arc = arc_segments(middle, rx * axis, ry * axis * 1j, start, sweep)
    into.segments += arc[:-1]
    into.segments.append((arc[-1][0], arc[-1][1], end))  # type: ignore[misc]
    return end
