"""The step `test-cut`: cut a small figure first on every mat, in a free corner, to see whether the blade is right.

It belongs before `drag-knife`, so that the figure is cut as everything else is. The layout keeps a corner free by
`nest.test-cut`; name the same corner here.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from pydantic import Field

from clothpath.contracts import Settings, Transform, hookimpl
from clothpath.cutplan import Blade, CutPlan
from clothpath.cutting.testcut import FREE_MM, Corner, with_test_cuts
from clothpath.findings import Outcome, warning

__all__ = ["TestCut", "TestCutSettings"]


class TestCutSettings(Settings):
    """Where the figure is cut."""

    corner: Corner | None = Field(None, description="of the usable area; left out: the first that is free")


class TestCut:
    """Adds a test cut to every mat."""

    name = "test-cut"
    summary = "Cut a small shell first, in a free corner of each mat, to try the blade"
    stage: Literal["path"] = "path"
    settings = TestCutSettings

    def apply(self, plan: CutPlan, settings: TestCutSettings, blade: Blade) -> Outcome[CutPlan]:
        """The plan with the figure cut first wherever a corner is free."""
        made, crowded = with_test_cuts(plan, settings.corner)
        if not crowded:
            return Outcome(made)
        which = f"mat {crowded[0]}" if len(crowded) == 1 else f"mats {', '.join(map(str, crowded))}"
        where = f"the {settings.corner} corner" if settings.corner else "no corner"
        message = f"On {which} {where} is {'not ' if settings.corner else ''}free for a test cut of {FREE_MM:g} mm."
        hint = 'Keep one free with nest.test-cut = "lower-right", and name the same corner here.'
        return Outcome(made, (warning("no-free-corner", message, "corner", hint),))


@hookimpl
def clothpath_transforms() -> Sequence[Transform]:
    return [TestCut()]
