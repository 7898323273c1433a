"""Path data: the `d` attribute, and point lists, as lines and cubics.

Terminology
    subpath     a start point, segments from there, and whether it was closed by Z
    plain       without quadratics, and faultless: what kurbopy can be trusted with, and reads much faster
    fault       the place from which on path data is not what the grammar allows; what stands before it counts

Sources: grammar and error handling, SVG 2, 9.3 (Path data) and 9.5.4; arcs by end points, SVG 2, B.2.4 and B.2.5;
degree elevation of a quadratic, G. Farin, Curves and Surfaces for CAGD (5th ed., 2002), 6.1; arcs as cubics,
M. Goldapp, Approximation of circular arcs by cubic polynomials, CAGD 8 (1991).
"""

from __future__ import annotations

import cmath
import math
import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from typing import Final

import numpy as np
from kurbopy import BezPath

from clothpath.curves import ARC_STEP, Curve, OpenPath

__all__ = ["Subpath", "parse_path", "parse_points"]

_SPACE: Final = r"[ \t\n\r\f]"
_NUMBER: Final = r"[+-]?+(?:[0-9]++\.?+[0-9]*+|\.[0-9]++)(?:[eE][+-]?+[0-9]++)?+"
_BETWEEN: Final = rf"{_SPACE}*+,?+{_SPACE}*+"
_NUMBERS: Final = re.compile(_NUMBER)
_RUN: Final = re.compile(rf"{_SPACE}*+{_NUMBER}(?>{_BETWEEN}{_NUMBER})*+{_SPACE}*+")
_ARC: Final = re.compile(_BETWEEN.join([f"({_NUMBER})"] * 3 + ["([01])"] * 2 + [f"({_NUMBER})"] * 2))
_GAP: Final = re.compile(_BETWEEN)
_BLANK: Final = re.compile(rf"{_SPACE}*")


_NO_S: Final = rf"(?!{_SPACE}*+[Ss])"


def _repeated(letters: str, *units: str) -> str:
    unit = _BETWEEN.join(units)
    return rf"[{letters}]{_SPACE}*+{unit}(?>{_BETWEEN}{unit})*+"


_COUNTS: Final = (("MmLl", 2), ("HhVv", 1), ("Cc", 6), ("Ss", 4))
_ARGUMENTS: Final = "|".join(
    [
        *(_repeated(letters, *[_NUMBER] * count) for letters, count in _COUNTS),
        _repeated("Aa", *[_NUMBER] * 3, "[01]", "[01]", *[_NUMBER] * 2),
    ]
)
_PLAIN: Final = re.compile(rf"{_SPACE}*+(?=[Mm])(?>(?>{_ARGUMENTS}|[Zz]{_NO_S}){_SPACE}*+)++")
"""Faultless data without Q and T, nor S after Z: kurbopy's T and S mirror what they should not (SVG 2, 9.3.6)."""
_ARC_RUN: Final = re.compile(rf"([Aa]){_SPACE}*+{_ARC.pattern}([0-9eE+\-., \t\n\r\f]*+)")
_COMMANDS: Final = re.compile(r"([MmZzLlHhVvCcSsQqTtAa])([^MmZzLlHhVvCcSsQqTtAa]*)")
_ARITY: Final = {"M": 2, "L": 2, "H": 1, "V": 1, "C": 6, "S": 4, "Q": 4, "T": 2, "A": 7, "Z": 0}


_Pair = tuple[float, float]


