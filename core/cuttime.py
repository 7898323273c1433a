"""How much a machine has to do for its cuts, and how long that takes at the speeds that somebody stated.

Terminology
    work        the way cut, the way drawn, the way moved in between, and how often the tool comes down
    speeds      what a machine profile states of a machine; what it does not state is not made up
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from clothpath.curves import length
from clothpath.cutorder import HOME
from clothpath.cutplan import Cut

__all__ = ["Speeds", "Work", "seconds", "work_of"]


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


@dataclass(frozen=True, slots=True)
class Speeds:
    """A machine's speeds; None: nobody stated it.

    Attributes:
        cutting, moving: in mm a second, with the tool down and up.
        lift: seconds to lower the tool and lift it again.
    """

    cutting: float | None = None
    moving: float | None = None
    lift: float | None = None


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


def seconds(work: Work, speeds: Speeds) -> float | None:
    """How long the work takes, at even speed: a machine that slows down at corners takes longer.

    None if the cutting speed is not stated; a moving speed or a lift that is not stated counts nothing.
    """
    if not speeds.cutting:
        return None
    moving = work.moved_mm / speeds.moving if speeds.moving else 0.0
    return (work.cut_mm + work.drawn_mm) / speeds.cutting + moving + work.lifts * (speeds.lift or 0.0)
