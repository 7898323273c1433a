"""The tidy step: a drawing as its maker meant it, without the accidents of drawing.

Terminology
    accident    what nobody drew on purpose: an open gap, a line drawn twice, a node on a straight line, a curl

Stands before `separate`: open lines are still markings by default then, and those that all but close become pieces.
Tidying twice is tidying once. What is not clear is reported and left as it is.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise
from typing import Literal

from pydantic import Field

from clothpath.contracts import Millimeters, Settings, Transform, hookimpl
from clothpath.curves import boxes
from clothpath.design import Design, Fabric, Marking, Piece
from clothpath.findings import Outcome
from clothpath.picture.fabrics import guessed
from clothpath.plugins.transforms.tidy.cleaning import cleaned, without_specks
from clothpath.plugins.transforms.tidy.closing import closed
from clothpath.plugins.transforms.tidy.leaks import tell_of_leaks
from clothpath.plugins.transforms.tidy.told import Told
from clothpath.plugins.transforms.tidy.twins import without_repeats, without_twins

__all__ = ["Tidy", "TidySettings", "clothpath_transforms"]


class TidySettings(Settings):
    """What counts as an accident."""

    gap: Millimeters = Field(0.5, description="widest gap between the ends of lines that is closed")
    smallest: Millimeters = Field(1.0, description="pieces and holes that are smaller than this both ways are dropped")
    same: Millimeters = Field(
        0.05, description="outlines that keep this near to each other all round are one, drawn twice"
    )


class Tidy:
    """Tidies pieces and markings."""

    name = "tidy"
    summary = "Close gaps, drop what is drawn twice or too small, mend outlines that cross themselves"
    stage: Literal["design"] = "design"
    settings = TidySettings

    def apply(self, design: Design, settings: TidySettings) -> Outcome[Design]:
        """The design, tidied; every change is a finding."""
        told = Told(design)
        markings = without_repeats(design.markings, settings.same, told)
        pieces, markings = closed(design.pieces, markings, settings.gap, told)
        pieces = cleaned(pieces, settings.smallest, told)
        boxes([ring for piece in pieces for ring in piece.region])
        pieces = [kept for piece in pieces if (kept := without_specks(piece, settings.smallest, told)) is not None]
        pieces = without_twins(pieces, settings.same, told)
        tell_of_leaks(pieces, markings, told)
        return Outcome(_renewed(design, pieces, markings), told.findings())


def _renewed(design: Design, pieces: Sequence[Piece], markings: Sequence[Marking]) -> Design:
    """The design with these pieces in their order, and the fabrics that they name."""
    if list(pieces) == list(design.pieces) and list(markings) == list(design.markings):
        return design
    ordered = _numbered(pieces)
    ids = {piece.id for piece in ordered}
    kept = tuple(m if m.on is None or m.on in ids else replace(m, on=None) for m in markings)
    known = {fabric.key: fabric for fabric in design.fabrics}
    guesses = {fabric.key: fabric for fabric in guessed(ordered)[1]}
    names = dict.fromkeys(piece.fabric for piece in ordered)
    fabrics = tuple(known.get(name) or guesses.get(name) or Fabric(name, name) for name in names)
    return replace(design, pieces=ordered, markings=kept, fabrics=fabrics)


def _numbered(pieces: Sequence[Piece]) -> tuple[Piece, ...]:
    """The pieces with unique ids, and with places in the layering order that rise."""
    taken: set[str] = set()
    named: list[Piece] = []
    for piece in pieces:
        name, number = piece.id, 1
        while name in taken:
            number += 1
            name = f"{piece.id}-{number}"
        taken.add(name)
        named.append(piece if name == piece.id else replace(piece, id=name))
    if all(before.order < after.order for before, after in pairwise(named)):
        return tuple(named)
    return tuple(replace(piece, order=order) for order, piece in enumerate(named, start=1))


@hookimpl
def clothpath_transforms() -> Sequence[Transform]:
    return [Tidy()]
