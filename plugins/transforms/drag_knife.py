"""The step `drag-knife`: give each cut the path that the blade's holder must follow, for machines that do not do it.

A drag knife's tip trails behind the axis that the machine moves, so corners come out round unless somebody allows for
it. Some machines do, some leave it to the file; the machine profile says which (`[blade] compensated-by`). The offset
is 0.175 to 1 mm and the overcut 0.5 to 1 mm (common practice). A second pass helps with cloth (common practice).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Annotated, Final, Literal

from pydantic import Field

from clothpath.contracts import Millimeters, Settings, Transform, hookimpl
from clothpath.curves import Outline
from clothpath.cutplan import Blade, Cut, CutPlan, MatCuts
from clothpath.cutting.holder import written
from clothpath.cutting.starts import Start, restarted, starts, straightest
from clothpath.findings import Outcome

__all__ = ["DragKnife", "DragKnifeSettings"]

SAME_PLACE_MM: Final = 1e-6
"""Two points nearer than this are one."""


class DragKnifeSettings(Settings):
    """What the file does for the blade, besides what the machine profile says."""

    passes: int | None = Field(
        None,
        ge=1,
        le=9,
        description="how often each outline is cut; a second pass helps with cloth; default: the machine profile's",
    )
    overcut: Annotated[Millimeters, Field(ge=0)] | None = Field(
        None,
        description="how far each cut runs on past its start; over what the profile says, and written into the file "
        "even where the machine allows for the offset",
    )


class DragKnife:
    """Compensates for the offset of a drag knife, overcuts, and asks for further passes."""

    name = "drag-knife"
    summary = "Paths for a trailing blade: swivels at corners, an overcut past the start, a second pass if asked"
    stage: Literal["path"] = "path"
    settings = DragKnifeSettings

    def apply(self, plan: CutPlan, settings: DragKnifeSettings, blade: Blade) -> Outcome[CutPlan]:
        """The same cuts with the paths that the file must carry; markings stay as they are, and so does everything
        where the machine allows for the blade and nothing is asked for."""
        by_file = blade.compensated_by == "file"
        offset = blade.offset if by_file else 0.0
        overcut = settings.overcut if settings.overcut is not None else blade.overcut if by_file else 0.0
        if settings.overcut is not None:
            plan = replace(plan, blade=replace(blade, overcut=overcut))
        if offset == 0 and overcut == 0 and settings.passes is None:
            return Outcome(plan)
        mats = tuple(MatCuts(_knifed(mat.cuts, offset, overcut, settings.passes)) for mat in plan.mats)
        return Outcome(replace(plan, mats=mats))


def _knifed(cuts: Sequence[Cut], offset: float, overcut: float, passes: int | None) -> tuple[Cut, ...]:
    """The cuts with the paths that the file must carry, each begun on a straight if its path runs past its start."""
    outlines = [cut.outline for cut in cuts if cut.kind == "cut" and isinstance(cut.outline, Outline)]
    if offset > 0 or overcut > 0:
        outlines = [_on_straight(*pair) for pair in zip(outlines, starts(outlines), strict=True)]
    begun = iter(outlines)
    made: list[Cut] = []
    for cut in cuts:
        if cut.kind == "cut" and isinstance(cut.outline, Outline):
            ring = next(begun)
            cut = replace(cut, outline=ring, path=written(ring, offset, overcut), passes=passes or cut.passes)
        made.append(cut)
    return tuple(made)


def _on_straight(ring: Outline, offered: Sequence[Start]) -> Outline:
    if any(abs(start.point - ring.start) < SAME_PLACE_MM for start in offered):
        return ring
    return restarted(ring, straightest(offered))


@hookimpl
def clothpath_transforms() -> Sequence[Transform]:
    return [DragKnife()]
