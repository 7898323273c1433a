"""How much a machine has to do for its cuts, and how long that takes at the speeds that somebody stated.

Terminology
    work        the way cut, the way drawn, the way moved in between, and how often the tool comes down
    pace        the speed at which a fabric is cut, as the machine profile states it; what it does not state is not
                made up
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from clothpath.curves import length
from clothpath.cutplan import Cut, CutPlan
from clothpath.cutting.cutorder import HOME

__all__ = ["Work", "seconds", "work_of"]


@dataclass(frozen=True, slots=True)
class Work:
    """What a machine has to do.

    Attributes:
        cut_mm, drawn_mm: the way with the blade or the pen down, every pass counted.
        moved_mm: the way with the tool up, from where the head rests to the last line.
        lifts: how often the tool comes down and goes up again.
    """

    cut_mm: float
    drawn_mm: float
    moved_mm: float
    lifts: int


def work_of(cuts: Sequence[Cut], home: complex = HOME) -> Work:
    """What running these cuts in their order takes, the head coming from `home`."""
    cut = drawn = moved = 0.0
    lifts, at = 0, home
    for each in cuts:
        way = length(each.path) * each.passes
        cut, drawn = (cut + way, drawn) if each.kind == "cut" else (cut, drawn + way)
        back = abs(each.path.start - each.path.end)
        moved += abs(each.path.start - at) + back * (each.passes - 1)
        lifts += each.passes
        at = each.path.end
    return Work(cut, drawn, moved, lifts)


def seconds(plan: CutPlan, cuts: Sequence[Cut]) -> float | None:
    """How long these cuts of the plan take, at even speed: a machine that slows down at corners takes longer.

    None if a cutting speed that is needed is not stated; a moving speed or a lift that is not stated counts nothing.
    """
    took = 0.0
    for cut in cuts:
        pace = plan.pace(cut.ref.fabric) if cut.kind == "cut" else plan.speeds.cutting
        if pace is None:
            return None
        took += length(cut.path) * cut.passes / pace
    work, speeds = work_of(cuts), plan.speeds
    moving = work.moved_mm / speeds.moving if speeds.moving else 0.0
    return took + moving + work.lifts * (speeds.lift or 0.0)
