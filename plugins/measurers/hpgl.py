"""Measures HP-GL files: what the pen draws while it is down, by following the commands.

Terminology
    plotter unit    0.025 mm, 1016 to the inch, unless SC gives the frame of IP another measure
    pen             a number; here it stands for a fabric
    line            what is drawn from one pen down to the next pen up or pen change

Followed are IN, DF, SP, PU, PD, PA, PR, IP, SC, AA, AR, CI, LB (skipped to its end mark) and PS (the page). Commands
that move nothing (VS, FS, AS, PG, ...) are passed over; one that nobody knows is an error, since it may be damage.

Source: HP-GL reference (plotter unit 0.025 mm; IN, SP, PU, PD, PA, PR, IP, SC, AA, AR, CI, LB, DT, PS).
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
from clothpath.findings import Outcome, Refusal, error
from clothpath.proving.measuring import as_found, on_the_mat, reading

__all__ = ["HpglMeasurer"]

UNIT_MM: Final = 0.025
SILENT: Final = re.compile(
    "A[CDS]|BL|C[AFOPSV]|D[IRV]|E[CS]|F[ST]|GM|I[MW]|L[AOT]|M[CG]|N[PR]|O[AEHPS]|P[CGMPTW]|R[AOPRT]|S[ABDILMRSTUV]|"
    "T[DLR]|U[CL]|VS|WU|XT|YT"
)
"""Commands that draw nothing, or nothing of their own."""
_COMMAND: Final = re.compile(rb"\s*([A-Za-z]{2})")
_ESCAPE: Final = re.compile(rb"\x1b(?:\.[@-Z()][\d;]*:?|%-?\d+[A-Z]|E)")
_PARAMETERS: Final = re.compile(rb"[\s,+\-.\d]*")


@dataclass(slots=True)
class _Pen:
    """Where the pen stands and what it has drawn since it was lowered."""

    at: complex = 0j
    number: str = ""
    down: bool = False
    absolute: bool = True
    start: complex = 0j
    curves: list[Curve] = field(default_factory=list)

    def taken_up(self) -> Iterator[Measured]:
        """The line that ends here, if one was drawn."""
        if self.curves:
            yield Measured(as_found(self.start, self.curves, False), f"pen {self.number}" if self.number else "")
        self.curves = []
        self.start = self.at

    def moved(self, to: complex) -> None:
        if self.down and to != self.at:
            self.curves.append((to,))
        elif not self.down:
            self.start = to
        self.at = to


class HpglMeasurer:
    """Reads the drawn lines back from an HP-GL file."""

    name = "hpgl"
    budget_mm = UNIT_MM

    def measure(self, data: bytes, declared: Declared) -> Outcome[Measurement]:
        """The lines in `data`, in mm.

        Raises:
            Refusal: not HP-GL, or broken off in the middle of a command.
        """
        interpreter = _Interpreter(data)
        with reading("HP-GL"):
            lines = on_the_mat(tuple(interpreter.lines()), declared)
        return Outcome(Measurement("plu", interpreter.page, lines.value), lines.findings)


class _Interpreter:
    """One run over the bytes."""

    def __init__(self, data: bytes) -> None:
        self.data = data
        self.offset = 0
        self.page: tuple[float, float] | None = None
        self.frame = [0.0, 0.0, 0.0, 0.0]
        self.to_mm = Affine.scale(UNIT_MM)
        self.label_end = b"\x03"

    def lines(self) -> Iterator[Measured]:
        pen = _Pen()
        known = False
        while self._skip_blank():
            command = self._command()
            if command == "LB":
                end = self.data.find(self.label_end, self.offset)
                if end < 0:
                    raise self._fault("has a label that does not end")
                self.offset = end + 1
                continue
            if command == "DT":
                self.label_end = self.data[self.offset : self.offset + 1] or b"\x03"
                self.offset += 1
                self._parameters()
                continue
            values = self._parameters()
            if command in ("IN", "DF"):
                known = True
                yield from self._lines_in_mm(pen)
                pen = _Pen(at=pen.at if command == "DF" else 0j, number=pen.number if command == "DF" else "")
                self.to_mm = Affine.scale(UNIT_MM)
            elif command == "SP":
                yield from self._lines_in_mm(pen)
                pen.number = f"{values[0]:.0f}" if values and values[0] else ""
            elif command in ("PU", "PD", "PA", "PR"):
                if command == "PU":
                    yield from self._lines_in_mm(pen)
                if command in ("PU", "PD"):
                    pen.down = command == "PD"
                else:
                    pen.absolute = command == "PA"
                self._walk(pen, values, command)
            elif command in ("AA", "AR", "CI"):
                if command == "CI":
                    yield from self._lines_in_mm(pen)
                self._arc(pen, values, command)
                if command == "CI":
                    yield from self._lines_in_mm(pen)
            elif command == "IP":
                self.frame = values if len(values) == 4 else self.frame
            elif command == "SC":
                self._scale(values)
            elif command == "PS":
                if values:
                    width = values[1] if len(values) > 1 else values[0]
                    self.page = (width * UNIT_MM, values[0] * UNIT_MM)
            elif not SILENT.fullmatch(command):
                raise self._fault(f'has a command "{command}" that HP-GL does not know')
        if not known:
            raise Refusal(
                error("wrong-format", "The file has no IN command, so it is no HP-GL or its start is missing.")
            )
        if pen.down and pen.curves:
            raise self._fault("ends with the pen still down; it may be cut short")
        yield from self._lines_in_mm(pen)

    def _lines_in_mm(self, pen: _Pen) -> Iterator[Measured]:
        for line in pen.taken_up():
            yield Measured(transformed(line.path, self.to_mm), line.group)

    def _walk(self, pen: _Pen, values: list[float], command: str) -> None:
        if len(values) % 2:
            raise self._fault(f"has an x without a y in {command}")
        for point in map(complex, values[::2], values[1::2]):
            pen.moved(point if pen.absolute else pen.at + point)

    def _arc(self, pen: _Pen, values: list[float], command: str) -> None:
        """AA and AR: about a center, over an angle; CI: a full circle about where the pen stands."""
        if len(values) < (1 if command == "CI" else 3):
            raise self._fault(f"has too few numbers in {command}")
        if command == "CI":
            center, radius = pen.at, abs(values[0])
            pen.start = center + radius
            pen.curves.extend(arc_segments(center, complex(radius), complex(0, radius), 0.0, 2 * math.pi))
            return
        center = complex(values[0], values[1]) + (pen.at if command == "AR" else 0j)
        arm = pen.at - center
        curves = arc_segments(center, arm, 1j * arm, 0.0, math.radians(values[2]))
        if pen.down:
            pen.curves.extend(curves)
        pen.at = center + arm * cmath.exp(1j * math.radians(values[2]))
        if pen.down:
            pen.at = curves[-1][-1]
        else:
            pen.start = pen.at

    def _scale(self, values: list[float]) -> None:
        """SC: user units from P1 to P2 of IP."""
        if not values:
            self.to_mm = Affine.scale(UNIT_MM)
            return
        if len(values) < 4 or values[0] == values[1] or values[2] == values[3]:
            raise self._fault("has a scale SC without extent")
        if self.frame[0] == self.frame[2] or self.frame[1] == self.frame[3]:
            raise self._fault("scales with SC before IP says between which points")
        left, bottom, right, top = self.frame
        sx, sy = (right - left) / (values[1] - values[0]), (top - bottom) / (values[3] - values[2])
        self.to_mm = Affine.scale(UNIT_MM) @ Affine(sx, 0, 0, sy, left - sx * values[0], bottom - sy * values[2])

    def _skip_blank(self) -> bool:
        while self.offset < len(self.data):
            escape = _ESCAPE.match(self.data, self.offset)
            if escape is not None:
                self.offset = escape.end()
            elif self.data[self.offset] in b" \t\r\n;":
                self.offset += 1
            else:
                return True
        return False

    def _command(self) -> str:
        match = _COMMAND.match(self.data, self.offset)
        if match is None:
            raise self._fault("has something that is no command")
        self.offset = match.end()
        return match[1].decode().upper()

    def _parameters(self) -> list[float]:
        match = _PARAMETERS.match(self.data, self.offset)
        text = match[0] if match else b""
        self.offset += len(text)
        if self.offset < len(self.data) and not (self.data[self.offset : self.offset + 1].isalpha()):
            if self.data[self.offset] not in b";\x1b":
                raise self._fault("has a character that belongs to no command")
        elif self.offset >= len(self.data) and text.strip():
            raise self._fault("ends in the middle of a command; it may be cut short")
        try:
            return list(map(float, text.replace(b",", b" ").split()))
        except ValueError:
            raise self._fault("has something among its coordinates that is no number") from None

    def _fault(self, what: str) -> Refusal:
        return Refusal(error("damaged-file", f"The HP-GL file {what}.", f"byte {self.offset}", "Write the file again."))


@hookimpl
def clothpath_measurers() -> list[Measurer]:
    return [HpglMeasurer()]
