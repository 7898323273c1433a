"""Loose edges joined into loops, those too that end on or cross one another.

Terminology (more of it in `chains` and `touches`)
    touch       an end in the middle of another edge; it counts if an area closes there, else the end is a tail
    tangle      edges that lie on circles, but cross; their areas are found once they are split where they cross

Lines that merely cross and lie on no circle stay as they are: they may as well be markings. Where they do is told.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from clothpath.areas.chains import Joined, Run, joined
from clothpath.areas.touches import Split, crossings, split, touches
from clothpath.areas.webs import Edge
from clothpath.curves import AnyPath

__all__ = ["Resolved", "resolved"]


@dataclass(frozen=True, slots=True)
class Resolved:
    """What became of the edges.

    Attributes:
        made: loops and chains; an edge that was split counts for each of its parts.
        touched: ends in the middle of an edge at which areas close.
        crossed: where edges cross that were split there.
        crossing: where chains cross one another.
    """

    made: Joined
    touched: tuple[complex, ...] = ()
    crossed: tuple[complex, ...] = ()
    crossing: tuple[complex, ...] = ()


def resolved(edges: Sequence[Edge], gap: float, tick: Callable[[], None] = lambda: None) -> Resolved:
    """Loops and chains made of loose edges; gaps up to `gap` mm are closed, those between an end and a line too.

    Args:
        tick: called now and then; may raise to stop.
    """
    made = joined(edges, gap)
    tick()
    if not made.chains:
        return Resolved(made)
    found = touches(edges, [(_place(edges, end), end[0]) for end in made.ends], gap, tick)
    parts = Split(tuple(edges), tuple(range(len(edges))))
    crossed: tuple[complex, ...] = ()
    if found or made.tangled:
        made, parts, crossed = _untangled(split(edges, (touch.cut for touch in found)), gap, tick)
    tails = {(_place(parts.edges, end), parts.owners[end[0]]) for end in made.ends if not _is_cut(parts, end)}
    useful = [touch for touch in found if (touch.at, touch.edge) not in tails]
    if len(useful) < len(found):
        made, parts, crossed = _untangled(split(edges, (touch.cut for touch in useful)), gap, tick)
    loose = [i for run in made.chains for i in run.edges]
    crossing = [place for place, cuts in crossings(parts.edges, loose, tick) if len(cuts) == 2]
    return Resolved(_owned(made, parts.owners), tuple(touch.at for touch in useful), crossed, tuple(crossing))


def _place(edges: Sequence[Edge], end: tuple[int, int]) -> complex:
    """Where an edge ends, or starts."""
    edge, ends_there = end
    return edges[edge].end if ends_there else edges[edge].start


def _is_cut(parts: Split, end: tuple[int, int]) -> bool:
    """Whether a part's end is no end of the whole edge."""
    part, ends_there = end
    beside = part + 1 if ends_there else part - 1
    return 0 <= beside < len(parts.owners) and parts.owners[beside] == parts.owners[part]


def _untangled(parts: Split, gap: float, tick: Callable[[], None]) -> tuple[Joined, Split, tuple[complex, ...]]:
    """The parts joined, once more in parts where they tangle."""
    made = joined(parts.edges, gap)
    tick()
    found = crossings(parts.edges, made.tangled, tick)
    if not found:
        return made, parts, ()
    finer = split(parts.edges, (cut for _, cuts in found for cut in cuts))
    whole = Split(finer.edges, tuple(parts.owners[i] for i in finer.owners))
    return joined(whole.edges, gap), whole, tuple(place for place, _ in found)


def _owned(made: Joined, owners: Sequence[int]) -> Joined:
    """The same, told by the edges that were there before."""

    def of(run: Run[AnyPath]) -> Run[AnyPath]:
        return replace(run, edges=tuple(owners[i] for i in run.edges))

    return replace(
        made,
        loops=tuple(of(run) for run in made.loops),
        chains=tuple(of(run) for run in made.chains),
        repeated=tuple(sorted({owners[i] for i in made.repeated})),
        bare=tuple(sorted({owners[i] for i in made.bare})),
        tangled=tuple(sorted({owners[i] for i in made.tangled})),
    )