@dataclass(slots=True)
class Subpath:
    """One connected run of a path, in the coordinates of its element.

    Attributes:
        nodes: three a segment: where it starts, and its control points (of a line: where it starts).
        straight: for each segment, whether it is a line.
        end: where the last segment ends.
        closed: whether it was closed by Z.
    """

    start: complex
    nodes: list[complex] = field(default_factory=list)
    straight: list[bool] = field(default_factory=list)
    end: complex = 0j
    closed: bool = False

    @classmethod
    def along(cls, start: complex, segments: Iterable[Curve], closed: bool) -> Subpath:
        """The subpath from `start` along `segments`."""
        sub = cls(start, closed=closed)
        at = start
        for segment in segments:
            sub.nodes += (at, at, at) if len(segment) == 1 else (at, segment[0], segment[1])
            sub.straight.append(len(segment) == 1)
            at = segment[-1]
        sub.end = at
        return sub

    @property
    def points(self) -> list[complex]:
        """All its points, control points included."""
        return [*self.nodes, self.end]

    def path(self) -> OpenPath:
        """As a path of its own, open whether it was closed or not."""
        return OpenPath(np.array(self.nodes, np.complex128).reshape(-1, 3), np.array(self.straight), self.end)

    def line_to(self, end: complex) -> None:
        """One more segment, straight, unless the end is there already."""
        at = self.end
        if end != at:
            self.nodes += (at, at, at)
            self.straight.append(True)
            self.end = end

    def curve_to(self, first: complex, second: complex, end: complex) -> None:
        """One more segment, a cubic, or a line if its control points lie at its ends."""
        at = self.end
        if first == at and second == end:
            self.line_to(end)
        else:
            self.nodes += (at, first, second)
            self.straight.append(False)
            self.end = end

    def quadratic_to(self, control: complex, end: complex) -> None:
        """One more segment, a quadratic."""
        self.curve_to((self.end + 2 * control) / 3, (end + 2 * control) / 3, end)

    def arc_to(self, rx: float, ry: float, turn: float, large: bool, sweep: bool, end: complex) -> None:
        """The arc of SVG 2, B.2.4, with radii grown where they are too small (B.2.5)."""
        at = self.end
        if at == end:
            return
        if rx == 0 or ry == 0:
            self.line_to(end)
            return
        axis = cmath.rect(1, math.radians(turn % 360)) if turn else 1 + 0j
        half = (at - end) / 2 * axis.conjugate()
        rx, ry = abs(rx), abs(ry)
        x, y = half.real / rx, half.imag / ry
        reach = x * x + y * y
        if not math.isfinite(reach):
            self.line_to(end)
            return
        offset = 0j
        if reach > 1:
            grow = math.sqrt(reach)
            rx, ry, x, y = rx * grow, ry * grow, x / grow, y / grow
        elif reach:
            offset = (1 if large != sweep else -1) * math.sqrt(1 / reach - 1) * complex(y, -x)
        first, last = complex(x, y) - offset, -complex(x, y) - offset
        angle = cmath.phase(last * first.conjugate()) % math.tau - (0 if sweep else math.tau)
        middle = (at + end) / 2 + complex(offset.real * rx, offset.imag * ry) * axis
        count = max(1, math.ceil(abs(angle) / ARC_STEP - 1e-9))
        step = cmath.rect(1, angle / count)
        leave = complex(1, 4 / 3 * math.tan(angle / count / 4))
        arrive = leave.conjugate() * step
        ahead, back = (rx + ry) / 2 * axis, (rx - ry) / 2 * axis
        z = first
        unit: list[complex] = []
        for _ in range(count):
            unit += (z, z * leave, z * arrive)
            z *= step
        if back:
            points = [middle + (ahead * z + back * z.conjugate()) for z in unit]
        else:
            points = [middle + ahead * z for z in unit]
        points[0] = at
        self.nodes += points
        self.straight += [False] * count
        self.end = end


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
        BezPath.from_svg(_ARC_RUN.sub(pen.take_arcs, text)).draw(pen)
        if pen.finite:
            return [sub for sub in pen.found if sub.straight], None
    return _parsed_with_care(text)


