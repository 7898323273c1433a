"""What was tidied, as findings with their places."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable
from dataclasses import replace
from functools import cached_property
from typing import Final, TypeAlias

from clothpath.curves import Path, box_of
from clothpath.design import Design, Marking, Piece
from clothpath.findings import Finding

__all__ = ["Tell", "Told"]

TOLD: Final = 12
"""Findings of one code that are told one by one; the rest is counted."""

Tell: TypeAlias = Callable[[str, str, str, str], Finding]


class Told:
    """What was done, as findings; places count from the picture's lower left corner."""

    def __init__(self, design: Design) -> None:
        self._design = design
        self._found: dict[str, list[Finding]] = defaultdict(list)

    @cached_property
    def _corner(self) -> complex:
        paths: list[Path] = [ring for piece in self._design.pieces for ring in piece.region]
        box = box_of([*paths, *(marking.path for marking in self._design.markings)])
        return complex(box.left, box.bottom)

    def add(self, tell: Tell, code: str, message: str, of: Piece | Marking, at: complex, hint: str = "") -> None:
        from_corner = at - self._corner
        place = f"{from_corner.real:.1f} mm from the left, {from_corner.imag:.1f} mm from the bottom"
        name = of.drawn.where or of.label or of.id
        self._found[code].append(tell(code, message, f"{name}, {place}", hint))

    def findings(self) -> tuple[Finding, ...]:
        told: list[Finding] = []
        for code, found in self._found.items():
            told += found[:TOLD]
            if len(found) > TOLD:
                told.append(
                    replace(found[0], message=f"{len(found) - TOLD} more of the same ({code}).", where="", hint="")
                )
        return tuple(told)
