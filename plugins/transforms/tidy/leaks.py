"""Open lines that may be meant as the edge of a piece: told before anything is cut without it.

Terminology
    leak        what is open in lines that all but close, wider than the gap that is closed unasked
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence
from typing import Final

from clothpath.areas.chains import edges_of, joined
from clothpath.curves import OpenPath, box_of, length
from clothpath.design import Marking, Piece
from clothpath.findings import listed, warning
from clothpath.plugins.transforms.tidy.closing import DASHED_SHARE
from clothpath.plugins.transforms.tidy.told import Told
from clothpath.units import both

__all__ = ["tell_of_leaks"]

LEAK_MM: Final = 3.0
"""Lines whose ends are farther apart than this are not called nearly closed."""
MUCH: Final = 0.8
"""Pieces that make up less than this share of the drawing's width or height are told, if open lines reach farther."""


def tell_of_leaks(pieces: Sequence[Piece], markings: Sequence[Marking], told: Told) -> None:
    """Warn of open lines, not named as markings, that are nearly closed or reach far beyond all pieces."""
    lines = [
        line
        for line in markings
        if isinstance(line.path, OpenPath) and line.role == "mark" and not line.on and not line.drawn.is_named_marking
    ]
    if not lines:
        return
    groups: dict[tuple[str, str | None], list[Marking]] = defaultdict(list)
    for line in lines:
        groups[line.drawn.layer, line.drawn.color].append(line)
    if not sum([_tell_of_leaks_in(group, told) for group in groups.values()]) and pieces:
        _tell_of_far_lines(pieces, lines, told)


def _tell_of_leaks_in(group: Sequence[Marking], told: Told) -> int:
    made = joined([edges_of(line.path) for line in group], LEAK_MM)
    count = 0
    for loop in made.loops:
        leaks = [gap.width for gap in made.gaps if (abs(loop.path.nodes[:, 0] - gap.at) <= gap.width).any()]
        if not loop.plain or not leaks or sum(leaks) > DASHED_SHARE * length(loop.path):
            continue
        members = [group[i] for i in sorted(set(loop.edges))]
        names = listed(line.label or line.id for line in members)
        count += 1
        told.add(
            warning,
            "nearly-closed",
            f"{names} {'is' if len(members) == 1 else 'are'} nearly closed ({both(max(leaks))} apart), and no piece.",
            members[0],
            members[0].path.start,
            f'If it is a piece: --set tidy.gap="{_enough(max(leaks))}", or gap = "{_enough(max(leaks))}" at the step '
            "tidy of a recipe.",
        )
    return count


def _enough(leak: float) -> str:
    """A gap that closes the leak, as a person writes it: the next half millimeter."""
    return f"{math.ceil(2 * leak + 1e-6) / 2:g} mm"


def _tell_of_far_lines(pieces: Sequence[Piece], lines: Sequence[Marking], told: Told) -> None:
    of_pieces = box_of([piece.region.outer for piece in pieces])
    whole = box_of([*(piece.region.outer for piece in pieces), *(line.path for line in lines)])
    if of_pieces.width >= MUCH * whole.width and of_pieces.height >= MUCH * whole.height:
        return
    longest = max(lines, key=lambda line: max(line.path.box.width, line.path.box.height))
    told.add(
        warning,
        "lines-beyond-pieces",
        f"Open lines reach far beyond all pieces: the drawing is {both(whole.width)} x {both(whole.height)}, its "
        f"pieces are {both(of_pieces.width)} x {both(of_pieces.height)}. The finished size is that of the pieces.",
        longest,
        longest.path.start,
        "If the lines are the edge of a piece, close them in the drawing, or have wider gaps closed: --set "
        'tidy.gap="2 mm".',
    )
