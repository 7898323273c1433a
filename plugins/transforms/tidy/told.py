"""What was tidied, as findings with their places."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import cached_property
from typing import Final, TypeAlias

from clothpath.curves import Path, box_of
from clothpath.design import Design, Marking, Piece
from clothpath.findings import Finding, first_few
from clothpath.picture.spots import place_words

__all__ = ["Tell", "Told"]

TOLD: Final = 12
"""Findings of one code that are told one by one; the rest is counted."""

Tell: TypeAlias = Callable[[str, str, str, str], Finding]


PLACES: Final = 4
"""So many places of one finding are named; the rest is counted."""


class Told:
    """What was done, as findings, each said once with its places, which count from the drawing's lower left corner."""

    def __init__(self, design: Design) -> None:
        self._design = design
        self._found: dict[str, dict[tuple[Finding, str], list[str]]] = defaultdict(lambda: defaultdict(list))

    @cached_property
    def _corner(self) -> complex:
        paths: list[Path] = [ring for piece in self._design.pieces for ring in piece.region]
        box = box_of([*paths, *(marking.path for marking in self._design.markings)])
        return complex(box.left, box.bottom)

    def add(self, tell: Tell, code: str, message: str, of: Piece | Marking, at: complex, hint: str = "") -> None:
        name = of.drawn.where or of.label or of.id
        self._found[code][tell(code, message, "", hint), name].append(place_words(at - self._corner))

    def findings(self) -> tuple[Finding, ...]:
        told: list[Finding] = []
        for code, found in self._found.items():
            said = [replace(finding, where=f"{name}, {_listed(places)}") for (finding, name), places in found.items()]
            told += said[:TOLD]
            if len(said) > TOLD:
                told.append(
                    replace(said[0], message=f"{len(said) - TOLD} more of the same ({code}).", where="", hint="")
                )
        return tuple(told)


def _listed(places: Sequence[str]) -> str:
    if len(places) == 1:
        return f"{places[0]} of the drawing"
    return f"at {len(places)} places of the drawing: {'; '.join(first_few(places, PLACES))}"
