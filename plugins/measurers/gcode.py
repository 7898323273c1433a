"""Measures G-code files: what the knife cuts while its tip is at or below the mat.

Terminology
    word        a letter and a number; block: the words of one line of the file
    modal       stays in force until another word of its group: G0 to G3, G20/G21, G90/G91, G90.1/G91.1
    down        z is 0, where the tip touches the mat, or less; in a file that never names z, every G1, G2 and G3 cuts
    line        what is cut from one lowering to the next lift; a knife that is lifted only to turn on the spot, with no
                word for x or y, goes on with the same line

Turning axes, feeds, tools, stops and comments move nothing in the plane. Codes that nobody named here are refused,
since they might.

Source: T. Kramer, F. Proctor, E. Messina, The NIST RS274/NGC Interpreter, Version 3 (NISTIR 6556, 2000): 3.3 blocks,
3.5.3 arcs by center and by radius, 3.5.5 plane, 3.5.6 length units.
"""

from __future__ import annotations

import cmath
import math
import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Final

from clothpath.contracts import Declared, Measured, Measurement, Measurer, hookimpl
from clothpath.curves import Affine, Curve, arc_segments, transformed
from clothpath.findings import Finding, Outcome, Refusal, error, note, warning
from clothpath.proving.measuring import as_found, on_the_mat, reading

__all__ = ["GcodeMeasurer"]

MM: Final = {20.0: 25.4, 21.0: 1.0}
SILENT_G: Final = frozenset((4.0, 17.0, 40.0, 49.0, 54.0, 61.0, 61.1, 64.0, 80.0, 90.0, 91.0, 90.1, 91.1, 94.0))
SILENT_M: Final = frozenset((0.0, 1.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0, 9.0))
ENDS: Final = (2.0, 30.0)
PLACES: Final = frozenset("XYZ")
ACROSS: Final = frozenset("XY")
CENTER: Final = frozenset("IJ")
"""The words of a block that say where it goes, where on the mat, and about which center."""
ROUND_MM: Final = 0.02
"""By how much the two ends of an arc may differ in their distance from its center."""
_WORD: Final = re.compile(r"([A-Z])([+-]?(?:\d+\.?\d*|\.\d+))")
_BLOCK: Final = re.compile(rf"(?:{_WORD.pattern})*")
_COMMENT: Final = re.compile(r"\([^()]*\)|;.*")


class GcodeMeasurer:
    """Reads the cuts back from a G-code file."""

    name = "gcode"
    budget_mm = 0.01

    def measure(self, data: bytes, declared: Declared) -> Outcome[Measurement]:
        """The lines in `data`, in mm.

        Raises:
            Refusal: not G-code, cut short, or with codes that are not followed.
        """
        runs_on = declared.blade_offset is not None or declared.overcut is not None
        program = _Program(data.decode("latin-1"), runs_on)
        with reading("G-code"):
            found = list(program.lines())
            findings: list[Finding] = []
            if not program.unit:
                mm = declared.mm_per_unit or 1.0
                found = [Measured(transformed(line.path, Affine.scale(mm))) for line in found]
                findings.append(_unit_finding(declared))
            lines = on_the_mat(found, declared)
        return Outcome(Measurement(program.unit, None, lines.value), (*findings, *lines.findings))


def _unit_finding(declared: Declared) -> Finding:
    says = "The file states neither G20 nor G21; measured"
    if declared.mm_per_unit is not None:
        return note("declared", f"{says} with {declared.mm_per_unit:.6g} mm to one, as declared.")
    return warning("unit-assumed", f"{says} as millimeters.")


@dataclass(slots=True)
class _Cut:
    """The line that is being cut."""

    start: complex = 0j
    curves: list[Curve] = field(default_factory=list)

    @property
    def closed(self) -> bool:
        return bool(self.curves) and self.curves[-1][-1] == self.start


