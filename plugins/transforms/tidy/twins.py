"""What is drawn twice is taken once.

Terminology
    twin        an outline that runs along another one all the way round
"""

from __future__ import annotations

from collections.abc import Sequence

from clothpath.areas.twins import near_in_box, same_line, same_region
from clothpath.design import Marking, Piece
from clothpath.findings import note, warning
from clothpath.fitting.pruning import BARE_MM
from clothpath.plugins.transforms.tidy.told import Told

__all__ = ["without_repeats", "without_twins"]


def without_twins(pieces: Sequence[Piece], same: float, told: Told) -> list[Piece]:
    """Of two pieces with one and the same outline, the one that is filled, else the first."""
    dropped: set[int] = set()
    for i, near in enumerate(near_in_box(pieces, lambda piece: piece.region.outer, same)):
        piece = pieces[i]
        for j in near:
            first = pieces[j]
            if i in dropped or j in dropped or piece.role != first.role:
                continue
            if not same_region(first.region, piece.region, same):
                continue
            at = piece.region.outer.start
            if piece.fabric == first.fabric or (piece.drawn.fill is None) != (first.drawn.fill is None):
                lined = j if first.drawn.fill is None and piece.drawn.fill is not None else i
                dropped.add(lined)
                told.add(note, "outline-drawn-twice", "An outline was drawn twice; it is cut once.", pieces[lined], at)
            else:
                message = f'The piece lies exactly on the piece "{first.label or first.id}" of another fabric.'
                told.add(warning, "piece-on-piece", message, piece, at, "Leave one of them out if that is not meant.")
    return [piece for i, piece in enumerate(pieces) if i not in dropped]


def without_repeats(markings: Sequence[Marking], same: float, told: Told) -> list[Marking]:
    """Markings that have a length, each once."""
    long: list[Marking] = []
    for marking in markings:
        box = marking.path.box
        if max(box.width, box.height) > BARE_MM:
            long.append(marking)
        else:
            told.add(note, "line-without-length", "A line without length was dropped.", marking, marking.path.start)
    once: dict[int, None] = {}
    for i, near in enumerate(near_in_box(long, lambda marking: marking.path, same)):
        if any(j in once and _repeats(long[i], long[j], same) for j in near):
            message = "A marking was drawn twice; once is enough."
            told.add(note, "line-drawn-twice", message, long[i], long[i].path.start)
        else:
            once[i] = None
    return [long[i] for i in once]


def _repeats(one: Marking, other: Marking, same: float) -> bool:
    alike = (one.role, one.on, one.drawn.layer) == (other.role, other.on, other.drawn.layer)
    return alike and same_line(one.path, other.path, same)
