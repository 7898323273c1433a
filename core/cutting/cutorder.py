"""In which order a mat is cut: nothing shifts before it is cut, and the head travels little.

Terminology
    line        one cut outline or one marking, with the places at which it may be begun
    block       the lines of one piece, run in one go: markings, then holes, then the outer ring
    choice      one of the places at which a line may be begun; of an open marking, one of its two ends
    loose       a piece so small that it may shift once the cloth beside it is cut away
    home        where the head rests: the lower left corner of the mat

What must come before what
    markings of a piece before its cuts, its holes before its outer ring; a piece that lies in a hole of another before
    that one; a loose piece before a larger one beside it; a whole swatch before the next, a test cut first. Within
    that, travel is short.
Cutting inner outlines first, small before large, and cloth by cloth are common practice.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Final, TypeAlias

import numpy as np
import shapely
from numpy.typing import NDArray

from clothpath.curves import Outline, backwards, flattened
from clothpath.cutplan import Cut, CutPlan, MatCuts, PieceRef
from clothpath.cutting.starts import Start, restarted, starts, straightest
from clothpath.cutting.testcut import TEST_CUT
from clothpath.cutting.travel import Stops, ordered
from clothpath.fitting.closeness import Chains, chains
from clothpath.regions import xy

__all__ = ["HOME", "LOOSE_MM2", "in_order", "travel_of"]

HOME: Final = 0j
"""Where the head rests: the lower left corner of the mat."""
LOOSE_MM2: Final = 645.16
"""A piece smaller than this, one square inch, may shift; from memory."""
BESIDE_MM: Final = 6.35
"""Two pieces no farther apart than this, 1/4 in, lie beside each other; usual spacings are half or all of it."""
LARGER: Final = 1.5
"""A piece is larger than another if its outer ring bounds this many times its area."""
ROUGH_MM: Final = 0.05
"""Tolerance of the chains by which sizes and places of pieces are told."""
ROUNDS: Final = 2
"""How often order and starts are settled in turn."""

Ends: TypeAlias = tuple[complex, complex]
Floats: TypeAlias = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class _Line:
    """A cut, and for each choice the (entry, exit) that it makes; `starts` is empty for an open marking."""

    cut: Cut
    ends: tuple[Ends, ...]
    starts: tuple[Start, ...] = ()

    def begun(self, choice: int) -> Cut:
        path = self.cut.outline
        if isinstance(path, Outline):
            path = restarted(path, self.starts[choice])
        elif choice:
            path = backwards(path)
        return replace(self.cut, outline=path, path=path)


def in_order(plan: CutPlan) -> CutPlan:
    """The same cuts in the order to cut them, each begun on a straight.

    `Cut.path` becomes the new outline, so blade work belongs after this.
    """
    return replace(plan, mats=tuple(MatCuts(_mat_in_order(mat.cuts)) if mat.cuts else mat for mat in plan.mats))


def travel_of(cuts: Sequence[Cut], home: complex = HOME) -> float:
    """The way in mm that the head goes without cutting, from `home` to the last line."""
    at, way = home, 0.0
    for cut in cuts:
        way += abs(cut.path.start - at)
        at = cut.path.end
    return way


def _mat_in_order(cuts: Sequence[Cut]) -> tuple[Cut, ...]:
    lines = _lines(cuts)
    rough = chains([cut.outline for cut in cuts], ROUGH_MM)
    swatches: dict[int, list[int]] = {}
    for i, cut in enumerate(cuts):
        swatches.setdefault(cut.ref.swatch, []).append(i)
    groups = list(swatches.values())
    middles = [_middle(rough.boxes[group]) for group in groups]
    tested = [i for i, group in enumerate(groups) if cuts[group[0]].ref.design == TEST_CUT]
    before = [(first, i) for first in tested for i in range(len(groups)) if i not in tested]
    visited = [_Swatch.of(cuts, rough, groups[i]) for i in ordered(Stops.of([(at, at) for at in middles], before))]
    ends = [line.ends[line.starts.index(straightest(line.starts)) if line.starts else 0] for line in lines]
    sequences: list[list[int]] = [[] for _ in visited]
    order: list[int] = []
    choices: list[int] = []
    for _ in range(ROUNDS):
        order = []
        for s, swatch in enumerate(visited):
            sequences[s] = swatch.walk(ends, ends[order[-1]][1] if order else HOME, sequences[s])
            order += sequences[s]
        choices = _choices([lines[i].ends for i in order])
        for i, choice in zip(order, choices, strict=True):
            ends[i] = lines[i].ends[choice]
    return tuple(lines[i].begun(choice) for i, choice in zip(order, choices, strict=True))


def _lines(cuts: Sequence[Cut]) -> list[_Line]:
    closed = [i for i, cut in enumerate(cuts) if isinstance(cut.outline, Outline)]
    outlines = [cut.outline for cut in cuts if isinstance(cut.outline, Outline)]
    offered = dict(zip(closed, starts(outlines), strict=True))
    found: list[_Line] = []
    for i, cut in enumerate(cuts):
        path, places = cut.outline, offered.get(i, ())
        ends = tuple((start.point, start.point) for start in places)
        found.append(_Line(cut, ends or ((path.start, path.end), (path.end, path.start)), places))
    return found


def _middle(boxes: Floats) -> complex:
    """Of the box around (n, 4) boxes."""
    low, high = boxes[:, :2].min(axis=0), boxes[:, 2:].max(axis=0)
    return complex(*((low + high) / 2))


def _choices(sequence: Sequence[Sequence[Ends]]) -> list[int]:
    """For each line of a sequence the choice with which the travel of the whole is least.

    A shortest path through layers, so exact: R. Bellman, Dynamic Programming (1957).
    """
    at, way = np.array([HOME]), np.zeros(1)
    came: list[np.ndarray[tuple[int], np.dtype[np.intp]]] = []
    for offered in sequence:
        ends = np.array(offered)
        total = way[:, None] + np.abs(at[:, None] - ends[:, 0])
        came.append(total.argmin(axis=0))
        way, at = total.min(axis=0), ends[:, 1]
    last = int(way.argmin())
    choices: list[int] = []
    for step in reversed(came):
        choices.append(last)
        last = int(step[last])
    return choices[::-1]


@dataclass(frozen=True, slots=True)
class _Swatch:
    """The blocks of one swatch as indices into the lines of its mat, and which block must come before which.

    Attributes:
        blocks: for each piece its lines, the outer ring last.
        inside: for each block the pairs of its lines, counted from 0, of which the first must come before the second.
    """

    blocks: tuple[tuple[int, ...], ...]
    inside: tuple[tuple[tuple[int, int], ...], ...]
    before: tuple[tuple[int, int], ...]

    @classmethod
    def of(cls, cuts: Sequence[Cut], rough: Chains, members: Sequence[int]) -> _Swatch:
        blocks: dict[PieceRef, list[int]] = {}
        for i in members:
            blocks.setdefault(cuts[i].ref, []).append(i)
        for block in blocks.values():
            block.sort(key=lambda i: _rank(cuts[i]))
        inside = tuple(_inside([cuts[i] for i in block]) for block in blocks.values())
        outer = np.array([block[-1] for block in blocks.values()])
        boxes, sizes = rough.boxes[outer], np.abs(rough.area[outer])
        before = {*_loose_first(boxes, sizes), *_within_first(cuts, list(blocks.values()), sizes)}
        return cls(tuple(tuple(block) for block in blocks.values()), inside, tuple(sorted(before)))

    def walk(self, ends: Sequence[Ends], at: complex, last: Sequence[int]) -> list[int]:
        """The lines in order, from `at`, each run between its `ends`; `last` is the order to improve, if any."""
        runs = [self._run(b, ends, ends[block[-1]][1]) for b, block in enumerate(self.blocks)]
        begin: list[int] | None = None
        if last:
            block_of = {line: b for b, block in enumerate(self.blocks) for line in block}
            begin = list(dict.fromkeys(block_of[line] for line in last))
        stops = Stops.of([(ends[run[0]][0], ends[run[-1]][1]) for run in runs], self.before, at)
        found: list[int] = []
        for b in ordered(stops, begin):
            found += self._run(b, ends, at)
            at = ends[found[-1]][1]
        return found

    def _run(self, b: int, ends: Sequence[Ends], at: complex) -> Sequence[int]:
        block = self.blocks[b]
        if len(block) == 1:
            return block
        return [block[i] for i in ordered(Stops.of([ends[i] for i in block], self.inside[b], at))]


def _rank(cut: Cut) -> int:
    return 0 if cut.kind == "mark" else 1 if cut.ring else 2


def _inside(cuts: Sequence[Cut]) -> tuple[tuple[int, int], ...]:
    rank = [_rank(cut) for cut in cuts]
    return tuple((i, j) for i, a in enumerate(rank) for j, b in enumerate(rank) if a < b)


def _within_first(cuts: Sequence[Cut], blocks: Sequence[Sequence[int]], sizes: Floats) -> Iterator[tuple[int, int]]:
    """The pairs of pieces of which the first lies in a hole of the second; (n,) `sizes` in mm^2 of their outer rings.

    Each goes from the smaller outer ring to the larger, as those of loose pieces do, so they form no circle.
    """
    for large, block in enumerate(blocks):
        for hole in (cuts[i].outline for i in block if cuts[i].kind == "cut" and cuts[i].ring):
            inside = shapely.Polygon(xy(flattened(hole)))
            shapely.prepare(inside)
            for small in np.flatnonzero(sizes < sizes[large]).tolist():
                at = cuts[blocks[small][-1]].outline.start
                if shapely.intersects_xy(inside, at.real, at.imag):
                    yield small, large


def _loose_first(boxes: Floats, sizes: Floats) -> Iterator[tuple[int, int]]:
    """The pairs of pieces of which the first is loose and the second a larger one beside it."""
    left, bottom, right, top = boxes.T
    for i in np.flatnonzero(sizes < LOOSE_MM2).tolist():
        apart = np.maximum(np.maximum(left - right[i], left[i] - right), np.maximum(bottom - top[i], bottom[i] - top))
        beside = (apart <= BESIDE_MM) & (sizes > LARGER * sizes[i])
        yield from ((i, j) for j in np.flatnonzero(beside).tolist())