class _Program:
    """One run over the blocks; lengths in mm where the file states a unit, else in its own.

    A line ends where it comes back to its start, unless lines run on past it.
    """

    def __init__(self, text: str, runs_on: bool) -> None:
        self.text = text
        self.runs_on = runs_on
        self.unit = ""
        self.block = 0
        self.at = 0j
        self.z: float | None = None
        self.motion: float | None = None
        self.absolute = True
        self.center_absolute = False
        self.scale = 1.0
        self.cut = _Cut()

    def lines(self) -> Iterator[Measured]:
        ended = begun = False
        for number, row in enumerate(self.text.splitlines(), start=1):
            self.block = number
            words = self.words(row)
            if ended and words:
                raise self.fault("goes on after its end")
            begun = begun or bool(words)
            yield from self.run(words)
            ended = ended or any(letter == "M" and value in ENDS for letter, value in words)
        if not begun:
            raise Refusal(error("wrong-format", "The file has no G-code words."))
        if not ended:
            raise self.fault("does not end with M2 or M30; it is cut short")
        yield from self.finished()

    def words(self, row: str) -> list[tuple[str, float]]:
        plain = _COMMENT.sub("", row) if "(" in row or ";" in row else row
        if "(" in plain or ")" in plain:
            raise self.fault("has a comment that does not end")
        plain = "".join(plain.upper().split()).strip("%").removeprefix("/")
        if _BLOCK.fullmatch(plain) is None:
            raise self.fault(f'has "{row.strip()[:40]}", which is no block of words')
        return [(letter, float(number)) for letter, number in _WORD.findall(plain)]

    def run(self, words: list[tuple[str, float]]) -> Iterator[Measured]:
        """One block."""
        values: dict[str, float] = {}
        for letter, value in words:
            if letter == "G":
                self.mode(value)
            elif letter == "M":
                if value not in SILENT_M and value not in ENDS:
                    raise self.fault(f"has M{value:g}, which is not followed here")
            else:
                values[letter] = value
        if PLACES.isdisjoint(values):
            return
        if self.motion is None:
            raise self.fault("moves before it says how (G0 to G3)")
        if "Z" in values:
            z = values["Z"] * self.scale
            self.z = z if self.absolute or self.z is None else self.z + z
        if ACROSS.isdisjoint(values):
            return
        to = self.target(values)
        if self.motion == 0 or (self.z is not None and self.z > 0):
            yield from self.finished()
            self.at = to
            return
        if self.cut.closed and not self.runs_on:
            yield from self.finished()
        if not self.cut.curves:
            self.cut = _Cut(self.at)
        if self.motion == 1:
            if to != self.at:
                self.cut.curves.append((to,))
        else:
            self.cut.curves.extend(self.arc(to, values))
        self.at = to

    def mode(self, code: float) -> None:
        if code in (0.0, 1.0, 2.0, 3.0):
            self.motion = code
        elif code in MM:
            unit = "in" if code == 20 else "mm"
            if self.unit not in ("", unit):
                raise self.fault("changes its unit on the way")
            self.unit, self.scale = unit, MM[code]
        elif code not in SILENT_G:
            raise self.fault(f"has G{code:g}, which is not followed here")
        elif code in (90.0, 91.0):
            self.absolute = code == 90
        elif code in (90.1, 91.1):
            self.center_absolute = code == 90.1

    def target(self, values: dict[str, float]) -> complex:
        if self.absolute:
            x = values["X"] * self.scale if "X" in values else self.at.real
            y = values["Y"] * self.scale if "Y" in values else self.at.imag
            return complex(x, y)
        return self.at + complex(values.get("X", 0.0), values.get("Y", 0.0)) * self.scale

    def arc(self, to: complex, values: dict[str, float]) -> list[Curve]:
        """G2 runs clockwise, G3 counterclockwise, from here to there about the center or with the radius."""
        left = self.motion == 3
        if not CENTER.isdisjoint(values):
            center = complex(values.get("I", 0.0), values.get("J", 0.0)) * self.scale
            center = center if self.center_absolute else center + self.at
        elif "R" in values and to != self.at:
            center = self.center_of(to, values["R"] * self.scale, left)
        else:
            raise self.fault("has an arc without a center or a radius")
        arm, end = self.at - center, to - center
        if abs(arm) == 0 or abs(abs(arm) - abs(end)) > ROUND_MM:
            raise self.fault("has an arc whose ends are not at one distance from its center")
        sweep = cmath.phase(end / arm) % (2 * math.pi)
        sweep = sweep or 2 * math.pi
        if not left:
            sweep = sweep - 2 * math.pi if sweep < 2 * math.pi else -2 * math.pi
        curves = arc_segments(center, arm, 1j * arm, 0.0, sweep)
        last = curves[-1]
        return [*curves[:-1], (to,) if len(last) == 1 else (last[0], last[1], to)]

    def center_of(self, to: complex, radius: float, left: bool) -> complex:
        """A positive radius means the arc of at most half a circle, a negative one the longer arc."""
        half = (to - self.at) / 2
        rest = radius * radius - abs(half) ** 2
        if rest < -ROUND_MM * abs(radius):
            raise self.fault("has an arc whose radius is too small for its ends")
        side = 1j * half / abs(half) * math.sqrt(max(rest, 0.0))
        return (self.at + to) / 2 + (side if left == (radius > 0) else -side)

    def finished(self) -> Iterator[Measured]:
        """The line that ends here, if one was cut."""
        if self.cut.curves:
            yield Measured(as_found(self.cut.start, self.cut.curves, self.cut.closed))
        self.cut = _Cut(self.at)

    def fault(self, what: str) -> Refusal:
        return Refusal(error("damaged-file", f"The G-code file {what}.", f"line {self.block}", "Write the file again."))


@hookimpl
def clothpath_measurers() -> list[Measurer]:
    return [GcodeMeasurer()]
