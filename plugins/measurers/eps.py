"""Measures EPS files: the paths that are stroked or filled, by running the operators that drawings are made of.

Terminology
    operand     a number, string or array that waits on the stack for its operator
    current path  the subpaths since newpath; painting makes lines of them
    bounding box  what %%HiResBoundingBox (else %%BoundingBox) states; the mat, whose lower left corner is the origin

Followed are the path and painting operators, gsave and grestore, and the coordinate operators. Operators that change
color, width or dashes are passed over. A file that uses any other is refused: it may be damaged, or a program of its
own that this interpreter does not run.

Sources: PostScript Language Reference (3rd ed.), 3.2 syntax, 4.3 coordinates, 4.4 paths, 8.2 operators; Document
Structuring Conventions 3.0 and Encapsulated PostScript File Format Specification 3.0.
"""

from __future__ import annotations

import cmath
import math
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import Final

from clothpath.contracts import Declared, Measured, Measurement, Measurer, hookimpl
from clothpath.curves import Affine, Curve, arc_segments
from clothpath.findings import Outcome, Refusal, error
from clothpath.proving.measuring import as_found, reading

__all__ = ["EpsMeasurer"]

POINT_MM: Final = 25.4 / 72
PASSED_OVER: Final = {
    "setlinewidth": 1, "setlinejoin": 1, "setlinecap": 1, "setmiterlimit": 1, "setflat": 1, "setgray": 1,
    "setrgbcolor": 3, "sethsbcolor": 3, "setcmykcolor": 4, "setdash": 2, "showpage": 0,
}  # fmt: skip
"""Operators that move and paint nothing, and how many operands they take."""
_TOKEN: Final = re.compile(
    r"\s*(?:(?P<comment>%[^\r\n]*)|(?P<string>\((?:[^()\\]|\\.)*\))|(?P<array>\[[^\[\]]*\])"
    r"|(?P<number>[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)(?![^\s%()\[\]{}<>/])|(?P<name>[^\s%()\[\]{}<>/]+))",
    re.DOTALL,
)
_BOX: Final = re.compile(
    rb"^%%(HiRes)?BoundingBox:[ \t]*([-+.\d]+)[ \t]+([-+.\d]+)[ \t]+([-+.\d]+)[ \t]+([-+.\d]+)", re.M
)


class EpsMeasurer:
    """Reads the painted paths back from an EPS file."""

    name = "eps"
    budget_mm = 0.01

    def measure(self, data: bytes, declared: Declared) -> Outcome[Measurement]:
        """The lines in `data`, in mm from the lower left corner of the bounding box.

        Raises:
            Refusal: not EPS, cut short, without a bounding box, or with operators that are not followed.
        """
        if not data.startswith(b"%!PS-Adobe"):
            raise Refusal(error("wrong-format", "The file is no EPS: it does not begin with %!PS-Adobe."))
        if not data.rstrip().endswith(b"%%EOF"):
            message = "The EPS file does not end with %%EOF; it is cut short."
            raise Refusal(error("damaged-file", message, f"byte {len(data)}", "Write the file again."))
        left, bottom, right, top = _bounding_box(data)
        to_mm = Affine.scale(POINT_MM) @ Affine.shift(-complex(left, bottom))
        with reading("EPS"):
            lines = tuple(_Interpreter(data.decode("latin-1"), to_mm).lines())
        return Outcome(Measurement("pt", ((right - left) * POINT_MM, (top - bottom) * POINT_MM), lines))


def _bounding_box(data: bytes) -> tuple[float, float, float, float]:
    found = {match[1]: match for match in _BOX.finditer(data)}
    match = found.get(b"HiRes") or found.get(None)
    if match is None:
        raise Refusal(
            error("no-size", "The EPS file states no bounding box.", "%%BoundingBox", "Write the file again.")
        )
    try:
        left, bottom, right, top = (float(match[n]) for n in range(2, 6))
    except ValueError:
        raise Refusal(error("damaged-file", "The bounding box is not four numbers.", "%%BoundingBox")) from None
    if not (right > left and top > bottom):
        raise Refusal(error("no-size", "The bounding box of the EPS file is empty.", "%%BoundingBox"))
    return left, bottom, right, top


@dataclass(slots=True)
class _Subpath:
    start: complex
    curves: list[Curve] = field(default_factory=list)
    closed: bool = False

    @property
    def end(self) -> complex:
        return self.start if self.closed or not self.curves else self.curves[-1][-1]


@dataclass(frozen=True, slots=True)
class _State:
    """What gsave keeps: the map to mm and the current path (in mm)."""

    to_mm: Affine
    subpaths: tuple[_Subpath, ...] = ()


