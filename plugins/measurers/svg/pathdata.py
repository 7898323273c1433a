"""Path data of SVG: the commands of the "d" attribute as subpaths of lines and cubics.

Terminology
    subpath     from one move to the next: a start, curves, and whether the file closes it
    hook        the last control point, which the smooth commands S and T mirror

Sources: SVG 1.1 (2nd ed.), 8.3 path data and its grammar, F.6 elliptical arcs.
"""

from __future__ import annotations

import cmath
import math
import re
from collections.abc import Iterator
from typing import Final, TypeAlias

from clothpath.curves import Curve, arc_segments
from clothpath.findings import Refusal, error

__all__ = ["NUMBER", "Subpath", "subpaths"]

NUMBER: Final = r"[+-]?+(?:\d++\.?+\d*+|\.\d++)(?:[eE][+-]?+\d++)?+"
"""As long as it can be, never cut in two to make up for a number that is missing."""
_TOKEN: Final = re.compile(rf"[\s,]*(?:([MmZzLlHhVvCcSsQqTtAa])|({NUMBER}))")
_N: Final = rf"[\s,]*({NUMBER})"
_FLAG: Final = r"[\s,]*([01])"
_ARGUMENTS: Final = {
    kind: re.compile(parts)
    for kind, parts in {
        "M": _N * 2, "L": _N * 2, "H": _N, "V": _N, "C": _N * 6, "S": _N * 4, "Q": _N * 4, "T": _N * 2,
        "A": _N * 3 + _FLAG * 2 + _N * 2, "Z": "",
    }.items()
}  # fmt: skip
"""What follows a command, as often as it is repeated."""

Subpath: TypeAlias = tuple[complex, list[Curve], bool]


def subpaths(data: str, place: str) -> Iterator[Subpath]:
    """The subpaths of path data; those of no length are none.

    Raises:
        Refusal: the data breaks the grammar; the finding names the `place` and the character.
    """
    return _Walk(data, place).subpaths()


class _Walk:
    """One walk over a path's data (SVG 1.1, 8.3)."""

    def __init__(self, text: str, place: str) -> None:
        self.text, self.place = text, place
        self.at = 0

    def subpaths(self) -> Iterator[Subpath]:
        here = start = 0j
        hook = 0j  # the last control point, for the smooth commands
        last = command = ""
        curves: list[Curve] = []
        moved = False
        while (token := self._token()) is not None:
            if token[1]:
                command = token[1]
                if not moved and command not in "Mm":
                    raise self._fault("does not begin with a move")
            else:
                if command in ("", "Z", "z"):
                    raise self._fault("has a number where a command should be")
                self.at = token.start(2)
                command = {"M": "L", "m": "l"}.get(command, command)
            kind, base = command.upper(), here if command.islower() else 0j
            v = self._arguments(kind)
            if kind == "M":
                if curves:
                    yield start, curves, False
                curves, moved = [], True
                here = start = base + complex(v[0], v[1])
            elif kind == "Z":
                if curves:
                    yield start, curves, True
                curves, here = [], start
            else:
                if not curves:
                    start = here
                mirrored = 2 * here - hook if last in ("CS" if kind in "CS" else "QT") and last else here
                added, hook, here = self._curve(kind, v, base, here, mirrored)
                curves.extend(added)
            last = kind
        if curves:
            yield start, curves, False

    def _curve(
        self, kind: str, v: list[float], base: complex, here: complex, mirrored: complex
    ) -> tuple[list[Curve], complex, complex]:
        """What one command draws, its last control point, and where it ends."""
        if kind == "L":
            end = base + complex(v[0], v[1])
        elif kind == "H":
            end = complex(base.real + v[0], here.imag)
        elif kind == "V":
            end = complex(here.real, base.imag + v[0])
        elif kind in "CS":
            first = base + complex(v[0], v[1]) if kind == "C" else mirrored
            second, end = base + complex(v[-4], v[-3]), base + complex(v[-2], v[-1])
            return [(first, second, end)], second, end
        elif kind in "QT":
            control = base + complex(v[0], v[1]) if kind == "Q" else mirrored
            end = base + complex(v[-2], v[-1])
            return [(here + 2 / 3 * (control - here), end + 2 / 3 * (control - end), end)], control, end
        else:
            end = base + complex(v[5], v[6])
            return _arc(here, v, end), end, end
        return [(end,)] if end != here else [], end, end

    def _token(self) -> re.Match[str] | None:
        match = _TOKEN.match(self.text, self.at)
        if match is None:
            if self.text[self.at :].strip(" \t\r\n,"):
                raise self._fault("cannot be read")
            return None
        self.at = match.end()
        return match

    def _arguments(self, kind: str) -> list[float]:
        match = _ARGUMENTS[kind].match(self.text, self.at)
        if match is None:
            raise self._fault(f'breaks off in a "{kind}" command')
        self.at = match.end()
        return list(map(float, match.groups()))

    def _fault(self, what: str) -> Refusal:
        place = f"{self.place}, character {self.at + 1} of its path data"
        return Refusal(error("damaged-file", f"The path data {what}.", place, "Write the file again."))


def _arc(start: complex, v: list[float], end: complex) -> list[Curve]:
    """The elliptical arc of an "A" command as cubics (SVG 1.1, F.6.5 and F.6.6)."""
    rx, ry, large, sweep = abs(v[0]), abs(v[1]), bool(v[3]), bool(v[4])
    if start == end:
        return []
    if rx == 0 or ry == 0:
        return [(end,)]
    axis = cmath.exp(1j * math.radians(v[2]))
    half = (start - end) / 2 / axis
    x, y = half.real / rx, half.imag / ry
    reach = x * x + y * y
    if reach > 1:
        rx, ry = rx * math.sqrt(reach), ry * math.sqrt(reach)
        x, y, reach = x / math.sqrt(reach), y / math.sqrt(reach), 1.0
    root = math.sqrt(max(0.0, (1 - reach) / reach)) * (-1 if large == sweep else 1)
    cx, cy = root * y, -root * x
    center = complex(cx * rx, cy * ry) * axis + (start + end) / 2
    first = math.atan2(y - cy, x - cx)
    turn = math.atan2(-y - cy, -x - cx) - first
    if sweep and turn < 0:
        turn += 2 * math.pi
    elif not sweep and turn > 0:
        turn -= 2 * math.pi
    curves = arc_segments(center, rx * axis, 1j * ry * axis, first, turn)
    curves[-1] = (*curves[-1][:-1], end)
    return curves
