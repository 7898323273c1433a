"""What the lines of a written file cut, where its paths are compensated or run on past their start.

Terminology
    holder path     a line of the file that the holder follows; what is cut is the path of the tip behind it
    drawn line      a line of the file that a pen draws; nothing trails
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from clothpath.contracts import Declared
from clothpath.curves import Box, Outline, Path
from clothpath.cutplan import CutSheet
from clothpath.cutting.blade import FOLLOWED_MM, followed

__all__ = ["allowed"]

DRAWN_MM: Final = 0.1
"""A line whose box agrees this well with a marking's is that marking: a compensated path is off by more at its ends."""


def allowed(sheet: CutSheet, declared: Declared, budget_mm: float) -> tuple[float, Callable[[Path], Path] | None]:
    """How far a line of the file may be off, in mm, and what it cuts or draws; None where that is the line itself."""
    offset, overcut = declared.blade_offset or 0.0, declared.overcut or 0.0
    if not offset and not overcut:
        return budget_mm, None
    marks = [cut.outline for cut in sheet.cuts if cut.kind == "mark"]

    def tip(line: Path) -> Path:
        drawn = any(_same_place(line, mark) for mark in marks)
        return line if drawn else followed(line, offset, overcut)

    return (max(budget_mm, FOLLOWED_MM) if offset else budget_mm), tip


def _same_place(line: Path, mark: Path) -> bool:
    if isinstance(line, Outline) is not isinstance(mark, Outline):
        return False
    ends = {line.start, line.end}
    close = all(min(abs(end - other) for other in (mark.start, mark.end)) < DRAWN_MM for end in ends)
    return close and _apart(line.box, mark.box) < DRAWN_MM


def _apart(a: Box, b: Box) -> float:
    return max(abs(a.left - b.left), abs(a.bottom - b.bottom), abs(a.right - b.right), abs(a.top - b.top))
