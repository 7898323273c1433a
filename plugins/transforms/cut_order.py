"""The step `cut-order`: put the cuts of each mat in an order in which nothing shifts and the head travels little."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from clothpath.contracts import Settings, Transform, hookimpl
from clothpath.cutplan import Blade, CutPlan
from clothpath.cutting.cutorder import in_order
from clothpath.findings import Outcome

__all__ = ["CutOrder"]


class CutOrder:
    """Orders the cuts and begins each on a straight."""

    name = "cut-order"
    summary = "Cut holes before their outlines, swatch by swatch, with little travel, each begun on a straight"
    stage: Literal["path"] = "path"
    settings = Settings

    def apply(self, plan: CutPlan, settings: Settings, blade: Blade) -> Outcome[CutPlan]:
        """The same cuts in order."""
        return Outcome(in_order(plan))


@hookimpl
def clothpath_transforms() -> Sequence[Transform]:
    return [CutOrder()]
