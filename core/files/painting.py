"""Paths as the painting operators that PostScript and PDF share, under other names.

Terminology
    operators   what begins a line, goes on straight, goes on by a cubic Bézier, closes it and strokes it; each comes
                after its numbers

Sources: PostScript Language Reference (3rd ed.), 4.4; ISO 32000-1:2008, 8.5.2 and 8.5.3.
"""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np

from clothpath.curves import Affine, Outline, Path, cubics

__all__ = ["PDF", "POSTSCRIPT", "Operators", "stroked"]


class Operators(NamedTuple):
    """The names of the operators in one language; `close` where the path is closed, before `stroke`."""

    move: str
    line: str
    curve: str
    close: str
    stroke: str


POSTSCRIPT: Final = Operators("moveto", "lineto", "curveto", "closepath", "stroke")
PDF: Final = Operators("m", "l", "c", "h", "S")


def stroked(path: Path, onto: Affine, digits: int, words: Operators) -> str:
    """The path under a map, stroked; one operator a line, coordinates with so many decimals."""
    rows = (np.round(onto.apply_all(cubics(path)).view(np.float64), digits) + 0.0).tolist()
    parts = [f"{_spaced(rows[0][:2])} {words.move}\n"]
    closed = isinstance(path, Outline)
    for n, (row, straight) in enumerate(zip(rows, path.straight.tolist(), strict=True)):
        if not straight:
            parts.append(f"{_spaced(row[2:])} {words.curve}\n")
        elif not (closed and n == len(rows) - 1):
            parts.append(f"{_spaced(row[6:])} {words.line}\n")
    return "".join(parts) + (f"{words.close}\n{words.stroke}\n" if closed else f"{words.stroke}\n")


def _spaced(numbers: list[float]) -> str:
    return " ".join([str(number).removesuffix(".0") for number in numbers])