class _Interpreter:
    """One run over the program; paths are kept in mm, since the coordinates may change while they grow."""

    def __init__(self, text: str, to_mm: Affine) -> None:
        self.text = text
        self.at = 0
        self.to_mm = to_mm
        self.path: list[_Subpath] = []
        self.kept: list[_State] = []
        self.stack: list[float | str] = []
        self.operators: dict[str, Callable[[], None]] = {
            "newpath": self.path.clear, "moveto": self.moveto, "rmoveto": self.rmoveto, "lineto": self.lineto,
            "rlineto": self.rlineto, "curveto": self.curveto, "rcurveto": self.rcurveto, "closepath": self.closepath,
            "arc": lambda: self.arc(1), "arcn": lambda: self.arc(-1), "gsave": self.gsave, "grestore": self.grestore,
            "translate": self.translate, "scale": self.scale, "rotate": self.rotate, "concat": self.concat,
        }  # fmt: skip

    def lines(self) -> Iterator[Measured]:
        text = self.text.rstrip()
        while self.at < len(text):
            match = _TOKEN.match(text, self.at)
            if match is None:
                raise self.fault("has something that this interpreter does not run")
            kind, token, begun = match.lastgroup, match[match.lastgroup or 0], self.at
            self.at = match.end()
            if kind == "number":
                self.stack.append(float(token))
            elif kind in ("string", "array"):
                self.stack.append(token)
            elif kind == "name":
                if token in ("stroke", "fill", "eofill"):
                    yield from self.painted()
                elif token in self.operators:
                    self.operators[token]()
                elif token in PASSED_OVER:
                    self.operands(PASSED_OVER[token])
                else:
                    self.at = begun
                    raise self.fault(f'uses "{token}", which is not followed here')
        if any(subpath.curves for subpath in self.path):
            raise self.fault("ends in a path that is never painted; it may be cut short")

    def painted(self) -> Iterator[Measured]:
        for subpath in self.path:
            if subpath.curves:
                yield Measured(as_found(subpath.start, subpath.curves, subpath.closed))
        self.path.clear()

    def operands(self, count: int) -> list[float | str]:
        if len(self.stack) < count:
            raise self.fault("has an operator with too few operands")
        taken = self.stack[len(self.stack) - count :]
        del self.stack[len(self.stack) - count :]
        return taken

    def numbers(self, count: int) -> list[float]:
        taken = self.operands(count)
        if not all(isinstance(value, float) for value in taken):
            raise self.fault("has an operator whose operands are no numbers")
        return [float(value) for value in taken]

    def points(self, count: int, relative: bool) -> list[complex]:
        """Operands as points in mm; relative ones count from the current point."""
        values = self.numbers(2 * count)
        plain = [complex(x, y) for x, y in zip(values[::2], values[1::2], strict=True)]
        if not relative:
            return [self.to_mm.apply(point) for point in plain]
        origin = self.to_mm.apply(0j)
        return [self.here() + self.to_mm.apply(point) - origin for point in plain]

    def here(self) -> complex:
        if not self.path:
            raise self.fault("draws before the first moveto")
        return self.path[-1].end

    def growing(self) -> _Subpath:
        """The subpath that a drawing operator adds to."""
        if self.here() is not None and self.path[-1].closed:
            self.path.append(_Subpath(self.path[-1].start))
        return self.path[-1]

    def moveto(self) -> None:
        self.path.append(_Subpath(self.points(1, False)[0]))

    def rmoveto(self) -> None:
        self.path.append(_Subpath(self.points(1, True)[0]))

    def lineto(self) -> None:
        (end,) = self.points(1, False)
        self.growing().curves.append((end,))

    def rlineto(self) -> None:
        (end,) = self.points(1, True)
        self.growing().curves.append((end,))

    def curveto(self) -> None:
        first, second, end = self.points(3, False)
        self.growing().curves.append((first, second, end))

    def rcurveto(self) -> None:
        first, second, end = self.points(3, True)
        self.growing().curves.append((first, second, end))

    def closepath(self) -> None:
        if self.path:
            self.path[-1].closed = True

    def arc(self, sense: int) -> None:
        """arc runs counterclockwise, arcn clockwise; a line leads to its start from the current point."""
        x, y, radius, first, last = self.numbers(5)
        sweep = math.radians((last - first) * sense % 360 or (360 if last != first else 0)) * sense
        center, u, v = complex(x, y), complex(radius), complex(0, radius)
        start = self.to_mm.apply(center + radius * cmath.exp(1j * math.radians(first)))
        mapped = [self.to_mm.apply(point) for point in (center, center + u, center + v)]
        if not self.path:
            self.path.append(_Subpath(start))
        elif self.growing().end != start:
            self.path[-1].curves.append((start,))
        arms = mapped[1] - mapped[0], mapped[2] - mapped[0]
        self.path[-1].curves += arc_segments(mapped[0], *arms, math.radians(first), sweep)

    def gsave(self) -> None:
        kept = tuple(_Subpath(each.start, list(each.curves), each.closed) for each in self.path)
        self.kept.append(_State(self.to_mm, kept))

    def grestore(self) -> None:
        if not self.kept:
            raise self.fault("has a grestore without its gsave")
        state = self.kept.pop()
        self.to_mm = state.to_mm
        self.path[:] = state.subpaths

    def translate(self) -> None:
        self.to_mm = self.to_mm @ Affine.shift(complex(*self.numbers(2)))

    def scale(self) -> None:
        self.to_mm = self.to_mm @ Affine.scale(*self.numbers(2))

    def rotate(self) -> None:
        self.to_mm = self.to_mm @ Affine.turn(self.numbers(1)[0])

    def concat(self) -> None:
        (array,) = self.operands(1)
        try:
            values = [float(value) for value in str(array).strip("[]").split()]
        except ValueError:
            values = []
        if len(values) != 6:
            raise self.fault("has a matrix that is not six numbers")
        self.to_mm = self.to_mm @ Affine(*values)

    def fault(self, what: str) -> Refusal:
        at = self.at + len(self.text[self.at :]) - len(self.text[self.at :].lstrip())
        line = self.text.count("\n", 0, at) + 1
        return Refusal(error("damaged-file", f"The EPS file {what}.", f"line {line}", "Write the file again."))


@hookimpl
def clothpath_measurers() -> list[Measurer]:
    return [EpsMeasurer()]