class _Pen:
    """Takes the elements of a kurbopy path down as subpaths.

    kurbopy's own arcs are coarse (2.7e-4 of the radius). So each arc is shown to it as a quadratic, of which plain data
    has none, with its control point at its end, which a following S then mirrors to no effect.
    """

    def __init__(self) -> None:
        self.found: list[Subpath] = []
        self._arcs: list[Sequence[str]] = []
        self._drawn = 0
        self._sub = Subpath(0j)

    def take_arcs(self, match: re.Match[str]) -> str:
        """What stands for a run of arcs."""
        letter, *first, rest = match.groups()
        arcs = [first, *_ARC.findall(rest)]
        self._arcs += arcs
        return ("q" if letter == "a" else "Q") + " ".join([f"{x} {y} {x} {y}" for *_, x, y in arcs])

    @property
    def finite(self) -> bool:
        return all(cmath.isfinite(sum(sub.nodes) + sub.start + sub.end) for sub in self.found)

    def moveTo(self, to: _Pair) -> None:  # noqa: N802 - the pen protocol's names
        start = complex(*to)
        self._sub = Subpath(start, [], [], start)
        self.found.append(self._sub)

    def lineTo(self, to: _Pair) -> None:  # noqa: N802
        self._sub.line_to(complex(*to))

    def curveTo(self, first: _Pair, second: _Pair, to: _Pair) -> None:  # noqa: N802
        self._sub.curve_to(complex(*first), complex(*second), complex(*to))

    def qCurveTo(self, _: _Pair, to: _Pair) -> None:  # noqa: N802
        rx, ry, turn, large, sweep, *_rest = self._arcs[self._drawn]
        self._drawn += 1
        self._sub.arc_to(float(rx), float(ry), float(turn), large == "1", sweep == "1", complex(*to))

    def closePath(self) -> None:  # noqa: N802
        self._sub.closed = True

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
    into: Subpath | None = None
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
            if into is not None:
                into.closed = True
                at, into = into.start, None
        else:
            spare = len(arguments) % arity
            if spare or not arguments:
                fault = match.end() if fault is None else fault
                del arguments[len(arguments) - spare :]
            relative = letter != command
            if command == "M" and arguments:
                at = complex(arguments[0], arguments[1]) + (at if relative else 0)
                into = Subpath(at, end=at)
                found.append(into)
                del arguments[:2]
            elif into is None:
                into = Subpath(at, end=at)
                found.append(into)
            mirrored = _DRAW[command](into, mirrored if last in _KIN[command] else None, arguments, relative)
            at = into.end
        last = command
        if fault is not None:
            break
    if fault is None and position < len(text):
        fault = position
    return [sub for sub in found if sub.straight], fault


_Draw = Callable[["Subpath", "complex | None", "list[float]", bool], complex]
"""Draws a command's arguments; the result is the control point that a following S or T mirrors."""


def _lines(into: Subpath, _: complex | None, numbers: list[float], relative: bool) -> complex:
    for end in _points(numbers):
        into.line_to(end + into.end if relative else end)
    return into.end


def _levels(into: Subpath, _: complex | None, numbers: list[float], relative: bool) -> complex:
    for x in numbers:
        into.line_to(into.end + x if relative else complex(x, into.end.imag))
    return into.end


def _plumbs(into: Subpath, _: complex | None, numbers: list[float], relative: bool) -> complex:
    for y in numbers:
        into.line_to(into.end + 1j * y if relative else complex(into.end.real, y))
    return into.end


def _cubics(into: Subpath, _: complex | None, numbers: list[float], relative: bool) -> complex:
    points = _points(numbers)
    second = into.end
    for first, second, end in zip(points[::3], points[1::3], points[2::3], strict=True):
        origin = into.end if relative else 0j
        second += origin
        into.curve_to(first + origin, second, end + origin)
    return second


def _smooth_cubics(into: Subpath, mirrored: complex | None, numbers: list[float], relative: bool) -> complex:
    points = _points(numbers)
    before = into.end if mirrored is None else mirrored
    for second, end in zip(points[::2], points[1::2], strict=True):
        origin = into.end if relative else 0j
        first, before = 2 * into.end - before, second + origin
        into.curve_to(first, before, end + origin)
    return before


def _quadratics(into: Subpath, _: complex | None, numbers: list[float], relative: bool) -> complex:
    points = _points(numbers)
    control = into.end
    for control, end in zip(points[::2], points[1::2], strict=True):
        origin = into.end if relative else 0j
        control += origin
        into.quadratic_to(control, end + origin)
    return control


def _smooth_quadratics(into: Subpath, mirrored: complex | None, numbers: list[float], relative: bool) -> complex:
    control = into.end if mirrored is None else mirrored
    for end in _points(numbers):
        control = 2 * into.end - control
        into.quadratic_to(control, end + into.end if relative else end)
    return control


def _arcs(into: Subpath, _: complex | None, numbers: list[float], relative: bool) -> complex:
    for i in range(0, len(numbers), 7):
        rx, ry, turn, large, sweep, x, y = numbers[i : i + 7]
        into.arc_to(rx, ry, turn, large != 0, sweep != 0, complex(x, y) + (into.end if relative else 0))
    return into.end


_DRAW: Final[dict[str, _Draw]] = {
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
