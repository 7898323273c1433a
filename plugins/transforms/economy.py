"""The step `economy`: outlines with far more points than their shape needs get along with fewer.

Terminology
    point       a node of an outline: the end of a line or of a curve
    corner      a point at which the outline turns sharply; it stays where it is

A traced drawing can have a thousand points where twenty curves say the same. Fewer points cut more smoothly, and files
stay small.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Final, Literal

from pydantic import Field

from clothpath.contracts import Millimeters, Settings, Transform, hookimpl
from clothpath.design import Design
from clothpath.findings import Outcome, note
from clothpath.fitting.refit import BUDGET_MM, economized
from clothpath.regions import Region, region

__all__ = ["Economy", "EconomySettings"]


MANY: Final = 24
"""A piece with fewer points than this has few enough."""


class EconomySettings(Settings):
    """How far an outline may change, and what is worth it."""

    tolerance: Millimeters = Field(BUDGET_MM, gt=0, description="how far an outline may move at most")
    least: float = Field(0.6, ge=0, lt=1, description="share of an outline's points that must be saved to change it")


class Economy:
    """Outlines refitted with fewer curves."""

    name = "economy"
    summary = "Replace outlines with far too many points by a few curves"
    stage: Literal["design"] = "design"
    settings = EconomySettings

    def apply(self, design: Design, settings: EconomySettings) -> Outcome[Design]:
        """The design with spare outlines; pieces that are spare already come back as they were."""
        points = {piece.id: sum(map(len, piece.region)) for piece in design.cut_pieces}
        many = [piece for piece in design.cut_pieces if points[piece.id] >= MANY]
        few_enough = [int((1 - settings.least) * points[piece.id]) for piece in many for _ in piece.region]
        rings = [ring for piece in many for ring in piece.region]
        fewer = iter(economized(rings, settings.tolerance, few_enough))
        spared: dict[str, Region] = {}
        before = after = 0
        for piece in many:
            outer, *holes = (next(fewer) for _ in piece.region)
            old, new = points[piece.id], len(outer) + sum(map(len, holes))
            if new <= (1 - settings.least) * old:
                spared[piece.id] = region(outer, holes)
                before, after = before + old, after + new
        if not spared:
            return Outcome(design)
        pieces = tuple(
            replace(piece, region=spared[piece.id], picture=piece.picture) if piece.id in spared else piece
            for piece in design.pieces
        )
        count = "1 piece has" if len(spared) == 1 else f"{len(spared)} pieces have"
        message = f"{count} {after} points now instead of {before}; no outline moved by more than the tolerance."
        return Outcome(replace(design, pieces=pieces), (note("points-spared", message, design.name),))


@hookimpl
def clothpath_transforms() -> Sequence[Transform]:
    return [Economy()]
